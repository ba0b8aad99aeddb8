"""Casts from pegs over an invented bed whose points, directions and distances are off: for the adjustment."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry import MultiPolygon

from survey.adjustment.peg_points import pegs_on_bank
from survey.records.soundings import Soundings
from survey.records.venue import Venue
from tests.made.soundings import soundings_at, venue_of

Bed = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Survey:
    """A survey by casts, and where its pegs truly stand, shape (k, 2)."""

    venue: Venue
    soundings: Soundings
    pegs: np.ndarray

    def on_bank(self) -> Survey:
        """The same with pegs drawn to the bank, and their casts with them, as readings are reduced from there."""
        drawn = pegs_on_bank(self.venue)
        moved = {
            new.name: (new.easting - old.easting, new.northing - old.northing)
            for old, new in zip(self.venue.pegs, drawn.pegs, strict=True)
        }
        at = self.soundings.xy + np.array([moved[name] for name in self.soundings.table["peg"]])
        table = self.soundings.table.set_geometry(gpd.points_from_xy(*at.T, crs=drawn.crs))
        return Survey(drawn, Soundings(table), self.pegs)


@dataclass(frozen=True)
class Off:
    """What is off: points of pegs by metres east and north, shape (k, 2); standard deviations of single casts.

    ``long_by`` and ``distance_of``: by observer.
    """

    pegs_m: np.ndarray | None = None
    distance: float = 0.0
    direction_deg: float = 0.0
    depth_m: float = 0.02
    long_by: dict[str, float] = field(default_factory=dict)
    distance_of: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Stated:
    """What the sheets say of it: standard deviations."""

    peg_m: float = 5.0
    distance: float = 0.1
    direction_deg: float = 4.0
    depth_m: float = 0.05


def pegs_round(water: MultiPolygon, count: int) -> np.ndarray:
    """Points evenly round the outer shore, shape (k, 2)."""
    shore = water.geoms[0].exterior
    at = (np.arange(count) + 0.37) / count * shore.length
    return shapely.get_coordinates(shapely.line_interpolate_point(shore, at))


def surveyed(water: MultiPolygon, bed: Bed, count: int, off: Off = Off(), stated: Stated = Stated()) -> Survey:
    """Five by four casts from each peg that fall on water, written down by two people in turn."""
    rng, stand = np.random.default_rng(5), pegs_round(water, count)
    middle = np.array(water.centroid.coords[0])
    rows = []
    for k, at in enumerate(stand):
        inward = middle - at
        facing = np.degrees(np.arctan2(*inward))
        who = ("Ida", "Tom")[k % 2]
        for turn in np.linspace(-50, 50, 5):
            for far in np.linspace(5, 30, 4) * rng.uniform(0.9, 1.1):
                azimuth = np.radians(facing + turn + rng.normal(0, 1) * off.direction_deg)
                went = (
                    far
                    * (1 - off.long_by.get(who, 0.0))
                    * (1 + rng.normal(0, 1) * off.distance_of.get(who, off.distance))
                )
                fell = at + went * np.array([np.sin(azimuth), np.cos(azimuth)])
                if shapely.contains_xy(water, *fell):
                    rows.append((k, facing + turn, far, *fell, rng.normal(0, off.depth_m), k % 2))
    peg, azimuth, far, east, north, noise, who = np.array(rows).T
    written = stand + (0 if off.pegs_m is None else off.pegs_m)
    ahead = np.column_stack([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))])
    names = [str(int(k) + 1) for k in peg]
    soundings = soundings_at(
        written[peg.astype(int)] + far[:, None] * ahead,
        bed(np.column_stack([east, north])) + noise,
        sd=stated.depth_m,
        peg=names,
        observer=[("Ida", "Tom")[int(k)] for k in who],
        distance_m=far,
        radial_deg=azimuth % 360.0,
        peg_sd_m=stated.peg_m,
        radial_sd_m=stated.distance * far,
        tangential_sd_m=far * np.radians(stated.direction_deg),
    )
    venue = venue_of(water, written)
    pegs = tuple(replace(one, position_sd_m=stated.peg_m) for one in venue.pegs)
    return Survey(replace(venue, pegs=pegs), soundings, stand)
