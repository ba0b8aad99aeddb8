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

from survey.arrays import FloatArray, Index
from survey.records.fieldbook import LevelRecord
from survey.records.uncertainty import StandardErrors
from survey.records.water_level import LevelMark
from survey.units.dates import Moment

MARK_SD_M = 0.01
"""Of one look at the mark: boards are read to a centimetre with ripples about (ours)."""

QUIET_DAYS = 14.0
WANDER_M = 0.02
"""How far a level wanders from the straight line in a root day, beyond the quiet fortnight (ours)."""

HOLD_DAYS = 1.0

MOST_RISE_M = 3.0
"""No lake stands this far above the level of its map and keeps its outline (ours)."""

FAR_FROM_RECORDS_M = 0.5
"""A level this far beyond all that were recorded is more often misread, or in another unit, than so (ours)."""

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


def recorded_m(records: Sequence[LevelRecord]) -> tuple[float, float] | None:
    """The lowest and highest figure that the mark was seen to show, metres; None without records."""
    shown = [record.shown_m for record in records]
    return (min(shown), max(shown)) if shown else None


def is_far_from(recorded: tuple[float, float] | None, shown_m: float) -> bool:
    """Whether a level lies far outside those recorded."""
    return recorded is not None and not (
        recorded[0] - FAR_FROM_RECORDS_M <= shown_m <= recorded[1] + FAR_FROM_RECORDS_M
    )


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
    standard_errors : StandardErrors

    Notes
    -----
    Between two records ``G`` days apart, at the fraction ``f`` of the way, the level is linear and its
    variance is ``((1-f)² + f²) MARK_SD_M² + WANDER_M² max(G - 14, 0) f (1-f) + w²/3``: the looks at
    the mark, a random walk pinned at both records (Brownian bridge), and half the change ``w`` of the level
    within the hours left open by a date without a time (rectangular, GUM, JCGM 100:2008, 4.3.7).
    The standard deviation is never more than that of an unknown level.
    """

    def __init__(self, records: Sequence[LevelRecord], mark: LevelMark, standard_errors: StandardErrors) -> None:
        shown: dict[datetime, list[LevelRecord]] = defaultdict(list)
        for record in records if mark.kind is not None else ():
            shown[record.when.instant].append(record)
        instants = sorted(shown)
        self._days = np.array([_days(i) for i in instants], float)
        self._rises = np.array([np.mean(sorted(mark.rise_m(r.shown_m) for r in shown[i])) for i in instants], float)
        self._widths = np.array([max(_width(r.when) for r in shown[i]) for i in instants], float)
        self._unknown_sd = max(standard_errors.level_unknown_m, _rms(self._rises))

    def __len__(self) -> int:
        return len(self._days)

    def rise(self, moment: Moment | None) -> LevelAt:
        """Level above the datum at a moment; None stands for a reading without a date."""
        return self.rises([moment])[0]

    def rises(self, moments: Sequence[Moment | None]) -> list[LevelAt]:
        """The same for many moments, each distinct one worked out once."""
        distinct = list(dict.fromkeys(moments))
        covered = [moment for moment in distinct if moment is not None and self._covers(_days(moment.instant))]
        levels = {moment: self._unknown(moment) for moment in distinct} | self._known(covered)
        return [levels[moment] for moment in moments]

    def _unknown(self, moment: Moment | None) -> LevelAt:
        return LevelAt(0.0, self._unknown_sd, False, f"unknown:{moment.day if moment else 'undated'}")

    def _known(self, moments: Sequence[Moment]) -> dict[Moment | None, LevelAt]:
        """Levels at moments that the records cover."""
        if not moments:
            return {}
        at = np.array([_days(moment.instant) for moment in moments])
        # Indices of the records before and after; the same one beyond either end.
        after = np.searchsorted(self._days, at)
        last = len(self) - 1
        before = np.maximum(np.minimum(after, last) - ((after > 0) & (after <= last)), 0)
        after = np.minimum(after, last)
        own = [_width(moment) for moment in moments]
        # A record without a time leaves the same hours open as a reading without one.
        width = np.maximum(np.maximum(own, self._widths[before]), self._widths[after])
        variances = zip(self._record_variances(at, before, after), self._open_hours_variances(at, width), strict=True)
        sds = [min(math.sqrt(looks + open_hours), self._unknown_sd) for looks, open_hours in variances]
        rises = np.interp(at, self._days, self._rises).tolist()
        return {
            moment: LevelAt(rise, sd, True, moment.day) for moment, rise, sd in zip(moments, rises, sds, strict=True)
        }

    def _covers(self, at: float) -> bool:
        return len(self) > 0 and bool(self._days[0] - HOLD_DAYS <= at <= self._days[-1] + HOLD_DAYS)

    def _record_variances(self, at: FloatArray, before: Index, after: Index) -> FloatArray:
        gap = self._days[after] - self._days[before]
        f = np.divide(at - self._days[before], gap, out=np.zeros_like(gap), where=gap > 0)
        looks: FloatArray = ((1 - f) ** 2 + f**2) * MARK_SD_M**2
        looks += WANDER_M**2 * np.maximum(gap - QUIET_DAYS, 0.0) * f * (1 - f)
        return looks

    def _open_hours_variances(self, at: FloatArray, width: FloatArray) -> FloatArray:
        ends = np.interp([at - width, at + width], self._days, self._rises)
        lowest, highest = ends.min(axis=0), ends.max(axis=0)
        # Records within the open hours follow each other; one more on either side, for rounding.
        first = np.maximum(np.searchsorted(self._days, at - width) - 1, 0)
        beyond = np.minimum(np.searchsorted(self._days, at + width, side="right") + 1, len(self))
        for step in range(int((beyond - first).max(initial=0))):
            record = np.minimum(first + step, len(self) - 1)
            inside = np.abs(self._days[record] - at) <= width
            lowest = np.where(inside, np.minimum(lowest, self._rises[record]), lowest)
            highest = np.where(inside, np.maximum(highest, self._rises[record]), highest)
        variances: FloatArray = ((highest - lowest) / 2) ** 2 / 3
        return variances


def _days(instant: datetime) -> float:
    return instant.timestamp() / _DAY_S


def _width(moment: Moment) -> float:
    return moment.half_width.total_seconds() / _DAY_S


def _rms(rises: NDArray[np.float64]) -> float:
    # About the datum and not about their mean: an unknown level is taken as the datum's.
    return float(np.sqrt(np.mean(rises**2))) if rises.size else 0.0
