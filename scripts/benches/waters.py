"""Waters for the benchmarks whose bed is known everywhere: what such a lake is, and those that are made.

Real beds and relief are in ``real``, surveys in ``lakes``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import contourpy
import numpy as np
import shapely
from scipy.ndimage import gaussian_filter, label, map_coordinates
from shapely.geometry import MultiPolygon, Point, Polygon

from survey.geometry.water import WaterGeometry

CRS = "EPSG:32630"
"""Any metric one: the benchmark waters lie nowhere."""
FloatArray = np.ndarray
BedAt = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class Lake:
    """A lake with its truth.

    Parameters
    ----------
    name : str
    kind : str
        made, relief or real.
    water : MultiPolygon
    bed : callable
        Depth (m, positive down) at points, shape (n, 2).
    choosing : bool
        True: constants may be chosen on it; False: only reported.
    """

    name: str
    kind: str
    water: MultiPolygon
    bed: BedAt
    choosing: bool


def from_grid(depth: FloatArray, cell: float) -> tuple[MultiPolygon, BedAt]:
    """Largest water of a grid of depths (row 0 south), and its bed by bilinear interpolation."""
    parts, _ = label(depth > 0)
    largest = parts == np.argmax(np.bincount(parts.ravel())[1:]) + 1
    kept = np.pad(np.where(largest | (depth <= 0), np.maximum(depth, -5.0), -1.0), 2, constant_values=-1.0)
    x, y = (np.arange(kept.shape[1]) + 0.5) * cell, (np.arange(kept.shape[0]) + 0.5) * cell
    filled = contourpy.contour_generator(x, y, kept, fill_type=contourpy.FillType.OuterOffset).filled(0.0, 1e9)
    polygons = []
    for points, offsets in zip(*filled, strict=True):
        rings = [points[a:b] for a, b in pairwise(offsets)]
        holes = [r for r in rings[1:] if Polygon(r).area > 20]
        polygons.append(Polygon(rings[0], holes))
    water = max(polygons, key=lambda p: p.area).simplify(0.3).buffer(0)
    water = max(shapely.get_parts(water), key=lambda p: p.area)

    def bed(xy: FloatArray) -> FloatArray:
        found = map_coordinates(kept, [xy[:, 1] / cell - 0.5, xy[:, 0] / cell - 0.5], order=1, mode="nearest")
        return np.maximum(found, 0.0)

    return MultiPolygon([water]), bed


def blob(seed: int, size: float, lobes: float) -> Polygon:
    """An outline of no particular shape, about 2.6 by 1.7 times ``size`` metres."""
    rng = np.random.default_rng(seed)
    turn = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    radius = np.ones(240)
    for k in range(2, 7):
        radius += lobes / k * np.cos(k * turn + rng.uniform(0, 2 * np.pi))
    return Polygon(size * radius[:, None] * np.column_stack([1.3 * np.cos(turn), 0.85 * np.sin(turn)]))


def rough(seed: int, water: MultiPolygon, length: float) -> BedAt:
    """A random field of unit variance, smoothed over ``length`` metres."""
    west, south, east, north = water.bounds
    noise = np.random.default_rng(seed).normal(size=(int(north - south) + 40, int(east - west) + 40))
    field = gaussian_filter(noise, length)
    field /= field.std()
    return lambda xy: map_coordinates(field, [xy[:, 1] - south + 20, xy[:, 0] - west + 20], order=1, mode="nearest")


def made_lakes() -> Iterator[Lake]:
    """Lakes with profiles of several kinds, not only those the model's drift resembles."""
    for k, kind in enumerate(("bowl", "pan", "trough", "river", "pit", "dam", "spits", "bars")):
        land = blob(20 + k, 62, 0.18)
        if kind in {"pit", "spits"}:
            land = land.difference(Point(20, 8).buffer(9))
        if kind == "spits":
            _, south, _, north = land.bounds
            land = land.difference(shapely.box(-12, south - 1, -9, 12)).difference(shapely.box(38, -5, 41, north + 1))
            land = max(shapely.get_parts(land), key=lambda p: p.area)
        water = MultiPolygon([land])
        yield Lake(f"made {kind}", "made", water, _made_bed(kind, water, 40 + k), k % 2 == 0)
    yield wide_plain()


def _made_bed(kind: str, water: MultiPolygon, seed: int) -> BedAt:
    frame, near, wide = WaterGeometry(water), rough(seed, water, 6.0), rough(seed + 100, water, 16.0)
    west, _, east, _ = water.bounds

    def bed(xy: FloatArray) -> FloatArray:
        d = frame.shore_m(xy)
        taper = 1 - np.exp(-d / 2.0)
        x = (xy[:, 0] - west) / (east - west)
        depth = {
            "bowl": 3.0 * (1 - np.exp(-d / 12)) + 0.15 * near(xy),
            "pan": 1.6 * np.minimum(d / 2.5, 1.0) + 0.08 * near(xy),
            "trough": 0.11 * d + 0.12 * near(xy),
            "river": 0.9 * taper
            + 1.4 * np.exp(-(((xy[:, 1] - 18 * np.sin(xy[:, 0] / 22)) / 6) ** 2))
            + 0.06 * near(xy),
            "pit": taper * (2.2 + 0.8 * wide(xy) + 0.35 * near(xy)),
            "dam": taper * (0.4 + 4.2 * x) + 0.1 * near(xy),
            "spits": taper * (1.6 + 0.9 * wide(xy)),
            "bars": taper * (2.4 + 0.7 * np.sin((xy[:, 0] + 0.5 * xy[:, 1]) / 7.0)),
        }[kind]
        return np.maximum(np.where(d > 0, depth, 0.0), 0.0)

    return bed


def wide_plain() -> Lake:
    """A lake of 18 ha, most of it out of reach of every peg: an even slope to 30 m out, then a plain."""
    water = MultiPolygon([blob(30, 215, 0.12)])
    frame, rolling, near = WaterGeometry(water), rough(50, water, 40.0), rough(51, water, 8.0)

    def bed(xy: FloatArray) -> FloatArray:
        share = np.minimum(frame.shore_m(xy) / 30.0, 1.0)
        return np.maximum(share * (2.8 + 0.12 * rolling(xy) + 0.05 * near(xy)), 0.0)

    return Lake("made wide plain", "made", water, bed, choosing=False)
