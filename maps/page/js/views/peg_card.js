// The card of the chosen peg: what it is, and a setting at each of its spots. What pages say of pegs.

function pegCard(peg, bed, today, shown, show, leave) {
  if (!peg) return [];
  const parts = [el("h2", {}, say("peg_title", { peg: peg.name })), el("p", { class: "peg-facts" }, pegFacts(peg, today.rise_m).join(" "))];
  const spots = spotsOf(peg);
  if (spots.length) parts.push(spotTable(peg, spots, bed, today, shown, show));
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
  facts.push(say(peg.facing_declared ? "peg_straight" : "peg_straight_guessed", { bearing: `${fixed(peg.facing_deg, 0)}°` }));
  const moved_m = peg.written ? Math.hypot(peg.e - peg.written[0], peg.n - peg.written[1]) : 0;
  if (peg.written) facts.push(say("peg_moved", { far: counted(farFigure(moved_m, DATA.spans), DATA.spans) }));
  if (peg.stops) facts.push(sentence(peg.stops));
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
    const place = `${clockText(spot.angle_deg)}, ${distance(spot.distance_m)}`;
    const go = el("button", { type: "button", class: "spot", onclick: () => show(question) }, spotName(spot), el("small", {}, place));
    const water = answer.state ? WORDS[`state_${answer.state}_short`] : el("span", { class: "whole" }, length(answer.depth_m));
    const same = shown && shown.peg === peg && Math.hypot(shown.e - question.e, shown.n - question.n) < 0.01;
    return el("tr", { class: same ? "shown" : null }, el("td", {}, go), el("td", {}, water), el("td", {}, setTold(answer)));
  });
  const head = el("tr", {}, ...["spot_where", "spot_water", "spot_set"].map((key) => el("th", { scope: "col" }, WORDS[key])));
  const caption = say("spot_caption", { peg: peg.name, rig: WORDS[`rig_in_${today.rig}`], float: floatTold(today.heldBy) });
  return el("table", { "aria-label": caption }, el("thead", {}, head), el("tbody", {}, ...rows));
}
