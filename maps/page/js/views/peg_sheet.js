// The page of one peg: its spots, sections and words follow today's level, float and rig.

class PegSheet {
  constructor(bed) {
    this.bed = bed;
    [this.peg] = DATA.pegs;
    this.questions = DATA.spots.map((spot) => castQuestion(this.peg, "clock", spot.angle_deg, spot.distance_m, "estimated"));
    this.chosen = Math.floor(DATA.spots.length / 2);
    this.today = new Today(DATA.deepest_m);
    recall(this.today);
    this.form = new TodayForm(this.today, (what) => this.follow(what));
    this.plumbs = new PlumbForm(bed, this.today, () => this.form.takePlumbed());
    document.body.classList.add("live");
    window.addEventListener("resize", () => this.drawCasts());
    if (byId("age")) byId("age").textContent = ageTold(byId("age").dataset.last);
    this.plumbs.list();
    this.refresh();
  }

  // What was set in the form, and what follows from it.
  follow(what) {
    keep(this.today);
    if (what === "units" || what === "level") this.plumbs.list();
    this.refresh();
  }

  refresh() {
    const { fault, now } = this.today;
    this.answers = fault ? [] : this.questions.map((question, k) => (k === this.chosen ? this.advised(question, now) : answerTo(this.bed, question, now)));
    const answer = this.answers[this.chosen] || null;
    byId("lead").replaceChildren(...(fault ? [el("p", { class: "mind" }, fault)] : answer ? leadOf(answer, this.bed) : []));
    byId("rest").replaceChildren(...(answer ? restOf(answer, null) : []));
    for (const [id, parts] of [["more", answer ? moreOf(answer) : []], ["rigging", answer ? riggingOf(answer, this.bed, now, () => {}) : []]]) {
      renew(byId(id), parts);
      setHidden(byId(id), !parts.length);
    }
    setText(byId("margin"), marginTold(this.peg, now.rise_m));
    this.plumbs.show(answer && answer.state !== OFF_WATER ? answer.question : null);
    this.listSpots();
    this.drawCasts();
  }

  // All ways to make up its shot are looked through for the chosen spot alone: that takes the time.
  advised(question, now) {
    const answer = answerTo(this.bed, question, now);
    answer.advice = answer.chosen && adviceFor(this.bed, answer, answer.chosen, now);
    answer.sought = now.tackle.sought;
    return answer;
  }

  choose(index) {
    this.chosen = index;
    this.refresh();
    byId("answer").scrollIntoView({ block: "start" });
    byId("answer").focus({ preventScroll: true });
  }

  listSpots() {
    const home = byId("spot-table");
    if (!home) return;
    const heads = [WORDS.spot_where, WORDS.spot_water, ...DATA.rules.rigs.map((rig) => WORDS[`rig_${rig.name}`])];
    const head = el("tr", { role: "row" }, ...heads.map((words) => el("th", { scope: "col", role: "columnheader" }, words)));
    const rows = this.answers.map((answer, k) => this.spotRow(answer, k, heads));
    home.replaceChildren(el("table", { role: "table" }, el("thead", { role: "rowgroup" }, head), el("tbody", { role: "rowgroup" }, ...rows)));
    byId("spots-note").textContent = `${say("peg_spots_note", { float: floatTold(this.today.heldBy), level: levelNow(this.today) })} ${WORDS.peg_spots_live}`;
  }

  // On a narrow screen the rows become blocks: each cell bears its heading, and says that it is one.
  spotRow(answer, k, heads) {
    const spot = DATA.spots[k];
    const place = [`${clockText(spot.angle_deg)}, ${distance(spot.distance_m)}`, spot.bottom].filter(Boolean).join(", ");
    const go = el("button", { type: "button", class: "spot", "aria-pressed": String(k === this.chosen), onclick: () => this.choose(k) }, `${k + 1} ${spotName(spot)}`, el("small", {}, place));
    const water = answer.state ? WORDS[`state_${answer.state}_short`] : [el("span", { class: "whole" }, length(answer.depth_m)), el("small", {}, `(${length(answer.lower_m)} – ${length(answer.upper_m)})`)];
    const settings = answer.settings.length ? answer.settings.map(setCell) : DATA.rules.rigs.map(() => ["–"]);
    const cells = [[go], [water].flat(), ...settings].map((parts, j) => el("td", { role: "cell", "data-label": heads[j] }, ...parts));
    return el("tr", { role: "row", class: k === this.chosen ? "shown" : null }, ...cells);
  }

  // The rig stands at the chosen spot where that lies on the cast, else at the cast's furthest.
  drawCasts() {
    for (const home of document.querySelectorAll(".cast")) {
      const [angle, far_m] = [Number(home.dataset.angle), Number(home.dataset.far)];
      const onCast = this.answers.filter((_, k) => Math.abs(DATA.spots[k].angle_deg - angle) < 0.01);
      const answer = onCast.find((a) => a === this.answers[this.chosen]) || onCast[onCast.length - 1] || this.straightOut(angle, far_m);
      if (!answer || answer.state === OFF_WATER) continue;
      const drawing = home.querySelector(".cast-drawing");
      const profile = new Profile(this.bed, answer, Math.max(drawing.clientWidth, 300), far_m);
      drawing.replaceChildren(profile.drawn());
      const said = { times: decimal(fixed(profile.exaggeration, 1)), rig: WORDS[`rig_in_${this.today.rig}`] };
      home.querySelector(".note").textContent = say(answer.chosen && answer.chosen.setting_m !== null ? "peg_profile_note" : "peg_profile_bare", said);
    }
  }

  // A peg without spots still has its section straight out.
  straightOut(angle, far_m) {
    return this.today.fault ? null : answerTo(this.bed, castQuestion(this.peg, "clock", angle, far_m / 2, "estimated"), this.today.now);
  }
}

function setCell(setting) {
  if (setting.setting_m === null) return [WORDS[`${setting.whyNot}_short`]];
  const [first, second] = settable(setting.setting_m, setting.rig);
  return [el("b", {}, first), el("small", {}, second)];
}

function levelNow(today) {
  if (!DATA.mark.kind) return WORDS.level_at;
  const { rise_m } = today.now;
  return say(levelKey(rise_m), { rise: riseShown(rise_m) });
}

// How old the newest reading is by the phone's own day; nothing while it is fresh.
function ageTold(last) {
  const months = Math.floor((Date.now() - Date.parse(last)) / (30.44 * 24 * 3600 * 1000));
  return months >= 1 ? say("peg_readings_age", { count: months }) : "";
}

window.lakeplumb = { answers: null, ready: null };
window.lakeplumb.ready = Bed.load().then((bed) => {
  const sheet = new PegSheet(bed);
  window.lakeplumb.answers = () => sheet.answers.map(({ depth_m, lower_m, upper_m, state, settings }) => ({
    depth_m, lower_m, upper_m, state, settings: settings.map((s) => s.setting_m),
  }));
});
// What was drawn when the page was made still stands.
window.lakeplumb.ready.catch(() => document.body.classList.remove("live"));
