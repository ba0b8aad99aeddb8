// What the phone keeps of today between visits: the map and the pages of the pegs share it. Without leave to keep, nothing is lost but that.

const KEPT_AS = `lakeplumb ${DATA.digest}`;
const OF_THE_DAY = ["wind-speed", "wind-from"];

// Today as it was left; of another day's, without level and wind.
function recall(today) {
  const kept = recalled();
  const own = kept.own || {};
  if (kept.units === "feet" || kept.units === "metres") view.units = kept.units;
  if (ownIsGood(own)) Object.assign(today.own, { length_m: own.length_m, tip_m: own.tip_m });
  for (const [, key, values] of OWN_CHOICES) if (values.includes(own[key])) today.own[key] = own[key];
  const index = kept.float === null ? today.floats.length - 1 : today.floats.findIndex((f) => f.name === kept.float);
  if (index >= 0) today.floatIndex = index;
  if (DATA.rules.rigs.some((rig) => rig.name === kept.rig)) today.rig = kept.rig;
  today.typed = { ...kept.tackle, takes: { ...(kept.tackle || {}).takes } };
  if (kept.day === dayNow()) recallLevel(today, kept);
}

function recallLevel(today, { shown_m, plumbs }) {
  if (Number.isFinite(shown_m)) today.shown_m = shown_m;
  const sound = Array.isArray(plumbs) && plumbs.every((p) => Number.isFinite(p.found_m + p.datum_m + p.bed_sd_m + p.own_sd_m));
  if (sound && plumbs.length) today.setPlumbs(plumbs);
}

function recalled() {
  try {
    return JSON.parse(window.localStorage.getItem(KEPT_AS)) || {};
  } catch {
    return {};
  }
}

function keep(today) {
  const { length_m, tip_m, setting_to, kind } = today.own;
  const values = {
    units: view.units,
    float: today.chosenFloat.name,
    own: { length_m, tip_m, setting_to, kind },
    rig: today.rig,
    shown_m: today.levelBy ? today.readLevel_m : today.shown_m,
    plumbs: today.plumbs,
    day: dayNow(),
    tackle: Object.fromEntries(Object.entries(today.typed).filter(([id]) => !OF_THE_DAY.includes(id))),
  };
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
