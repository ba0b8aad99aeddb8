// Lengths, shot and marks as people type them: read as the survey's program reads them, or null.

const UNIT_M = { m: 1, cm: 0.01, mm: 0.001, ft: 12 * INCH_M, in: INCH_M, yd: 36 * INCH_M };
const UNIT_NAMES = {
  m: "m metre metres meter meters", cm: "cm cms centimetre centimetres", mm: "mm", ft: "ft foot feet '", in: "in ins inch inches \"", yd: "yd yds yard yards",
};
const UNIT_OF = Object.fromEntries(Object.entries(UNIT_NAMES).flatMap(([unit, names]) => names.split(" ").map((name) => [name, unit])));
const FRACTION_OF = { "¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8" };
const AMOUNT = "(?:(?:\\d+(?:[.,]\\d+)?|[.,]\\d+) )?\\d+\\/[1-9]\\d*|\\d+(?:[.,]\\d+)?|[.,]\\d+";
const LENGTH_TERM = new RegExp(`^(${AMOUNT}) ?([a-z]+|['"])?\\.?(?:,? (?:and )?)?`);

function plainText(text) {
  return String(text)
    .replace(/[¼½¾⅓⅔⅛⅜⅝⅞]/g, (mark) => ` ${FRACTION_OF[mark]}`)
    .replace(/[\u2018\u2019\u2032]/g, "'")
    .replace(/[\u201c\u201d\u2033]/g, '"')
    .replace(/[\u2010-\u2015\u2212]/g, "-")
    .replace(/''/g, '"')
    .trim()
    .replace(/\s+/g, " ");
}

function amountOf(text) {
  return text.split(" ").reduce((sum, part) => {
    const [top, bottom] = part.replace(",", ".").split("/");
    return sum + (bottom ? top / bottom : Number(top));
  }, 0);
}

// "15 ft", "5'2\"", "1.58 m", a bare number in the unit given: metres; null for anything else.
function readLength(text, unit = null) {
  let body = plainText(text).toLowerCase();
  const sign = body.startsWith("-") ? -1 : 1;
  body = body.replace(/^[-+] ?/, "");
  const terms = [];
  while (body || !terms.length) {
    const found = LENGTH_TERM.exec(body);
    if (!found || (terms.length && !terms[terms.length - 1].word)) return null;
    terms.push({ value: amountOf(found[1]), word: found[2] || "" });
    body = body.slice(found[0].length);
  }
  return metresOfTerms(terms, unit, sign);
}

const COMPOUND_LENGTHS = ["ft in", "m cm", "yd ft", "yd in"];

function metresOfTerms(terms, unit, sign) {
  let large = null;
  let total = 0;
  for (const { value, word } of terms) {
    const bare = large && large.unit === "ft" ? "in" : terms.length === 1 ? unit || (value === 0 ? "m" : null) : null;
    const name = word ? UNIT_OF[word] : bare;
    if (!name) return null;
    if (large && (!COMPOUND_LENGTHS.includes(`${large.unit} ${name}`) || large.value % 1 || value * UNIT_M[name] >= UNIT_M[large.unit] * (1 - 1e-9))) return null;
    total += value * UNIT_M[name];
    large = { unit: name, value };
  }
  return sign * total;
}

const SHOT_SIZES = DATA.rules.shot.sizes.map(([name]) => name);
const GRAINS = Object.fromEntries(DATA.rules.shot.sizes);

function sizeNamed(text) {
  const word = plainText(text).toLowerCase().replace(/\./g, " ").trim().replace(/\s+/g, " ");
  const numbered = /^(?:no|nos|number|num|#|size) ?(\d{1,2})$/.exec(word);
  const name = numbered ? `No ${Number(numbered[1])}` : /^swans?$/.test(word) ? "SSG" : word.toUpperCase();
  return name in GRAINS ? name : null;
}

// Shot at hand: count by size, Infinity for plenty, heaviest first; null if it cannot be read.
function readShot(text) {
  const found = {};
  for (const part of plainText(text).split(/[,;+]/).map((p) => p.trim()).filter(Boolean)) {
    const counted = /^(\d{1,3}) ?[x×]? ?(\D.*)$/i.exec(part);
    const name = sizeNamed(counted ? counted[2] : part);
    if (!name) return null;
    found[name] = (found[name] || 0) + (counted ? Number(counted[1]) : Infinity);
  }
  const ordered = Object.fromEntries(SHOT_SIZES.filter((size) => size in found).map((size) => [size, found[size]]));
  return Object.values(ordered).some((count) => count > 0) ? ordered : null;
}

// What a float takes: balance_g and load_g; null for what is no mark or could mean two things.
function readMark(text) {
  const body = plainText(text).toLowerCase().replace(/(\d),(?=\d)/g, "$1.");
  const parts = body.split(/[+,;&]| and /).map((part) => part.trim()).filter(Boolean);
  const named = (word) => parts.filter((part) => word.test(part));
  const [load, balance] = [named(/\b(?:loaded|load)\b/), named(/\b(?:balance|to add)\b/)];
  if (!load.length && !balance.length) return markOf(gramsOf(parts), 0);
  const plain = parts.map((part) => part.replace(/\b(?:loaded|load|balance|to add)\b/g, "").replace(/^[ :]+|[ :]+$/g, ""));
  if (parts.length !== 2 || !plain.every(Boolean)) return null;
  const turned = load.length === 1 && load[0] === parts[1] && balance.length === 1 && balance[0] === parts[0];
  const [inBody, toAdd] = turned ? [plain[1], plain[0]] : plain;
  return markOf(gramsOf([toAdd]), gramsOf([inBody]));
}

function markOf(balance_g, load_g) {
  const most = DATA.rules.shot.most_g;
  return balance_g > 0 && balance_g <= most && load_g >= 0 && load_g <= most ? { balance_g, load_g } : null;
}

function gramsOf(parts) {
  const grams = parts.map(gramsOfPart);
  return parts.length && grams.every((g) => g !== null) ? +grams.reduce((a, b) => a + b, 0).toFixed(6) : NaN;
}

function gramsOfPart(part) {
  const grams = /^([^a-z]+?) ?(?:g|gm|gms|gram|grams)\.?$/.exec(part);
  if (grams) return new RegExp(`^(?:${AMOUNT})$`).test(grams[1]) ? amountOf(grams[1]) : null;
  if (/^[\d.]+$/.test(part) || /\d ?gr\b|\bgrains?\b/.test(part)) return null;
  const counted = /^(\d{1,2}) ?[x×]? ?(\D.*)$/.exec(part);
  const name = sizeNamed(counted ? counted[2] : part);
  return name ? ((counted ? Number(counted[1]) : 1) * GRAINS[name]) / 100 : null;
}
