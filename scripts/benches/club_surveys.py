"""A club's sheets over a lake whose bed is known: observers, days, levels, and mistakes put in.

Built on the simulated bank surveys of ``lakes``; every name in it is invented.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import shapely

from scripts.benches.lakes import CRS, Lake, bank_survey
from survey.errors import SourceRow
from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import Shoreline
from survey.records.fieldbook import Fieldbook, LevelRecord
from survey.records.floats import Float
from survey.records.readings import Cast, Direction, FloatSeen, Reading
from survey.records.uncertainty import StandardErrors
from survey.records.venue import Peg, Venue
from survey.records.water_level import LevelMark
from survey.units import FOOT_M
from survey.units.dates import Moment

EAST, NORTH = 560_000.0, 5_990_000.0
WAGGLER = Float("wag", 0.25, 0.02)
DECLINATION_DEG = -12.0
"""Large, so that a bearing from the other north is a mistake that can be seen at all."""
SHOWN_M = (0.40, 0.10, 0.75)
DATUM_M = 0.40
DAYS = tuple(datetime(2026, month, 9, 11, tzinfo=UTC) for month in (4, 6, 9))
OBSERVERS = ("Hollin", "Marl", "Tansy", "Wray")
MAGNETIC = "Marl"
BY_DEPTH = "Tansy"


@dataclass(frozen=True)
class Club:
    """A survey with its truth.

    Parameters
    ----------
    book : Fieldbook
    bed : callable
        Depth at datum at points of the venue CRS, shape (n, 2), metres.
    """

    book: Fieldbook
    bed: Callable[[np.ndarray], np.ndarray]


def club_survey(lake: Lake, seed: int, dense: bool) -> Club:
    """The readings of a simulated bank survey as four people wrote them on three days."""
    plain, soundings, _ = bank_survey(lake, seed, dense)
    geometry = Geodesy(CRS)
    water = shapely.transform(lake.water, lambda xy: xy + np.array([EAST, NORTH]))
    bank = Shoreline(water)
    pegs = tuple(_peg(peg, bank, geometry) for peg in plain.pegs)
    venue = Venue(
        lake.name,
        CRS,
        water,
        pegs,
        mark=LevelMark("board", DATUM_M),
        floats=(WAGGLER,),
        standard_errors=StandardErrors(
            estimated_distance=0.04, float_depth_near_m=0.04, float_depth_far_m=0.04, pole_depth_m=0.04
        ),
        declination_deg=DECLINATION_DEG,
    )
    by_name = {peg.name: peg for peg in pegs}
    readings = tuple(_reading(row, by_name[row.peg], geometry) for row in soundings.table.itertuples())
    readings = tuple(sorted(readings, key=lambda r: (r.place.file, r.place.row)))
    levels = tuple(
        LevelRecord(moment(day), shown, SourceRow("levels.csv", k))
        for k, (day, shown) in enumerate(zip(DAYS, SHOWN_M, strict=True), start=2)
    )
    places = tuple(reading.place for reading in readings)
    book = Fieldbook(venue, readings, levels, (), len(readings), "0" * 64, places)
    return Club(book, lambda xy: lake.bed(np.asarray(xy) - np.array([EAST, NORTH])))


def moment(day: datetime) -> Moment:
    """A day of the survey, its time known."""
    return Moment(day, timedelta(0), day.date().isoformat())


def _peg(peg: Peg, bank: Shoreline, geometry: Geodesy) -> Peg:
    east, north = peg.easting + EAST, peg.northing + NORTH
    lon, lat = geometry.lonlat(east, north)
    facing = bank.out_azimuth_deg(east, north) + geometry.convergence_deg(east, north)
    place = SourceRow("pegs.csv", int(peg.name) + 2)
    return replace(
        peg, easting=east, northing=north, lon=float(lon), lat=float(lat), facing_deg=facing % 360, place=place
    )


def _reading(row: object, peg: Peg, geometry: Geodesy) -> Reading:
    who = OBSERVERS[int(peg.name) % len(OBSERVERS)]
    turn = int(peg.name) // len(OBSERVERS) % len(DAYS)
    bearing = row.radial_deg + geometry.convergence_deg(peg.easting, peg.northing)
    if who == MAGNETIC:
        direction = Direction("bearing", (bearing - DECLINATION_DEG) % 360, "compass", "magnetic")
    else:
        direction = Direction("angle", math.remainder(bearing - peg.facing_deg, 360), "compass")
    depth = max(row.depth_m + SHOWN_M[turn] - DATUM_M, 0.0)
    plumbed = {"depth_m": depth, "method": "pole"}
    if who != BY_DEPTH and depth > WAGGLER.below_surface_m:
        plumbed = {"setting_m": depth - WAGGLER.below_surface_m, "float_name": WAGGLER.name, "seen": FloatSeen.STANDS}
    return Reading(
        SourceRow(f"readings-{who.lower()}.csv", row.row),
        peg.name,
        Cast(direction, row.distance_m / geometry.scale(peg.easting, peg.northing), "estimated"),
        when=moment(DAYS[turn]),
        observer=who,
        **plumbed,
    )


def mirrored(r: Reading) -> Reading:
    """Left written for right; for a bearing there is no such mistake."""
    direction = r.where.direction
    if direction.kind == "bearing":
        return r
    return replace(r, where=replace(r.where, direction=replace(direction, value_deg=-direction.value_deg)))


def other_north(r: Reading) -> Reading:
    """A magnetic bearing written down as true."""
    direction = r.where.direction
    if direction.kind != "bearing":
        return r
    return replace(r, where=replace(r.where, direction=replace(direction, north="true")))


def turned_round(r: Reading) -> Reading:
    """A bearing taken toward the peg."""
    direction = r.where.direction
    if direction.kind != "bearing":
        return r
    return replace(r, where=replace(r.where, direction=replace(direction, value_deg=(direction.value_deg + 180) % 360)))


def scaled_depth(factor: float) -> Callable[[Reading], Reading]:
    """The figure of the depth, or of the setting, read in another unit."""

    def turned(r: Reading) -> Reading:
        if r.setting_m is not None:
            return replace(r, setting_m=r.setting_m * factor)
        return replace(r, depth_m=r.depth_m * factor)

    return turned


def scaled_distance(factor: float) -> Callable[[Reading], Reading]:
    """The figure of the distance read in another unit."""
    return lambda r: replace(r, where=replace(r.where, distance_m=r.where.distance_m * factor))


def without_float(r: Reading) -> Reading:
    """The setting written down as the depth."""
    return r if r.setting_m is None else replace(r, depth_m=r.setting_m, setting_m=None, float_name="", seen=None)


def shifted(by_m: float) -> Callable[[Reading], Reading]:
    """The plummet on weed, or a foot miscounted."""

    def turned(r: Reading) -> Reading:
        if r.setting_m is not None:
            return replace(r, setting_m=max(r.setting_m + by_m, 0.0))
        return replace(r, depth_m=max(r.depth_m + by_m, 0.0))

    return turned


def setting_by(by_m: float) -> Callable[[Reading], Reading]:
    """The setting measured from elsewhere on the float; what was plumbed by pole stays."""
    return lambda r: r if r.setting_m is None else replace(r, setting_m=max(r.setting_m + by_m, 0.0))


def from_peg(step: int, count: int) -> Callable[[Reading], Reading]:
    """Written down for a peg so many further on."""
    return lambda r: replace(r, peg=str((int(r.peg) + step) % count))


def feet_for_metres(r: Reading) -> Reading:
    """Feet in a metre column."""
    return scaled_depth(1 / FOOT_M)(r)


def metres_for_feet(r: Reading) -> Reading:
    """Metres in a feet column."""
    return scaled_depth(FOOT_M)(r)
