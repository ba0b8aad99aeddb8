// Everything said about one rig beyond its setting: shot on the line, fall, feed and wind; and how it is shown.

const SHELTERED_SHOWN = 5;

function lineOf(setting, heldBy, hook_length_m) {
  const length_m = setting.setting_m - (heldBy.setting_to === "tip" ? heldBy.length_m : 0);
  return { length_m, hook_length_m: Math.min(hook_length_m, length_m), on_bed_m: Math.max(-setting.off_m, 0) };
}

function adviceFor(bed, answer, setting, today) {
  if (setting.setting_m === null) return null;
  const { heldBy, depth_m } = answer;
  const { tackle, wind } = today;
  const line = lineOf(setting, heldBy, tackle.hook_length_m);
  const shotting = heldBy.mark ? shotted(heldBy.mark.balance_g, tackle.atHand, setting.rig, line, tackle.locking) : null;
  const rod_m = tackle.rod_length_m;
  return {
    tries: whatToTry(setting, depth_m, heldBy, tackle.sought, rod_m === null ? null : DATA.rules.use_sliding * rod_m),
    line,
    shotting,
    least_fall_s: shotting && !shotting.fault ? fallOf(shotting, line, answer, today.end.bait_m) : null,
    sliding: rod_m === null ? "" : fixedOrSliding(setting.setting_m, rod_m, heldBy.kind),
    landing: feedLanding(depth_m, wind ? wind.speed_ms : 0),
    blown: wind ? blownAt(bed, answer.question, depth_m, wind) : null,
  };
}

function fallOf(shotting, line, answer, bait_m) {
  const { heldBy, depth_m } = answer;
  const hook_m = Math.min(line.length_m + heldBy.length_m - heldBy.tip_m, depth_m);
  const hanging = shotting.placed.map((s) => [Math.max(s.from_hook_m - line.on_bed_m, 0), weightG({ [s.size]: s.count })]);
  return fallS(hanging, hook_m, baitSphere(bait_m));
}

// The blocks under the profile: shot, feed, wind.
function riggingOf(answer, bed, today, choosePeg) {
  const { advice } = answer;
  if (!advice) return [];
  return [...shotBlock(answer), ...feedBlock(answer), ...(advice.blown ? windBlock(answer, bed, today, choosePeg) : [])];
}

function shotBlock(answer) {
  const { shotting, least_fall_s, line } = answer.advice;
  const head = el("h2", {}, WORDS.shot);
  if (!shotting) {
    const go = el("button", { type: "button", class: "plain", onclick: () => openField("takes") }, WORDS.shot_ask_go);
    return [head, el("p", {}, WORDS.shot_ask), go];
  }
  if (shotting.fault) return [head, el("p", { class: "mind" }, WORDS[shotting.fault])];
  const off_g = shotting.difference_g;
  const near = off_g ? ` ${say(off_g > 0 ? "shot_heavy" : "shot_light", { grams: decimal(+Math.abs(off_g).toFixed(3)) })}` : "";
  const held = Object.keys(shotting.locking).length ? say("shot_locked", { shot: wayWords(shotting.locking) }) : WORDS.shot_stops;
  const ways = shotting.ways.slice(1, SHOWN.ways + 1).map(wayWords).join("; ");
  return [
    head,
    el("p", { class: "lead-line" }, el("strong", {}, wayWords(shotting.way)), ` ${WORDS[`shot_${answer.chosen.rig.name}`]}.${near}`),
    el("div", { class: "line-and-list" }, lineDrawing(shotting.placed, line), placesList(shotting.placed, line)),
    el("p", {}, say("fall", { count: Math.round(least_fall_s) })),
    el("p", { class: "note" }, `${WORDS.shot_makers} ${WORDS.shot_lead}`),
    el("details", { class: "fold" }, el("summary", {}, WORDS.shot_more), ways ? el("p", {}, say("shot_or", { ways })) : "", el("p", {}, held)),
  ];
}

// Shot at one place together, from the float down.
function byPlace(placed) {
  const places = [];
  for (const shot of placed) {
    const last = places[places.length - 1];
    if (last && last.from_hook_m === shot.from_hook_m) last.shot.push(shot);
    else places.push({ from_hook_m: shot.from_hook_m, shot: [shot] });
  }
  return places;
}

function placesList(placed, line) {
  const rows = byPlace(placed).map(({ from_hook_m, shot }) =>
    el("li", {}, el("b", {}, upFromHook(from_hook_m)), ` ${shot.map((s) => (s.count > 1 ? `${s.count} ${s.size}` : s.size)).join(" + ")}`),
  );
  return el("div", {}, el("p", { class: "note" }, WORDS.shot_up), el("ol", { class: "places" }, el("li", {}, el("b", {}, upFromHook(line.length_m)), ` ${WORDS.shot_float}`), ...rows, el("li", {}, el("b", {}, upFromHook(0)), ` ${WORDS.shot_hook}`)));
}

function upFromHook(length_m) {
  return view.units === "feet" ? feetInches(length_m) : `${Math.round(length_m * 100)} cm`;
}

const LINE_HIGH = 190;

// The line from float to hook, its shot where it goes: drawn to scale along the line.
function lineDrawing(placed, line) {
  const y = (from_hook_m) => +(16 + (LINE_HIGH - 40) * (1 - from_hook_m / line.length_m)).toFixed(1);
  const shot = byPlace(placed).flatMap(({ from_hook_m, shot }) => {
    const count = shot.reduce((sum, s) => sum + s.count, 0);
    return shot.flatMap((s) => Array(s.count).fill(s.size)).map((size, k) => {
      const r = clamp(2 + 2.2 * Math.cbrt(GRAINS[size] / 40), 2, 6);
      return svg("circle", { class: "solid", cx: 30, cy: +(y(from_hook_m) + (k - (count - 1) / 2) * 2 * r).toFixed(1), r: r.toFixed(1) });
    });
  });
  const bed = line.on_bed_m ? svg("path", { d: `M6 ${y(line.on_bed_m)}H54`, stroke: INK, "stroke-dasharray": "3 3", fill: "none" }) : "";
  return svg(
    "svg",
    { class: "line-drawing", viewBox: `0 0 60 ${LINE_HIGH}`, role: "img", "aria-label": WORDS.shot_drawing },
    svg("path", { d: "M30 0V16", stroke: ACCENT, "stroke-width": 5 }),
    svg("path", { class: "rig", d: `M30 16V${y(0)}` }),
    bed,
    ...shot,
    svg("path", { class: "rig", d: `M30 ${y(0)}v7a5 5 0 0 0 10 0v-3` }),
  );
}

function feedBlock(answer) {
  const { landing } = answer.advice;
  const said = { least: Math.round(landing.least_s), most: Math.round(landing.most_s), far: counted(farFigure(landing.most_m, DATA.spans), DATA.spans) };
  return [
    el("h2", { class: "next" }, WORDS.feed),
    el("p", {}, WORDS[`feed_${answer.chosen.rig.name}`]),
    el("p", {}, say(landing.most_m ? "feed_lands" : "feed_sinks", said)),
  ];
}

function windBlock(answer, bed, today, choosePeg) {
  const { blown } = answer.advice;
  const [least, most] = blown.drift_m_per_min;
  const facts = [
    blown.side ? WORDS[`wind_${blown.side}`] : "",
    blown.fetch_m === null ? "" : say("wind_fetch", { fetch: wholeDistance(blown.fetch_m, DATA.spans) }),
    say("wind_drift", { low: fixed(least / DATA.spans.worth_m, 0), high: wholeDistance(most, DATA.spans) }),
    WORDS.wind_return,
  ];
  const over = blown.over_depth_m
    ? say("wind_over", { low: length(blown.over_depth_m[0]), high: length(blown.over_depth_m[1]) })
    : WORDS.wind_not_here;
  return [el("h2", { class: "next" }, WORDS.wind), el("p", {}, facts.filter(Boolean).join(" ")), el("p", {}, over), ...shelterList(bed, today.wind, choosePeg)];
}

function shelterList(bed, wind, choosePeg) {
  if (DATA.pegs.length < 2) return [];
  const pegs = pegsByShelter(bed, wind.from_deg).filter((s) => s.fetch_m !== null).slice(0, SHELTERED_SHOWN);
  if (!pegs.length) return [];
  const items = pegs.map(({ peg, fetch_m, side }) =>
    el("li", {}, el("button", { type: "button", class: "spot", onclick: () => choosePeg(peg) }, say("peg_title", { peg: peg.name }), el("small", {}, `${wholeDistance(fetch_m, DATA.spans)}, ${WORDS[`wind_${side}_short`]}`))),
  );
  return [el("p", { class: "note" }, WORDS.wind_shelter), el("ul", { class: "sheltered" }, ...items)];
}

// A script's copy of the advice, without what only drawings need.
function plainAdvice(advice) {
  if (!advice) return null;
  const { line, shotting, ...rest } = advice;
  const plain = shotting && !shotting.fault ? { way: shotting.way, placed: shotting.placed, balance_g: shotting.balance_g, difference_g: shotting.difference_g } : null;
  return { ...rest, shotting: plain };
}
