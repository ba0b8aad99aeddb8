// Marks of a description laid on the map: lines, areas, rings and words, which keep their size on the screen.

const LAID_AS = {
  stroke: "color", "stroke-width": "weight", "stroke-opacity": "opacity", "stroke-dasharray": "dashArray", "stroke-linecap": "lineCap",
  fill: "fillColor", class: "className", r: "radius",
};

// What a mark's geometry names is a value here: points of the map.
function laidMarks({ layers, unit }, things) {
  return layers.flatMap(({ each, pane, marks }) => (things[each] || []).flatMap((one) => marks.map((mark) => laidMark(mark, one, unit, pane))));
}

function laidMark({ d, cx, cy, x, y, ...mark }, one, unit, pane) {
  const attributes = attributesOf(mark, one, unit);
  if (mark.tag === "text") return laidWords(attributes, filledIn(mark.text, one, unit), one.at, pane);
  const look = Object.entries(LAID_AS).filter(([name]) => name in attributes).map(([name, option]) => [option, attributes[name]]);
  const options = { pane, interactive: false, smoothFactor: 0.5, stroke: "stroke-width" in mark, fill: mark.fill !== "none", fillOpacity: 1, ...Object.fromEntries(look) };
  if (mark.tag === "circle") return L.circleMarker(one.at, { ...options, radius: Number(options.radius) });
  return d === "{area}" ? L.polygon(one.area, options) : L.polyline(one.line, options);
}

// Words are elements: their type and their ground are the style sheet's.
function laidWords({ class: className, style, "data-depth": depth }, words, at, pane) {
  const icon = L.divIcon({ className, html: el("span", { style, "data-depth": depth }, words), iconSize: [70, 18] });
  // Leaflet stacks markers by latitude, and the northern ones would lie below the lines of their pane.
  return L.marker(at, { icon, pane, interactive: false, keyboard: false, zIndexOffset: 10000 });
}
