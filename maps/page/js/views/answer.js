// The answer in words: the setting large, its range, where and why, then what to mind.

function leadOf(answer, bed) {
  return [whereOf(answer, bed), ...saidOf(answer)];
}

function saidOf(answer) {
  if (answer.state) return stateLead(answer);
  const setting = answer.chosen;
  if (setting.setting_m === null) {
    const why = say(setting.whyNot, { depth: length(answer.depth_m), length: length(answer.heldBy.length_m) });
    return [el("p", { class: "state" }, WORDS.no_setting), el("p", {}, why)];
  }
  const [first, second] = settable(setting.setting_m, setting.rig);
  const range = { lower: length(setting.lower_m), upper: length(setting.upper_m) };
  const other = { lower: otherLength(setting.lower_m), upper: otherLength(setting.upper_m) };
  return [
    el("p", { class: "set" }, el("span", { class: "word" }, WORDS.set), el("span", { class: "first" }, ...withSmallUnits(first)), el("span", { class: "second" }, second)),
    el("p", { class: "expect" }, `${say("expect", range)} `, el("small", {}, say("range_to", other))),
  ];
}

function stateLead(answer) {
  const parts = [el("p", { class: "state" }, WORDS[`state_${answer.state}`])];
  const more = say(`state_${answer.state}_more`, { above: length(Math.abs(answer.depth_m || 0)) });
  const guess = answer.state === UNSURVEYED && answer.upper_m > 0 ? ` ${say("state_unsurveyed_guess", { lower: length(answer.lower_m), upper: length(answer.upper_m) })}` : "";
  parts.push(el("p", {}, more + guess));
  return parts;
}

// "5 ft 2½ in" with the units set small.
function withSmallUnits(words) {
  return words.split(" ").map((word) => (/^[a-z]+$/.test(word) ? el("span", { class: "unit" }, ` ${word} `) : word));
}

function restOf(answer, reading) {
  const parts = [];
  if (answer.chosen && answer.chosen.setting_m !== null) parts.push(sumOf(answer));
  if (answer.state !== OFF_WATER) parts.push(el("p", { class: "caution" }, WORDS.caution));
  if (answer.state !== OFF_WATER && answer.depth_m > 0) parts.push(waterOf(answer));
  if (reading) parts.push(readingTold(reading));
  return [...parts, ...mindOf(answer).map((words) => el("p", { class: "mind" }, words))];
}

function whereOf(answer, bed) {
  const { question } = answer;
  if (!question.peg) return el("p", { class: "where" }, placeTold(answer));
  const hidden = answer.state !== OFF_WATER && !bed.pegSees(question.peg, question.e, question.n);
  const said = {
    peg: answer.peg,
    clock: clockText(answer.angle_deg),
    distance: distance(answer.distance_m),
    bearing: `${fixed(answer.bearing_deg, 0)}°`,
  };
  return el("p", { class: "where" }, say(hidden ? "at_peg_hidden" : "at_peg", said));
}

// A spot without a peg: by its degrees, or where the copy hides them by metres from the corner.
function placeTold({ question, lat, lon }) {
  if (DATA.placeless) return say("at_no_peg_local", { east: formatMetres(question.e, 1), north: formatMetres(question.n, 1) });
  return say("at_no_peg", { lat: lat.toFixed(6), lon: lon.toFixed(6) });
}

// Where a setting stands above it, its range is the water's as well.
function waterOf(answer) {
  const range = { lower: length(answer.lower_m), upper: length(answer.upper_m) };
  const level = answer.rise_sd_m ? "_plumbed" : DATA.mark.kind ? `_${DATA.mark.kind}` : "";
  const said = { depth: bothLengths(answer.depth_m), shown: levelShown(answer.shown_m), half: length(DATA.rules.range_z * answer.rise_sd_m) };
  const words = [
    say(`water_today${level}`, said),
    ...(answer.chosen && answer.chosen.setting_m !== null ? [] : [say("water_range", range)]),
    say("bed_sd", { sd: length(answer.sd_m) }),
  ];
  return el("p", { class: "facts" }, unbroken(`${words.join("; ")}.`));
}

// A figure keeps its unit on its line.
function unbroken(words) {
  return words.replace(/([\d½¼¾]) (?=(?:ft|in|yd|cm|mm|m)\b)/g, "$1\u00a0");
}

// Depth, level, float and clearance as one sum that can be read aloud, and adds up as it stands.
function sumOf(answer) {
  const step_m = SHOWN.fine_m[view.units];
  const { terms, total_m } = sumTerms(answer, answer.chosen, step_m, SHOWN.set_m[view.units]);
  const spans = terms.map(({ steps, words }, k) => {
    const sign = k === 0 ? "" : steps < 0 ? "− " : "+ ";
    return el("span", {}, sign, el("b", {}, fineLength(k === 0 ? steps * step_m : Math.abs(steps) * step_m)), ` ${WORDS[words]}`);
  });
  const total = el("span", {}, "= ", el("b", { class: "total" }, fineLength(total_m)));
  return el("p", { class: "sum", "aria-label": WORDS.why }, ...spans, total);
}

// As survey.checks.residuals.chance_words has it.
function chanceTold(mistaken) {
  if (mistaken >= SHOWN.all_but_sure) return WORDS.reading_mistaken_sure;
  const tenths = Math.max(roundEven(10 * mistaken), 1);
  return tenths === SHOWN.tenths ? WORDS.reading_mistaken_most : say("reading_mistaken", { tenths });
}

function readingTold(reading) {
  const key = reading.kind === "depth" ? "reading_here" : `reading_bound_${reading.kind}`;
  const said = { depth: reading.depth_m === null ? "" : length(reading.depth_m), peg: reading.peg || WORDS.no_peg, day: reading.day || WORDS.no_date, source: reading.source };
  const more = reading.stopped_by ? [WORDS[`stopped_${reading.stopped_by}`]] : [];
  if (reading.doubtful && reading.residual_m !== null) {
    const side = reading.residual_m > 0 ? WORDS.deeper : WORDS.shallower;
    more.push(say("reading_doubtful", { residual: length(Math.abs(reading.residual_m)), side }));
    if (reading.mistaken !== null) more.push(chanceTold(reading.mistaken));
  }
  if (reading.changed) more.push(WORDS.reading_changed);
  if (reading.new_from) more.push(say("reading_past", { day: reading.new_from }));
  else if (!reading.used && reading.kind !== "none") more.push(WORDS.reading_unused);
  return el("p", {}, [say(key, said), ...more].join(" "));
}

function mindOf(answer) {
  const { peg } = answer.question;
  const said = [];
  if (peg && peg.closed) said.push(say("closed_caution", { peg: peg.name }));
  if (peg && answer.question.fromFacing && !peg.facing_declared) said.push(say("facing_guessed", { peg: peg.name, sd: fixed(peg.facing_sd_deg, 0) }));
  said.push(...farLevel(answer));
  if (answer.chosen && answer.chosen.setting_m !== null && !answer.heldBy.length_m) said.push(WORDS.held_line);
  if (answer.heldBy.setting_to === "tip") said.push(WORDS.tip_line);
  if (answer.advice && answer.advice.sliding) said.push(WORDS[answer.advice.sliding]);
  return said;
}

// A level that cannot well be: both figures are said.
function farLevel({ shown_m, rise_m, rise_sd_m }) {
  if (!rise_sd_m && isFarFromRecords(shown_m)) {
    const [low, high] = DATA.records_m.map(levelShown);
    return [say("far_records", { shown: levelShown(shown_m), low, high })];
  }
  return Math.abs(rise_m) > SHOWN.far_level_m ? [say("far_level", { rise: riseShown(rise_m) })] : [];
}

// The other rigs at this spot, and what to try after the first setting.
function moreOf(answer) {
  if (!answer.chosen) return [];
  const rows = answer.settings.map((setting) => {
    const name = WORDS[`rig_${setting.rig.name}`];
    const here = { class: setting === answer.chosen ? "here" : null };
    if (setting.setting_m === null) return el("tr", here, el("td", {}, name), el("td", { colspan: 2 }, WORDS[`${setting.whyNot}_short`]));
    const set = el("span", { class: "whole" }, settable(setting.setting_m, setting.rig)[0]);
    return el("tr", here, el("td", {}, name), el("td", {}, set), el("td", {}, ...rangeTold(setting)));
  });
  const head = el("tr", {}, ...["rig", "set", "range"].map((key) => el("th", { scope: "col" }, WORDS[key])));
  const parts = [el("h2", {}, WORDS.rigs), el("table", {}, el("thead", {}, head), el("tbody", {}, ...rows))];
  const tries = answer.advice ? answer.advice.tries.slice(0, SHOWN.tries) : [];
  if (!tries.length) return parts;
  const list = tries.map((tried) => {
    const off = tried - answer.chosen.setting_m;
    const side = off > 0 ? WORDS.deeper : WORDS.shallower;
    return el("li", {}, settable(tried, answer.chosen.rig)[0], el("small", {}, `${length(Math.abs(off))} ${side}`));
  });
  return [...parts, el("h2", { class: "next" }, WORDS.try_next), el("p", { class: "note" }, WORDS[`try_next_${answer.sought || "any"}`]), el("ol", { class: "tries" }, ...list)];
}

// A line of spots from the bank out to the one asked about: water and setting at each.
function alongTable(bed, answer, today) {
  const { question } = answer;
  const step = outStep(question.distance_m) * DATA.distances.worth_m;
  const rows = [];
  for (let k = 1; k * step <= question.distance_m + 1e-9; k += 1) {
    const out = k * step;
    const [e, n] = placed(question.peg, question.bearing_deg, out);
    const there = answerTo(bed, { ...question, e, n, distance_m: out }, today);
    if (there.state === OFF_WATER) continue;
    const water = there.state ? WORDS[`state_${there.state}_short`] : el("span", { class: "whole" }, length(there.depth_m));
    rows.push(el("tr", {}, el("td", {}, wholeDistance(out)), el("td", {}, water), el("td", {}, setTold(there)), el("td", {}, ...expectTold(there))));
  }
  const head = el("tr", {}, ...["along_out", "along_water", "spot_set", "range"].map((key) => el("th", { scope: "col" }, WORDS[key])));
  return el("table", {}, el("thead", {}, head), el("tbody", {}, ...rows));
}

// From one length to another; a line may end between them, not within them.
function rangeTold({ lower_m, upper_m }) {
  return [el("span", { class: "whole" }, length(lower_m)), " – ", el("span", { class: "whole" }, length(upper_m))];
}

function setTold({ chosen }) {
  if (!chosen) return "–";
  return chosen.setting_m === null ? WORDS[`${chosen.whyNot}_short`] : el("b", {}, settable(chosen.setting_m, chosen.rig)[0]);
}

function expectTold({ chosen }) {
  return chosen && chosen.setting_m !== null ? rangeTold(chosen) : [];
}
