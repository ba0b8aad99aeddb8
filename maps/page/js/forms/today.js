// What is set today: level, float, rig, tackle and wind, part of every question. Knows nothing of fields or elements.

class Today {
  constructor(deepest_m) {
    this.deepest_m = deepest_m;
    this.shown_m = DATA.shown_m;
    this.levelGood = true;
    this.plumbs = [];
    this.levelBy = null;
    this.floats = [...DATA.floats, { name: null, length_m: 0.25, tip_m: 0.02, setting_to: "hold", kind: "fixed", mark: null }];
    this.floatIndex = 0;
    this.ownGood = true;
    this.rig = DATA.rules.rigs[0].name;
    this.tackle = {};
    this.wind = null;
    this.mark = null;
    this.faults = {};
    // The words typed for all of these, by field; for each float what it takes.
    this.typed = { takes: {} };
  }

  get chosenFloat() {
    return this.floats[this.floatIndex];
  }

  // The float with the mark that was typed for it.
  get heldBy() {
    return { ...this.chosenFloat, mark: this.mark };
  }

  get own() {
    return this.floats[this.floats.length - 1];
  }

  get now() {
    const { shown_m, tackle, wind } = this;
    return {
      shown_m,
      rise_m: riseOf(shown_m),
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
  }

  // A level read takes the place of one that was plumbed; null: what was typed is none.
  setLevel(shown_m) {
    this.plumbs = [];
    this.levelBy = null;
    this.levelGood = shown_m !== null;
    if (this.levelGood) this.shown_m = shown_m;
  }

  setOwn(own) {
    this.ownGood = ownIsGood(own);
    if (this.ownGood) Object.assign(this.own, own);
  }

  // From a script: numbers straight, past the fields.
  take({ wind, tackle, mark }) {
    if (wind !== undefined) this.wind = wind;
    if (mark !== undefined) this.mark = mark === null ? null : readMark(mark);
    if (tackle !== undefined) Object.assign(this.tackle, tackle, tackle.shot ? { atHand: readShot(tackle.shot) } : {});
  }

  // Why nothing can be answered now; empty when it can.
  get fault() {
    if (!this.levelGood) return levelBad();
    const rise_m = riseOf(this.shown_m);
    const level = levelFault(rise_m, this.deepest_m);
    if (level) return say(`level_${level}`, { rise: riseShown(rise_m), unit: WORDS[`unit_${DATA.mark.unit}`] });
    if (this.chosenFloat === this.own && !this.ownGood) return WORDS.own_bad;
    return Object.values(this.faults)[0] || "";
  }
}

function ownIsGood({ length_m, tip_m }) {
  return length_m >= 0 && length_m <= DATA.rules.longest_float_m && tip_m >= 0 && tip_m <= length_m;
}

function levelBad() {
  return say("level_bad", { like: levelFigure(DATA.mark.datum_m) });
}

function floatTold(held) {
  if (held.name === null) return WORDS.float_own;
  if (!held.length_m && held === DATA.floats[DATA.floats.length - 1]) return WORDS.float_bare;
  return say("float_item", { name: held.name, length: fineLength(held.length_m), tip: fineLength(held.tip_m) });
}
