"""Surveys of any number of readings over a made lake, as a club gathers them in years: sheets, and the true bed.

Two thirds are casts from pegs, to half an hour of the clock and a whole metre, so that many stand at one written spot;
a third are from a boat. Some floats went under or lay flat. Every name is invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Point

from scripts.benches.waters import CRS, BedAt, FloatArray, blob, rough
from survey.errors import SourceRow
from survey.geometry.geodesy import Geodesy
from survey.geometry.water import WaterGeometry
from survey.records.fieldbook import Fieldbook, LevelRecord
from survey.records.floats import Float
from survey.records.readings import Cast, Direction, Fix, FloatSeen, Reading
from survey.records.uncertainty import StandardErrors
from survey.records.venue import Peg, Venue
from survey.records.water_level import LevelMark
from survey.units.dates import Moment

EAST, NORTH = 560_000.0, 5_990_000.0
PEG_EVERY_M = 14.0
FROM_PEGS = 2 / 3
CLOCK_DEG, CLOCKS = 15.0, (-4, 5)
NEAREST_M, FURTHEST_M = 3, 45
DEPTH_SD_M, DISTANCE_SHARE, BOAT_SD_M, PEG_SD_M = 0.05, 0.05, 1.5, 0.5
OBSERVERS, DAYS = 15, 90
LEAST_M = 0.03
WAGGLER = Float("wag", 0.25, 0.02)
SPREADS = StandardErrors(estimated_distance=DISTANCE_SHARE, float_depth_near_m=DEPTH_SD_M, float_depth_far_m=DEPTH_SD_M)
LARGE_M = 0.5


@dataclass(frozen=True)
class Large:
    """A survey with its truth.

    Parameters
    ----------
    book : Fieldbook
    bed : callable
        Depth at datum at points of the venue CRS, shape (n, 2), metres.
    spoilt : frozenset of SourceRow
        Rows that were spoilt on purpose.
    """

    book: Fieldbook
    bed: BedAt
    spoilt: frozenset[SourceRow]


@dataclass(frozen=True)
class Spots:
    """Where readings were written down and where they fell, shape (n, 2); casts: peg (-1: boat), azimuth, m."""

    written: FloatArray
    fell: FloatArray
    casts: FloatArray

    @staticmethod
    def joined(parts: list[Spots], count: int) -> Spots:
        """The first so many of several."""
        return Spots(*(np.vstack([getattr(p, name) for p in parts])[:count] for name in ("written", "fell", "casts")))


def large_survey(readings: int, hectares: float, mistakes: float = 0.01, bounds: float = 0.03, seed: int = 5) -> Large:
    """A survey of so many readings on so much water; shares of them are spoilt, and give a bound alone."""
    rng = np.random.default_rng(seed)
    water = _water(hectares * 10_000.0, seed)
    bed, geometry = _bed(water, seed), Geodesy(CRS)
    stand, facing = _pegs(water)
    spots = _spots(water, stand, facing, readings, rng)
    depth = np.maximum(bed(spots.fell) + rng.normal(0, DEPTH_SD_M, readings), LEAST_M)
    wrong = rng.random(readings) < mistakes
    depth = np.where(wrong, _spoilt(depth, rng), depth)
    side = np.where(~wrong & (rng.random(readings) < bounds), rng.choice([-1, 1], readings), 0)
    depth = np.maximum(depth - side * rng.uniform(0.0, 0.5, readings), LEAST_M)
    days = [datetime(2015, 3, 1, 11, tzinfo=UTC) + timedelta(days=37 * k) for k in range(DAYS)]
    moments = [Moment(day, timedelta(0), day.date().isoformat()) for day in days]
    pegs = tuple(_peg(k, at, face, geometry) for k, (at, face) in enumerate(zip(stand, facing, strict=True)))
    mark = LevelMark("board", 0.0)
    venue = Venue(f"made, {hectares:g} ha", CRS, water, pegs, mark=mark, floats=(WAGGLER,), standard_errors=SPREADS)
    who, when = rng.integers(0, OBSERVERS, readings), rng.integers(0, DAYS, readings)
    rows = []
    for k, where in enumerate(_wheres(spots, pegs, geometry)):
        name = f"{who[k]:02d}"
        place, peg = SourceRow(f"readings-{name}.csv", k + 2), pegs[int(spots.casts[k, 0])].name
        plumbed = _plumbed(float(depth[k]), int(side[k]), boat=isinstance(where, Fix))
        peg = "" if isinstance(where, Fix) else peg
        rows.append(Reading(place, peg, where, when=moments[when[k]], observer=f"Observer {name}", **plumbed))
    rows = sorted(rows, key=lambda r: (r.place.file, r.place.row))
    levels = tuple(LevelRecord(moment, 0.0, SourceRow("levels.csv", k + 2)) for k, moment in enumerate(moments))
    places = tuple(row.place for row in rows)
    spoilt = frozenset(place for place in places if wrong[place.row - 2])
    return Large(Fieldbook(venue, tuple(rows), levels, (), readings, "0" * 64, places), bed, spoilt)


def _plumbed(depth: float, side: int, *, boat: bool) -> dict[str, object]:
    """What was written of a depth, or of a bound."""
    if boat and not side:
        return {"depth_m": depth, "method": "sounder", "sd_m": DEPTH_SD_M}
    if side > 0 and depth > WAGGLER.length_m:
        return {"setting_m": depth - WAGGLER.length_m, "float_name": WAGGLER.name, "seen": FloatSeen.SUNK}
    if side < 0:
        return {"setting_m": depth, "float_name": WAGGLER.name, "seen": FloatSeen.FLAT}
    if depth <= WAGGLER.below_surface_m:
        return {"depth_m": depth, "method": "float", "sd_m": DEPTH_SD_M}
    return {"setting_m": depth - WAGGLER.below_surface_m, "float_name": WAGGLER.name, "seen": FloatSeen.STANDS}


def _wheres(spots: Spots, pegs: tuple[Peg, ...], geometry: Geodesy) -> Iterator[Cast | Fix]:
    turn = np.array([geometry.convergence_deg(p.easting, p.northing) for p in pegs])
    scale = np.array([geometry.scale(p.easting, p.northing) for p in pegs])
    for (peg, azimuth, far), xy in zip(spots.casts.tolist(), spots.written.tolist(), strict=True):
        if peg < 0:
            yield Fix(xy[0], xy[1], "venue", BOAT_SD_M)
        else:
            bearing = Direction("bearing", (azimuth + turn[int(peg)]) % 360.0, "half hours")
            yield Cast(bearing, far / scale[int(peg)], "estimated")


def _peg(k: int, at: FloatArray, facing: float, geometry: Geodesy) -> Peg:
    lon, lat = geometry.lonlat(float(at[0]), float(at[1]))
    out = (facing + geometry.convergence_deg(float(at[0]), float(at[1]))) % 360.0
    place = SourceRow("pegs.csv", k + 2)
    return Peg(str(k + 1), float(at[0]), float(at[1]), float(lon), float(lat), out, 0.0, PEG_SD_M, place)


def _water(area_m2: float, seed: int) -> MultiPolygon:
    """A lake with a spit and an island."""
    land = blob(seed, (area_m2 / blob(seed, 1.0, 0.16).area) ** 0.5, 0.16)
    _, south, _, north = land.bounds
    tall = north - south
    land = land.difference(shapely.box(-4.0, south - 1.0, 4.0, south + 0.35 * tall))
    land = land.difference(Point(0.12 * tall, 0.1 * tall).buffer(12.0))
    return MultiPolygon([shapely.transform(land, lambda xy: xy + np.array([EAST, NORTH]))])


def _bed(water: MultiPolygon, seed: int) -> BedAt:
    """A shelf and a plain with bars, holes and small relief."""
    frame, wide, near = WaterGeometry(water), rough(seed, water, 25.0), rough(seed + 1, water, 5.0)

    def bed(xy: FloatArray) -> FloatArray:
        d = frame.shore_m(xy)
        depth = 0.7 * -np.expm1(-d / 1.5) + 2.2 / (1.0 + np.exp(-(d - 14.0) / 3.0)) + 0.35 * wide(xy) + 0.08 * near(xy)
        return np.maximum(-np.expm1(-d / 2.0) * depth, 0.0)

    return bed


def _pegs(water: MultiPolygon) -> tuple[FloatArray, FloatArray]:
    """Points on the bank and the grid azimuths of straight out."""
    shore = shapely.get_parts(water)[0].exterior
    along = np.arange(PEG_EVERY_M / 2, shore.length, PEG_EVERY_M)
    at, before, after = (
        shapely.get_coordinates(shapely.line_interpolate_point(shore, (along + step) % shore.length))
        for step in (0.0, -5.0, 5.0)
    )
    run = after - before
    facing = np.degrees(np.arctan2(run[:, 1], -run[:, 0]))
    ahead = at + _offset(facing, np.full(len(at), 2.0))
    return at, facing + 180.0 * ~shapely.contains_xy(water, *ahead.T)


def _offset(azimuth_deg: FloatArray, distance_m: FloatArray) -> FloatArray:
    turn = np.radians(azimuth_deg)
    return np.column_stack([np.sin(turn), np.cos(turn)]) * distance_m[:, None]


def _spots(water: MultiPolygon, pegs: FloatArray, facing: FloatArray, readings: int, rng: np.random.Generator) -> Spots:
    frame, cast = WaterGeometry(water), round(FROM_PEGS * readings)
    parts: list[Spots] = []
    while sum(len(p.casts) for p in parts) < cast:
        parts.append(_cast(frame, pegs, facing, readings, rng))
    parts = [Spots.joined(parts, cast)]
    west, south, east, north = water.bounds
    while sum(len(p.casts) for p in parts) < readings:
        spot = np.round(rng.uniform([west, south], [east, north], (readings, 2)), 2)
        fell = spot + rng.normal(0, BOAT_SD_M, spot.shape)
        wet = shapely.contains_xy(water, *spot.T) & shapely.contains_xy(water, *fell.T)
        parts.append(Spots(spot[wet], fell[wet], np.tile([-1.0, 0.0, 0.0], (wet.sum(), 1))))
    return Spots.joined(parts, readings)


def _cast(frame: WaterGeometry, pegs: FloatArray, facing: FloatArray, count: int, rng: np.random.Generator) -> Spots:
    """Casts from pegs at random; those that leave the water fall away."""
    peg, far = rng.integers(0, len(pegs), count), rng.integers(NEAREST_M, FURTHEST_M + 1, count).astype(float)
    azimuth = facing[peg] + CLOCK_DEG * rng.integers(*CLOCKS, count)
    spot = pegs[peg] + _offset(azimuth, far)
    aimed = azimuth + rng.uniform(-CLOCK_DEG / 2, CLOCK_DEG / 2, count)
    fell = pegs[peg] + _offset(aimed, far * (1 + rng.normal(0, DISTANCE_SHARE, count)))
    wet = shapely.contains_xy(frame.water, *spot.T) & shapely.contains_xy(frame.water, *fell.T)
    wet[wet] = frame.sight.over_water(pegs[peg[wet]] + 0.02 * (spot - pegs[peg])[wet], spot[wet])
    return Spots(spot[wet], fell[wet], np.column_stack([peg, azimuth, far])[wet])


def _spoilt(depth: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Another unit, two feet, or a metre."""
    factor = rng.choice([0.3048, 3.2808, 1.0, 1.0], len(depth))
    return np.maximum(depth * factor + rng.choice([-0.6, 0.6, 1.0], len(depth)) * (factor == 1.0), LEAST_M)
