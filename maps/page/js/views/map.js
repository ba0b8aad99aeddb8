// Bringing it together: taps, forms and scripts all ask the same question and get the same answer.

const READING_TAP_PX = 14;

class Page {
  constructor(map, tints, bed) {
    this.bed = bed;
    this.question = null;
    this.answer = null;
    this.reading = null;
    this.peg = null;
    this.chart = new Chart(map, tints, bed);
    this.pegs = new Pegs(map, bed, (peg) => this.choosePeg(peg === this.peg ? null : peg));
    this.today = new Today(bed.deepest_m);
    recall(this.today);
    this.form = new TodayForm(this.today, (what) => this.follow(what));
    this.ask = new Ask((question, fault) => this.asked(question, fault), (peg) => this.choosePeg(peg));
    this.plumbs = new PlumbForm(bed, this.today, () => this.form.takePlumbed());
    this.line = new LineTool(bed, map, this.today);
    map.on("click", (event) => this.tapped(event));
    map.on("zoomend", () => this.chart.thinOut());
    layerList(this.chart);
    findingsList();
    window.addEventListener("resize", () => {
      this.drawProfile();
      this.line.refresh();
    });
    this.relabel();
    this.plumbs.list();
    this.plumbs.show(null);
    this.showPeg();
  }

  // What was set in the form, and what follows from it; all the rest stays as it stands.
  follow(what) {
    keep(this.today);
    if (what === "units") this.relabel();
    if (what === "units" || what === "level") {
      this.line.refresh();
      this.plumbs.list();
    }
    this.refreshPeg();
    this.refreshAnswer();
  }

  // What follows the unit shown, outside the answer.
  relabel() {
    this.chart.relabel();
    keyList();
    depthStrip();
  }

  tapped({ latlng, containerPoint }) {
    const [e, n] = toGrid(latlng.lat, latlng.lng);
    if (this.line.tapped(e, n)) return;
    this.reading = this.chart.shown("readings") ? this.readingAt(containerPoint) : null;
    this.showQuestion(this.spotQuestion(e, n));
  }

  // A spot on the map, from the chosen peg or the nearest that sees it.
  spotQuestion(e, n) {
    const peg = this.peg || nearestPeg(this.bed, e, n);
    const cast = { peg, e, n, by: this.ask.by, direction_sd_deg: DATA.rules.direction_sd_deg.clock, fromFacing: true };
    if (!peg) return { ...cast, bearing_deg: null, distance_m: 0 };
    const [bearing_deg, distance_m] = bearingDistance(peg, e, n);
    return { ...cast, bearing_deg, distance_m };
  }

  readingAt(point) {
    const far = (r) => point.distanceTo(this.chart.map.latLngToContainerPoint(latLonsOfCm([r.east_cm, r.north_cm])[0]));
    const nearest = READINGS.reduce((best, r) => (best && far(best) <= far(r) ? best : r), null);
    return nearest && far(nearest) <= READING_TAP_PX ? nearest : null;
  }

  // From the form: a new question, one that cannot be read, or only another way of judging the distance.
  asked(question, fault = "") {
    if (fault) {
      this.question = null;
      this.withdraw(fault);
    } else if (question) {
      this.reading = null;
      if (this.peg !== question.peg) this.choosePeg(question.peg);
      this.showQuestion(question);
      byId("answer").scrollIntoView({ block: "start" });
    } else if (this.question) {
      this.showQuestion({ ...this.question, by: this.ask.by });
    }
  }

  choosePeg(peg) {
    this.peg = peg;
    this.ask.showPeg(peg);
    this.followPeg();
    if (this.question && this.question.peg !== peg) this.showQuestion(this.spotQuestion(this.question.e, this.question.n));
    this.showPeg();
  }

  // On a small screen the chosen peg's water fills the map; left again, the whole water is back.
  followPeg() {
    const { map } = this.chart;
    if (this.peg && (this.chart.isFar || this.followed)) {
      this.followed = true;
      map.fitBounds(this.pegs.fanBounds(this.peg), { padding: [16, 16], animate: false });
    } else if (this.followed) {
      this.followed = false;
      this.chart.wholeWater();
    }
  }

  showQuestion(question) {
    this.question = question;
    this.refreshPeg();
    this.refreshAnswer();
  }

  refreshAnswer() {
    if (!this.question) return;
    if (this.today.fault) {
      this.withdraw(this.today.fault);
      return;
    }
    const { now } = this.today;
    this.answer = answerTo(this.bed, this.question, now);
    this.answer.advice = this.answer.chosen && adviceFor(this.bed, this.answer, this.answer.chosen, now);
    this.answer.sought = now.tackle.sought;
    byId("lead").replaceChildren(...leadOf(this.answer, this.bed));
    byId("rest").replaceChildren(...restOf(this.answer, this.reading));
    this.showRest(riggingOf(this.answer, this.bed, now, (peg) => this.choosePeg(peg)));
  }

  // No answer stands where what was typed cannot be read.
  withdraw(fault) {
    this.answer = null;
    byId("lead").replaceChildren(el("p", { class: "mind" }, fault));
    byId("rest").replaceChildren();
    this.showRest([]);
  }

  showRest(rigging) {
    const { answer } = this;
    const more = answer ? moreOf(answer) : [];
    for (const [id, parts] of [["more", more], ["rigging", rigging]]) {
      renew(byId(id), parts);
      setHidden(byId(id), !parts.length);
    }
    this.plumbs.show(answer && answer.peg && answer.state !== OFF_WATER ? answer.question : null);
    this.showCast(answer && answer.question);
    this.drawProfile();
  }

  // The cast lies where it lay until another spot is asked about, or another reading is tapped.
  showCast(question) {
    if (this.cast && this.cast.question === question && this.cast.reading === this.reading) return;
    this.cast = { question, reading: this.reading };
    this.pegs.showCast(question, this.reading);
    printCast(question);
  }

  // Another peg, or none: its card and its fan.
  showPeg() {
    byId("peg").replaceChildren(...this.card());
    setHidden(byId("peg"), !this.peg);
    this.pegs.showChosen(this.peg, this.peg ? spotsOf(this.peg) : []);
    this.chart.thinOut();
  }

  // The same peg's card.
  refreshPeg() {
    refill(byId("peg"), this.card());
  }

  card() {
    return pegCard(this.peg, this.bed, this.today.now, this.question, (q) => this.asked(q), () => this.choosePeg(null));
  }

  drawProfile() {
    const { answer } = this;
    const drawable = Boolean(answer && answer.peg && answer.state !== OFF_WATER);
    setHidden(byId("profile"), !drawable);
    if (!drawable) return;
    const home = byId("profile-drawing");
    const profile = new Profile(this.bed, answer, Math.max(home.clientWidth, 300));
    home.replaceChildren(profile.drawn());
    byId("along").replaceChildren(alongTable(this.bed, answer, this.today.now));
    byId("profile-note").textContent = say("profile_note", { times: decimal(fixed(profile.exaggeration, 1)) });
  }
}

// The last answer for scripts: exact numbers, lengths in metres, angles in degrees. The advice on the rigs
// that are not shown is worked out only when it is asked for.
function plainAnswer({ answer, bed, today }) {
  if (!answer) return null;
  const { question, heldBy, chosen, advice, ...rest } = answer;
  const settings = answer.settings.map((setting) => {
    const { rig, whyNot, off_m, ...s } = setting;
    const said = setting === chosen ? advice : adviceFor(bed, answer, setting, today.now);
    return { ...s, rig: rig.name, off_bottom_m: off_m, why_not: whyNot, advice: plainAdvice(said) };
  });
  return { ...rest, float: heldBy.name, setting_m: chosen ? chosen.setting_m : null, settings };
}

// What a script may ask: {peg, clock | angle_deg | bearing_deg, distance_m, by, level, float, rig, mark, tackle, wind}.
function askedByScript(page, asked) {
  const peg = pegNamed(asked.peg);
  if (!peg) throw new Error(`no peg "${asked.peg}"`);
  if (!(asked.distance_m > 0 && asked.distance_m <= DATA.rules.most_cast_m)) throw new Error(badDistance());
  setByScript(page, asked);
  const [kind, degrees] = directionAsked(asked);
  page.reading = null;
  page.choosePeg(peg);
  page.showQuestion(castQuestion(peg, kind, degrees, asked.distance_m, asked.by || "estimated"));
  return plainAnswer(page);
}

function setByScript({ today, form, plumbs }, asked) {
  if (asked.level !== undefined) {
    today.setLevel(asked.level === null ? DATA.mark.datum_m : asked.level);
    form.showLevelField(String(today.shown_m));
    plumbs.list();
  }
  if (asked.float !== undefined) takeFloat(today, asked.float);
  if (asked.rig !== undefined) today.rig = asked.rig;
  if ([asked.level, asked.float, asked.rig].some((value) => value !== undefined)) form.show();
  today.take(asked);
  keep(today);
}

function directionAsked({ clock, angle_deg, bearing_deg }) {
  if (clock !== undefined) {
    const angle = readClock(clock);
    if (angle === null) throw new Error(`"${clock}" is not on a clock face`);
    return ["clock", angle];
  }
  if (angle_deg !== undefined) return ["angle", angle_deg];
  if (bearing_deg !== undefined) return ["bearing", bearing_deg];
  throw new Error(WORDS.ask_bad_direction);
}

// A float by name, null for none, or its own length_m and tip_m.
function takeFloat(today, wanted) {
  if (wanted !== null && typeof wanted === "object") {
    if (!ownIsGood(wanted)) throw new Error(WORDS.own_bad);
    today.setOwn({ setting_to: "hold", kind: "fixed", ...wanted });
    today.floatIndex = today.floats.length - 1;
    return;
  }
  const index = wanted === null ? DATA.floats.length - 1 : DATA.floats.findIndex((f) => f.name === wanted);
  if (index < 0) throw new Error(`no float "${wanted}"`);
  today.floatIndex = index;
}

function findingsList() {
  const { counts, told, more, answer } = DATA.findings;
  const home = byId("findings");
  home.append(Object.values(counts).some(Boolean) ? say("findings_sum", counts) : WORDS.findings_none);
  if (!told.length) return;
  const rest = more ? [el("li", {}, say("findings_more", { count: more }))] : [];
  home.append(el("details", {}, el("summary", {}, WORDS.findings_list), el("p", {}, answer), el("ol", { class: "found" }, ...told.map((line) => el("li", {}, line)), ...rest)));
}

// The still drawing serves print as well; it stands in the page as text until then.
function layPrintChart() {
  const still = new DOMParser().parseFromString(document.querySelector("noscript").textContent, "text/html").querySelector("svg");
  if (still) byId("print-chart").append(document.importNode(still, true));
}

// The cast in question on the drawing for print, whose unit is a metre on the ground from its corner.
function printCast(question) {
  const still = byId("print-chart").querySelector("svg");
  if (!still) return;
  still.querySelectorAll(".cast").forEach((old) => old.remove());
  if (!question || !question.peg) return;
  const { west, north, scale } = still.dataset;
  const ends = [[question.peg.e, question.peg.n], [question.e, question.n]].map(([e, n]) => {
    const { x, y } = L.Projection.SphericalMercator.project(L.latLng(toLatLon(e, n)));
    return [(x - west) * scale, (north - y) * scale];
  });
  const wide = Number(still.dataset.letter);
  const line = { class: "cast", d: `M${ends[0]}L${ends[1]}`, fill: "none" };
  still.append(
    svg("path", { ...line, stroke: PAPER, "stroke-width": wide / 2.5 }),
    svg("path", { ...line, stroke: ACCENT, "stroke-width": wide / 6 }),
    svg("circle", { class: "cast", cx: ends[1][0], cy: ends[1][1], r: wide / 3, fill: PAPER, stroke: ACCENT, "stroke-width": wide / 6 }),
  );
}

// The formulas, for scripts that check them against the survey's program.
const FORMULAS = {
  readLength, readShot, readMark, nearestWeight, waysTo, shotted, dragCoefficient, sinkingSpeed, fallS, feedLanding, sideOfWind,
  driftPerMinute, overDepth, levelFound, levelFault, whatToTry, fixedOrSliding,
};

window.lakeplumb = { answer: null, ready: null, ask: null };
window.lakeplumb.ready = Bed.load().then((bed) => {
  const page = new Page(map, tints, bed);
  Object.defineProperty(window.lakeplumb, "answer", { get: () => plainAnswer(page) });
  window.lakeplumb.ask = (asked) => askedByScript(page, asked);
  window.lakeplumb.call = (name, ...values) => FORMULAS[name](...values);
  window.lakeplumb.fetch = (e, n, azimuth_deg) => effectiveFetch(bed, e, n, azimuth_deg);
  window.lakeplumb.shelter = (from_deg) => pegsByShelter(bed, from_deg).map(({ peg, ...s }) => ({ ...s, peg: peg.name }));
  window.lakeplumb.sees = (k, spots) => spots.map(([e, n]) => bed.pegSees(DATA.pegs[k], e, n));
  window.lakeplumb.section = (from, to) => samplesBetween(bed, [from, to], page.today.now.rise_m);
  window.lakeplumb.plumb = (asked, found_m) => plumbAt(bed, castQuestion(pegNamed(asked.peg), ...directionAsked(asked), asked.distance_m, asked.by || "estimated"), found_m);
  layPrintChart();
});
window.lakeplumb.ready.catch(() => byId("lead").replaceChildren(el("p", { class: "mind" }, WORDS.broken)));
