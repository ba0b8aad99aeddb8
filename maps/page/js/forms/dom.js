// Making elements and words. Text is only ever set as text: nothing from the survey becomes markup.

const WORDS = DATA.words;
const view = { units: DATA.shows };
const SVG_NAMESPACE = "http://www.w3.org/2000/svg";

function byId(id) {
  return document.getElementById(id);
}

const FORM = new Intl.PluralRules(WORDS.language);

// A text with its places filled; count also chooses its form.
function say(key, values = {}) {
  const text = WORDS[key];
  if (typeof text === "string") return put(text, values);
  return put(text[FORM.select(Number(values.count))] || text.other, { ...values, count: decimal(values.count) });
}

function put(form, values) {
  return form.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

function el(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

function svg(tag, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG_NAMESPACE, tag), attributes, children);
}

function filled(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== "" && child !== false));
  return element;
}

// Written only where it says something else: what stays as it is, is not touched.
function setText(element, words) {
  if (element.textContent !== words) element.textContent = words;
}

function setAttribute(element, name, value) {
  if (element.getAttribute(name) !== value) element.setAttribute(name, value);
}

function setHidden(element, hidden) {
  if (element.hidden !== hidden) element.hidden = hidden;
}

function unfold(element) {
  const fold = element.closest("details");
  if (fold && !fold.open) fold.open = true;
}

// New contents for an element, of which only what differs is put in: the rest stays, with what listens to it.
function refill(home, parts) {
  parts.forEach((part, k) => {
    const old = home.childNodes[k];
    if (!old) home.append(part);
    else if (old.isEqualNode(part)) return;
    else if (old.childNodes.length && old.cloneNode().isEqualNode(part.cloneNode())) refill(old, [...part.childNodes]);
    else old.replaceWith(part);
  });
  while (home.childNodes.length > parts.length) home.lastChild.remove();
}

// New contents for an element whose fold stays open if it was.
function renew(home, parts) {
  const open = home.querySelector("details[open]");
  home.replaceChildren(...parts);
  const fold = home.querySelector("details");
  if (open && fold) fold.open = true;
}

function length(length_m) {
  return view.units === "feet" ? feetInches(length_m) : formatMetres(length_m);
}

// Lengths of tackle: to the quarter inch, as in the sum of a setting.
function fineLength(length_m) {
  return view.units === "feet" ? feetInches(length_m, SHOWN.fine_m.feet / INCH_M) : formatMetres(length_m);
}

function otherLength(length_m) {
  return view.units === "feet" ? formatMetres(length_m) : feetInches(length_m);
}

function bothLengths(length_m) {
  return `${length(length_m)} (${otherLength(length_m)})`;
}

// The two ways a length is shown, by what a venue shows first.
const SHOWN = DATA.rules.shown;

// A setting as it can be set, in the unit shown first and in the other.
function settable(setting_m, rig) {
  const feet = feetInches(rounded(setting_m, rig, SHOWN.set_m.feet));
  const metric = formatMetres(rounded(setting_m, rig, SHOWN.set_m.metres));
  return view.units === "feet" ? [feet, metric] : [metric, feet];
}

// The colours of the style sheet, so that they are said once.
function colourNamed(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

const [INK, PAPER, ACCENT] = ["ink", "paper", "accent"].map(colourNamed);
