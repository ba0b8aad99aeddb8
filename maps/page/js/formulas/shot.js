// Shot: every way to make a weight from the shot at hand, and where it goes on the line.

function weightG(way) {
  return (Object.entries(way).reduce((sum, [size, count]) => sum + GRAINS[size] * count, 0) * DATA.rules.shot.grain_mg) / 1000;
}

function wayWords(way) {
  return Object.entries(way).map(([size, count]) => `${count} ${size}`).join(" + ");
}

// The weight that can be made nearest to the one wanted, the lighter of two; null where it is no float's.
function nearestWeight(target_g, atHand) {
  const { grain_mg, most_g } = DATA.rules.shot;
  if (!(target_g > 0 && target_g <= most_g)) return null;
  const target = (target_g * 1000) / grain_mg;
  const sizes = SHOT_SIZES.filter((size) => size in atHand);
  const furthest = Math.trunc(2 * target) + Math.max(...sizes.map((size) => GRAINS[size])) + 1;
  const off = (sum) => microgram(Math.abs(sum - target));
  let best = null;
  reachable(sizes, boundedCounts(sizes, atHand, furthest), furthest)[0].forEach((pieces, sum) => {
    if (sum && pieces && (best === null || off(sum) < off(best))) best = sum;
  });
  return (best * grain_mg) / 1000;
}

// Ways, fewest shot first, heavier sizes first among as many; at most so many.
function waysTo(made_g, atHand, most) {
  const total = Math.round((made_g * 1000) / DATA.rules.shot.grain_mg);
  const sizes = SHOT_SIZES.filter((size) => size in atHand);
  const counts = boundedCounts(sizes, atHand, total);
  const reach = reachable(sizes, counts, total);
  const found = [];
  const pick = (at, left, pieces, taken) => {
    if (found.length >= most || !((reach[at][left] >>> pieces) & 1)) return;
    if (at === sizes.length) {
      found.push(Object.fromEntries(taken.filter(([, n]) => n)));
      return;
    }
    const heavy = GRAINS[sizes[at]];
    for (let n = Math.min(counts[at], Math.floor(left / heavy), pieces); n >= 0; n -= 1) {
      pick(at + 1, left - n * heavy, pieces - n, [...taken, [sizes[at], n]]);
    }
  };
  for (let pieces = 0; pieces <= DATA.rules.shot.most; pieces += 1) pick(0, total, pieces, []);
  return found;
}

function boundedCounts(sizes, atHand, most) {
  return sizes.map((size) => Math.min(Math.floor(most / GRAINS[size]), DATA.rules.shot.most, atHand[size]));
}

// For the sizes from each on and each sum, the numbers of shot that make it, as bits.
function reachable(sizes, counts, most) {
  const allowed = 2 ** (DATA.rules.shot.most + 1) - 1;
  const tables = [new Uint32Array(most + 1)];
  tables[0][0] = 1;
  for (let k = sizes.length - 1; k >= 0; k -= 1) {
    const below = tables[0];
    const here = below.slice();
    for (let n = 1; n <= counts[k]; n += 1) {
      const heavy = n * GRAINS[sizes[k]];
      for (let sum = heavy; sum <= most; sum += 1) here[sum] |= (below[sum - heavy] << n) & allowed;
    }
    tables.unshift(here);
  }
  return tables;
}

// A float's balance made up and placed; fault: a key of the words, where it cannot be.
function shotted(balance_g, atHand, rig, line, locking = {}) {
  const left_g = microgram(balance_g - weightG(locking));
  if (left_g <= 0) return { fault: "shot_lock_all" };
  const rest = { ...atHand };
  for (const [size, count] of Object.entries(locking)) {
    if ((rest[size] || 0) < count) return { fault: "shot_lock_none" };
    rest[size] -= count;
    if (rest[size] <= 0) delete rest[size];
  }
  if (!Object.values(rest).some((count) => count > 0)) return { fault: "shot_lock_all" };
  const made_g = nearestWeight(left_g, rest);
  const ways = waysTo(made_g, rest, DATA.rules.shot.looked_at);
  const best = ways.reduce((one, other) => (comesBefore(fitness(other, rig), fitness(one, rig)) ? other : one));
  return {
    way: best,
    locking,
    placed: placedShot(best, rig, line),
    balance_g: left_g,
    difference_g: microgram(made_g - left_g),
    ways: [best, ...ways.filter((way) => way !== best)],
  };
}

function comesBefore(one, other) {
  for (let k = 0; k < Math.max(one.length, other.length); k += 1) {
    if (one[k] === other[k]) continue;
    if (one[k] === undefined || other[k] === undefined) return one[k] === undefined;
    return one[k] < other[k];
  }
  return false;
}

function fitness(way, rig) {
  const { spread, dropper_most_g, grain_mg, droppers_m } = DATA.rules.shot;
  const grains = Object.keys(way).map((size) => GRAINS[size]);
  const counts = Object.values(way);
  const pieces = counts.reduce((a, b) => a + b, 0);
  const tie = [pieces, ...grains.map((g) => -g)];
  if (rig.shallower_first) return [Math.max(pieces - spread[1], spread[0] - pieces, 0), Math.max(...grains), grains.length, ...tie];
  const small = Math.min(...grains) <= Math.round((dropper_most_g * 1000) / grain_mg);
  return [pieces > 1 && small && counts[counts.length - 1] <= droppers_m.length ? 0 : 1, ...tie];
}

// line: length_m, hook_length_m, on_bed_m. From the float down.
function placedShot(way, rig, line) {
  const { bulk, apart_m, droppers_m, lowest, highest } = DATA.rules.shot;
  const single = Object.entries(way).flatMap(([size, count]) => Array(count).fill(size));
  const onLine = (at) => Math.min(Math.max(at, line.hook_length_m), line.length_m);
  if (rig.shallower_first) {
    const [low, high] = [lowest * line.length_m, highest * line.length_m];
    const share = (k) => (single.length > 1 ? k / (single.length - 1) : 1);
    return gatheredShot(single.map((size, k) => [size, onLine(high + (low - high) * share(k))]));
  }
  const smallest = single[single.length - 1];
  const droppers = single.length > 1 ? Math.min(way[smallest], droppers_m.length) : 0;
  const low = dropperPlaces(droppers, rig, line).map(onLine);
  const top = low.length ? low[0] : 0;
  const bulk_m = onLine(Math.max(Math.min(Math.max(bulk[0] * line.length_m, top + apart_m), bulk[1] * line.length_m), top));
  return gatheredShot([...single.slice(0, single.length - droppers).map((size) => [size, bulk_m]), ...low.map((at) => [smallest, at])]);
}

function dropperPlaces(count, rig, line) {
  const { droppers_m, dropper_shares, bulk } = DATA.rules.shot;
  const places = droppers_m.map((m, k) => Math.min(m, dropper_shares[k] * line.length_m)).slice(0, count);
  if (rig.clearance_m < 0 && places.length) {
    places[0] = Math.min(line.on_bed_m, bulk[1] * line.length_m);
    places.sort((a, b) => a - b);
  }
  return places.reverse();
}

function gatheredShot(shot) {
  const found = [];
  for (const [size, from_hook_m] of shot) {
    const same = found.find((s) => s.size === size && s.from_hook_m === from_hook_m);
    if (same) same.count += 1;
    else found.push({ size, count: 1, from_hook_m });
  }
  return found;
}
