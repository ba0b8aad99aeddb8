"""Where to start at a peg: margin, short, middle and long, chosen by the bed within the peg's own swim.

The four are defined in numbers below (ours). Knows nothing of floats.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from survey.bed.grid import Bed
from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import Shoreline
from survey.geometry.sight import BANK_M
from survey.records.venue import Peg, Venue
from survey.spots.answer import is_surveyed
from survey.spots.cast import Spot
from survey.units import FOOT_M

ANGLES_DEG = (0.0, -15.0, 15.0, -30.0, 30.0, -45.0, 45.0, -60.0, 60.0)
"""Casts looked along, straight out first: half hours of the clock."""
STEP_M = 0.5
MARGIN_DEPTH_M = 2 * FOOT_M
"""Margin: the nearest water of two feet."""
SLOPE, LEVELLED = 0.15, 0.075
"""Short: beyond the first place that falls 1 in 6.7, the first that falls less than 1 in 13."""
FLAT_M, FLAT_WITHIN_M, FLAT_BEYOND_M = 5.0, 0.15, 1.0
"""Middle: the middle of the first five metres, a metre beyond short, whose depths stay within 15 cm."""
FOOT_BEYOND_M = 3.0
"""Long: where the bed begins to rise 1 in 6.7 toward an island or a far bank, three metres beyond the others."""
SLOPE_OVER_M = 2.0
NAMES = ("margin", "short", "middle", "long")


@dataclass(frozen=True)
class Along:
    """The bed along one cast within the peg's swim.

    Parameters
    ----------
    out_m : ndarray, shape (n,)
        Distances from the peg, evenly spaced.
    depth_m : ndarray, shape (n,)
        Depth at datum.
    surveyed : ndarray of bool, shape (n,)
    """

    out_m: NDArray[np.float64]
    depth_m: NDArray[np.float64]
    surveyed: NDArray[np.bool_]

    @property
    def slope(self) -> NDArray[np.float64]:
        """Fall over two metres, positive where it gets deeper outward."""
        half = round(SLOPE_OVER_M / STEP_M / 2)
        padded = np.pad(self.depth_m, half, mode="edge")
        reach = np.minimum(np.arange(len(self.out_m)), half) + np.minimum(np.arange(len(self.out_m))[::-1], half)
        return np.asarray((padded[2 * half :] - padded[: -2 * half]) / (np.maximum(reach, 1) * STEP_M))


def suggested(venue: Venue, bed: Bed) -> tuple[Spot, ...]:
    """Spots to start from at every peg, in the order of the pegs.

    Returns
    -------
    tuple of Spot
        At most four a peg, named margin, short, middle and long; only on surveyed water in the peg's swim: nearer
        to no other peg that sees it, within reach, in sight. Each lies as near to straight out as the bed has it.
    """
    geometry, shore = Geodesy(venue.crs), Shoreline(venue.water)
    return tuple(spot for peg in venue.pegs for spot in _spots_of(peg, venue, bed, geometry, shore))


def _spots_of(peg: Peg, venue: Venue, bed: Bed, geometry: Geodesy, shore: Shoreline) -> list[Spot]:
    found: dict[str, tuple[float, float]] = {}
    for angle in ANGLES_DEG:
        along = _along(peg, angle, venue, bed, geometry, shore)
        for name, out in places_along(along).items():
            # Two feet of water is wanted nearest; the others straightest out.
            if name not in found or (name == NAMES[0] and out < found[name][1]):
                found[name] = angle, out
    spots = []
    for name in NAMES:
        if name in found:
            angle, out = found[name]
            e, n = geometry.cast(peg.lon, peg.lat, peg.facing_deg + angle, out)
            spots.append(Spot(peg.name, name, angle, out, float(e), float(n)))
    return spots


def _along(peg: Peg, angle: float, venue: Venue, bed: Bed, geometry: Geodesy, shore: Shoreline) -> Along:
    """The bed along a cast, from the water's edge as far as the swim goes."""
    out = np.asarray(np.arange(1, round(venue.limits.reach_m / STEP_M) + 1) * STEP_M, float)
    e1, n1 = geometry.cast(peg.lon, peg.lat, peg.facing_deg + angle, venue.limits.reach_m)
    share = out / venue.limits.reach_m
    e = np.asarray(peg.easting + share * (e1 - peg.easting), float)
    n = np.asarray(peg.northing + share * (n1 - peg.northing), float)
    depth, sd, beyond = bed.at(e, n)
    start = int(np.argmax(~np.isnan(depth))) if (~np.isnan(depth)).any() else len(out)
    if start == len(out) or out[start] > BANK_M:
        return Along(out[:0], depth[:0], np.zeros(0, bool))
    end = _swim_end(peg, venue, (e, n, depth), start, shore)
    kept = slice(start, end)
    surveyed = [is_surveyed(venue.limits, s, bool(b)) for s, b in zip(sd[kept], beyond[kept], strict=True)]
    return Along(out[kept], depth[kept], np.array(surveyed, bool))


def _swim_end(peg: Peg, venue: Venue, line: tuple[NDArray[np.float64], ...], start: int, shore: Shoreline) -> int:
    """Where along a cast the peg's swim ends: at land, or where another peg is nearer and sees the water."""
    e, n, depth = line
    own = np.hypot(e - peg.easting, n - peg.northing)
    rivals = [
        (other, np.hypot(e - other.easting, n - other.northing) < own) for other in venue.pegs if other.name != peg.name
    ]
    for k in range(start, len(e)):
        if np.isnan(depth[k]):
            return k
        spot = (float(e[k]), float(n[k]))
        if any(near[k] and shore.sight.from_peg((other.easting, other.northing), spot) for other, near in rivals):
            return k
    return len(e)


def places_along(along: Along) -> dict[str, float]:
    """Margin, short, middle and long along one cast: name and distance, metres; those that it has."""
    out, depth, slope = along.out_m, along.depth_m, along.slope if len(along.out_m) > 1 else along.depth_m
    if len(out) < 2 * FLAT_M / STEP_M:
        return _known(along, {"margin": _first(depth >= MARGIN_DEPTH_M)})
    margin = _first(depth >= MARGIN_DEPTH_M)
    falls = _first(slope >= SLOPE)
    short = None if falls is None else _first((slope < LEVELLED) & (np.arange(len(out)) > falls))
    anchor = short if short is not None else margin
    middle = None if anchor is None else _flat(depth, anchor)
    furthest = max((k for k in (margin, short, middle) if k is not None), default=0)
    return _known(along, {"margin": margin, "short": short, "middle": middle, "long": _foot(slope, furthest)})


def _known(along: Along, places: dict[str, int | None]) -> dict[str, float]:
    return {name: float(along.out_m[k]) for name, k in places.items() if k is not None and along.surveyed[k]}


def _first(wanted: NDArray[np.bool_]) -> int | None:
    return int(np.argmax(wanted)) if wanted.any() else None


def _flat(depth: NDArray[np.float64], anchor: int) -> int | None:
    """Middle of the first flat beyond a place."""
    width = round(FLAT_M / STEP_M)
    windows = np.lib.stride_tricks.sliding_window_view(depth, width + 1)
    flat = (np.ptp(windows, axis=1) <= FLAT_WITHIN_M) & (depth[: len(windows)] >= MARGIN_DEPTH_M)
    flat[: anchor + round(FLAT_BEYOND_M / STEP_M)] = False
    start = _first(flat)
    return None if start is None else start + width // 2


def _foot(slope: NDArray[np.float64], beyond: int) -> int | None:
    """Foot of the last rise toward land, well beyond a place."""
    rising = np.flatnonzero(slope <= -SLOPE)
    if not rising.size:
        return None
    foot = int(rising[-1])
    while foot > 0 and slope[foot] <= -LEVELLED:
        foot -= 1
    return foot if foot >= beyond + FOOT_BEYOND_M / STEP_M else None
