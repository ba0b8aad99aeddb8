// The section along the cast: water, the bed with its ±, and the rig to scale.

const SECTION = DRAWINGS.section;

// Water and bed along samples {out_m, today_m, sd_m}; what stands at its beginning is named by start.
class SectionDrawing {
  constructor(samples, width, start) {
    Object.assign(this, { samples, start });
    this.far_m = samples[samples.length - 1].out_m;
    const deepest = Math.max(SECTION.least_deep_m, ...samples.filter((s) => s.today_m !== null).map((s) => s.today_m + DATA.rules.range_z * s.sd_m));
    this.deep_m = deepest * SECTION.room_below;
    this.frame = { width, left: SECTION.left, right: width - SECTION.right, surface: SECTION.sky, base: SECTION.height - SECTION.foot };
    this.perMetreOut = (this.frame.right - this.frame.left) / this.far_m;
    this.perMetreDown = (this.frame.base - this.frame.surface) / this.deep_m;
  }

  x(out_m) {
    return this.frame.left + out_m * this.perMetreOut;
  }

  y(down_m) {
    return this.frame.surface + down_m * this.perMetreDown;
  }

  get exaggeration() {
    return this.perMetreDown / this.perMetreOut;
  }

  drawn(title, rig = {}) {
    const things = { runs: runsOf(this.samples).map((run) => this.run(run)), axes: [{}], depth_ticks: this.depthTicks(), out_ticks: this.outTicks(), ...rig };
    return svg(
      "svg",
      { class: "profile", viewBox: `0 0 ${this.frame.width} ${SECTION.height}`, role: "img", "aria-label": title, "font-size": 14, fill: INK },
      ...drawnMarks(SECTION.layers, this.frame, things),
    );
  }

  run(run) {
    const half = (s) => DATA.rules.range_z * s.sd_m;
    const line = (down) => run.map((s) => `${this.x(s.out_m).toFixed(1)} ${this.y(Math.max(down(s), 0)).toFixed(1)}`);
    const [upper, lower] = [line((s) => s.today_m - half(s)), line((s) => s.today_m + half(s))];
    return {
      first: this.x(run[0].out_m),
      last: this.x(run[run.length - 1].out_m),
      bed: line((s) => s.today_m).join("L"),
      band: [...upper, ...lower.reverse()].join("L"),
    };
  }

  depthTicks() {
    const [unit_m, unit] = view.units === "feet" ? [FOOT_M, "ft"] : [1, "m"];
    const step = stepOf(this.deep_m / unit_m, SECTION.depth_steps[view.units], SECTION.most_steps_down);
    return upTo(this.deep_m / unit_m, step).map((down) => ({ down: this.y(down * unit_m), words: `${decimal(down)} ${unit}` }));
  }

  outTicks() {
    const { worth_m } = DATA.distances;
    const outs = upTo(this.far_m / worth_m, outStep(this.far_m));
    return outs.map((out, k) => ({ out: this.x(out * worth_m), words: out ? outWords(out, k === outs.length - 1) : this.start }));
  }
}

// The section along a cast with the rig in it.
class Profile extends SectionDrawing {
  // far_m: how far out the section goes, a little beyond the spot if it is not said.
  constructor(bed, answer, width, far_m = answer.question.distance_m * SECTION.further + SECTION.beyond_m) {
    super(sectionOf(bed, answer, far_m), width, say("peg_title", { peg: shortened(answer.peg) }));
    this.answer = answer;
  }

  drawn() {
    const { answer } = this;
    const title = say("profile_alt", {
      peg: answer.peg,
      distance: distance(answer.distance_m),
      depth: answer.depth_m === null ? WORDS["state_off water"] : length(answer.depth_m),
    });
    return super.drawn(title, this.rig());
  }

  // Float, line, shot and hook at the spot; only where it is, if there is no setting.
  rig() {
    const { answer } = this;
    const { chosen: setting, heldBy } = answer;
    const out = this.x(answer.distance_m);
    if (!setting || setting.setting_m === null) return { bare_spots: [{ out }] };
    const hold_m = heldBy.length_m - heldBy.tip_m;
    const end_m = hold_m + setting.setting_m - (heldBy.setting_to === "tip" ? heldBy.length_m : 0);
    const [hook_m, lies_m] = [Math.min(end_m, answer.depth_m), Math.max(end_m - answer.depth_m, 0)];
    const laid = lies_m > SECTION.least_lying_m ? Math.max(lies_m * this.perMetreOut, SECTION.least_laid) : 0;
    const line = { out, hold: this.y(hold_m), hook: this.y(hook_m), end: out + laid };
    return {
      rigs: [line],
      [heldBy.length_m ? "floats" : "bare_lines"]: [{ ...line, ...this.floatBody(heldBy, line.hold) }],
      shot: this.shot(hold_m, hook_m, lies_m).map(([down_m, radius]) => ({ out, down: this.y(down_m), radius })),
      clearances: this.clearance(out, setting),
    };
  }

  // Depth and size of each shot: where it was placed, or where the rig has it in general.
  shot(hold_m, hook_m, lies_m) {
    const { advice, chosen } = this.answer;
    if (!advice || !advice.shotting || advice.shotting.fault) {
      return SECTION.shot_shares[chosen.rig.name].map((share) => [hold_m + share * (hook_m - hold_m), SECTION.shot_radius]);
    }
    return advice.shotting.placed.map((shot) => [
      clamp(hook_m - Math.max(shot.from_hook_m - lies_m, 0), hold_m, hook_m),
      clamp(1.6 + 1.6 * Math.cbrt((GRAINS[shot.size] * shot.count) / 40), 2, 4.2),
    ]);
  }

  floatBody(heldBy, foot) {
    const { surface } = this.frame;
    return { top: Math.min(this.y(-heldBy.tip_m), surface - SECTION.least_tip), waist: surface + SECTION.waist * (foot - surface) };
  }

  clearance(out, { off_m }) {
    const { depth_m } = this.answer;
    if (off_m <= 0) return [];
    const [top, words] = [this.y(depth_m - off_m), length(off_m)];
    return [{ out, top, bed: this.y(depth_m), length: words, label: this.clearOfBed(out, top, words) }];
  }

  // Where a label beside the spot keeps off the bed: over it, or under it where the water is too shallow.
  clearOfBed(out, top, words) {
    const { above, below, letter, away, turn, says_off } = SECTION.label;
    const far = away + letter * (says_off ? `${words} ${WORDS.sum_off}` : words).length;
    const [first, last] = out < this.frame.width - turn ? [out + away, out + far] : [out - far, out - away];
    const beside = this.samples.filter((s) => s.today_m !== null && first <= this.x(s.out_m) && this.x(s.out_m) <= last);
    const bed = beside.map((s) => this.y(Math.max(s.today_m, 0)));
    const over = Math.min(top, ...bed) - above;
    if (over >= this.frame.surface + below) return over;
    return Math.min(Math.max(top, ...bed) + below, this.frame.base - above);
  }
}

function sectionOf(bed, answer, far) {
  const { question } = answer;
  return Array.from({ length: SECTION.samples + 1 }, (_, k) => {
    const out_m = (far * k) / SECTION.samples;
    const here = bed.at(...placed(question.peg, question.bearing_deg, out_m));
    return { out_m, today_m: here ? here.depth_m + answer.rise_m : null, sd_m: here ? here.sd_m : 0 };
  });
}

function runsOf(samples) {
  const runs = [[]];
  for (const sample of samples) {
    if (sample.today_m !== null) runs[runs.length - 1].push(sample);
    else if (runs[runs.length - 1].length) runs.push([]);
  }
  return runs.filter((run) => run.length > 1);
}

// The first step of which no more than that fit, else the last.
function stepOf(most, steps, fitting) {
  return steps.find((step) => most / step <= fitting) || steps[steps.length - 1];
}

// A distance on the axis; wraps and the like are too long a word to stand at each.
function outWords(out, last) {
  return last || DATA.distances.unit in TYPED.units_m ? counted(String(out), DATA.distances) : String(out);
}

// Units of distance between two ticks.
function outStep(far_m) {
  return stepOf(far_m / DATA.distances.worth_m, SECTION.out_steps, SECTION.most_steps_out);
}

// Multiples of a step from nothing up to the most.
function upTo(most, step) {
  return Array.from({ length: Math.floor(most / step) + 1 }, (_, k) => k * step);
}

function shortened(name) {
  const most = SECTION.longest_name;
  return name.length > most ? `${name.slice(0, most - 1)}…` : name;
}
