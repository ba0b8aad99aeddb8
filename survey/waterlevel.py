"""Level records to the height of the water at an instant, with its error.

Level is positive up and counted from the datum. Knows nothing of readings or places.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from survey.readings import LevelRecord, Moment
from survey.venue import LevelMark, Spreads

MARK_SD_M = 0.01
"""Of one look at the mark: boards are read to a centimetre with ripples about (ours)."""

QUIET_DAYS = 14.0
WANDER_M = 0.02
"""How far a level wanders from the straight line in a root day, beyond the quiet fortnight (ours)."""

HOLD_DAYS = 1.0

MOST_RISE_M = 3.0
"""No lake stands this far above the level of its map and keeps its outline (ours)."""

_DAY_S = 86400.0


def level_fault(rise_m: float, deepest_m: float) -> str:
    """Why no answer can be given at a level; empty where one can.

    Parameters
    ----------
    rise_m : float
        Surface above the datum, metres.
    deepest_m : float
        Greatest depth of the bed below the datum, metres.

    Returns
    -------
    str
        ``""``, ``"flooded"`` (further above the datum than any outline holds) or ``"empty"`` (no water left).
    """
    if rise_m > MOST_RISE_M:
        return "flooded"
    return "empty" if rise_m <= -deepest_m else ""


@dataclass(frozen=True)
class LevelAt:
    """The level at an instant.

    Parameters
    ----------
    rise_m : float
        Surface above the datum, metres; 0 where it is not known.
    sd_m : float
        Its standard deviation, metres.
    known : bool
        False: no record near enough.
    block : str
        Readings with the same name share this level's error: the local day, or
        ``unknown:`` and the day.
    """

    rise_m: float
    sd_m: float
    known: bool
    block: str


class LevelHistory:
    """What the mark showed over time.

    Parameters
    ----------
    records : sequence of LevelRecord
        In any order; records of one instant are averaged.
    mark : LevelMark
        Without a kind, no record can be used.
    spreads : Spreads

    Notes
    -----
    Between two records ``G`` days apart, at the fraction ``f`` of the way, the level is linear and its
    variance is ``((1-f)² + f²) MARK_SD_M² + WANDER_M² max(G - 14, 0) f (1-f) + w²/3``: the looks at
    the mark, a random walk pinned at both records (Brownian bridge), and half the change ``w`` of the level
    within the hours left open by a date without a time (rectangular, GUM, JCGM 100:2008, 4.3.7).
    The standard deviation is never more than that of an unknown level.
    """

    def __init__(self, records: Sequence[LevelRecord], mark: LevelMark, spreads: Spreads) -> None:
        shown: dict[datetime, list[LevelRecord]] = defaultdict(list)
        for record in records if mark.kind is not None else ():
            shown[record.when.instant].append(record)
        instants = sorted(shown)
        self._days = np.array([_days(i) for i in instants], float)
        self._rises = np.array([np.mean(sorted(mark.rise_m(r.shown_m) for r in shown[i])) for i in instants], float)
        self._widths = np.array([max(_width(r.when) for r in shown[i]) for i in instants], float)
        self._unknown_sd = max(spreads.level_unknown_m, _rms(self._rises))

    def __len__(self) -> int:
        return len(self._days)

    def rise(self, moment: Moment | None) -> LevelAt:
        """Level above the datum at a moment; None stands for a reading without a date."""
        day = moment.day if moment else "undated"
        if moment is None or not self._covers(_days(moment.instant)):
            return LevelAt(0.0, self._unknown_sd, False, f"unknown:{day}")
        at = _days(moment.instant)
        sd = math.sqrt(self._record_variance(at) + self._open_hours_variance(at, moment))
        return LevelAt(float(np.interp(at, self._days, self._rises)), min(sd, self._unknown_sd), True, day)

    def _covers(self, at: float) -> bool:
        return len(self) > 0 and bool(self._days[0] - HOLD_DAYS <= at <= self._days[-1] + HOLD_DAYS)

    def _around(self, at: float) -> tuple[int, int]:
        """Indices of the records before and after; the same one beyond either end."""
        last = len(self) - 1
        after = int(np.searchsorted(self._days, at))
        return max(min(after, last) - (0 < after <= last), 0), min(after, last)

    def _record_variance(self, at: float) -> float:
        before, after = self._around(at)
        gap = self._days[after] - self._days[before]
        f = (at - self._days[before]) / gap if gap > 0 else 0.0
        looks = ((1 - f) ** 2 + f**2) * MARK_SD_M**2
        return float(looks + WANDER_M**2 * max(gap - QUIET_DAYS, 0.0) * f * (1 - f))

    def _open_hours_variance(self, at: float, moment: Moment) -> float:
        # A record without a time leaves the same hours open as a reading without one.
        width = max(_width(moment), *(self._widths[i] for i in self._around(at)))
        inside = self._rises[np.abs(self._days - at) <= width]
        ends = np.interp([at - width, at + width], self._days, self._rises)
        met = np.concatenate([ends, inside])
        return float((np.ptp(met) / 2) ** 2 / 3)


def _days(instant: datetime) -> float:
    return instant.timestamp() / _DAY_S


def _width(moment: Moment) -> float:
    return moment.half_width.total_seconds() / _DAY_S


def _rms(rises: NDArray[np.float64]) -> float:
    # About the datum and not about their mean: an unknown level is taken as the datum's.
    return float(np.sqrt(np.mean(rises**2))) if rises.size else 0.0
