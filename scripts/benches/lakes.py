"""The benchmarks' lakes, and surveys of them: simulated from pegs round the bank, or soundings as they were made."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import MultiPolygon

from scripts.benches.real import lake_227, real_lakes, relief_lakes
from scripts.benches.waters import CRS, FloatArray, Lake, made_lakes
from survey.errors import SourceRow
from survey.geometry.water import WaterGeometry
from survey.records.soundings import COLUMNS, Soundings
from survey.records.venue import Peg, Venue

REACH_M = 45.0
PEGS = 50
MOST_ASKED = 2000
"""Beds are compared at no more spots than this, spread evenly: slow methods answer the same ones as fast ones."""
HELD_OUT = 3
"""One sounding in so many of a real survey is hidden, and asked for."""
SPARSE_SHARE = 0.25
SONAR_SD_M, GPS_SD_M = 0.1, 2.0
"""A small sounder and a handheld receiver (common practice)."""


def all_lakes() -> list[Lake]:
    """Every lake, made, relief and real."""
    return [*made_lakes(), *relief_lakes(), *real_lakes()]


def lakes(count: int) -> list[Lake]:
    """Made and real lakes in turn; more made ones where the real ones are used up."""
    made, real = list(made_lakes()), list(real_lakes())
    mixed = [lake for pair in zip(made, real, strict=False) for lake in pair]
    return [*mixed, *made[len(real) :]][:count]


@dataclass(frozen=True)
class Survey:
    """Readings of a lake, and spots where its depth is known.

    Parameters
    ----------
    lake, kind : str
    choosing, dense : bool
    venue : Venue
    soundings : Soundings
    at : ndarray, shape (m, 2)
        Spots asked for.
    truth : ndarray, shape (m,)
        Depth there, metres.
    near : ndarray of bool, shape (m,)
        Within reach of a peg, or of a sounding where there are no pegs.
    truth_sd : float
        Standard deviation of ``truth`` itself, metres.
    """

    lake: str
    kind: str
    choosing: bool
    dense: bool
    venue: Venue
    soundings: Soundings
    at: FloatArray
    truth: FloatArray
    near: np.ndarray
    truth_sd: float = 0.0

    @property
    def name(self) -> str:
        """Lake and how closely it was surveyed."""
        return f"{self.lake}, {'dense' if self.dense else 'sparse'}"


def surveys(*, few: bool, only: str = "", seed: int = 1) -> Iterator[Survey]:
    """Every survey whose lake's name holds ``only``; ``few``: sparse ones alone."""
    for dense in (False,) if few else (True, False):
        for lake in all_lakes():
            if only in lake.name:
                yield bank(lake, seed, dense)
        if only in "Lake 227":
            yield sounded_227(seed, dense)


def bank(lake: Lake, seed: int, dense: bool) -> Survey:
    """A simulated bank survey of a lake and its truth at evenly spread spots."""
    venue, soundings, _ = bank_survey(lake, seed, dense)
    at = asked_points(lake, max(2.5, (lake.water.area / MOST_ASKED) ** 0.5))
    near = _within([[p.easting, p.northing] for p in venue.pegs], at)
    return Survey(lake.name, lake.kind, lake.choosing, dense, venue, soundings, at, lake.bed(at), near)


def sounded_227(seed: int, dense: bool) -> Survey:
    """Lake 227 from two thirds of its soundings, or a quarter of those; the last third is asked for."""
    water, xy, depth = lake_227()
    order = np.random.default_rng(seed).permutation(len(depth))
    hidden, told = np.split(order, [len(order) // HELD_OUT])
    told = told if dense else told[: round(SPARSE_SHARE * len(told))]
    table = blank_table(depth[told], SONAR_SD_M)
    table["radial_sd_m"] = table["tangential_sd_m"] = GPS_SD_M
    soundings = placed(table, xy[told])
    return Survey(
        "Lake 227", "real", False, dense, Venue("Lake 227", CRS, water, ()), soundings,
        xy[hidden], depth[hidden], _within(xy[told], xy[hidden]), SONAR_SD_M,
    )  # fmt: skip


def _within(stands: FloatArray | list[list[float]], at: FloatArray) -> np.ndarray:
    return np.asarray(cKDTree(stands).query(at)[0] < REACH_M)


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
    rng, frame = np.random.default_rng(seed), WaterGeometry(lake.water)
    stand, facing = placed_pegs(lake.water, PEGS, rng)
    fan = 5 if dense else 3
    meant = [
        (k, face + turn, far, *at)
        for k, (at, face) in enumerate(zip(stand, facing, strict=True))
        for turn in np.linspace(-60, 60, fan)
        for far in np.linspace(4, 40, fan) * rng.uniform(0.85, 1.15, fan)
    ]
    table = np.array(meant)
    there = table[:, 3:] + _offset(table[:, 1], table[:, 2])
    seen = shapely.contains_xy(lake.water, there[:, 0], there[:, 1]) & frame.sight.over_water(table[:, 3:], there)
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
        Peg(str(k), x, y, 0.0, 0.0, 0.0, 0.0, 0.0, SourceRow("pegs", k + 2)) for k, (x, y) in enumerate(stand.tolist())
    )
    return Venue(lake.name, CRS, lake.water, pegs), placed(_cast_table(table, depth), there), wrong


def placed(table: pd.DataFrame, xy: FloatArray) -> Soundings:
    """Rows of soundings at their places, shape (n, 2)."""
    return Soundings(gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(*xy.T), crs=CRS))


def _offset(azimuth: FloatArray, distance: FloatArray) -> FloatArray:
    return np.column_stack([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))]) * distance[:, None]


def placed_pegs(water: MultiPolygon, count: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Points of so many pegs about evenly round the outer shore, shape (n, 2), and the azimuths they face."""
    shore = shapely.get_parts(water)[0].exterior
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


def blank_table(depth: FloatArray, sd_m: float) -> pd.DataFrame:
    """Rows of soundings that know depth and its standard deviation, and are sure of their place."""
    table = pd.DataFrame(dict.fromkeys(COLUMNS, ""), index=range(len(depth)))
    table["row"], table["kind"], table["use"] = range(2, len(depth) + 2), "depth", True
    table["depth_m"], table["sd_m"], table["hard_depth_m"] = depth, sd_m, np.nan
    for name in ("radial_deg", "distance_m", "radial_sd_m", "tangential_sd_m"):
        table[name] = 0.0
    for name in ("level_sd_m", "peg_sd_m", "facing_sd_deg", "facing2_sd_deg"):
        table[name] = 0.0
    return table


def _cast_table(casts: FloatArray, depth: FloatArray) -> pd.DataFrame:
    table = blank_table(depth, 0.04)
    table["peg"] = casts[:, 0].astype(int).astype(str)
    table["radial_deg"], table["distance_m"] = casts[:, 1], casts[:, 2]
    table["radial_sd_m"], table["tangential_sd_m"] = 0.04 * casts[:, 2], casts[:, 2] * np.radians(4)
    return table


def asked_points(lake: Lake, step: float = 2.0) -> FloatArray:
    """Points of the lake at which beds are compared with the truth, shape (n, 2)."""
    west, south, east, north = lake.water.bounds
    x, y = np.meshgrid(np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step))
    xy = np.column_stack([x.ravel(), y.ravel()])
    return xy[shapely.contains_xy(lake.water, xy[:, 0], xy[:, 1])]
