// How fast shot, bait and feed sink: spheres at the Reynolds number they reach (sources: the survey's program).

function dragCoefficient(reynolds) {
  const [inertia, power, turbulent, late, latePower] = DATA.rules.fall.drag;
  return (24 / reynolds) * (1 + inertia * reynolds ** power) + turbulent / (1 + late * reynolds ** latePower);
}

function shotSphere(weight_g) {
  const density = DATA.rules.fall.shot_density;
  return { diameter_m: ((6 * weight_g) / 1000 / density / Math.PI) ** (1 / 3), density };
}

function baitSphere(bait_m) {
  return { diameter_m: bait_m || DATA.rules.fall.bait_m, density: DATA.rules.fall.bait_density };
}

// Terminal velocity of spheres that fall as one, metres per second.
function sinkingSpeed(falling) {
  const { gravity, density, viscosity, halvings, fastest_ms } = DATA.rules.fall;
  const weight = falling.reduce((sum, s) => sum + ((s.density - density) * gravity * Math.PI * s.diameter_m ** 3) / 6, 0);
  const drag = (s, speed) => 0.5 * density * speed ** 2 * (Math.PI / 4) * s.diameter_m ** 2 * dragCoefficient((speed * s.diameter_m) / viscosity);
  let low = 0;
  let high = fastest_ms;
  for (let k = 0; k < halvings; k += 1) {
    const middle = (low + high) / 2;
    if (falling.reduce((sum, s) => sum + drag(s, middle), 0) < weight) low = middle;
    else high = middle;
  }
  return low;
}

// Least time for the bait to reach its depth: shot as [from_hook_m, weight_g].
function fallS(shot, hook_depth_m, bait) {
  const hanging = [...shot].sort((a, b) => b[0] - a[0] || b[1] - a[1]);
  let seconds = 0;
  let reached = 0;
  hanging.forEach(([from_hook_m], k) => {
    const own = Math.max(hook_depth_m - from_hook_m, reached);
    if (own > reached) seconds += (own - reached) / sinkingSpeed([bait, ...hanging.slice(k).map(([, w]) => shotSphere(w))]);
    reached = own;
  });
  return seconds + Math.max(hook_depth_m - reached, 0) / sinkingSpeed([bait]);
}

// Where loose feed meets the bed: as if the whole depth moved as the surface does.
function feedLanding(depth_m, wind_ms) {
  const [least_s, most_s] = DATA.rules.fall.feed.map(([diameter_m, density]) => depth_m / sinkingSpeed([{ diameter_m, density }]));
  return { least_s, most_s, most_m: most_s * DATA.rules.wind.drift[1] * wind_ms };
}
