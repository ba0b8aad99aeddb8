"""How likely days are to be those of a survey, by the days on which others plumbed or read the level mark.

Knows nothing of sheets. Dates turned round fall anywhere in the year; a survey has few days, and they lie together.
"""

from __future__ import annotations

import math
from bisect import bisect
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from itertools import pairwise

NEAR_DAYS = 30
"""A new day of a survey lies this near another one as often as anywhere in its years (ours)."""
NEXT_DAYS = frozenset({*range(1, 11), *range(27, 33)})
"""And as often so many days after the one before it: daily, weekly and monthly rounds (ours)."""
YEAR_DAYS = 365
FUTURE = 1e-3
"""How often a sheet is dated before its day has come (ours)."""
USUAL_STANDS = {"on": 1.0, "within": 0.6, "outside": 0.4}
"""Days of a survey that have a level record, lie between records or beyond them: counts to begin with (ours)."""


@dataclass(frozen=True)
class KnownDays:
    """The days of a survey but for those in question.

    Parameters
    ----------
    hands : mapping of date to int
        How many others plumbed on each.
    levels : frozenset of date
        Days of level records that are not in question.
    shared : (float, float)
        Days known to be those of others, and days known not to be.
    years : (int, int)
        First and last year the survey may have.
    today : date
    """

    hands: Mapping[date, int]
    levels: frozenset[date]
    shared: tuple[float, float]
    years: tuple[int, int]
    today: date

    def log_chance(self, distinct: Iterable[date]) -> float:
        """Log of the chance that a survey goes on with just these days.

        Notes
        -----
        A day is one of the others' with a chance that is itself unknown (beta distribution of the days ``shared``),
        and then each by how many plumbed on it; or it is a new one, as likely near to others as a round after the
        day before it or anywhere.
        """
        days = sorted(distinct)
        met = [day for day in days if day in self.hands]
        new = [(day, before) for before, day in pairwise([None, *days]) if day and day not in self.hands]
        common, lone = self.shared[0] + 1.0, self.shared[1] + 1.0
        chance = _log_beta(common + len(met), lone + len(new)) - _log_beta(common, lone)
        total = sum(self.hands.values())
        chance += sum(math.log(self.hands[day] / total) for day in met)
        chance += sum(math.log(self._new(day, before) * self._stands_by_levels(day)) for day, before in new)
        return chance + math.log(FUTURE) * sum(day > self.today + timedelta(days=1) for day in days)

    def stand(self, day: date) -> str:
        """Where a day stands among the level records: ``on`` one, ``within`` or ``outside`` them; none: ``within``."""
        if not self.levels or self._ends[0] <= day <= self._ends[1]:
            return "on" if day in self.levels else "within"
        return "outside"

    @cached_property
    def _ends(self) -> tuple[date, date]:
        hold = timedelta(days=1)
        return min(self.levels) - hold, max(self.levels) + hold

    @cached_property
    def _span_days(self) -> int:
        return YEAR_DAYS * (self.years[1] - self.years[0] + 1)

    @cached_property
    def _all(self) -> list[date]:
        return sorted({*self.hands, *self.levels})

    @cached_property
    def _days_near(self) -> int:
        """How many days lie near any that is known."""
        most = 2 * NEAR_DAYS + 1
        return most + sum(min((after - before).days, most) for before, after in pairwise(self._all))

    def _is_near(self, day: date) -> bool:
        at = bisect(self._all, day)
        return any(abs((day - known).days) <= NEAR_DAYS for known in self._all[max(at - 1, 0) : at + 1])

    def _new(self, day: date, before: date | None) -> float:
        parts = [1.0 / self._span_days]
        if self._all:
            parts.append(self._is_near(day) / self._days_near)
        if before:
            parts.append(((day - before).days in NEXT_DAYS) / len(NEXT_DAYS))
        return sum(parts) / len(parts)

    @cached_property
    def _by_levels(self) -> dict[str, float]:
        """How much likelier than elsewhere a new day is at each stand: the others' days against all days."""
        seen = Counter(self.stand(day) for day in self.hands)
        counts = {stand: usual + seen[stand] for stand, usual in USUAL_STANDS.items()}
        between = max((self._ends[1] - self._ends[0]).days - len(self.levels), 1)
        room = {"on": len(self.levels), "within": between}
        room["outside"] = max(self._span_days - sum(room.values()), between)
        return {
            stand: counts[stand] / sum(counts.values()) * sum(room.values()) / max(room[stand], 1) for stand in room
        }

    def _stands_by_levels(self, day: date) -> float:
        return self._by_levels[self.stand(day)] if self.levels else 1.0


def lone_and_shared(hands: Iterable[int]) -> tuple[float, float]:
    """Of the days of every hand, how many were shared with another and how many were not."""
    counts = list(hands)
    lone = sum(count == 1 for count in counts)
    return float(sum(counts) - lone), float(lone)


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
