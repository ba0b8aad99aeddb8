// Saying where: what is typed becomes a question about one spot.

// The form for who would rather say where than tap.
class Ask {
  constructor(asked, choosePeg) {
    this.asked = asked;
    const pegs = [el("option", { value: "" }, WORDS.ask_peg_any), ...DATA.pegs.map((peg, k) => el("option", { value: k }, peg.name))];
    byId("ask-peg").append(...pegs);
    byId("ask-peg").addEventListener("change", () => choosePeg(this.peg));
    const clocks = Array.from({ length: 13 }, (_, k) => -90 + 15 * k).map((a) => el("option", { value: a, selected: a === 0 }, clockText(a)));
    byId("ask-clock").append(...clocks);
    const units = ["m", "yd", "ft", ...["wrap", "rod", "section"].filter((unit) => DATA.sizes[unit])];
    byId("ask-unit").append(...units.map((unit) => el("option", { value: unit, selected: unit === DATA.distances.unit }, WORDS[`unit_${unit}`])));
    for (const id of ["ask-unit", "ask-distance"]) byId(id).addEventListener("change", () => this.followUnit());
    const ways = ["estimated", ...Object.keys(DATA.rules.distance_sd_m)];
    byId("ask-distance-by").append(...ways.map((way) => el("option", { value: way }, WORDS[`by_${way}`])));
    byId("ask-distance-by").addEventListener("change", () => asked());
    byId("ask-by").addEventListener("change", () => this.showDirection());
    byId("ask").addEventListener("submit", (event) => {
      event.preventDefault();
      this.submit();
    });
    this.showDirection();
  }

  get peg() {
    const index = byId("ask-peg").value;
    return index === "" ? null : DATA.pegs[Number(index)];
  }

  get by() {
    return byId("ask-distance-by").value;
  }

  showPeg(peg) {
    byId("ask-peg").value = peg ? String(DATA.pegs.indexOf(peg)) : "";
  }

  showDirection() {
    const by = byId("ask-by").value;
    byId("ask-clock-field").hidden = by !== "clock";
    byId("ask-degrees-field").hidden = by === "clock";
    if (by !== "clock") byId("ask-degrees-field").querySelector("label").textContent = WORDS[`ask_${by}_value`];
  }

  followUnit() {
    const way = { wrap: "wraps", rod: "rod lengths", section: "pole" }[byId("ask-unit").value];
    if (way) byId("ask-distance-by").value = way;
  }

  submit() {
    const by = byId("ask-by").value;
    const distance_m = distanceTyped(byId("ask-distance").value, byId("ask-unit").value);
    const degrees = by === "clock" ? Number(byId("ask-clock").value) : readNumber(byId("ask-degrees").value);
    const fault = this.faultOf(degrees, distance_m);
    byId("ask-note").textContent = fault;
    this.asked(fault ? null : castQuestion(this.peg, by, degrees, distance_m, this.by), fault);
  }

  faultOf(degrees, distance_m) {
    if (!this.peg) return WORDS.ask_need_peg;
    if (degrees === null || Math.abs(degrees) > 360) return WORDS.ask_bad_direction;
    return distance_m > 0 && distance_m <= DATA.rules.most_cast_m ? "" : badDistance();
  }
}

function badDistance() {
  return say("ask_bad_distance", { most: wholeDistance(DATA.rules.most_cast_m) });
}

// A distance with a unit of its own, or a bare number in the unit chosen; NaN for anything else.
function distanceTyped(text, unit) {
  return readLength(text, unit, DATA.sizes) ?? NaN;
}
