// Wind on the water: fetch, drift, the side it comes from, and which pegs lie sheltered. Bearings are where it comes from.

// Effective fetch over fifteen radials, metres; null off the water. Azimuth on the grid.
function effectiveFetch(bed, e, n, azimuth_deg) {
  if (!bed.inWater(e, n)) return null;
  const { radials_deg } = DATA.rules.wind;
  const cosines = radials_deg.map((a) => Math.cos(a * DEG));
  const lengths = radials_deg.map((a) => openWater(bed, e, n, (azimuth_deg + a) * DEG));
  return lengths.reduce((sum, x, k) => sum + x * cosines[k], 0) / cosines.reduce((a, b) => a + b, 0);
}

function openWater(bed, e, n, azimuth) {
  const far = DATA.across_m + 1;
  const land = bed.landBetween(e, n, e + far * Math.sin(azimuth), n + far * Math.cos(azimuth));
  return land.length ? land[0][0] * far : far;
}

function sideOfWind(cast_deg, from_deg) {
  const off = mod(from_deg - cast_deg + 180, 360) - 180;
  const { head_deg, tail_deg } = DATA.rules.wind;
  if (Math.abs(off) <= head_deg) return "head";
  if (Math.abs(off) >= tail_deg) return "tail";
  return off > 0 ? "right" : "left";
}

function driftPerMinute(wind_ms) {
  return DATA.rules.wind.drift.map((share) => share * wind_ms * DATA.rules.wind.minute_s);
}

function overDepth(wind_ms) {
  const { steps_ms, over_depth_m } = DATA.rules.wind;
  return over_depth_m[steps_ms.filter((step) => wind_ms >= step).length];
}

function usualOverDepth(wind_ms) {
  const [least, most] = overDepth(wind_ms);
  return (least + most) / 2;
}

function blownAt(bed, question, depth_m, wind) {
  const { peg } = question;
  const azimuth = wind.from_deg - (peg ? peg.convergence_deg : 0);
  return {
    fetch_m: effectiveFetch(bed, question.e, question.n, azimuth),
    side: peg ? sideOfWind(question.bearing_deg, wind.from_deg) : null,
    drift_m_per_min: driftPerMinute(wind.speed_ms),
    over_depth_m: depth_m > DATA.rules.wind.shallow_m ? overDepth(wind.speed_ms) : null,
  };
}

// Open pegs with the fetch of their water, the most sheltered first.
function pegsByShelter(bed, from_deg) {
  const found = DATA.pegs.filter((peg) => !peg.closed).map((peg) => {
    const water = DATA.rules.wind.peg_water_m.map((out) => placed(peg, peg.facing_deg, out)).find(([e, n]) => bed.inWater(e, n));
    const fetch_m = water ? effectiveFetch(bed, ...water, from_deg - peg.convergence_deg) : null;
    return { peg, fetch_m, side: sideOfWind(peg.facing_deg, from_deg) };
  });
  const last = (s) => (s.fetch_m === null ? Infinity : s.fetch_m);
  return found.sort((a, b) => last(a) - last(b) || DATA.pegs.indexOf(a.peg) - DATA.pegs.indexOf(b.peg));
}
