// The bed as the survey's program reads it: the same grid, the same weights, the same sight over water.

class Bed {
  constructor(depth, sd, flags, xy) {
    this.grid = DATA.grid;
    this.depth = depth;
    this.sd = sd;
    this.flags = flags;
    this.rings = [];
    let start = 0;
    for (const count of DATA.outline.counts) {
      this.rings.push(xy.subarray(2 * start, 2 * (start + count)));
      start += count;
    }
  }

  static async load() {
    const { depth_mm, sd_mm, flags } = DATA.grid;
    return new Bed(...(await Promise.all([depth_mm, sd_mm, flags, DATA.outline.xy].map(unpacked))));
  }

  // Depth below datum, standard deviation and the beyond-reach flag; null off the water.
  at(e, n) {
    const corners = this.corners(e, n);
    const total = corners.reduce((sum, c) => sum + c.weight, 0);
    if (!(total > 0) || !this.inWater(e, n)) return null;
    const mean = (values) => corners.reduce((sum, c) => sum + (c.weight / total) * values[c.index], 0) / 1000;
    const most = corners.reduce((best, c) => (c.weight > best.weight ? c : best));
    return { depth_m: mean(this.depth), sd_m: mean(this.sd), beyond: (this.flags[most.index] & 1) === 1 };
  }

  corners(e, n) {
    const { west, south, cell_m, nx, ny } = this.grid;
    const x = clamp((e - west) / cell_m - 0.5, 0, nx - 1);
    const y = clamp((n - south) / cell_m - 0.5, 0, ny - 1);
    const j0 = clamp(Math.floor(x), 0, Math.max(nx - 2, 0));
    const i0 = clamp(Math.floor(y), 0, Math.max(ny - 2, 0));
    const i1 = Math.min(i0 + 1, ny - 1);
    const j1 = Math.min(j0 + 1, nx - 1);
    const fx = x - j0;
    const fy = y - i0;
    const split = (this.flags[i0 * nx + j0] & 2) === 2;
    return [
      [i0, j0, (1 - fy) * (1 - fx)],
      [i0, j1, (1 - fy) * fx],
      [i1, j0, fy * (1 - fx)],
      [i1, j1, fy * fx],
    ].map(([i, j, share]) => {
      const index = i * nx + j;
      const counts = this.depth[index] >= 0 && (!split || this.sees(e, n, ...this.centre(i, j)));
      return { index, weight: counts ? Math.max(share, DATA.rules.least_weight) : 0 };
    });
  }

  centre(i, j) {
    const { west, south, cell_m } = this.grid;
    return [west + (j + 0.5) * cell_m, south + (i + 0.5) * cell_m];
  }

  // Inside the outline or on it.
  inWater(e, n) {
    let inside = false;
    for (const ring of this.rings) {
      for (let k = 0; k + 3 < ring.length; k += 2) {
        const [ax, ay, bx, by] = [ring[k], ring[k + 1], ring[k + 2], ring[k + 3]];
        if (ay > n !== by > n) {
          const side = (bx - ax) * (n - ay) - (by - ay) * (e - ax);
          if (side === 0) return true;
          if (side > 0 === by > ay) inside = !inside;
        } else if (ay === n && by === n && e >= Math.min(ax, bx) && e <= Math.max(ax, bx)) {
          return true;
        } else if ((ax === e && ay === n) || (bx === e && by === n)) {
          return true;
        }
      }
    }
    return inside;
  }

  // Sight over water: the rule of survey's Sight, with its numbers.
  sees(e1, n1, e2, n2) {
    return this.landOn(e1, n1, e2, n2).every(([from, to]) => to - from <= DATA.rules.sight.touch_m);
  }

  // The bank on which a peg stands hides nothing, and the line may pass a little to either side.
  pegSees(peg, e, n) {
    const { bank_m, traced_m, aside, nothing_m } = DATA.rules.sight;
    const length = Math.max(Math.hypot(e - peg.e, n - peg.n), nothing_m);
    const right = [(n - peg.n) / length, (peg.e - e) / length];
    return aside.some((share) => {
      const [de, dn] = right.map((part) => part * share * traced_m);
      const land = this.landOn(peg.e + de, peg.n + dn, e + de, n + dn).filter(([from, to]) => to - from > nothing_m);
      return land.length === 0 || (land.length === 1 && land[0][0] <= traced_m && land[0][1] <= bank_m);
    });
  }

  // Stretches of a line that lie on land, metres from its start.
  landOn(e1, n1, e2, n2) {
    const length = Math.hypot(e2 - e1, n2 - n1);
    return this.landBetween(e1, n1, e2, n2).map((share) => share.map((part) => part * length));
  }

  // Parts of a line that lie on land, as shares of its length.
  landBetween(e1, n1, e2, n2) {
    const marks = [0, ...this.crossings(e1, n1, e2, n2), 1].sort((a, b) => a - b);
    const land = [];
    for (let k = 0; k + 1 < marks.length; k += 1) {
      const middle = (marks[k] + marks[k + 1]) / 2;
      if (marks[k + 1] - marks[k] < 1e-12) continue;
      if (!this.inWater(e1 + middle * (e2 - e1), n1 + middle * (n2 - n1))) land.push([marks[k], marks[k + 1]]);
    }
    return land;
  }

  crossings(e1, n1, e2, n2) {
    const [de, dn] = [e2 - e1, n2 - n1];
    const found = [];
    for (const ring of this.rings) {
      for (let k = 0; k + 3 < ring.length; k += 2) {
        const side = (x, y) => de * (y - n1) - dn * (x - e1);
        const [a, b] = [side(ring[k], ring[k + 1]), side(ring[k + 2], ring[k + 3])];
        if (a * b > 0 || (a === 0 && b === 0)) continue;
        const share = a / (a - b);
        const x = ring[k] + share * (ring[k + 2] - ring[k]) - e1;
        const y = ring[k + 1] + share * (ring[k + 3] - ring[k + 1]) - n1;
        const t = (x * de + y * dn) / (de * de + dn * dn);
        if (t > 0 && t < 1) found.push(t);
      }
    }
    return found;
  }

  get deepest_m() {
    return this.depth.reduce((most, depth) => Math.max(most, depth), 0) / 1000;
  }

  // What a cast may meet at datum: the bed at the spot, and depth and sd where it may fall; null off the water.
  metByCast(e, n, cast) {
    const here = this.at(e, n);
    if (!here) return null;
    const met = DATA.rules.cast_nodes
      .map(([along, across]) => {
        const s = along * cast.along_sd_m;
        const t = across * cast.across_sd_m;
        return this.at(e + s * cast.along[0] + t * cast.along[1], n + s * cast.along[1] - t * cast.along[0]);
      })
      .filter(Boolean);
    return { here, depths: (met.length ? met : [here]).map((m) => [m.depth_m, Math.max(m.sd_m, DATA.rules.least_sd_m)]) };
  }

  // Depth today at a spot and the 95 % range of what one cast meets; null off the water.
  castRange(e, n, cast, rise_m, rise_sd_m = 0) {
    const met = this.metByCast(e, n, cast);
    if (!met) return null;
    const { here, depths } = met;
    const today = here.depth_m + rise_m;
    const normals = depths.map(([depth, sd]) => [depth + rise_m, Math.hypot(sd, rise_sd_m)]);
    const lower = mixtureQuantile(normals, normalShare(-DATA.rules.range_z));
    const upper = mixtureQuantile(normals, normalShare(DATA.rules.range_z));
    return {
      ...here,
      today_m: today,
      lower_m: Math.max(Math.min(lower, today), 0),
      upper_m: Math.max(upper, today, 0),
    };
  }
}

function clamp(value, low, high) {
  return Math.min(Math.max(value, low), high);
}

function mixtureQuantile(normals, share) {
  const { sds, halvings } = DATA.rules.quantile;
  let low = Math.min(...normals.map(([mean, sd]) => mean - sds * sd));
  let high = Math.max(...normals.map(([mean, sd]) => mean + sds * sd));
  for (let k = 0; k < halvings; k += 1) {
    const middle = 0.5 * (low + high);
    const below = normals.reduce((sum, [mean, sd]) => sum + normalShare((middle - mean) / sd), 0) / normals.length;
    if (below < share) low = middle;
    else high = middle;
  }
  return 0.5 * (low + high);
}
