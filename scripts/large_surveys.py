"""Surveys of any number of readings over a made lake, as a club gathers them in years: soundings, sheets and truth.

Two thirds are casts from pegs, written to half an hour of the clock and a whole metre, so that many stand at one
written spot; a third are from a boat. Observers, days with a level each, pegs and single mistakes are made up.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import shapely
from bench_lakes import blank_table, placed
from bench_waters import CRS, BedAt, Floats, blob, rough
from shapely.geometry import MultiPolygon, Point

from survey.errors import Place
from survey.readings import Cast, Direction, Fieldbook, Fix, Moment, Reading
from survey.soundings import Soundings
from survey.venue import Peg, Venue
from survey.water import WaterFrame

EAST, NORTH = 560_000.0, 5_990_000.0
PEG_EVERY_M = 14.0
FROM_PEGS = 2 / 3
CLOCK_DEG = 15.0
DEPTH_SD_M, DISTANCE_SHARE, BOAT_SD_M, LEVEL_SD_M, PEG_SD_M, FACING_SD_DEG = 0.05, 0.05, 1.5, 0.02, 0.5, 3.0
OBSERVERS, DAYS = 15, 90
SHOWS_M = 0.5


@dataclass(frozen=True)
class Large:
    """A survey with its truth.

    Parameters
    ----------
    book : Fieldbook
        Who read what, when and where; its venue.
    soundings : Soundings
    bed : callable
        Depth at datum at points, shape (n, 2), metres.
    spoilt : ndarray of bool, shape (n,)
        Readings that were spoilt on purpose by over half a metre.
    """

    book: Fieldbook
    soundings: Soundings
    bed: BedAt
    spoilt: np.ndarray

    @property
    def venue(self) -> Venue:
        """The venue it is of."""
        return self.book.venue


def large_survey(readings: int, hectares: float, mistakes: float = 0.01, bounds: float = 0.03, seed: int = 5) -> Large:
    """A survey of so many readings.

    Parameters
    ----------
    readings : int
    hectares : float
        Of water.
    mistakes : float
        Share of readings spoilt.
    bounds : float
        Share of readings that give but a bound.
    seed : int
    """
    rng = np.random.default_rng(seed)
    water = _water(hectares * 10_000.0, seed)
    bed = _bed(water, seed)
    pegs, facing = _pegs(water)
    written, fell, casts = _spots(water, pegs, facing, readings, rng)
    day = rng.integers(0, DAYS, readings)
    depth = bed(fell) + rng.normal(0, DEPTH_SD_M, readings) + rng.normal(0, LEVEL_SD_M, DAYS)[day]
    depth = np.maximum(depth, 0.03)
    wrong = rng.random(readings) < mistakes
    turned = np.where(wrong, _spoilt(depth, rng), depth)
    table = blank_table(turned, DEPTH_SD_M)
    side = np.where(rng.random(readings) < bounds, rng.choice([-1, 1], readings), 0) * ~wrong
    table["kind"] = np.select([side > 0, side < 0], ["at_least", "at_most"], "depth")
    table["depth_m"] -= side * rng.uniform(0.0, 0.5, readings)
    from_peg = casts[:, 0] >= 0
    observer = rng.integers(0, OBSERVERS, readings)
    days = [datetime(2015, 3, 1, 11, tzinfo=UTC) + timedelta(days=37 * int(k)) for k in range(DAYS)]
    dates = np.array([d.date().isoformat() for d in days], object)
    table["file"] = [f"readings-{k:02d}.csv" for k in observer]
    table["peg"] = np.where(from_peg, (casts[:, 0].astype(int) + 1).astype(str), "")
    table["observer"] = [f"Observer {k:02d}" for k in observer]
    table["day"], table["level_block"], table["level_sd_m"] = dates[day], dates[day], LEVEL_SD_M
    table["method"] = np.where(from_peg, "float", "sounder")
    table["radial_deg"], table["distance_m"] = casts[:, 1] % 360.0, casts[:, 2]
    table["radial_sd_m"] = np.where(from_peg, DISTANCE_SHARE * casts[:, 2], BOAT_SD_M)
    table["tangential_sd_m"] = np.where(from_peg, casts[:, 2] * np.radians(CLOCK_DEG) / 12**0.5, BOAT_SD_M)
    table["peg_sd_m"], table["facing_sd_deg"] = PEG_SD_M * from_peg, FACING_SD_DEG * from_peg
    venue = Venue(
        f"made, {hectares:g} ha",
        CRS,
        water,
        tuple(
            Peg(str(k + 1), x, y, 0.0, 0.0, f % 360.0, 0.0, 0.0, Place("pegs.csv", k + 2))
            for k, ((x, y), f) in enumerate(zip(pegs.tolist(), facing.tolist(), strict=True))
        ),
    )
    moments = [Moment(d, timedelta(0), d.date().isoformat()) for d in days]
    rows = tuple(
        _reading(k, str(peg), cast, xy, d, f"Observer {who:02d}", moments[when])
        for k, (peg, cast, xy, d, who, when) in enumerate(
            zip(table["peg"], casts.tolist(), written.tolist(), turned.tolist(), observer, day, strict=True)
        )
    )
    order = np.lexsort((table["row"], table["file"]))
    soundings = placed(table.iloc[order].reset_index(drop=True), written[order])
    book = Fieldbook(venue, rows, (), (), readings, "0" * 64, tuple(r.place for r in rows))
    spoilt = wrong & (np.abs(turned - bed(written)) > SHOWS_M)
    return Large(book, soundings, bed, spoilt[order])


def _water(area_m2: float, seed: int) -> MultiPolygon:
    """A lake with a spit and an island."""
    unit = blob(seed, 1.0, 0.16)
    land = blob(seed, (area_m2 / unit.area) ** 0.5, 0.16)
    _, south, _, north = land.bounds
    spit = shapely.box(-4.0, south - 1.0, 4.0, south + 0.35 * (north - south))
    land = land.difference(spit).difference(Point(0.12 * (north - south), 0.1 * (north - south)).buffer(12.0))
    return MultiPolygon([shapely.transform(land, lambda xy: xy + np.array([EAST, NORTH]))])


def _bed(water: MultiPolygon, seed: int) -> BedAt:
    """A shelf and a plain with bars, holes and small relief."""
    frame, wide, near = WaterFrame(water), rough(seed, water, 25.0), rough(seed + 1, water, 5.0)

    def bed(xy: Floats) -> Floats:
        d = frame.shore_m(xy)
        depth = 0.7 * -np.expm1(-d / 1.5) + 2.2 / (1.0 + np.exp(-(d - 14.0) / 3.0)) + 0.35 * wide(xy) + 0.08 * near(xy)
        return np.maximum(-np.expm1(-d / 2.0) * depth, 0.0)

    return bed


def _pegs(water: MultiPolygon) -> tuple[Floats, Floats]:
    shore = shapely.get_parts(water)[0].exterior
    along = np.arange(PEG_EVERY_M / 2, shore.length, PEG_EVERY_M)
    at, before, after = (
        shapely.get_coordinates(shapely.line_interpolate_point(shore, (along + step) % shore.length))
        for step in (0.0, -5.0, 5.0)
    )
    run = after - before
    facing = np.degrees(np.arctan2(run[:, 1], -run[:, 0]))
    ahead = at + _offset(facing, np.full(len(at), 2.0))
    ashore = ~shapely.contains_xy(water, ahead[:, 0], ahead[:, 1])
    return at, facing + 180.0 * ashore


def _offset(azimuth_deg: Floats, distance_m: Floats) -> Floats:
    turn = np.radians(azimuth_deg)
    return np.column_stack([np.sin(turn), np.cos(turn)]) * distance_m[:, None]


def _spots(
    water: MultiPolygon, pegs: Floats, facing: Floats, readings: int, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Where each was written down, where it fell, and its cast: peg (-1: boat), azimuth, distance."""
    frame, wanted = WaterFrame(water), round(FROM_PEGS * readings)
    written, fell, casts = [np.empty((0, 2))], [np.empty((0, 2))], [np.empty((0, 3))]
    while sum(map(len, casts)) < wanted:
        peg = rng.integers(0, len(pegs), readings)
        azimuth = facing[peg] + CLOCK_DEG * rng.integers(-4, 5, readings)
        far = rng.integers(3, 46, readings).astype(float)
        spot = pegs[peg] + _offset(azimuth, far)
        landed = pegs[peg] + _offset(
            azimuth + rng.uniform(-CLOCK_DEG / 2, CLOCK_DEG / 2, readings),
            far * (1 + rng.normal(0, DISTANCE_SHARE, readings)),
        )
        wet = shapely.contains_xy(water, *spot.T) & shapely.contains_xy(water, *landed.T)
        wet[wet] = frame.in_sight(pegs[peg[wet]], spot[wet])
        written.append(spot[wet])
        fell.append(landed[wet])
        casts.append(np.column_stack([peg, azimuth, far])[wet])
    written, fell, casts = ([np.vstack(part)[:wanted]] for part in (written, fell, casts))
    west, south, east, north = water.bounds
    while sum(map(len, casts)) < readings:
        spot = rng.uniform([west, south], [east, north], (readings, 2))
        landed = spot + rng.normal(0, BOAT_SD_M, spot.shape)
        wet = shapely.contains_xy(water, *spot.T) & shapely.contains_xy(water, *landed.T)
        written.append(np.round(spot[wet], 2))
        fell.append(landed[wet])
        casts.append(np.column_stack([np.full(wet.sum(), -1.0), np.zeros((wet.sum(), 2))]))
    return tuple(np.vstack(part)[:readings] for part in (written, fell, casts))  # type: ignore[return-value]


def _spoilt(depth: Floats, rng: np.random.Generator) -> Floats:
    """Another unit, or a foot, two feet or a metre miscounted."""
    factor = rng.choice([0.3048, 3.2808, 1.0, 1.0], len(depth))
    return np.maximum(depth * factor + rng.choice([-0.6, 0.6, 1.0], len(depth)) * (factor == 1.0), 0.03)


def _reading(k: int, peg: str, cast: list[float], xy: list[float], depth: float, who: str, when: Moment) -> Reading:
    where: Cast | Fix = Fix(xy[0], xy[1], "venue", BOAT_SD_M)
    if peg:
        where = Cast(Direction("bearing", cast[1] % 360.0, "clock"), cast[2], "estimated")
    place = Place(f"readings-{who[-2:]}.csv", k + 2)
    return Reading(place, peg, where, depth_m=depth, when=when, observer=who, method="float" if peg else "sounder")
