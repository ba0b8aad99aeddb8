"""Readings and fieldbooks made by hand on an invented water, for the tests of reduction and brackets."""

from datetime import UTC, datetime, timedelta

import pandas as pd
from shapely.geometry import MultiPolygon, box

from survey.errors import SourceRow
from survey.findings import Finding
from survey.geometry.geodesy import Geodesy
from survey.records.fieldbook import Fieldbook, LevelRecord
from survey.records.floats import Float
from survey.records.readings import Cast, Direction, FloatSeen, Reading
from survey.records.venue import Peg, Venue
from survey.records.water_level import LevelMark
from survey.reduction.reduce import reduce_soundings
from survey.units import INCH_M
from survey.units.dates import Moment

# An invented rectangle of water 120 m by 80 m in the middle of the North Sea, with an island.
CRS = "EPSG:32631"
WEST, SOUTH = 594_700.0, 6_151_000.0
ISLAND = box(WEST + 50, SOUTH + 30, WEST + 60, SOUTH + 50)
WATER = MultiPolygon([box(WEST, SOUTH, WEST + 120, SOUTH + 80).difference(ISLAND)])
WAGGLER = Float("waggler", 10 * INCH_M, 1 * INCH_M)
TO_TIP = Float("to tip", 10 * INCH_M, 1 * INCH_M, setting_to="tip")
DAY = datetime(2026, 5, 3, 10, tzinfo=UTC)


def peg(name: str, x: float, y: float, facing_grid_deg: float, facing_sd_deg: float = 0.0) -> Peg:
    geometry = Geodesy(CRS)
    e, n = WEST + x, SOUTH + y
    lon, lat = geometry.lonlat(e, n)
    facing = facing_grid_deg + geometry.convergence_deg(e, n)
    return Peg(name, e, n, float(lon), float(lat), facing, facing_sd_deg, 1.0, SourceRow("pegs.csv", 2))


WEST_PEG = peg("1", 0, 40, 90)
SOUTH_PEG = peg("2", 30, -0.5, 0, facing_sd_deg=15.0)
BOARD = LevelMark("board", 0.0)
VENUE = Venue("Eelmarsh", CRS, WATER, (WEST_PEG, SOUTH_PEG), mark=BOARD, floats=(WAGGLER, TO_TIP))


def moment(when: datetime = DAY, half_hours: float = 0.0) -> Moment:
    return Moment(when, timedelta(hours=half_hours), when.date().isoformat())


def level(shown_m: float, when: datetime = DAY, row: int = 2) -> LevelRecord:
    return LevelRecord(moment(when), shown_m, SourceRow("levels.csv", row))


AT_DATUM = (level(0.0),)


def cast(angle_deg: float = 0.0, distance_m: float = 15.0, **more) -> Cast:
    return Cast(Direction("angle", angle_deg, "aimed"), distance_m, "tape", **more)


def reading(row: int = 2, **more) -> Reading:
    fields = {"peg": "2", "where": cast(), "when": moment(), "depth_m": 1.5} | more
    return Reading(SourceRow("readings.csv", row), **fields)


def plumb(row: int = 2, setting_m: float = 1.2, seen: FloatSeen = FloatSeen.STANDS, **more) -> Reading:
    fields = {"depth_m": None, "float_name": "waggler"} | more
    return reading(row, setting_m=setting_m, seen=seen, **fields)


def book(*readings: Reading, levels=AT_DATUM, venue: Venue = VENUE) -> Fieldbook:
    places = tuple(r.place for r in readings)
    return Fieldbook(venue, tuple(readings), tuple(levels), (), len(readings), "0" * 64, places)


def one(row: Reading, **more) -> pd.Series:
    soundings, _ = reduce_soundings(book(row, **more))
    assert len(soundings) == 1
    return soundings.table.iloc[0]


def only_finding(row: Reading, **more) -> Finding:
    soundings, findings = reduce_soundings(book(row, **more))
    assert len(soundings) == 0
    assert len(findings) == 1
    return findings[0]


def bracket(low_m: float, high_m: float, **more) -> tuple[Reading, Reading]:
    """Sunk at a setting that says deeper than low_m, flat at one that says no deeper than high_m."""
    sunk = plumb(2, low_m - WAGGLER.length_m, FloatSeen.SUNK, **more)
    return sunk, plumb(3, high_m, FloatSeen.FLAT, **more)
