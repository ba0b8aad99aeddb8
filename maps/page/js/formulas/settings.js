// From a spot to a setting: the answer of the survey's program, for one level, float and rig.

const OFF_WATER = "off water";
const UNSURVEYED = "unsurveyed";
const DRY = "dry";

function riseOf(shown_m) {
  return DATA.mark.kind === "dip" ? DATA.mark.datum_m - shown_m : shown_m - DATA.mark.datum_m;
}

function pegNamed(name) {
  const wanted = String(name).trim();
  for (const same of [(a) => a === wanted, (a) => a.toLowerCase() === wanted.toLowerCase()]) {
    const found = DATA.pegs.find((p) => same(p.name)) || DATA.pegs.find((p) => p.aliases.some(same));
    if (found) return found;
  }
  return null;
}

// A spot by true bearing and metres on the ground from a peg.
function placed(peg, bearing_deg, distance_m) {
  const east = distance_m * Math.sin(bearing_deg * DEG);
  const north = distance_m * Math.cos(bearing_deg * DEG);
  const [[a, b], [c, d]] = peg.per_m;
  return [peg.e + a * east + b * north, peg.n + c * east + d * north];
}

function bearingDistance(peg, e, n) {
  const [[a, b], [c, d]] = peg.per_m;
  const det = a * d - b * c;
  const east = (d * (e - peg.e) - b * (n - peg.n)) / det;
  const north = (a * (n - peg.n) - c * (e - peg.e)) / det;
  return [mod(Math.atan2(east, north) / DEG, 360), Math.hypot(east, north)];
}

// kind: clock, angle or bearing; clock and angle in degrees from straight out.
function castQuestion(peg, kind, degrees, distance_m, by) {
  const bearing_deg = mod(kind === "bearing" ? degrees : peg.facing_deg + degrees, 360);
  const [e, n] = placed(peg, bearing_deg, distance_m);
  return { peg, e, n, bearing_deg, distance_m, by, direction_sd_deg: DATA.rules.direction_sd_deg[kind], fromFacing: kind !== "bearing" };
}

function castOf(question) {
  const azimuth = ((question.bearing_deg || 0) - (question.peg ? question.peg.convergence_deg : 0)) * DEG;
  const flat = DATA.rules.distance_sd_m[question.by];
  return {
    along: [Math.sin(azimuth), Math.cos(azimuth)],
    along_sd_m: flat === undefined ? DATA.rules.estimated_distance * question.distance_m : flat,
    across_sd_m: question.distance_m * question.direction_sd_deg * DEG,
  };
}

// question: peg or null, e, n, bearing_deg, distance_m, direction_sd_deg, by; today: see Today.now.
function answerTo(bed, question, today) {
  const depth = bed.castRange(question.e, question.n, castOf(question), today.rise_m, today.rise_sd_m);
  const [state, surveyed] = stateOf(depth);
  const [lat, lon] = DATA.placeless ? [null, null] : toLatLon(question.e, question.n);
  const settings = state ? [] : DATA.rules.rigs.map((rig) => settingFor(depth, today.heldBy, rig, today.end));
  return {
    question,
    peg: question.peg ? question.peg.name : null,
    distance_m: question.peg ? question.distance_m : null,
    bearing_deg: question.peg ? question.bearing_deg : null,
    angle_deg: question.peg ? turned(question.bearing_deg - question.peg.facing_deg) : null,
    lon: lon === null ? null : mod(lon + 180, 360) - 180,
    lat,
    shown_m: today.shown_m,
    rise_m: today.rise_m,
    rise_sd_m: today.rise_sd_m,
    heldBy: today.heldBy,
    depth_m: depth ? depth.today_m : null,
    lower_m: depth ? depth.lower_m : null,
    upper_m: depth ? depth.upper_m : null,
    datum_depth_m: depth ? depth.depth_m : null,
    sd_m: depth ? depth.sd_m : null,
    state,
    surveyed,
    rig: today.rig,
    settings,
    chosen: settings.find((s) => s.rig.name === today.rig) || null,
  };
}

function stateOf(depth) {
  if (!depth) return [OFF_WATER, false];
  const surveyed =
    depth.sd_m <= DATA.limits.sd_m && !(depth.beyond && depth.sd_m > DATA.limits.beyond_sd_m);
  if (!surveyed) return [UNSURVEYED, false];
  return depth.today_m <= 0 ? [DRY, true] : ["", true];
}

// end: bait_m below the hook, over_depth_m of line on the bed for a held rig (null: the usual).
function settingFor(depth, heldBy, rig, end) {
  const off_m = rig.clearance_m >= 0 || end.over_depth_m === null ? rig.clearance_m : -end.over_depth_m;
  const bait_m = off_m >= 0 ? end.bait_m : 0;
  const whyNot = whyNoSetting(depth.today_m, heldBy, rig, off_m + bait_m);
  if (whyNot) return { rig, setting_m: null, lower_m: null, upper_m: null, off_m, bait_m, whyNot };
  const taken = off_m + bait_m + (heldBy.setting_to === "tip" ? 0 : heldBy.length_m) - heldBy.tip_m;
  return {
    rig,
    setting_m: depth.today_m - taken,
    lower_m: Math.max(depth.lower_m - taken, 0),
    upper_m: depth.upper_m - taken,
    off_m,
    bait_m,
    whyNot: "",
  };
}

// A key of the words, empty where there is a setting.
function whyNoSetting(depth_m, heldBy, rig, hook_off_m) {
  if (depth_m <= 0) return "not_dry";
  if (depth_m < heldBy.length_m) return "not_float";
  if (depth_m <= rig.least_depth_m) return "not_here";
  const below = heldBy.length_m - heldBy.tip_m;
  return depth_m - below - hook_off_m < DATA.rules.least_setting_m ? "not_rig" : "";
}

// As it can be set: a whole number of steps, erring to the rig's safer side.
function rounded(setting_m, rig, step_m) {
  const steps = setting_m / step_m;
  const nearest = roundEven(steps);
  if (Math.abs(steps - nearest) * step_m < DATA.rules.micron_m) return nearest * step_m;
  return (rig.rounds_deeper ? Math.ceil(steps) : Math.floor(steps)) * step_m;
}

// Settings to try after the first, in the order to try them, for the rig and where the fish is looked for.
function whatToTry(setting, depth_m, heldBy, sought = null, most_m = null) {
  if (setting.setting_m === null) return [];
  const { steps_m, further_m, same_m } = DATA.rules.next;
  const toTip = heldBy.setting_to === "tip";
  const least = DATA.rules.least_setting_m + (toTip ? heldBy.length_m : 0);
  const onBottom = depth_m - (toTip ? -heldBy.tip_m : heldBy.length_m - heldBy.tip_m);
  const over = onBottom + DATA.rules.most_over_depth_m;
  const most = most_m === null || heldBy.kind === "sliding" ? over : Math.min(over, most_m);
  const last = steps_m[steps_m.length - 1];
  const further = Math.max(Math.trunc((setting.setting_m - least - last) / further_m + same_m), 0);
  const up = [...steps_m, ...Array.from({ length: further }, (_, k) => last + (k + 1) * further_m)].map((step) => setting.setting_m - step);
  const down = steps_m.map((step) => setting.setting_m + step);
  return triesInOrder(up, down, setting.rig, sought).filter((t) => t > least - same_m && t <= most + same_m);
}

function triesInOrder(up, down, rig, sought) {
  if (sought === "surface") return [...up, ...down];
  if (sought === "bottom") return [...down, ...up];
  const upFirst = sought === "mid-water" || rig.shallower_first;
  const turns = down.flatMap((_, k) => (upFirst ? [up[k], down[k]] : [down[k], up[k]]));
  return [...turns, ...up.slice(down.length)];
}

// A key of the words, empty where the float is right as it is.
function fixedOrSliding(setting_m, rod_length_m, kind) {
  const share = setting_m / rod_length_m;
  if (kind !== "fixed" || share < DATA.rules.consider_sliding) return "";
  return share >= DATA.rules.use_sliding ? "sliding_use" : "sliding_consider";
}

// The terms of a setting in whole steps, with what rounding leaves over as a term of its own; and their sum.
function sumTerms(answer, setting, step_m, set_m) {
  const { heldBy } = answer;
  const parts = [
    [answer.datum_depth_m, "sum_bed", true],
    [answer.rise_m, "sum_level", Math.abs(answer.rise_m) >= DATA.rules.shown.nothing_m],
    [-heldBy.length_m, "sum_float", heldBy.setting_to !== "tip" && heldBy.length_m > 0],
    [heldBy.tip_m, "sum_tip", heldBy.tip_m > 0],
    [-setting.off_m, setting.off_m > 0 ? "sum_off" : "sum_on", setting.off_m !== 0],
    [-setting.bait_m, "sum_bait", setting.bait_m > 0],
  ];
  const terms = parts.filter((part) => part[2]).map(([value, words]) => ({ steps: roundEven(value / step_m), words }));
  const total_m = rounded(setting.setting_m, setting.rig, set_m);
  const left = roundEven(total_m / step_m - terms.reduce((sum, term) => sum + term.steps, 0));
  if (left) terms.push({ steps: left, words: "sum_rounding" });
  return { terms, total_m };
}

// The nearest peg that is open and sees the spot, else the nearest open one, else none.
function nearestPeg(bed, e, n) {
  const open = DATA.pegs.filter((p) => !p.closed);
  const byDistance = open.sort((a, b) => Math.hypot(a.e - e, a.n - n) - Math.hypot(b.e - e, b.n - n));
  return byDistance.find((p) => bed.pegSees(p, e, n)) || byDistance[0] || null;
}

function isSteep(peg, rise_m) {
  return peg.margin.upper_m !== null && peg.margin.upper_m + rise_m > DATA.rules.steep_m;
}
