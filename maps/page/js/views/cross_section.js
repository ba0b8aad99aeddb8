// The section along the cast: water, the bed with its ±, and the rig to scale.

const PROFILE_HEIGHT = 230;
const SKY = 34;
const FOOT = 30;
const LEFT = 46;
const RIGHT = 14;
const SECTION = DATA.drawing.section;

// Water and bed along samples {out_m, today_m, sd_m}; what stands at its beginning is named by start.
class SectionDrawing {
  constructor(samples, width, start) {
    this.width = width;
    this.samples = samples;
    this.start = start;
    this.far_m = this.samples[this.samples.length - 1].out_m;
    const deepest = Math.max(SECTION.least_deep_m, ...this.samples.filter((s) => s.today_m !== null).map((s) => s.today_m + DATA.rules.range_z * s.sd_m));
    this.deep_m = deepest * SECTION.room_below;
    this.perMetreOut = (width - LEFT - RIGHT) / this.far_m;
    this.perMetreDown = (PROFILE_HEIGHT - SKY - FOOT) / this.deep_m;
  }

  x(out_m) {
    return +(LEFT + out_m * this.perMetreOut).toFixed(1);
  }

  y(down_m) {
    return +(SKY + down_m * this.perMetreDown).toFixed(1);
  }

  get exaggeration() {
    return this.perMetreDown / this.perMetreOut;
  }

  drawn(title, ...more) {
    return svg(
      "svg",
      { class: "profile", viewBox: `0 0 ${this.width} ${PROFILE_HEIGHT}`, role: "img", "aria-label": title },
      ...runsOf(this.samples).flatMap((run) => this.waterAndBed(run)),
      ...this.scales(),
      ...more,
    );
  }

  waterAndBed(run) {
    const line = (down) => run.map((s) => `${this.x(s.out_m)} ${this.y(Math.max(down(s), 0))}`);
    const bed = line((s) => s.today_m);
    const [upper, lower] = [line((s) => s.today_m - DATA.rules.range_z * s.sd_m), line((s) => s.today_m + DATA.rules.range_z * s.sd_m)];
    const [first, last] = [this.x(run[0].out_m), this.x(run[run.length - 1].out_m)];
    return [
      svg("path", { d: `M${first} ${SKY}L${bed.join("L")}L${last} ${SKY}Z`, class: "water" }),
      svg("path", { d: `M${upper.join("L")}L${lower.reverse().join("L")}Z`, fill: INK, "fill-opacity": 0.17 }),
      svg("path", { d: `M${bed.join("L")}`, fill: "none", stroke: INK, "stroke-width": 2.2, "stroke-linejoin": "round" }),
      svg("path", { d: `M${first} ${SKY}H${last}`, class: "surface" }),
    ];
  }

  scales() {
    const marks = [svg("path", { d: `M${LEFT} ${SKY}V${PROFILE_HEIGHT - FOOT}H${this.width - RIGHT}`, fill: "none", stroke: INK, "stroke-width": 0.8 })];
    const step = depthStep(this.deep_m);
    for (let down = 0; down <= this.deep_m; down += step) {
      marks.push(svg("path", { d: `M${LEFT - 4} ${this.y(down)}H${LEFT}`, stroke: INK }));
      marks.push(svg("text", { x: LEFT - 7, y: this.y(down) + 5, "text-anchor": "end" }, depthTick(down)));
    }
    for (let out = 0; out <= this.far_m; out += outStep(this.far_m)) {
      const base = PROFILE_HEIGHT - FOOT;
      marks.push(svg("path", { d: `M${this.x(out)} ${base}v4`, stroke: INK }));
      const last = this.x(out) > this.width - 40;
      marks.push(svg("text", { x: this.x(out), y: base + 19, "text-anchor": last ? "end" : "middle" }, out ? `${out} m` : this.start));
    }
    return marks;
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
      distance: formatMetres(answer.distance_m, 1),
      depth: answer.depth_m === null ? WORDS["state_off water"] : length(answer.depth_m),
    });
    return super.drawn(title, ...this.rig());
  }

  // Float, line, shot and hook at the spot; nothing where there is no setting.
  rig() {
    const { answer } = this;
    const setting = answer.chosen;
    const x = this.x(answer.distance_m);
    const accent = { stroke: ACCENT, "stroke-width": 1.4, fill: "none" };
    if (!setting || setting.setting_m === null) {
      return [svg("path", { d: `M${x} ${SKY - 16}V${SKY - 3}M${x - 5} ${SKY - 9}L${x} ${SKY - 2}L${x + 5} ${SKY - 9}`, ...accent })];
    }
    const { heldBy } = answer;
    const hold_m = heldBy.length_m - heldBy.tip_m;
    const line_m = setting.setting_m - (heldBy.setting_to === "tip" ? heldBy.length_m : 0);
    const lies_m = Math.max(hold_m + line_m - answer.depth_m, 0);
    const hook_m = Math.min(hold_m + line_m, answer.depth_m);
    const laid = lies_m ? Math.max(lies_m * this.perMetreOut, 5) : 0;
    return [
      svg("path", { d: `M${x} ${this.y(hold_m)}V${this.y(hook_m)}${laid ? `h${laid.toFixed(1)}` : ""}`, class: "rig" }),
      ...this.floatBody(x, heldBy, hold_m),
      ...this.shot(hold_m, hook_m, lies_m).map(([down_m, r]) => svg("circle", { class: "solid", cx: x, cy: this.y(down_m), r })),
      svg("path", { d: `M${x + laid} ${this.y(hook_m) - 5}v3a3 3 0 0 0 6 0`, class: "rig" }),
      ...this.clearance(x, setting),
    ];
  }

  // Depth and size of each shot: where it was placed, or where the rig has it in general.
  shot(hold_m, hook_m, lies_m) {
    const { advice, chosen } = this.answer;
    if (!advice || !advice.shotting || advice.shotting.fault) {
      return SECTION.shot_shares[chosen.rig.name].map((share) => [hold_m + share * (hook_m - hold_m), 2.6]);
    }
    return advice.shotting.placed.map((shot) => [
      clamp(hook_m - Math.max(shot.from_hook_m - lies_m, 0), hold_m, hook_m),
      clamp(1.6 + 1.6 * Math.cbrt((GRAINS[shot.size] * shot.count) / 40), 2, 4.2),
    ]);
  }

  floatBody(x, heldBy, hold_m) {
    if (!heldBy.length_m) return [svg("circle", { class: "solid", cx: x, cy: SKY, r: 3 })];
    const [top, bottom] = [this.y(-heldBy.tip_m), this.y(hold_m)];
    return [
      svg("path", { d: `M${x} ${Math.min(top, SKY - 7)}V${SKY}`, stroke: ACCENT, "stroke-width": 3.4 }),
      svg("path", { class: "solid", d: `M${x - 1.5} ${SKY}L${x - 3.4} ${(SKY + 2 * bottom) / 3}L${x} ${bottom}L${x + 3.4} ${(SKY + 2 * bottom) / 3}L${x + 1.5} ${SKY}Z` }),
    ];
  }

  clearance(x, setting) {
    if (setting.off_m <= 0) return [];
    const { answer } = this;
    const [top, base] = [this.y(answer.depth_m - setting.off_m), this.y(answer.depth_m)];
    const right = x < this.width - 160;
    const at = right ? x + 12 : x - 12;
    return [
      svg("path", { d: `M${at - 4} ${top}h8M${at - 4} ${base}h8M${at} ${top}V${base}`, stroke: ACCENT, "stroke-width": 1.4 }),
      svg("text", { x: right ? at + 9 : at - 9, y: top - 8, "text-anchor": right ? "start" : "end", class: "clear" }, `${length(setting.off_m)} ${WORDS.sum_off}`),
    ];
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

function depthStep(deep_m) {
  return stepOf(deep_m, SECTION.depth_steps_m[view.units], SECTION.most_down);
}

function depthTick(down_m) {
  return view.units === "feet" ? `${Math.round(down_m / FOOT_M)} ft` : `${decimal(+down_m.toFixed(2))} m`;
}

function outStep(far_m) {
  return stepOf(far_m, SECTION.out_steps_m, SECTION.most_out);
}

function shortened(name) {
  const most = SECTION.longest_name;
  return name.length > most ? `${name.slice(0, most - 1)}…` : name;
}
