// The chart: what is drawn once, in panes whose order never changes, and the layers and key beside it.

const CHART = DRAWINGS.map;
const DENSEST_DOTS_M = 1.3;
const DENSEST_DOTS_PX = 5;
const MOST_DOTS = 7000;
const SUREST_SD_M = 0.08;
const FAR_M_PER_PX = 0.3;
const FINEST_M_PER_PX = 0.05;

class Chart {
  constructor(map, tints, bed) {
    this.map = map;
    this.bed = bed;
    this.layers = {
      backdrop: backdrop || null,
      tints,
      contours: this.contours(),
      unsurveyed: this.unsurveyed(),
      sureness: null,
      readings: null,
    };
    this.shoreline();
    for (const name of ["tints", "contours", "unsurveyed"]) this.show(name, true);
    map.getContainer().classList.toggle("on-ground", Boolean(backdrop));
    this.frameWater();
    this.controls();
  }

  show(name, wanted) {
    if (wanted && !this.layers[name]) this.layers[name] = this[name]();
    if (name === "backdrop") this.map.getContainer().classList.toggle("on-ground", wanted);
    if (!this.layers[name]) return;
    if (wanted) this.layers[name].addTo(this.map);
    else this.layers[name].remove();
    if (name === "tints") this.map.getContainer().classList.toggle("tinted", wanted);
  }

  shown(name) {
    return Boolean(this.layers[name]) && this.map.hasLayer(this.layers[name]);
  }

  frameWater() {
    this.bounds = L.latLngBounds(this.shores.flat());
    this.map.setMaxBounds(this.bounds.pad(0.6));
    this.wholeWater();
    this.map.setMinZoom(this.map.getZoom() - 1);
    this.map.setMaxZoom(this.map.getZoom() + Math.log2(Math.max(this.metresPerPixel / FINEST_M_PER_PX, 2)));
  }

  wholeWater() {
    const wide = this.map.getSize().x > 600;
    const [edge, foot] = wide ? [52, 84] : [32, 26];
    this.map.fitBounds(this.bounds, { paddingTopLeft: [edge, edge], paddingBottomRight: [edge, foot], animate: false });
  }

  controls() {
    const zoom = L.control.zoom({ zoomInTitle: WORDS.zoom_in, zoomOutTitle: WORDS.zoom_out }).addTo(this.map);
    const whole = el("a", { class: "whole", href: "#", role: "button", title: WORDS.whole, "aria-label": WORDS.whole }, "◎");
    L.DomEvent.on(whole, "click", (event) => {
      L.DomEvent.stop(event);
      this.wholeWater();
    });
    zoom.getContainer().append(whole);
    const metric = DATA.spans.unit === "m";
    L.control.scale({ metric, imperial: !metric, maxWidth: 110 }).addTo(this.map);
  }

  get metresPerPixel() {
    const { x, y } = this.map.getSize();
    const [a, b] = [L.point(0, y / 2), L.point(x, y / 2)].map((point) => this.map.containerPointToLatLng(point));
    return a.distanceTo(b) / x;
  }

  get isFar() {
    return this.metresPerPixel > FAR_M_PER_PX;
  }

  // From afar the minor contours would run together on a steep margin, and figures over one another:
  // names of pegs come first, then the fan's, then the figures of depth.
  thinOut() {
    this.map.getContainer().classList.toggle("far", this.isFar);
    const kept = [];
    const inOrder = [".chosen .name", ".peg-mark:not(.chosen) .name", ".fan-mark span", ".depth-mark span"];
    for (const words of inOrder.flatMap((kind) => [...this.map.getContainer().querySelectorAll(kind)])) {
      const box = words.getBoundingClientRect();
      const crowded = kept.some((other) => overlap(box, other));
      words.classList.toggle("crowded", crowded);
      if (!crowded) kept.push(box);
    }
  }

  shoreline() {
    const { islands } = DATA.outline;
    this.shores = this.bed.rings.map((ring) => {
      const points = [];
      for (let k = 0; k < ring.length; k += 2) points.push(toLatLon(ring[k], ring[k + 1]));
      return points;
    });
    const rings = (wanted) => this.shores.filter((_, k) => Boolean(islands[k]) === wanted).map((ring) => ({ line: ring, area: ring }));
    laidMarks(CHART, { shores: rings(false), islands: rings(true) }).forEach((mark) => mark.addTo(this.map));
  }

  // Over unsurveyed water there is no tint, so a line stays ink, and broken: it is a guess.
  contours() {
    const things = { contours: [], strong_contours: [], guessed_contours: [], guessed_strong_contours: [], figures: [] };
    for (const line of DATA.contours) {
      const kind = line.strong ? "strong_contours" : "contours";
      const looks = { pale: line.pale ? "pale" : "", minor: line.strong ? "" : "minor" };
      things[kind].push({ line: line.known.map(latLonsOfCm), ...looks });
      things[`guessed_${kind}`].push({ line: line.guessed.map(latLonsOfCm) });
      things.figures.push(...line.figures.map((ends) => ({ ...this.figure(line, latLonsOfCm(ends)), ...looks })));
    }
    return L.layerGroup(laidMarks(CHART, things));
  }

  figure({ depth_m, ...line }, ends) {
    const [a, b] = ends.map((at) => this.map.project(at, 20));
    const turn = Math.atan2(b.y - a.y, b.x - a.x) / DEG;
    return {
      at: [(ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2],
      turn: Math.abs(turn) > 90 ? turn + 180 : turn,
      ground: groundOf({ depth_m, ...line }),
      depth_m: String(depth_m),
      depth: depthFigure(depth_m),
    };
  }

  unsurveyed() {
    return L.layerGroup(laidMarks(CHART, { unsurveyed: DATA.unsurveyed.map((rings) => ({ area: rings.map(latLonsOfCm) })) }));
  }

  // Dots of a sequence whose every beginning is spread evenly: the surer the bed, the more of it is drawn.
  sureness() {
    const { west, south, cell_m, nx, ny } = this.bed.grid;
    const [width, height] = [nx * cell_m, ny * cell_m];
    const apart_m = Math.max(DENSEST_DOTS_M, DENSEST_DOTS_PX * this.metresPerPixel);
    const count = Math.min(MOST_DOTS, Math.round((width * height) / apart_m ** 2));
    const renderer = L.canvas({ pane: "sureness", padding: 0.3 });
    const group = L.layerGroup();
    for (let k = 0; k < count; k += 1) {
      const e = west + width * mod(0.5 + 0.7548776662466927 * k, 1);
      const n = south + height * mod(0.5 + 0.5698402909980532 * k, 1);
      const here = this.bed.at(e, n);
      if (!here || k / count > sureShare(here)) continue;
      const color = bandAt(here.depth_m).pale ? PAPER : INK;
      group.addLayer(L.circleMarker(toLatLon(e, n), { renderer, interactive: false, radius: 1.3, stroke: false, fillColor: color, fillOpacity: 0.9 }));
    }
    return group;
  }

  readings() {
    const size = this.isFar ? 2 : 2.5;
    return L.layerGroup(
      READINGS.map((reading) => {
        const pale = !reading.doubtful && bandAt(this.depthUnder(reading)).pale;
        return new Cross(latLonsOfCm([reading.east_cm, reading.north_cm])[0], {
          pane: "readings",
          interactive: false,
          fill: false,
          radius: reading.doubtful ? size + 1 : size,
          ringed: reading.doubtful,
          past: Boolean(reading.new_from),
          stopped: Boolean(reading.stopped_by),
          box_px: reading.changed ? (this.isFar ? 3 : 6) : 0,
          weight: reading.doubtful ? 2 : 1.3,
          color: reading.doubtful ? ACCENT : INK,
          opacity: reading.used || reading.new_from || reading.stopped_by ? 1 : 0.45,
          className: pale ? "contour pale" : reading.doubtful ? "cased" : "",
        });
      }),
    );
  }

  // What a sign stands on: its own depth, or where none was felt the bed's.
  depthUnder(reading) {
    if (reading.depth_m !== null) return reading.depth_m;
    const here = this.bed.at(this.bed.grid.west + reading.east_cm / 100, this.bed.grid.south + reading.north_cm / 100);
    return here ? here.depth_m : 0;
  }

  // The figures of depth follow the unit shown.
  relabel() {
    for (const figure of this.map.getPane("figures").querySelectorAll("[data-depth]")) {
      figure.textContent = depthFigure(Number(figure.dataset.depth));
    }
  }
}

function overlap(one, other) {
  return one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom;
}

const READINGS = DATA.readings.rows.map((row) =>
  Object.fromEntries(DATA.readings.columns.map((name, k) => [name, row[k]])),
);

// A reading as a cross that keeps its size, ringed where it is doubtful, boxed where the bed seems changed; a past one as a bare stroke, and a
// tuft where weed or a snag kept the plummet from the bed.
const Cross = L.CircleMarker.extend({
  _updatePath() {
    const { x, y } = this._point;
    const r = this._radius;
    const b = this.options.box_px;
    const box = b ? `M${x - b} ${y - b}h${2 * b}v${2 * b}h${-2 * b}z` : "";
    const ring = box + (this.options.ringed ? `M${x - 8} ${y}a8 8 0 1 0 16 0a8 8 0 1 0 -16 0` : "");
    if (this.options.stopped) {
      const tuft = `M${x} ${y + r}V${y - r}M${x} ${y + r}L${x - r} ${y - r}M${x} ${y + r}L${x + r} ${y - r}`;
      this._renderer._setPath(this, tuft + ring);
      return;
    }
    const rising = this.options.past ? "" : `M${x - r} ${y + r}l${2 * r} ${-2 * r}`;
    this._renderer._setPath(this, `M${x - r} ${y - r}l${2 * r} ${2 * r}${rising}${ring}`);
  },
});

function sureShare(here) {
  if (stateOf({ ...here, today_m: 1 })[0] === UNSURVEYED) return 0;
  return Math.min(1, (SUREST_SD_M / Math.max(here.sd_m, 0.001)) ** 1.5);
}

// What a figure stands on: the tint of its depth, kept far enough from the figure's own colour.
function groundOf(line) {
  const tints = DATA.bands.map((band) => band.colour);
  const k = DATA.bands.indexOf(bandAt(line.depth_m));
  return tints[clamp(line.pale ? k + 1 : k - 1, 0, tints.length - 1)];
}

function bandAt(depth_m) {
  return [...DATA.bands].reverse().find((band) => depth_m >= band.from_m) || DATA.bands[0];
}

function depthFigure(depth_m) {
  return view.units === "feet" ? feetInches(depth_m, 1).replace(/ (ft|in)/g, (_, unit) => (unit === "ft" ? "′" : "″")).replace("′ ", "′") : decimal(+depth_m.toFixed(2));
}

function layerList(chart) {
  const ground = chart.layers.backdrop ? ["backdrop"] : [];
  const rows = [...ground, "tints", "contours", "unsurveyed", "sureness", "readings"].map((name) => {
    const box = el("input", { type: "checkbox", id: `layer-${name}` });
    box.checked = chart.shown(name);
    box.addEventListener("change", () => chart.show(name, box.checked));
    return el("label", { class: "layer", for: `layer-${name}` }, box, WORDS[`layer_${name}`]);
  });
  byId("layer-list").replaceChildren(...rows);
}

// The tints in a row under the water, with the depth of each step.
function depthStrip() {
  const cells = DATA.bands.map((band) => {
    const tint = el("i");
    tint.style.background = band.colour;
    return el("li", {}, tint, el("span", {}, band.from_m ? depthFigure(band.from_m) : "0"));
  });
  const unit = view.units === "feet" ? "" : " m";
  byId("strip").replaceChildren(el("p", {}, WORDS.key_depth + (unit && `,${unit}`)), el("ol", {}, ...cells));
}

function keyList() {
  const steps = el("div", { class: "steps" });
  DATA.bands.forEach((band) => {
    const tint = el("i");
    tint.style.background = band.colour;
    const ends = band.to_m === null ? [WORDS.key_deeper, ""] : [feetInches(band.to_m, 1), formatMetres(band.to_m)];
    steps.append(tint, ...(view.units === "feet" || band.to_m === null ? ends : ends.reverse()).map((end) => el("span", {}, end)));
  });
  const some = KEY_OF_SOME.filter(([word]) => READINGS.some((reading) => reading[KEYED_BY[word]]));
  byId("key-list").replaceChildren(el("p", { class: "key-title" }, WORDS.key_depth), steps, ...[...KEY_SIGNS, ...some].map(keyRow));
}

const KEY_SIGNS = [
  ["key_shore", { d: "M1 10H33", "stroke-width": 2.4 }],
  ["key_contour", { d: "M1 10H33", "stroke-width": 1 }],
  ["key_unsurveyed", { d: "M1 1H33V19H1Z", fill: "url(#hatch)", "stroke-width": 0.8 }],
  ["key_sureness", { d: "M4 5h.1M10 12h.1M8 18h.1M14 4h.1M4 14h.1M12 8h.1M17 15h.1M24 6h.1M30 15h.1", "stroke-width": 3, "stroke-linecap": "round" }],
  ["key_peg", { d: "M17 3V17", "stroke-width": 3 }],
  ["key_peg_accessible", { d: "M14 3V17M20 3V17", "stroke-width": 3 }],
  ["key_peg_closed", { d: "M15 3H19V17H15Z", "stroke-width": 1.5 }],
  ["key_peg_steep", { d: "M17 9V19M13 8L17 2L21 8Z", "stroke-width": 3 }],
  ["key_reading", { d: "M14 7l6 6M14 13l6 -6", "stroke-width": 1.4 }],
  ["key_doubtful", { d: "M13 6l8 8M13 14l8 -8M9 10a8 8 0 1 0 16 0a8 8 0 1 0 -16 0", stroke: ACCENT, "stroke-width": 2 }],
];

// Signs that few lakes have, shown where there is one.
const KEY_OF_SOME = [
  ["key_changed", { d: "M14 7l6 6M14 13l6 -6M11 4h12v12h-12z", "stroke-width": 1.4 }],
  ["key_past", { d: "M14 7l6 6", "stroke-width": 1.4 }],
  ["key_stopped", { d: "M17 14V6M17 14L13 6M17 14L21 6", "stroke-width": 1.4 }],
];
const KEYED_BY = { key_changed: "changed", key_past: "new_from", key_stopped: "stopped_by" };

function keyRow([word, look]) {
  const sign = svg("svg", { viewBox: "0 0 34 20", "aria-hidden": "true" }, svg("path", { fill: "none", stroke: INK, ...look }));
  return el("div", { class: "key-row" }, sign, WORDS[word]);
}
