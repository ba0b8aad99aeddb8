// Pegs on the bank, the fan of casts of the chosen one, and the cast that is being asked about.

const FAN = DRAWINGS.fan;
const OUTWARD_PX = 14;
const PEG_REACH_PX = 34;

class Pegs {
  constructor(map, bed, choose) {
    this.map = map;
    this.bed = bed;
    this.choose = choose;
    this.fan = L.layerGroup().addTo(map);
    this.cast = L.layerGroup().addTo(map);
    this.marks = DATA.pegs.map((peg) => this.mark(peg));
  }

  mark(peg) {
    const away = (peg.facing_deg + 180) * DEG;
    const [ox, oy] = [Math.sin(away), -Math.cos(away)];
    const kinds = [peg.closed && "closed", !peg.closed && peg.accessible && "accessible", isSteep(peg, 0) && "steep"];
    const button = el(
      "button",
      { type: "button", "aria-label": pegTold(peg), "aria-pressed": "false", "data-peg": peg.name },
      el("span", { class: ["stroke", ...kinds.filter(Boolean)].join(" ") }),
      el("span", { class: "name" }, peg.name),
    );
    button.style.setProperty("--ox", ox.toFixed(3));
    button.style.setProperty("--oy", oy.toFixed(3));
    button.style.setProperty("--turn", `${peg.facing_deg.toFixed(1)}deg`);
    button.addEventListener("click", (event) => {
      L.DomEvent.stop(event);
      this.choose(event.detail ? this.under(event, peg) : peg);
    });
    // The target lies off the water, so that it takes no taps from the margin.
    const icon = L.divIcon({ className: "peg-mark", html: button, iconSize: [44, 44], iconAnchor: [22 - OUTWARD_PX * ox, 22 - OUTWARD_PX * oy] });
    const marker = L.marker(toLatLon(peg.e, peg.n), { icon, pane: "pegs", interactive: false, keyboard: false });
    return { peg, marker: marker.addTo(this.map), button, outward: L.point(ox, oy).multiplyBy(OUTWARD_PX) };
  }

  // Where targets overlap, the peg nearest to the finger is meant.
  under(event, peg) {
    const at = this.map.mouseEventToContainerPoint(event);
    const far = (mark) => at.distanceTo(this.map.latLngToContainerPoint(mark.marker.getLatLng()).add(mark.outward));
    const nearest = this.marks.reduce((best, mark) => (far(mark) < far(best) ? mark : best));
    return far(nearest) <= PEG_REACH_PX ? nearest.peg : peg;
  }

  showChosen(chosen, spots) {
    for (const { peg, marker, button } of this.marks) {
      marker.getElement().classList.toggle("chosen", peg === chosen);
      marker.setZIndexOffset(peg === chosen ? 1000 : 0);
      button.setAttribute("aria-pressed", String(peg === chosen));
    }
    this.fan.clearLayers();
    if (chosen) this.drawFan(chosen, spots);
  }

  // Where its sheet has a peg that the adjustment moved.
  drawWritten(peg) {
    const at = toLatLon(...peg.written);
    L.polyline([at, toLatLon(peg.e, peg.n)], { className: "written", weight: 1.5, interactive: false }).addTo(this.fan);
    L.circleMarker(at, { className: "written", radius: 3.5, weight: 1.5, fill: false, interactive: false }).addTo(this.fan);
  }

  // The water before a peg, as far as it is fished.
  fanBounds(peg) {
    const rim = FAN.hours_deg.map((angle) => this.latLon(peg, angle, DATA.limits.reach_m));
    return L.latLngBounds([toLatLon(peg.e, peg.n), ...rim]);
  }

  // The casts of a fan are worked out when the page is made: for the still drawing the same.
  drawFan(peg, spots) {
    const { arcs, spokes, distances, hours } = peg.fan;
    const lines = spokes.map(([angle, out]) => ({ angle, line: [toLatLon(peg.e, peg.n), this.latLon(peg, angle, out)] }));
    const things = {
      arcs: arcs.map(([radius, ...ends]) => ({ line: alongArc(...ends).map((angle) => this.latLon(peg, angle, radius)) })),
      spokes: lines.filter(({ angle }) => angle),
      straight: lines.filter(({ angle }) => !angle),
      distances: distances.map(([angle, out]) => ({ at: this.latLon(peg, angle, out), distance: wholeDistance(out) })),
      hours: hours.map(([angle, out]) => ({ at: this.latLon(peg, angle, out), clock: clockText(angle).replace(":00", "") })),
      spots: spots.map((spot) => ({ at: this.latLon(peg, spot.angle_deg, spot.distance_m) })),
    };
    laidMarks(FAN, things).forEach((mark) => mark.addTo(this.fan));
    if (peg.written) this.drawWritten(peg);
  }

  latLon(peg, angle, radius) {
    return toLatLon(...placed(peg, peg.facing_deg + angle, radius));
  }

  showCast(question, reading) {
    this.cast.clearLayers();
    if (!question) return;
    const at = toLatLon(question.e, question.n);
    if (question.peg) this.castLine(question, at);
    const ring = { pane: "cast", interactive: false, radius: 8, fill: false };
    L.circleMarker(at, { ...ring, color: PAPER, weight: 8 }).addTo(this.cast);
    L.circleMarker(at, { ...ring, color: ACCENT, weight: 3 }).addTo(this.cast);
    L.circleMarker(at, { ...ring, radius: 2, fill: true, color: ACCENT, fillOpacity: 1, weight: 1 }).addTo(this.cast);
    if (reading) this.errorEllipse(reading);
  }

  castLine(question, at) {
    const hidden = !this.bed.pegSees(question.peg, question.e, question.n) || !this.bed.inWater(question.e, question.n);
    const line = [toLatLon(question.peg.e, question.peg.n), at];
    const style = { pane: "cast", interactive: false };
    L.polyline(line, { ...style, color: PAPER, weight: 8.5, lineCap: "butt" }).addTo(this.cast);
    L.polyline(line, { ...style, color: ACCENT, weight: 2.5, dashArray: hidden ? "4 7" : null, lineCap: "butt" }).addTo(this.cast);
  }

  // Where a reading may really have fallen: two standard deviations.
  errorEllipse(reading) {
    if (reading.along_m === null || reading.across_m === null) return;
    const [e, n] = [DATA.grid.west + reading.east_cm / 100, DATA.grid.south + reading.north_cm / 100];
    const azimuth = (reading.azimuth_deg || 0) * DEG;
    const points = Array.from({ length: 36 }, (_, k) => {
      const [s, t] = [2 * reading.along_m * Math.cos(k * 10 * DEG), 2 * reading.across_m * Math.sin(k * 10 * DEG)];
      return toLatLon(e + s * Math.sin(azimuth) + t * Math.cos(azimuth), n + s * Math.cos(azimuth) - t * Math.sin(azimuth));
    });
    const style = { pane: "cast", interactive: false, fill: false };
    L.polygon(points, { ...style, color: PAPER, weight: 4 }).addTo(this.cast);
    L.polygon(points, { ...style, color: INK, weight: 1.4, dashArray: "3 3" }).addTo(this.cast);
  }
}

// Degrees along an arc, ends included, no further apart than a chord.
function alongArc(first, last) {
  const count = Math.max(Math.ceil((last - first) / FAN.chord_deg), 1);
  return Array.from({ length: count + 1 }, (_, k) => first + (last - first) * (k / count));
}

function pegTold(peg) {
  const facts = [say("peg_title", { peg: peg.name })];
  if (peg.closed) facts.push(WORDS.peg_closed);
  if (peg.accessible) facts.push(accessTold(peg));
  if (isSteep(peg, 0)) facts.push(WORDS.key_peg_steep);
  return facts.join(". ").replace(/\.\./g, ".");
}
