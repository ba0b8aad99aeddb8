"""The mistakes planted in the demo's readings: of the usual kinds, two in a hundred, and listed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.random import Generator

from scripts.making import demo_bed
from scripts.making.demo_survey import DATUM_M, GEOMETRY, LEN, MAUD, PRIYA, DemoPeg, FloatSeen, board_m

FOOT_M = 0.3048
SPOILT = 2
"""Readings an observer marked as not to be used: no blunders, for they were noticed."""

Mistake = Callable[[FloatSeen, Generator], FloatSeen]


def plant(seen: list[FloatSeen], rng: Generator) -> list[FloatSeen]:
    """The observations with mistakes in some; each changed one names its blunder."""
    seen = list(seen)
    for kind, count, can, mistake in _KINDS:
        able = [i for i, s in enumerate(seen) if not s.blunder and s.use and can(s)]
        for i in rng.choice(able, count, replace=False):
            seen[i] = replace(mistake(seen[i], rng), blunder=kind)
    able = [i for i, s in enumerate(seen) if not s.blunder and s.observer is MAUD and s.seen == "stands"]
    for i in rng.choice(able, SPOILT, replace=False):
        seen[i] = replace(_caught(seen[i], rng), use=False, note="round a snag, leave out")
    return seen


def error_m(seen: FloatSeen, pegs: tuple[DemoPeg, ...]) -> float:
    """Depth at datum as written minus the true depth at the place as written, metres; nan for a bound."""
    peg = next(p for p in pegs if p.name == seen.peg)
    bearing = peg.straight_out_deg + seen.angle_deg
    e, n = GEOMETRY.cast(peg.lon, peg.lat, bearing, seen.units * seen.observer.unit_m)
    x, y = e - demo_bed.ORIGIN[0], n - demo_bed.ORIGIN[1]
    written = _written_depth(seen) - (board_m(seen.when) - DATUM_M)
    return written - float(demo_bed.depth(x, y))


def _written_depth(seen: FloatSeen) -> float:
    if seen.depth_m is not None:
        return seen.depth_m
    if seen.seen != "stands" or seen.setting_m is None or seen.observer.held_by is None:
        return float("nan")
    tip = seen.observer.held_by.tip_m if seen.tip_m is None else seen.tip_m
    return seen.setting_m + seen.observer.held_by.length_m - tip


def _feet(seen: FloatSeen, _: Generator) -> FloatSeen:
    return replace(seen, depth_m=_straight(seen) / FOOT_M)


def _mirrored(seen: FloatSeen, _: Generator) -> FloatSeen:
    return replace(seen, angle_deg=-seen.angle_deg)


def _next_peg(seen: FloatSeen, _: Generator) -> FloatSeen:
    return replace(seen, peg=str(int(seen.peg) + 1))


def _no_float(seen: FloatSeen, _: Generator) -> FloatSeen:
    """The setting written down as if it were the depth."""
    return replace(seen, depth_m=seen.setting_m, setting_m=None, tip_m=None, seen="")


def _caught(seen: FloatSeen, rng: Generator) -> FloatSeen:
    """The plummet sat on weed."""
    short = np.round(rng.uniform(0.35, 0.6) / seen.observer.setting_step_m) * seen.observer.setting_step_m
    return replace(seen, setting_m=None if seen.setting_m is None else seen.setting_m - short)


def _swapped(seen: FloatSeen, _: Generator) -> FloatSeen:
    """2.74 written as 2.47."""
    whole, cents = divmod(round(_straight(seen) * 100), 100)
    return replace(seen, depth_m=whole + (cents % 10) / 10 + (cents // 10) / 100)


def _miscounted(seen: FloatSeen, rng: Generator) -> FloatSeen:
    return replace(seen, units=seen.units + float(rng.choice([-2, 2])))


def _straight(seen: FloatSeen) -> float:
    if seen.depth_m is None:
        raise ValueError(seen.peg)
    return seen.depth_m


def _digits_differ(seen: FloatSeen) -> bool:
    cents = round(_straight(seen) * 100) % 100
    return abs(cents // 10 - cents % 10) >= 3


_KINDS: tuple[tuple[str, int, Callable[[FloatSeen], bool], Mistake], ...] = (
    ("feet written as metres", 3, lambda s: s.depth_m is not None and s.hard_depth_m is None, _feet),
    ("angle mirrored", 3, lambda s: s.observer is not LEN and abs(s.angle_deg) >= 30, _mirrored),
    ("wrong peg", 2, lambda s: int(s.peg) < 38 and s.seen not in {"sunk", "flat"}, _next_peg),
    ("float length left out", 2, lambda s: s.observer is PRIYA and s.seen == "stands", _no_float),
    ("plummet on weed", 2, lambda s: s.seen == "stands" and (s.setting_m or 0) > 1, _caught),
    ("digits swapped", 1, lambda s: s.depth_m is not None and s.hard_depth_m is None and _digits_differ(s), _swapped),
    ("wraps miscounted", 1, lambda s: s.observer is MAUD and s.seen == "stands" and s.units >= 4, _miscounted),
)
