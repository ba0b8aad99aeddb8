// Numbers, lengths, shot and marks as people type them: read as the survey's program reads them, or null.

const TYPED = DATA.rules.typed;
const LOOK_ALIKES = new Map(Object.entries(TYPED.look_alikes));
const UNIT_OF = new Map(Object.entries(TYPED.unit_words));
const NUMBER = new RegExp(`^([-+]?) ?(${TYPED.amount})$`);
const LENGTH_TERM = new RegExp(`(${TYPED.amount}) ?((?:rod|pole) (?:lengths?|sections?)|[a-z]+|['"])?\\.?(?:,? (?:and )?)?`, "y");
const FIGURE = /\p{Nd}/u;
// What Python takes for space and JavaScript does not.
const SPACES = /[\s\x1c-\x1f\x85]+/;

// Text with look-alike signs made one: spaces, minus signs, primes, fractions, figures.
function plain(text) {
  const signs = Array.from(String(text), (sign) => LOOK_ALIKES.get(sign) ?? (FIGURE.test(sign) ? plainFigure(sign) : sign));
  return signs.join("").replace(/''/g, '"').split(SPACES).filter(Boolean).join(" ");
}

// The figures of every script stand in a row of ten, nought first.
function plainFigure(sign) {
  const at = sign.codePointAt(0);
  let nought = at;
  while (FIGURE.test(String.fromCodePoint(nought - 1))) nought -= 1;
  return String((at - nought) % 10);
}

function amountOf(text) {
  return text.split(" ").reduce((sum, part) => {
    const [top, bottom] = part.replace(",", ".").split("/");
    return sum + (bottom ? top / bottom : Number(top));
  }, 0);
}

// A number with a decimal point or comma, any minus sign, simple fractions; null for anything else.
function readNumber(text) {
  const found = NUMBER.exec(plain(text).toLowerCase());
  return found ? (found[1] === "-" ? -1 : 1) * amountOf(found[2]) : null;
}

// "15 ft", "5'2\"", "1.58 m", a bare number in the unit given, measures of the bank by their sizes: metres; null for anything else.
function readLength(text, unit = null, sizes = {}) {
  const body = plain(text).toLowerCase();
  const terms = lengthTerms(body.replace(/^[-+] ?/, ""));
  const named = terms && namedTerms(terms, unit);
  const worth = { ...TYPED.units_m, ...sizes };
  if (!named || named.some(({ name }) => !worth[name])) return null;
  for (let k = 1; k < named.length; k += 1) if (!mayFollow(named[k - 1], named[k], worth)) return null;
  return (body.startsWith("-") ? -1 : 1) * named.reduce((sum, { value, name }) => sum + value * worth[name], 0);
}

// Figures and the word after each, from left to right.
function lengthTerms(body) {
  const terms = [];
  LENGTH_TERM.lastIndex = 0;
  while (LENGTH_TERM.lastIndex < body.length || !terms.length) {
    const found = LENGTH_TERM.exec(body);
    if (!found || (terms.length && !terms[terms.length - 1].word)) return null;
    terms.push({ value: amountOf(found[1]), word: found[2] || "" });
  }
  return terms;
}

// The bare last term after feet is inches, two bare figures after metres are centimetres, a lone one takes the unit given.
function namedTerms(terms, unit) {
  const named = [];
  for (const { value, word } of terms) {
    const name = word ? UNIT_OF.get(word) : bareUnit(value, named, terms.length === 1, unit);
    if (!name) return null;
    named.push({ value, name });
  }
  return named;
}

function bareUnit(value, named, alone, unit) {
  const [least, below] = TYPED.two_figures;
  if (alone) return unit || (value === 0 ? "m" : null);
  const before = named.length ? named[named.length - 1].name : null;
  if (before === "ft") return "in";
  return before === "m" && value >= least && value < below ? "cm" : null;
}

function mayFollow(large, small, worth) {
  const ratio = worth[large.name] / worth[small.name];
  return large.value % 1 === 0 && small.value < ratio * TYPED.next_unit && TYPED.compounds.includes(`${large.name} ${small.name}`);
}

const SHOT_SIZES = DATA.rules.shot.sizes.map(([name]) => name);
const GRAINS = Object.fromEntries(DATA.rules.shot.sizes);

function sizeNamed(text) {
  const word = plain(text).toLowerCase().replace(/\./g, " ").trim().replace(/ +/g, " ");
  const numbered = /^(?:no|nos|number|num|#|size) ?(\d{1,2})$/.exec(word);
  const name = numbered ? `No ${Number(numbered[1])}` : /^swans?$/.test(word) ? "SSG" : word.toUpperCase();
  return name in GRAINS ? name : null;
}

// Shot at hand: count by size, Infinity for plenty, heaviest first; null if it cannot be read.
function readShot(text) {
  const found = {};
  for (const part of plain(text).split(/[,;+]/).map((p) => p.trim()).filter(Boolean)) {
    const counted = /^(\d{1,3}) ?[xX×]? ?(\D.*)$/.exec(part);
    const name = sizeNamed(counted ? counted[2] : part);
    if (!name) return null;
    found[name] = (found[name] || 0) + (counted ? Number(counted[1]) : Infinity);
  }
  const ordered = Object.fromEntries(SHOT_SIZES.filter((size) => size in found).map((size) => [size, found[size]]));
  return Object.values(ordered).some((count) => count > 0) ? ordered : null;
}

// What a float takes: balance_g and load_g; null for what is no mark or could mean two things.
function readMark(text) {
  const body = plain(text).toLowerCase().replace(/(\d),(?=\d)/g, "$1.");
  const parts = body.split(/[+,;&]| and /).map((part) => part.trim()).filter(Boolean);
  const named = (word) => parts.filter((part) => word.test(part));
  const [load, balance] = [named(/\b(?:loaded|load)\b/), named(/\b(?:balance|to add)\b/)];
  if (!load.length && !balance.length) return markOf(gramsOf(parts), 0);
  const weights = parts.map((part) => part.replace(/\b(?:loaded|load|balance|to add)\b/g, "").replace(/^[ :]+|[ :]+$/g, ""));
  if (parts.length !== 2 || !weights.every(Boolean)) return null;
  const turned = load.length === 1 && load[0] === parts[1] && balance.length === 1 && balance[0] === parts[0];
  const [inBody, toAdd] = turned ? [weights[1], weights[0]] : weights;
  return markOf(gramsOf([toAdd]), gramsOf([inBody]));
}

function markOf(balance_g, load_g) {
  const most = DATA.rules.shot.most_g;
  return balance_g > 0 && balance_g <= most && load_g >= 0 && load_g <= most ? { balance_g, load_g } : null;
}

// Sums of weights, rounded as the survey's program rounds them.
function microgram(weight_g) {
  return +fixed(weight_g, 6);
}

function gramsOf(parts) {
  const grams = parts.map(gramsOfPart);
  return parts.length && grams.every((g) => g !== null) ? microgram(grams.reduce((a, b) => a + b, 0)) : NaN;
}

function gramsOfPart(part) {
  const grams = /^([^a-z]+?) ?(?:g|gm|gms|gram|grams)\.?$/.exec(part);
  if (grams) return readNumber(grams[1]);
  if (/^[\d.]+$/.test(part) || /\d ?gr\b|\bgrains?\b/.test(part)) return null;
  const counted = /^(\d{1,2}) ?[x×]? ?(\D.*)$/.exec(part);
  const name = sizeNamed(counted ? counted[2] : part);
  return name ? ((counted ? Number(counted[1]) : 1) * GRAINS[name]) / 100 : null;
}
