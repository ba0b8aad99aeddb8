"""Four invented observers plumb Sallowby Pit on three days: pegs, levels and what was observed, with its noise.

Works in metres and degrees from the bed of ``demo_bed``; knows nothing of how a sheet is written. A cast is
written as meant and falls where it falls: the true spot is the written one plus error.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Literal

import numpy as np
import shapely
from numpy.random import Generator
from shapely import LineString, Point

from scripts.making import demo_bed
from survey.geometry.geodesy import Geodesy

DATUM_M = 0.60
DAYS = (date(2026, 3, 28), date(2026, 6, 6), date(2026, 9, 12))
BOARD_AT_NOON = (0.70, 0.58, 0.45)
BOARD_PER_HOUR = -0.002
STICK_SPACING_M, POLE_SECTION_M, YARD_M, INCH_M = 12 * 0.3048, 1.45, 0.9144, 0.0254
REACH_M = 42.0
GEOMETRY = Geodesy(demo_bed.CRS)

SPACING_M = 17.2
NAMED = {
    "3": "Long Willow",
    "7": "The Hump",
    "11": "Gate; Gate Peg",
    "17": "Ditch End",
    "20": "Narrows",
    "24": "Sandy",
    "29": "Back Bay",
    "32": "The Point; Spit End",
    "35": "Ferry",
}
CLOSED, ACCESSIBLE, UNFACED = "22", ("11", "12"), ("5", "14", "25", "31")
NOTES = {"22": "bank slipped", "11": "boards and a rail", "12": "boards and a rail", "32": "soft going after rain"}


@dataclass(frozen=True)
class DemoPeg:
    """A peg: where the sheet says it is, where it is, and where straight out truly points (degrees true)."""

    name: str
    lon: float
    lat: float
    true_lon: float
    true_lat: float
    straight_out_deg: float
    facing: int | None


@dataclass(frozen=True)
class Float:
    """A float as a ruler: length above where it is fixed and usual tip, metres."""

    name: str
    length_m: float
    tip_m: float


@dataclass(frozen=True)
class Observer:
    """How one person plumbs; distances in metres, standard deviations as in survey/venue.py."""

    name: str
    directs: Literal["clock", "bearing", "angle"]
    direction_step: float
    unit_m: float
    nearest: float
    farthest: float
    casts: int
    held_by: Float | None
    setting_step_m: float = 0.01


MAUD = Observer("Maud Ettery", "clock", 15, STICK_SPACING_M, 2, 11, 5, Float("Maud's peacock", 0.254, 0.02), INCH_M)
LEN = Observer("Len Hasker", "bearing", 1, YARD_M, 6, 40, 3, Float("Len's stick", 0.14, 0.015), INCH_M)
PRIYA = Observer("Priya Dolan", "angle", 1, 1.0, 6, 41, 5, Float("clear insert", 0.2, 0.02))
TOBIAS = Observer("Tobias Crake", "clock", 15, POLE_SECTION_M, 1, 10, 5, None)
OBSERVERS = (MAUD, LEN, PRIYA, TOBIAS)


@dataclass(frozen=True)
class FloatSeen:
    """One plumbed observation before it is written down."""

    observer: Observer
    peg: str
    when: datetime
    angle_deg: float
    units: float
    x: float
    y: float
    seen: Literal["stands", "sunk", "flat", "usual", ""] = ""
    setting_m: float | None = None
    tip_m: float | None = None
    depth_m: float | None = None
    hard_depth_m: float | None = None
    method: str = "float"
    bottom: str = ""
    note: str = ""
    use: bool = True
    blunder: str = ""


def board_m(when: datetime) -> float:
    """What the board truly shows at an instant of one of the three days, metres."""
    hours = (when - datetime.combine(when.date(), time(12))) / timedelta(hours=1)
    return BOARD_AT_NOON[DAYS.index(when.date())] + BOARD_PER_HOUR * hours


def place_pegs(rng: Generator) -> tuple[DemoPeg, ...]:
    """Pegs round the outer shore, half a metre up the bank, numbered counterclockwise from the east."""
    shore = shapely.LinearRing(demo_bed.shoreline())
    count = int(shore.length // SPACING_M)
    along = (np.arange(count) + 0.5 + rng.uniform(-0.2, 0.2, count)) * shore.length / count
    return tuple(_peg(str(i + 1), shore, s, rng) for i, s in enumerate(along))


def _peg(name: str, shore: shapely.LinearRing, along: float, rng: Generator) -> DemoPeg:
    before, here, after = (np.array(shore.interpolate((along + k) % shore.length).coords[0]) for k in (-5, 0, 5))
    run = (after - before) / np.hypot(*(after - before))
    inward = np.array([-run[1], run[0]])
    e, n = here - 0.5 * inward + demo_bed.ORIGIN
    lon, lat = (float(v) for v in GEOMETRY.lonlat(e, n))
    listed = GEOMETRY.lonlat(e + rng.normal(0, 0.7), n + rng.normal(0, 0.7))
    normal = np.degrees(np.arctan2(*inward)) + GEOMETRY.convergence_deg(e, n)
    straight_out = float((normal + rng.normal(0, 6)) % 360)
    facing = None if name in UNFACED else round(straight_out) % 360
    return DemoPeg(
        name, round(float(listed[0]), 6), round(float(listed[1]), 6), lon, lat,
        straight_out if facing is None else float(facing), facing,
    )  # fmt: skip


def observe(pegs: tuple[DemoPeg, ...], rng: Generator) -> list[FloatSeen]:
    """Every observer at every peg on one of the days, in the order of observer, day and peg."""
    seen: list[FloatSeen] = []
    for k, observer in enumerate(OBSERVERS):
        for d, day in enumerate(DAYS):
            visited = [peg for i, peg in enumerate(pegs) if (i // 2 + k) % len(DAYS) == d]
            for stop, peg in enumerate(p for p in visited if p.name != CLOSED or d == 0):
                start = datetime.combine(day, time(9)) + timedelta(minutes=30 * stop)
                seen += _fan(observer, peg, start, rng)
    return seen


def _fan(observer: Observer, peg: DemoPeg, start: datetime, rng: Generator) -> list[FloatSeen]:
    """One observer's casts at one peg, near to far where the water allows."""
    rings = np.linspace(observer.nearest, observer.farthest, observer.casts + 1)
    seen: list[FloatSeen] = []
    for i in range(observer.casts):
        when = start + timedelta(minutes=5 * i)
        cast = _cast(observer, peg, (rings[i], rings[i + 1]), when, rng)
        if cast is not None:
            seen += _plumb(cast, rng)
    return seen


def _cast(
    observer: Observer, peg: DemoPeg, between: tuple[float, float], when: datetime, rng: Generator
) -> FloatSeen | None:
    """A cast that falls on water in sight of its peg and deep enough to plumb; None if the water has none."""
    for _ in range(40):
        parts = 2 if observer is MAUD else 1
        units = round(parts * rng.uniform(*between)) / parts
        angle = observer.direction_step * round(rng.uniform(-48, 48) / observer.direction_step)
        fell = _falls(observer, units * observer.unit_m, angle, rng)
        e, n = GEOMETRY.cast(peg.true_lon, peg.true_lat, peg.straight_out_deg + fell[0], fell[1])
        x, y = e - demo_bed.ORIGIN[0], n - demo_bed.ORIGIN[1]
        cast = FloatSeen(observer, peg.name, when, angle, units, x, y)
        if fell[1] <= REACH_M and _in_sight(peg, x, y) and depth_today(cast) > _least_depth(observer):
            return cast
    return None


def _falls(observer: Observer, distance_m: float, angle_deg: float, rng: Generator) -> tuple[float, float]:
    """Where a cast meant for an angle and distance really falls, degrees and metres."""
    sd = {"Len Hasker": 0.1 * distance_m, "Maud Ettery": 0.4, "Priya Dolan": 0.1, "Tobias Crake": 0.2}[observer.name]
    error = {"clock": rng.uniform(-7.5, 7.5), "bearing": rng.normal(0, 4), "angle": rng.normal(0, 1.5)}
    return angle_deg + error[observer.directs], distance_m + rng.normal(0, sd)


def _in_sight(peg: DemoPeg, x: float, y: float) -> bool:
    e, n = GEOMETRY.xy(peg.true_lon, peg.true_lat)
    line = LineString([(float(e) - demo_bed.ORIGIN[0], float(n) - demo_bed.ORIGIN[1]), (x, y)])
    over_land = line.length - line.intersection(demo_bed.WATER).length
    return demo_bed.WATER.covers(Point(x, y)) and over_land < 1.2


def _least_depth(observer: Observer) -> float:
    return 0.2 if observer.held_by is None else observer.held_by.length_m + 0.25


def depth_today(cast: FloatSeen) -> float:
    """True depth of the bed where a cast fell at the level of that hour, metres."""
    return float(demo_bed.depth(cast.x, cast.y)) + board_m(cast.when) - DATUM_M


def _plumb(cast: FloatSeen, rng: Generator) -> list[FloatSeen]:
    """What is observed where a cast fell: one observation, or the two ends of a bracket."""
    distance = cast.units * cast.observer.unit_m
    cast = replace(cast, bottom=_bottom(cast, rng))
    if cast.observer is TOBIAS:
        return [_by_pole(cast, rng)]
    if cast.observer is PRIYA and distance > 20:
        return [replace(cast, depth_m=depth_today(cast) + rng.normal(0, 0.15), method="marker")]
    read = depth_today(cast) + rng.normal(0, 0.06 + 0.006 * float(np.clip(distance - 20, 0, 10)))
    if cast.observer is LEN:
        return _bracket(cast, read) if rng.random() < 0.45 else [_stands(cast, read, rng)]
    if cast.observer is MAUD and rng.random() < 0.06:
        return [_usual(cast, read, rng)]
    return [_stands(cast, read, rng)]


def _by_pole(cast: FloatSeen, rng: Generator) -> FloatSeen:
    read = depth_today(cast) + rng.normal(0, 0.02)
    silt = float(demo_bed.silt(cast.x, cast.y))
    hard = read + silt + rng.normal(0, 0.02) if silt > 0.1 else None
    return replace(cast, depth_m=read, hard_depth_m=hard, method="pole")


def _stands(cast: FloatSeen, read_m: float, rng: Generator) -> FloatSeen:
    """The float stands: the tip as seen, or blank where it is the usual one."""
    held_by, step = _float(cast), cast.observer.setting_step_m
    usual = read_m - held_by.length_m + held_by.tip_m
    if rng.random() < 0.5:
        return replace(cast, seen="stands", setting_m=round(usual / (step / 2)) * step / 2)
    setting = round((usual + rng.uniform(-0.01, 0.05)) / step) * step
    tip = setting + held_by.length_m - read_m
    if not 0.005 <= tip <= held_by.length_m:
        return replace(cast, seen="stands", setting_m=round(usual / (step / 2)) * step / 2)
    return replace(cast, seen="stands", setting_m=setting, tip_m=tip)


def _usual(cast: FloatSeen, read_m: float, rng: Generator) -> FloatSeen:
    """The float rides as ever: the line is slack by an unknown bit, the setting a bound."""
    held_by, step = _float(cast), cast.observer.setting_step_m
    setting = read_m - held_by.length_m + held_by.tip_m + rng.uniform(0.02, 0.25)
    return replace(cast, seen="usual", setting_m=np.ceil(setting / step) * step)


def _bracket(cast: FloatSeen, read_m: float) -> list[FloatSeen]:
    """Set three inches at a time: sunk at one setting, flat at another."""
    step = 3 * INCH_M
    sunk = np.floor((read_m - _float(cast).length_m - 1e-9) / step) * step
    flat = np.ceil(read_m / step) * step
    later = cast.when + timedelta(minutes=2)
    return [replace(cast, seen="sunk", setting_m=sunk), replace(cast, seen="flat", setting_m=flat, when=later)]


def _float(cast: FloatSeen) -> Float:
    if cast.observer.held_by is None:
        raise ValueError(cast.observer.name)
    return cast.observer.held_by


def _bottom(cast: FloatSeen, rng: Generator) -> str:
    if rng.random() < 0.4:
        return ""
    if demo_bed.silt(cast.x, cast.y) > 0.15:
        return "silt"
    if demo_bed.bar(cast.x, cast.y) > 0.4:
        return "gravel"
    return str(rng.choice(["clay", "mud", "gravel", "weed"], p=[0.45, 0.3, 0.15, 0.1]))
