// Today's part of every question, and the chosen peg's card; nothing is worked out here.

// Level, float, rig and units: today's part of every question.
class Today {
  constructor(changed, kept, deepest_m) {
    this.shown_m = DATA.shown_m;
    this.deepest_m = deepest_m;
    this.levelGood = true;
    this.plumbs = [];
    this.floats = [...DATA.floats, { name: null, length_m: 0.25, tip_m: 0.02, setting_to: "hold", kind: "fixed", mark: null }];
    this.floatIndex = 0;
    this.rig = DATA.rules.rigs[0].name;
    this.changed = changed;
    this.restore(kept);
    this.tackleForm = new TackleForm(() => {
      this.refreshRig();
      this.changed();
    }, kept);
    this.build();
    if (this.plumbs.length) this.setPlumbs(this.plumbs);
  }

  get chosenFloat() {
    return this.floats[this.floatIndex];
  }

  // The float with the mark that was typed for it.
  get heldBy() {
    return { ...this.chosenFloat, mark: this.tackleForm.mark };
  }

  get own() {
    return this.floats[this.floats.length - 1];
  }

  get now() {
    const { wind, ...tackle } = this.tackleForm.numbers;
    return {
      shown_m: this.shown_m,
      rise_m: riseOf(this.shown_m),
      rise_sd_m: this.levelBy ? this.levelBy.sd_m : 0,
      heldBy: this.heldBy,
      rig: this.rig,
      tackle,
      wind,
      end: { bait_m: tackle.bait_m, over_depth_m: wind ? usualOverDepth(wind.speed_ms) : null },
    };
  }

  // Several plumbs, one, or none: with none the level that was read before is back.
  setPlumbs(plumbs) {
    if (!this.levelBy) this.readLevel_m = this.shown_m;
    this.plumbs = plumbs;
    this.levelBy = plumbs.length ? levelFound(plumbs, DATA.priors[new Date().getMonth()]) : null;
    this.shown_m = this.levelBy ? shownOf(this.levelBy.rise_m) : this.readLevel_m;
    this.levelGood = true;
    if (this.level) this.level.value = decimal(fixed(this.shown_m, 2));
    this.refresh();
  }

  restore(kept) {
    if (kept.units === "feet" || kept.units === "metres") view.units = kept.units;
    if (kept.own && ownIsGood(kept.own)) Object.assign(this.own, kept.own);
    for (const [key, values] of [["setting_to", ["hold", "tip"]], ["kind", ["fixed", "sliding", "pole"]]]) {
      if (kept.own && values.includes(kept.own[key])) this.own[key] = kept.own[key];
    }
    const index = kept.float === null ? this.floats.length - 1 : this.floats.findIndex((f) => f.name === kept.float);
    if (index >= 0) this.floatIndex = index;
    if (DATA.rules.rigs.some((rig) => rig.name === kept.rig)) this.rig = kept.rig;
    // A level is only of its day.
    if (kept.day !== dayNow()) return;
    if (Number.isFinite(kept.shown_m)) this.shown_m = kept.shown_m;
    if (Array.isArray(kept.plumbs) && kept.plumbs.every((p) => Number.isFinite(p.found_m + p.datum_m + p.bed_sd_m + p.own_sd_m))) this.plumbs = kept.plumbs;
  }

  get kept() {
    const { length_m, tip_m, setting_to, kind } = this.own;
    const shown_m = this.levelBy ? this.readLevel_m : this.shown_m;
    const own = { length_m, tip_m, setting_to, kind };
    return { units: view.units, float: this.chosenFloat.name, own, rig: this.rig, shown_m, plumbs: this.plumbs, day: dayNow(), tackle: this.tackleForm.kept };
  }

  build() {
    this.level = byId("level");
    if (this.level) {
      this.level.value = decimal(fixed(this.shown_m, 2));
      this.level.addEventListener("input", () => this.readLevel());
    }
    byId("float").addEventListener("change", (event) => this.setFloat(Number(event.target.value)));
    for (const id of ["own-length", "own-tip"]) byId(id).addEventListener("input", () => this.readOwn());
    for (const [id, key, values] of [["own-to", "setting_to", ["hold", "tip"]], ["own-kind", "kind", ["fixed", "sliding", "pole"]]]) {
      byId(id).append(...values.map((value) => el("option", { value, selected: value === this.own[key] }, WORDS[`own_${key}_${value}`])));
      byId(id).addEventListener("change", () => this.takeOwn(key, byId(id).value));
    }
    const rigs = DATA.rules.rigs.map((rig) => ["rig", rig.name, WORDS[`rig_${rig.name}`], rig.name === this.rig]);
    byId("rigs").append(...rigs.map((choice) => this.choice(...choice, (value) => { this.rig = value; })));
    const units = ["feet", "metres"].map((unit) => ["unit", unit, WORDS[unit], unit === view.units]);
    byId("units").append(...units.map((choice) => this.choice(...choice, (value) => { view.units = value; })));
    byId("today").addEventListener("submit", (event) => event.preventDefault());
    this.refresh();
  }

  choice(name, value, words, checked, take) {
    const input = el("input", { type: "radio", name, value });
    input.checked = checked;
    input.addEventListener("change", () => {
      take(value);
      this.refresh();
      this.changed();
    });
    return el("label", {}, input, el("span", {}, words));
  }

  takeOwn(key, value) {
    this.own[key] = value;
    this.changed();
  }

  // A level typed takes the place of one that was plumbed.
  readLevel() {
    const typed = this.level.value.trim();
    const value = typed === "" ? DATA.mark.datum_m : readLength(typed, "m");
    this.plumbs = [];
    this.levelBy = null;
    this.levelGood = value !== null;
    if (this.levelGood) this.shown_m = value;
    this.refresh();
    this.changed();
  }

  setLevel(shown_m) {
    this.plumbs = [];
    this.levelBy = null;
    this.shown_m = shown_m;
    this.levelGood = true;
    if (this.level) this.level.value = String(shown_m);
    this.refresh();
  }

  setFloat(index) {
    this.floatIndex = index;
    this.refresh();
    this.changed();
  }

  setOwn(own) {
    Object.assign(this.own, { setting_to: "hold", kind: "fixed" }, own);
    this.floatIndex = this.floats.length - 1;
    this.refresh();
  }

  setRig(name) {
    this.rig = name;
    for (const input of byId("rigs").querySelectorAll("input")) input.checked = input.value === name;
    this.refresh();
  }

  readOwn() {
    const unit_m = view.units === "feet" ? INCH_M : TYPED.units_m.cm;
    const [length_m, tip_m] = ["own-length", "own-tip"].map((id) => (readNumber(byId(id).value) ?? NaN) * unit_m);
    const good = ownIsGood({ length_m, tip_m });
    byId("own-note").textContent = good ? "" : WORDS.own_bad;
    if (good) Object.assign(this.own, { length_m, tip_m });
    this.ownGood = good;
    this.changed();
  }

  // Why nothing can be answered now; empty when it can.
  get fault() {
    if (!this.levelGood) return WORDS.level_bad;
    const rise_m = riseOf(this.shown_m);
    const level = levelFault(rise_m, this.deepest_m);
    if (level) return say(`level_${level}`, { rise: bothLengths(Math.abs(rise_m)) });
    if (this.chosenFloat === this.own && this.ownGood === false) return WORDS.own_bad;
    return this.tackleForm.firstFault;
  }

  refresh() {
    this.refreshLevel();
    byId("float").replaceChildren(...this.floats.map((held, k) => el("option", { value: k, selected: k === this.floatIndex }, floatTold(held))));
    byId("own").hidden = this.chosenFloat !== this.own;
    this.refreshOwn();
    this.tackleForm.showFloat(this.chosenFloat);
    this.refreshRig();
  }

  refreshRig() {
    const rig = DATA.rules.rigs.find((r) => r.name === this.rig);
    const { over_depth_m } = this.now.end;
    const clearance_m = rig.clearance_m < 0 && over_depth_m !== null ? over_depth_m : Math.abs(rig.clearance_m);
    byId("rig-note").textContent = say(`rig_does_${rig.name}`, { clearance: length(clearance_m) });
  }

  refreshLevel() {
    if (!this.level) {
      byId("level-note").textContent = this.levelBy ? levelTold(this) : WORDS.level_none;
      return;
    }
    const rise = riseOf(this.shown_m);
    const key = levelKey(rise);
    const note = byId("level-note");
    const bad = !this.levelGood || Boolean(levelFault(rise, this.deepest_m));
    const by = this.levelBy ? `, ${WORDS.level_by_plumb}` : "";
    note.textContent = this.levelGood ? `= ${say(key, { rise: bothLengths(Math.abs(rise)) })}${by}` : WORDS.level_bad;
    note.classList.toggle("bad", bad);
    this.level.setAttribute("aria-invalid", String(bad));
  }

  refreshOwn() {
    const inches = view.units === "feet";
    byId("own").querySelector("[for=own-length]").textContent = WORDS[inches ? "own_length_in" : "own_length_cm"];
    byId("own").querySelector("[for=own-tip]").textContent = WORDS[inches ? "own_tip_in" : "own_tip_cm"];
    if (this.ownGood === false || byId("own").contains(document.activeElement)) return;
    byId("own-length").value = +(this.own.length_m / (inches ? INCH_M : TYPED.units_m.cm)).toFixed(2);
    byId("own-tip").value = +(this.own.tip_m / (inches ? INCH_M : TYPED.units_m.cm)).toFixed(2);
  }
}

function ownIsGood({ length_m, tip_m }) {
  return length_m >= 0 && length_m <= DATA.rules.longest_float_m && tip_m >= 0 && tip_m <= length_m;
}

function floatTold(held) {
  if (held.name === null) return WORDS.float_own;
  if (!held.length_m && held === DATA.floats[DATA.floats.length - 1]) return WORDS.float_bare;
  return say("float_item", { name: held.name, length: fineLength(held.length_m), tip: fineLength(held.tip_m) });
}

function pegCard(peg, bed, today, shown, show, leave) {
  if (!peg) return DATA.pegs.length ? [el("p", { class: "note" }, WORDS.peg_none)] : [];
  const parts = [el("h2", {}, say("peg_title", { peg: peg.name })), el("p", { class: "peg-facts" }, pegFacts(peg, today.rise_m).join(" "))];
  const spots = spotsOf(peg);
  if (spots.length) parts.push(spotTable(peg, spots, bed, today, shown, show), el("p", { class: "note" }, WORDS.spot_names));
  else parts.push(el("p", {}, WORDS.peg_no_spots));
  const page = DATA.pages[peg.name];
  if (page) parts.push(el("p", {}, el("a", { class: "way", href: page }, WORDS.peg_own_page)));
  parts.push(el("button", { type: "button", class: "plain", onclick: leave }, WORDS.peg_leave));
  return parts;
}

function spotName(spot) {
  return WORDS[`spot_${spot.name}`] || spot.name;
}

function spotsOf(peg) {
  return DATA.spots.filter((spot) => spot.peg === peg.name);
}

function pegFacts(peg, rise_m) {
  const facts = [];
  if (peg.closed) facts.push(WORDS.peg_closed);
  if (peg.accessible) facts.push(accessTold(peg));
  if (peg.aliases.length) facts.push(say("peg_aliases", { aliases: peg.aliases.join(", ") }));
  if (peg.note) facts.push(sentence(peg.note));
  facts.push(say("peg_straight", { bearing: `${fixed(peg.facing_deg, 0)}°` }));
  if (!peg.facing_declared) facts.push(say("facing_guessed", { peg: peg.name, sd: fixed(peg.facing_sd_deg, 0) }));
  return [...facts, marginTold(peg, rise_m)];
}

function accessTold(peg) {
  const plain = ["yes", "y", "true", "x", "1"].includes(peg.access.trim().toLowerCase());
  return plain ? WORDS.peg_accessible_plain : say("peg_accessible", { access: peg.access });
}

function sentence(words) {
  const text = words.trim();
  return text.charAt(0).toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? "" : ".");
}

function marginTold(peg, rise_m) {
  const parts = [];
  const depth = peg.margin.upper_m === null ? "" : length(Math.max(peg.margin.upper_m + rise_m, 0));
  if (isSteep(peg, rise_m)) parts.push(say("margin_steep", { depth }));
  else if (peg.margin.measured && depth) parts.push(say("margin_measured", { depth }));
  if (!peg.margin.measured) parts.push(WORDS.margin_unmeasured);
  return parts.join(" ");
}

function spotTable(peg, spots, bed, today, shown, show) {
  const rows = spots.map((spot) => {
    const question = castQuestion(peg, "clock", spot.angle_deg, spot.distance_m, "estimated");
    const answer = answerTo(bed, question, today);
    const place = `${clockText(spot.angle_deg)}, ${formatMetres(spot.distance_m, 1)}`;
    const go = el("button", { type: "button", class: "spot", onclick: () => show(question) }, spotName(spot), el("small", {}, place));
    const water = answer.state ? WORDS[`state_${answer.state}_short`] : length(answer.depth_m);
    const same = shown && shown.peg === peg && Math.hypot(shown.e - question.e, shown.n - question.n) < 0.01;
    return el("tr", { class: same ? "shown" : null }, el("td", {}, go), el("td", {}, water), el("td", {}, setTold(answer)));
  });
  const head = el("tr", {}, ...["spot_where", "spot_water", "spot_set"].map((key) => el("th", { scope: "col" }, WORDS[key])));
  const caption = say("spot_caption", { peg: peg.name, rig: WORDS[`rig_in_${today.rig}`], float: floatTold(today.heldBy) });
  return el("table", {}, el("caption", {}, caption), el("thead", {}, head), el("tbody", {}, ...rows));
}
