// A line between any two points of the water, and the depth along it with its ±.

class LineTool {
  constructor(bed, map, today) {
    Object.assign(this, { bed, map, today, points: [], drawing: false });
    this.layer = L.layerGroup().addTo(map);
    for (const id of ["line-from", "line-to"]) {
      byId(id).append(el("option", { value: "" }, WORDS.line_point), ...DATA.pegs.map((peg, k) => el("option", { value: k }, say("peg_title", { peg: peg.name }))));
      byId(id).addEventListener("change", () => this.takePegs());
    }
    byId("line-draw").addEventListener("click", () => this.begin());
    byId("line-clear").addEventListener("click", () => this.take([]));
    this.take([]);
  }

  begin() {
    this.take([]);
    this.drawing = true;
    byId("line-draw").setAttribute("aria-pressed", "true");
    byId("line-note").textContent = WORDS.line_first;
    document.querySelector(".chart").scrollIntoView({ block: "start" });
  }

  // A tap on the map while a line is being drawn; false where none is.
  tapped(e, n) {
    if (!this.drawing) return false;
    const points = [...this.points, [e, n]];
    const more = points.length < 2;
    this.take(points);
    this.drawing = more;
    byId("line-draw").setAttribute("aria-pressed", String(more));
    if (more) byId("line-note").textContent = WORDS.line_second;
    else byId("line").scrollIntoView({ block: "nearest" });
    return true;
  }

  takePegs() {
    const [from, to] = ["line-from", "line-to"].map((id) => DATA.pegs[byId(id).value]);
    if (from && to && from !== to) this.take([from, to].map((peg) => [peg.e, peg.n]), true);
  }

  take(points, byPegs = false) {
    this.points = points;
    this.drawing = false;
    if (!byPegs) for (const id of ["line-from", "line-to"]) byId(id).value = "";
    byId("line-draw").setAttribute("aria-pressed", "false");
    this.refresh();
  }

  refresh() {
    this.layer.clearLayers();
    const ends = this.points.map(([e, n]) => toLatLon(e, n));
    for (const style of [{ color: PAPER, weight: 7 }, { color: INK, weight: 2.2, dashArray: "7 4" }]) L.polyline(ends, { pane: "cast", interactive: false, ...style }).addTo(this.layer);
    for (const end of ends) L.circleMarker(end, { pane: "cast", interactive: false, radius: 5, color: INK, fillColor: PAPER, fillOpacity: 1, weight: 2 }).addTo(this.layer);
    const whole = this.points.length === 2;
    byId("line-clear").hidden = !this.points.length;
    byId("line-drawing").replaceChildren();
    byId("line-note").textContent = "";
    if (whole) this.draw();
  }

  draw() {
    const samples = samplesBetween(this.bed, this.points, this.today.now.rise_m);
    const home = byId("line-drawing");
    const drawing = new SectionDrawing(samples, Math.max(home.clientWidth, 300), WORDS.line_start);
    const told = lineTold(samples);
    home.replaceChildren(drawing.drawn(told));
    byId("line-note").textContent = `${told} ${say("profile_note", { times: decimal(fixed(drawing.exaggeration, 1)) })}`;
  }
}

// Evenly from one point to the other: metres along, depth today and its standard deviation, null off the water.
function samplesBetween(bed, [[e1, n1], [e2, n2]], rise_m) {
  const far_m = Math.hypot(e2 - e1, n2 - n1) / DATA.scale;
  return Array.from({ length: SECTION.samples + 1 }, (_, k) => {
    const share = k / SECTION.samples;
    const here = bed.at(e1 + share * (e2 - e1), n1 + share * (n2 - n1));
    return { out_m: share * far_m, today_m: here ? here.depth_m + rise_m : null, sd_m: here ? here.sd_m : 0 };
  });
}

function lineTold(samples) {
  const wet = samples.filter((s) => s.today_m !== null && s.today_m > 0);
  const far = distance(samples[samples.length - 1].out_m);
  if (!wet.length) return say("line_dry", { distance: far });
  const deepest = wet.reduce((most, s) => (s.today_m > most.today_m ? s : most));
  const half = DATA.rules.range_z * deepest.sd_m;
  return say("line_told", { distance: far, depth: length(deepest.today_m), half: length(half), out: distance(deepest.out_m) });
}
