"""Dates whose day and month may be the other way round: what the rest of the survey says of either reading.

A declared order is a prior. Rows stay as they are read; what speaks against them is told, with what would mend it.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime

from survey.errors import SourceRow
from survey.fieldbook.days.date_order_words import TurnedRows, problem_of, remedy_for
from survey.fieldbook.days.dated_rows import DatedRows
from survey.fieldbook.days.day_likelihood import KnownDays, lone_and_shared
from survey.fieldbook.files.sources import VENUE_FILE
from survey.fieldbook.remarks import Remarks
from survey.records.declaration import Declaration

SURE = math.log(40.0)
"""Odds from which a whole sheet, or one person's rows in it, are told to be the other way round (ours)."""
SURER = math.log(150.0)
"""The same for one day of a sheet, of which there are many (ours)."""
UNLIKE_ITSELF = math.log(3.0)
"""More for one day among others that prove the order they are read in (ours)."""

_Key = tuple[str, ...]


def tell_orders(
    dated: Iterable[DatedRows],
    edge_days: Iterable[date],
    declared: Declaration,
    remarks: Remarks,
    today: date | None = None,
) -> None:
    """A warning for every sheet, person or day that falls among the others only with day and month exchanged.

    Parameters
    ----------
    dated : iterable of DatedRows
        Of reading and level sheets.
    edge_days : iterable of date
        Days on which the water's edge was drawn.
    declared : Declaration
        Files whose order it gives by name are not doubted.
    remarks : Remarks
    today : date, optional
        Days beyond it have not come yet.
    """
    every = list(dated)
    _tell_unknown_files({rows.file for rows in every}, declared, remarks)
    survey = _Survey(every, tuple(edge_days), frozenset(declared.dates_in), today or datetime.now(UTC).date())
    for turned in survey.turned_round():
        first = min(turned.rows, key=lambda rows: rows.place)
        remarks.warning("likely-date-order", first.place, problem_of(turned), remedy_for(turned))


def _tell_unknown_files(files: set[str], declared: Declaration, remarks: Remarks) -> None:
    for file in sorted(set(declared.dates_in) - files):
        remarks.warning(
            "dates-in-unknown",
            SourceRow(VENUE_FILE, column=f"[dates_in] {file}"),
            "no sheet with dates has this file name, so its order was not used",
            f"Write one of: {', '.join(sorted(files)) or 'no sheet has dates'}.",
        )


@dataclass
class _Survey:
    """All rows with a date; those told to be turned round are put right for the judging of the rest."""

    rows: list[DatedRows]
    edge_days: tuple[date, ...]
    settled: frozenset[str]
    today: date
    years: tuple[int, int] = field(init=False)

    def __post_init__(self) -> None:
        years = [rows.day.year for rows in self.rows] or [self.today.year]
        self.years = min(years), max(years)

    def turned_round(self) -> Iterator[TurnedRows]:
        """Whole sheets first, then persons, then single days; of each the surest first."""
        for keyed, sure in ((_by_sheet, SURE), (_by_hand, SURE), (_by_day, SURER)):
            while (best := self._surest(keyed(self.rows, self.settled), sure)) is not None:
                yield best
                gone = set(best.rows)
                self.rows = [replace(r, day=r.other or r.day, other=None) if r in gone else r for r in self.rows]

    def _surest(self, units: dict[_Key, list[DatedRows]], sure: float) -> TurnedRows | None:
        best: tuple[float, TurnedRows] | None = None
        plumbed = {*self.edge_days, *(r.day for r in self.rows if not r.is_level)}
        for _, unit in sorted(units.items()):
            # Most level records fall on no other day, whichever way they are read: they are not worth the work.
            if unit[0].is_level and not any(r.other in plumbed or r.day > self.today for r in unit):
                continue
            known = self._known_without(unit)
            odds = known.log_chance({r.other for r in unit if r.other}) - known.log_chance({r.day for r in unit})
            others_prove = any(r.proves for r in self.rows if (r.sheet, r.hand) == (unit[0].sheet, unit[0].hand))
            needed = sure + UNLIKE_ITSELF * others_prove
            if odds > needed and (best is None or odds > best[0]):
                best = odds, TurnedRows(tuple(unit), known, self._is_all_of_its_file(unit))
        return best[1] if best else None

    def _is_all_of_its_file(self, unit: Sequence[DatedRows]) -> bool:
        return all(r in unit for r in self.rows if r.file == unit[0].file and (r.other or r.proves))

    def _known_without(self, unit: Sequence[DatedRows]) -> KnownDays:
        """What the rest says; a level sheet is held against the readings, a reading sheet against both."""
        gone = set(unit)
        rest = [r for r in self.rows if r not in gone]
        hands = Counter(day for _, _, day in {(r.sheet, r.hand, r.day) for r in rest if not r.is_level})
        hands.update(set(self.edge_days))
        levels = frozenset(r.day for r in rest if r.is_level)
        if not unit[0].is_level:
            return KnownDays(hands, levels, lone_and_shared(hands.values()), self.years, self.today)
        met = float(sum(day in hands for day in levels))
        return KnownDays(hands, frozenset(), (met, len(levels) - met), self.years, self.today)


def _by_sheet(rows: Iterable[DatedRows], settled: frozenset[str]) -> dict[_Key, list[DatedRows]]:
    return _alike((((r.sheet, str(r.is_stored)), r) for r in rows), settled)


def _by_hand(rows: Iterable[DatedRows], settled: frozenset[str]) -> dict[_Key, list[DatedRows]]:
    return _alike((((r.sheet, str(r.is_stored), r.hand), r) for r in rows), settled)


def _by_day(rows: Iterable[DatedRows], settled: frozenset[str]) -> dict[_Key, list[DatedRows]]:
    doubtful = (r for r in rows if r.other)
    return _alike((((r.sheet, str(r.is_stored), str(r.day), str(r.other)), r) for r in doubtful), settled)


def _alike(keyed: Iterable[tuple[_Key, DatedRows]], settled: frozenset[str]) -> dict[_Key, list[DatedRows]]:
    """Rows of each key that can be read both ways; none where others of the key prove the order."""
    units: defaultdict[_Key, list[DatedRows]] = defaultdict(list)
    proved = set()
    for key, rows in keyed:
        if rows.other and rows.file not in settled:
            units[key].append(rows)
        if rows.proves:
            proved.add(key)
    return {key: unit for key, unit in units.items() if key not in proved}
