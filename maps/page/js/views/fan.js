// Pegs on the bank, the fan of casts of the chosen one, and the cast that is being asked about.

// Spokes, and where the distances stand: between them, and off the middle where casts are drawn.
const { hours_deg: HOURS, beside_deg: BESIDE_DEG } = DRAWINGS.fan;
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

  // The water before a peg, as far as it is fished.
  fanBounds(peg) {
    const rim = HOURS.map((angle) => this.latLon(peg, angle, DATA.limits.reach_m));
    return L.latLngBounds([toLatLon(peg.e, peg.n), ...rim]);
  }

  drawFan(peg, spots) {
    const reach = DATA.limits.reach_m;
    const { arc_steps_m, far_reach_m } = DRAWINGS.fan;
    const step = arc_steps_m[reach > far_reach_m ? 1 : 0];
    for (let radius = step; radius <= reach + 0.01; radius += step) {
      const arc = [];
      for (let angle = -90; angle <= 90; angle += 2) arc.push([angle, radius]);
      this.seenRuns(peg, arc).forEach((run) => this.cased(this.fan, run, { weight: 1.2 }, "fan"));
      const beside = BESIDE_DEG.find((angle) => this.sees(peg, angle, radius));
      if (beside !== undefined) this.fanMark(peg, beside, radius, `${radius} m`);
    }
    for (const angle of HOURS) {
      const spoke = [];
      for (let radius = 1; radius <= reach; radius += 1) spoke.push([angle, radius]);
      const runs = this.seenRuns(peg, spoke);
      runs.forEach((run) => this.cased(this.fan, run, { weight: angle === 0 ? 1.6 : 1, dashArray: angle === 0 ? null : "1 5" }, "fan"));
      const first = spoke.findIndex(([, radius]) => !this.sees(peg, angle, radius + 3));
      if (angle !== 0) this.fanMark(peg, angle, first < 0 ? reach : Math.max(spoke[first][1], 6), clockText(angle).replace(":00", ""));
    }
    spots.forEach((spot) => this.spotMark(peg, spot));
  }

  sees(peg, angle, radius) {
    const [e, n] = placed(peg, peg.facing_deg + angle, radius);
    return this.bed.inWater(e, n) && this.bed.pegSees(peg, e, n);
  }

  // The parts of a row of spots that lie on water in sight.
  seenRuns(peg, row) {
    const runs = [[]];
    for (const [angle, radius] of row) {
      if (this.sees(peg, angle, radius)) runs[runs.length - 1].push(this.latLon(peg, angle, radius));
      else if (runs[runs.length - 1].length) runs.push([]);
    }
    return runs.filter((run) => run.length > 1);
  }

  latLon(peg, angle, radius) {
    return toLatLon(...placed(peg, peg.facing_deg + angle, radius));
  }

  fanMark(peg, angle, radius, words) {
    if (!this.sees(peg, angle, Math.max(radius - 2, 1))) return;
    const icon = L.divIcon({ className: "fan-mark", html: el("span", {}, words), iconSize: [48, 18] });
    L.marker(this.latLon(peg, angle, radius), { icon, pane: "fan", interactive: false, keyboard: false }).addTo(this.fan);
  }

  spotMark(peg, spot) {
    const at = this.latLon(peg, spot.angle_deg, spot.distance_m);
    const style = { pane: "fan", interactive: false, radius: 4 };
    L.circleMarker(at, { ...style, color: PAPER, weight: 5, fill: false }).addTo(this.fan);
    L.circleMarker(at, { ...style, color: ACCENT, weight: 1.8, fillColor: PAPER, fillOpacity: 1 }).addTo(this.fan);
  }

  // Accent on paper: bare, it would vanish on the deeper tints.
  cased(group, points, style, pane) {
    const both = { pane, interactive: false, lineCap: "round", fill: false };
    L.polyline(points, { ...both, ...style, dashArray: null, color: PAPER, opacity: 0.75, weight: style.weight + 2.4 }).addTo(group);
    L.polyline(points, { ...both, color: ACCENT, ...style }).addTo(group);
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

function pegTold(peg) {
  const facts = [say("peg_title", { peg: peg.name })];
  if (peg.closed) facts.push(WORDS.peg_closed);
  if (peg.accessible) facts.push(accessTold(peg));
  if (isSteep(peg, 0)) facts.push(WORDS.key_peg_steep);
  return facts.join(". ").replace(/\.\./g, ".");
}
