// What the phone keeps of today between visits: the map and the pages of the pegs share it. Without leave to keep, nothing is lost but that.

const KEPT_AS = `lakeplumb ${DATA.digest}`;

function recalled() {
  try {
    return JSON.parse(window.localStorage.getItem(KEPT_AS)) || {};
  } catch {
    return {};
  }
}

function kept(values) {
  try {
    window.localStorage.setItem(KEPT_AS, JSON.stringify(values));
  } catch {
    // Private windows keep nothing: the page works without.
  }
}

function dayNow() {
  const now = new Date();
  return `${now.getFullYear()}-${now.getMonth() + 1}-${now.getDate()}`;
}
