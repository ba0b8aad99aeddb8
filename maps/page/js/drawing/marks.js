// Drawings made of their descriptions, as maps/drawing/description.py makes the still ones.

const DRAWINGS = DATA.drawings;
const PLACE = /\{(\w+)([+-][\d.]+)?\}/g;
const NOT_ATTRIBUTES = ["tag", "text", "left_of", "right_of"];

// Layers in their order as elements: frame has values for all marks, things for each layer's name the values of what it draws.
function drawnMarks(layers, frame, things, unit = 1) {
  return layers.flatMap(({ each, marks }) =>
    (things[each] || []).flatMap((one) => {
      const values = { ...frame, ...one };
      return marks.filter((mark) => standsHere(mark, values, unit)).map((mark) => markElement(mark, values, unit));
    }),
  );
}

function markElement(mark, values, unit) {
  return svg(mark.tag, attributesOf(mark, values, unit), filledIn(mark.text || "", values, unit));
}

function attributesOf(mark, values, unit) {
  const given = Object.entries(mark).filter(([name]) => !NOT_ATTRIBUTES.includes(name));
  return Object.fromEntries(given.map(([name, value]) => [name, attributeOf(value, values, unit)]));
}

// Whether a thing lies on the side on which a mark is drawn.
function standsHere({ left_of = "Infinity", right_of = "-Infinity" }, values, unit) {
  const [left, right] = [left_of, right_of].map((side) => Number(filledIn(side, values, unit)));
  const { out = 0 } = values;
  return right <= out && out < left;
}

function attributeOf(value, values, unit) {
  if (Array.isArray(value)) return value.map((one) => figureOf(one * unit)).join(" ");
  return typeof value === "string" ? filledIn(value, values, unit) : figureOf(value * unit);
}

function filledIn(template, values, unit) {
  return template.replace(PLACE, (_, name, further) => {
    const value = name in values ? values[name] : WORDS[name];
    return typeof value === "string" ? value : figureOf(value + Number(further || 0) * unit);
  });
}

// A number to two places, as short as it can be written.
function figureOf(number) {
  return String(+number.toFixed(2));
}
