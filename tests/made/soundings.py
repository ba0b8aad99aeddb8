"""Invented waters and soundings with a known bed, for tests of the bed."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import MultiPolygon, Polygon

from survey.errors import SourceRow
from survey.geometry.water import WaterGeometry
from survey.records.soundings import COLUMNS, Soundings
from survey.records.venue import Peg, Venue

CRS = "EPSG:32630"
Bed = Callable[[np.ndarray], np.ndarray]


def rectangle(width: float = 120.0, height: float = 80.0) -> MultiPolygon:
    """A rectangular water with its corner at the origin."""
    return MultiPolygon([Polygon([(0, 0), (width, 0), (width, height), (0, height)])])


def with_spit(width: float = 120.0, height: float = 80.0, reach: float = 60.0) -> MultiPolygon:
    """A rectangle cut from the south by a spit 2 m wide."""
    x = width / 2
    spit = Polygon([(x - 1, -1), (x + 1, -1), (x + 1, reach), (x - 1, reach)])
    return MultiPolygon([rectangle(width, height).geoms[0].difference(spit)])


def venue_of(water: MultiPolygon, pegs: np.ndarray | None = None, **more: object) -> Venue:
    """A venue whose pegs stand at given points."""
    stood = np.empty((0, 2)) if pegs is None else pegs
    made = tuple(
        Peg(str(i + 1), float(x), float(y), 0.0, 0.0, 0.0, 0.0, 0.0, SourceRow("pegs", i + 2))
        for i, (x, y) in enumerate(stood)
    )
    return Venue("Tarnbeck (invented)", CRS, water, made, **more)  # type: ignore[arg-type]


def soundings_at(
    xy: np.ndarray, depth: np.ndarray, sd: float = 0.05, position: float = 0.0, **columns: object
) -> Soundings:
    """Soundings at points, sure of their place unless told otherwise."""
    n = len(depth)
    table = pd.DataFrame(dict.fromkeys(COLUMNS, ""), index=range(n))
    table["file"], table["row"], table["kind"], table["method"], table["use"] = (
        "readings.csv",
        range(2, n + 2),
        "depth",
        "float",
        True,
    )
    table["depth_m"], table["sd_m"], table["hard_depth_m"] = np.asarray(depth, float), sd, np.nan
    for name in ("level_sd_m", "distance_m", "radial_deg", "peg_sd_m", "facing_sd_deg", "facing2_sd_deg"):
        table[name] = 0.0
    table["radial_sd_m"] = table["tangential_sd_m"] = position
    for name, value in columns.items():
        table[name] = value
    return Soundings(gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(xy[:, 0], xy[:, 1]), crs=CRS))


def scattered(water: MultiPolygon, n: int, seed: int = 1, clear: float = 2.0) -> np.ndarray:
    """Points spread over the water, some metres off the shore."""
    rng, frame = np.random.default_rng(seed), WaterGeometry(water)
    west, south, east, north = water.bounds
    found = np.empty((0, 2))
    while len(found) < n:
        xy = rng.uniform([west, south], [east, north], (4 * n, 2))
        inside = gpd.GeoSeries.from_xy(xy[:, 0], xy[:, 1]).within(water).to_numpy()
        xy = xy[inside]
        found = np.vstack([found, xy[frame.shore_m(xy) > clear]])
    return found[:n]


def bowl(water: MultiPolygon, deepest: float = 2.5, length: float = 8.0) -> Bed:
    """A bed that falls away from every shore."""
    frame = WaterGeometry(water)
    return lambda xy: deepest * (1 - np.exp(-frame.shore_m(np.asarray(xy, float)) / length))
