// Numbers as the survey's program shows and keeps them: units, rounding, packed arrays, the frame.

const DEG = Math.PI / 180;
const { inch_m: INCH_M, foot_m: FOOT_M } = DATA.rules.shown;

function mod(value, base) {
  return ((value % base) + base) % base;
}

// A value half way between two whole numbers goes to the even one, as in the survey's own program.
function roundEven(value) {
  const low = Math.floor(value);
  if (value - low === 0.5) return low % 2 === 0 ? low : low + 1;
  return Math.round(value);
}

// What is rounded to nothing has no sign.
function fixed(value, places) {
  const halves = Math.abs(value) * 2 ** (places + 1);
  const text = (halves % 2 === 1 ? roundEven(value * 10 ** places) / 10 ** places : value).toFixed(places);
  return Number(text) === 0 ? text.replace("-", "") : text;
}

function feetInches(length_m, step_in = 0.5) {
  const quarters = Math.floor(Math.abs(length_m) / INCH_M / step_in + 0.5) * step_in * 4;
  const feet = Math.floor(quarters / 48);
  const inches = Math.floor((quarters % 48) / 4);
  const inchText = `${inches || ""}${DATA.rules.shown.quarters[quarters % 4]}`;
  const sign = length_m < 0 && quarters ? "-" : "";
  const parts = feet ? [`${feet} ft`] : [];
  if (inchText || !feet) parts.push(`${inchText || "0"} in`);
  return sign + parts.join(" ");
}

// A number written with a point, with the language's own mark.
function decimal(number) {
  return String(number).replace(".", DATA.words.decimal);
}

function formatMetres(length_m, places = 2) {
  return `${decimal(fixed(length_m, places))} m`;
}

// The number of a distance in the unit the club counts them in: metres with their tenth, others as short as they can be.
function farFigure(length_m, counted) {
  const text = fixed(length_m / counted.worth_m, counted.places);
  return counted.unit === "m" ? text : text.replace(/\.0$/, "");
}

function counted(figure, { unit }) {
  return unit in TYPED.units_m ? `${decimal(figure)} ${unit}` : say(`far_${unit}`, { count: figure });
}

function distance(length_m) {
  return counted(farFigure(length_m, DATA.distances), DATA.distances);
}

function wholeDistance(length_m, unit = DATA.distances) {
  return counted(fixed(length_m / unit.worth_m, 0), unit);
}

// A level as the mark is read: inches to the quarter, others in decimals.
function levelFigure(level_m) {
  const { unit } = DATA.mark;
  if (unit === "in") return quarterInches(level_m);
  const text = fixed(level_m / TYPED.units_m[unit], DATA.rules.shown.level_places[unit]);
  return decimal(unit === "m" || !text.includes(".") ? text : text.replace(/\.?0+$/, ""));
}

function quarterInches(level_m) {
  const quarters = Math.floor((Math.abs(level_m) / INCH_M) * 4 + 0.5);
  const [inches, quarter] = [Math.floor(quarters / 4), quarters % 4];
  return quarters ? `${level_m < 0 ? "-" : ""}${inches || ""}${DATA.rules.shown.quarters[quarter]}` : "0";
}

function levelShown(level_m) {
  return `${levelFigure(level_m)} ${DATA.mark.unit}`;
}

// A change of level: as depths are shown, or as a mark of another unit than metres has it.
function riseShown(rise_m) {
  return DATA.mark.kind && DATA.mark.unit !== "m" ? levelShown(Math.abs(rise_m)) : bothLengths(Math.abs(rise_m));
}

function isFarFromRecords(shown_m) {
  if (!DATA.records_m) return false;
  const far_m = DATA.rules.shown.far_records_m;
  return !(DATA.records_m[0] - far_m <= shown_m && shown_m <= DATA.records_m[1] + far_m);
}

function clockText(angle_deg) {
  const minutes = mod(roundEven((mod(angle_deg, 360) / 30) * 12) * 5, 720);
  const hour = Math.floor(minutes / 60);
  return `${hour || 12}:${String(minutes % 60).padStart(2, "0")}`;
}

// "11:30", "1", 12.5: degrees from straight out, right positive; null if it is no clock face.
function readClock(text) {
  const found = /^(\d{1,2}(?=[:.,])|\d+$)(?::([0-5]\d)|[.,](0|00|5|25|75))?$/.exec(plain(text));
  if (!found || Number(found[1]) > 12) return null;
  // 0.5 is half a day to a spreadsheet, and half past twelve to nobody.
  if (Number(found[1]) === 0 && Number(found[3] || 0)) return null;
  const hours = (Number(found[1]) % 12) + (found[2] ? Number(found[2]) / 60 : Number(`0.${found[3] || 0}`));
  return turned(hours * 30);
}

// An angle as more than -180 up to 180 degrees.
function turned(angle_deg) {
  const angle = mod(angle_deg, 360);
  return angle > 180 ? angle - 360 : angle;
}

// The standard normal distribution function. The series for erf has only positive terms, so nothing
// cancels (Abramowitz and Stegun 1964, 7.1.6).
function normalShare(z) {
  if (z < -8.3) return 0;
  if (z > 8.3) return 1;
  const x = Math.abs(z) / Math.SQRT2;
  let term = x;
  let sum = x;
  for (let n = 1; term > sum * 1e-17; n += 1) {
    term *= (2 * x * x) / (2 * n + 1);
    sum += term;
  }
  const half = (sum * Math.exp(-x * x)) / Math.sqrt(Math.PI);
  return z < 0 ? 0.5 - half : 0.5 + half;
}

const ARRAY_KINDS = { int16: Int16Array, int32: Int32Array, uint8: Uint8Array, float64: Float64Array };

async function unpacked(array) {
  const bytes = (await inflated(array.deflated)) || fromBase64(array.raw);
  return new ARRAY_KINDS[array.type](bytes.buffer);
}

// Null where the browser cannot: it then takes the raw copy.
async function inflated(text) {
  if (typeof DecompressionStream !== "function") return null;
  try {
    const stream = new Blob([fromBase64(text)]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  } catch {
    return null;
  }
}

function fromBase64(text) {
  return Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
}

function polynomial(coefficients, u, v) {
  return DATA.frame.powers.reduce((sum, [i, j], k) => sum + coefficients[k] * u ** i * v ** j, 0);
}

function toGrid(lat, lon) {
  const f = DATA.frame;
  const u = (mod(lon - f.lon0 + 180, 360) - 180) / f.half_deg;
  const v = (lat - f.lat0) / f.half_deg;
  return [f.e0 + polynomial(f.to_grid[0], u, v), f.n0 + polynomial(f.to_grid[1], u, v)];
}

function toLatLon(e, n) {
  const f = DATA.frame;
  const u = (e - f.e0) / f.half_m;
  const v = (n - f.n0) / f.half_m;
  return [f.lat0 + polynomial(f.to_lonlat[1], u, v), f.lon0 + polynomial(f.to_lonlat[0], u, v)];
}

// Points kept as whole centimetres from the grid's corner.
function latLonsOfCm(flat) {
  const points = [];
  for (let k = 0; k < flat.length; k += 2) {
    points.push(toLatLon(DATA.grid.west + flat[k] / 100, DATA.grid.south + flat[k + 1] / 100));
  }
  return points;
}
