"""Rows of the sheets by hand and date, each with the day it has if day and month are exchanged.

Knows nothing of which reading is right.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from survey.errors import SourceRow
from survey.fieldbook.tables.headers import Table
from survey.records.fieldbook import LevelRecord
from survey.records.readings import Reading
from survey.units.dates import DateOrder, day_readings, is_serial, other_day, split_day

MONTHS = 12


@dataclass(frozen=True)
class DatedRows:
    """Rows of one sheet by one hand with one date.

    Parameters
    ----------
    sheet, file, header, hand : str
        Label of the sheet, its file, the header of its dates, the observer.
    is_level : bool
        Of a level sheet.
    is_stored : bool
        A spreadsheet's own date, which may have been turned when it was typed.
    day : date
        As read.
    other : date or None
        With day and month the other way round; None where the date leaves no doubt.
    other_order : {"dmy", "mdy"} or None
        The order that gives it; None for a date as spreadsheets store it.
    proves : bool
        It has no other reading for its figures alone, which shows how its hand writes them.
    rows : tuple of int
    """

    sheet: str
    file: str
    header: str
    hand: str
    is_level: bool
    is_stored: bool
    day: date
    other: date | None
    other_order: DateOrder | None
    proves: bool
    rows: tuple[int, ...]

    @property
    def place(self) -> SourceRow:
        """The cell of the first of the rows."""
        return SourceRow(self.sheet, self.rows[0], self.header)


def days_of(records: Iterable[Reading | LevelRecord]) -> dict[SourceRow, str]:
    """The day of every record that has one, by its row."""
    return {record.place: record.when.day for record in records if record.when}


def dated_rows(tables: Iterable[Table], days: Mapping[SourceRow, str], *, is_level: bool) -> Iterator[DatedRows]:
    """The rows of sheets by hand and date.

    Parameters
    ----------
    tables : iterable of Table
    days : mapping of SourceRow to str
        Day of every row that was read, ISO.
    is_level : bool
        They are level sheets.
    """
    for table in tables:
        if "date" not in table.columns:
            continue
        grouped: defaultdict[tuple[str, str, str], list[int]] = defaultdict(list)
        for row in table.rows:
            day = days.get(row.place())
            if day:
                grouped[row.text("observer").casefold(), row.text("date"), day].append(row.number)
        for (hand, text, iso), rows in grouped.items():
            yield _one(table, hand, text, date.fromisoformat(iso), tuple(rows), is_level=is_level)


def _one(table: Table, hand: str, text: str, day: date, rows: tuple[int, ...], *, is_level: bool) -> DatedRows:
    sheet = table.sheet
    is_stored = is_serial(text) or (bool(sheet.tab) and text.startswith(day.isoformat()))
    order, other = other_day(text, day, is_stored=is_stored) or (None, None)
    return DatedRows(
        sheet=sheet.label,
        file=sheet.source,
        header=table.columns["date"].header,
        hand=hand,
        is_level=is_level,
        is_stored=is_stored,
        day=day,
        other=other,
        other_order=order,
        proves=day.day > MONTHS if is_stored else set(day_readings(split_day(text)[0])) in ({"dmy"}, {"mdy"}),
        rows=rows,
    )
