// One plumb sets the level: from what a float found at known spots to the level of the whole lake today.

function levelFault(rise_m, deepest_m) {
  if (rise_m > DATA.rules.most_rise_m) return "flooded";
  return rise_m <= -deepest_m ? "empty" : "";
}

// A key of the words: where the water stands against the datum.
function levelKey(rise_m) {
  if (Math.abs(rise_m) < DATA.rules.shown.nothing_m) return "level_at";
  return rise_m > 0 ? "level_up" : "level_down";
}

function shownOf(rise_m) {
  return DATA.mark.kind === "dip" ? DATA.mark.datum_m - rise_m : DATA.mark.datum_m + rise_m;
}

function foundDepthM(setting_m, heldBy, tip_m) {
  return setting_m + (heldBy.setting_to === "tip" ? 0 : heldBy.length_m) - tip_m;
}

function floatSdM(distance_m) {
  const { near_m, far_m, near_sd_m, far_sd_m } = DATA.rules.plumb;
  return near_sd_m + clamp((distance_m - near_m) / (far_m - near_m), 0, 1) * (far_sd_m - near_sd_m);
}

// A plumb at the spot of a question: what was found against what the bed says a cast may meet there.
function plumbAt(bed, question, found_m) {
  const met = bed.metByCast(question.e, question.n, castOf(question));
  if (!met) return null;
  const mean = (values) => values.reduce((a, b) => a + b, 0) / values.length;
  const datum_m = mean(met.depths.map(([d]) => d));
  const scatter = Math.sqrt(mean(met.depths.map(([d]) => (d - datum_m) ** 2)));
  return {
    e: question.e,
    n: question.n,
    found_m,
    datum_m,
    bed_sd_m: Math.sqrt(mean(met.depths.map(([, s]) => s ** 2))),
    own_sd_m: Math.hypot(scatter, floatSdM(question.distance_m)),
  };
}

// prior: [rise_m, sd_m]. The closed form of a normal level given normal plumbs.
function levelFound(plumbs, prior) {
  const { wrong_z, enough } = DATA.rules.plumb;
  const misfits = plumbs.map((_, k) => misfitOf(plumbs, k, prior));
  const worst = misfits.reduce((best, z, k) => (Math.abs(z) > Math.abs(misfits[best]) ? k : best), 0);
  const all = { ...levelGiven(plumbs, prior), misfits, wrong: null, disagree: false };
  if (Math.abs(misfits[worst]) <= wrong_z) return all;
  if (plumbs.length < enough) return { ...all, disagree: true };
  const others = plumbs.filter((_, k) => k !== worst);
  const left = others.map((_, k) => misfitOf(others, k, prior));
  const kept = [...left.slice(0, worst), misfits[worst], ...left.slice(worst)];
  return { ...levelGiven(others, prior), misfits: kept, wrong: worst, disagree: left.some((z) => Math.abs(z) > wrong_z) };
}

function levelGiven(plumbs, [mean, sd]) {
  const weights = solved(plumbCovariance(plumbs), plumbs.map(() => 1));
  const precision = 1 / sd ** 2 + weights.reduce((a, b) => a + b, 0);
  const pull = mean / sd ** 2 + weights.reduce((sum, w, k) => sum + w * (plumbs[k].found_m - plumbs[k].datum_m), 0);
  return { rise_m: pull / precision, sd_m: Math.sqrt(1 / precision) };
}

function plumbCovariance(plumbs) {
  return plumbs.map((a, i) =>
    plumbs.map((b, j) => {
      const apart = Math.hypot(a.e - b.e, a.n - b.n);
      return a.bed_sd_m * b.bed_sd_m * Math.exp(-apart / DATA.rules.plumb.alike_m) + (i === j ? a.own_sd_m ** 2 : 0);
    }),
  );
}

function misfitOf(plumbs, k, [mean, sd]) {
  const covariance = plumbCovariance(plumbs).map((row) => row.map((value) => value + sd ** 2));
  const rest = plumbs.map((_, j) => j).filter((j) => j !== k);
  const rise = (j) => plumbs[j].found_m - plumbs[j].datum_m;
  const pull = solved(rest.map((i) => rest.map((j) => covariance[i][j])), rest.map((j) => covariance[j][k]));
  const foretold = pull.reduce((sum, p, i) => sum + p * (rise(rest[i]) - mean), mean);
  const variance = pull.reduce((left, p, i) => left - p * covariance[rest[i]][k], covariance[k][k]);
  return (rise(k) - foretold) / Math.sqrt(variance);
}

// Gauss elimination with pivots: a few plumbs make a small system.
function solved(matrix, right) {
  const a = matrix.map((row, i) => [...row, right[i]]);
  const n = a.length;
  for (let c = 0; c < n; c += 1) {
    const pivot = a.slice(c).reduce((best, row, k) => (Math.abs(row[c]) > Math.abs(a[best][c]) ? c + k : best), c);
    [a[c], a[pivot]] = [a[pivot], a[c]];
    for (let r = c + 1; r < n; r += 1) {
      const share = a[r][c] / a[c][c];
      for (let k = c; k <= n; k += 1) a[r][k] -= share * a[c][k];
    }
  }
  const x = Array(n).fill(0);
  for (let r = n - 1; r >= 0; r -= 1) {
    x[r] = a[r].slice(r + 1, n).reduce((left, value, k) => left - value * x[r + 1 + k], a[r][n]) / a[r][r];
  }
  return x;
}
