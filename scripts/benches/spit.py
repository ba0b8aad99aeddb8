"""Two waters that a spit keeps apart: 6.0 m on one side, 0.6 m on the other, and what is said near it.

Readings stand ten metres apart in straight lines; the middle two of a line stand five metres off the spit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely.geometry import MultiPolygon, box

from scripts.benches.lakes import blank_table, placed
from scripts.benches.peers import PEERS, Peer
from scripts.benches.scores import BED, fitted
from scripts.benches.waters import CRS, FloatArray
from survey.records.soundings import Soundings
from survey.records.venue import Venue

WIDTH, HEIGHT, SPIT_HALF, SPIT_END = 160.0, 90.0, 1.0, 75.0
DEEP_M, SHALLOW_M = 6.0, 0.6
OFF_M, AWAY_M = 8.0, 40.0
"""Judged from so far off the spit; its ± is compared with that so far off."""
LINE_NORTHING = 38.0
BESIDE = ("thin plate", "PyKrige")
TWO_SIGMA = 1.96


@dataclass(frozen=True)
class Side:
    """What one method says on one side, from 8 to 40 m off the spit; metres.

    Parameters
    ----------
    method : str
    readings_m : float
        What every reading on this side found.
    off_by_m : float
        Greatest departure from that.
    toward_m, away_m : float
        95 % range, half its width, 8 and 40 m off; nan where the method states none.
    """

    method: str
    readings_m: float
    off_by_m: float
    toward_m: float
    away_m: float


@dataclass(frozen=True)
class Line:
    """One method along a line of readings through the spit: easting (m), depth and half-width of its 95 % range (m)."""

    method: str
    easting: list[float]
    depth_m: list[float]
    half_m: list[float]


def spit(peers: dict[str, Peer]) -> tuple[list[Side], list[Line]]:
    """The bed, and two peers that know nothing of land, on the same readings."""
    middle = WIDTH / 2
    water = MultiPolygon(
        [box(0, 0, WIDTH, HEIGHT).difference(box(middle - SPIT_HALF, -1, middle + SPIT_HALF, SPIT_END))]
    )
    x, y = np.meshgrid(np.arange(5.0, WIDTH, 10.0), np.arange(8.0, 70.0, 10.0))
    xy = np.column_stack([x.ravel(), y.ravel()])
    depth = np.where(xy[:, 0] < middle, DEEP_M, SHALLOW_M)
    ask = {BED: fitted(Venue("spit", CRS, water, ()), _exact(depth, xy)).predict}
    ask |= {name: lambda at, peer=PEERS[name]: peer(xy, depth, at) for name in BESIDE if name in peers}
    sides = [_side(name, call, level) for name, call in ask.items() for level in (DEEP_M, SHALLOW_M)]
    return sides, [_line(name, call) for name, call in ask.items()]


def _exact(depth: FloatArray, xy: FloatArray) -> Soundings:
    return placed(blank_table(depth, 0.05), xy)


def _side(method: str, ask: Peer, level_m: float) -> Side:
    def spots(off: FloatArray) -> FloatArray:
        sign = -1.0 if level_m == DEEP_M else 1.0
        x, y = np.meshgrid(WIDTH / 2 + sign * (SPIT_HALF + off), np.arange(15.0, 61.0, 5.0))
        return np.column_stack([x.ravel(), y.ravel()])

    depth, _ = ask(spots(np.arange(OFF_M, AWAY_M + 1)))
    toward, away = (_half(ask(spots(np.array([off])))[1]) for off in (OFF_M, AWAY_M))
    return Side(method, level_m, float(np.abs(depth - level_m).max()), toward, away)


def _half(sd: FloatArray | None) -> float:
    return float("nan") if sd is None else float(TWO_SIGMA * np.median(sd))


def _line(method: str, ask: Peer) -> Line:
    x = np.arange(2.0, WIDTH - 1.0, 1.0)
    x = x[np.abs(x - WIDTH / 2) > SPIT_HALF]
    depth, sd = ask(np.column_stack([x, np.full(len(x), LINE_NORTHING)]))
    half = np.zeros(len(x)) if sd is None else TWO_SIGMA * sd
    return Line(method, x.tolist(), depth.tolist(), half.tolist())
