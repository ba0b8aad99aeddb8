"""Which sheets hold pegs, readings and levels, and their tables with the columns they need.

Knows nothing of the values in them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from survey.errors import SourceRow
from survey.fieldbook.files.sources import BOOK_ENDINGS, ROLES, Source, Sources
from survey.fieldbook.files.text_sheets import Sheet, read_text_sheet
from survey.fieldbook.files.waypoints import read_waypoints
from survey.fieldbook.files.workbooks import read_workbook
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.above import with_rows_above
from survey.fieldbook.tables.header_row import find_table
from survey.fieldbook.tables.headers import Table

Missing = Callable[[Iterable[str]], str]
"""Says which needed columns are not among those found; empty if all are there."""


class Tabs:
    """Every sheet of the venue, each file taken apart once."""

    def __init__(self, sources: Sources, remarks: Remarks) -> None:
        self._sources = sources
        self._remarks = remarks
        self._sheets: dict[str, tuple[Sheet, ...]] = {}

    def of(self, role: str) -> list[Sheet]:
        """Sheets for one role: its own files, else tabs of that name in any workbook."""
        own: tuple[Source, ...] = getattr(self._sources, role)
        if own:
            return [sheet for source in own for sheet in self._fitting(role, self._read(source))]
        books = {
            s.name: s
            for s in (*self._sources.readings, *self._sources.pegs, *self._sources.levels, *self._sources.books)
        }
        found = [
            sheet
            for name in sorted(books)
            if books[name].ending in BOOK_ENDINGS
            for sheet in self._read(books[name])
            if _is_called(role, sheet)
        ]
        if role != "readings" and len({sheet.source for sheet in found}) > 1:
            names = ", ".join(sheet.label for sheet in found)
            self._remarks.fault(
                SourceRow(found[0].source),
                f"more than one workbook has a sheet called {role}: {names}",
                f'Name the right one in venue.toml: [files] {role} = "...".',
            )
        return found

    def _read(self, source: Source) -> tuple[Sheet, ...]:
        if source.name not in self._sheets:
            if source.ending in BOOK_ENDINGS:
                self._sheets[source.name] = read_workbook(source, self._remarks)
            else:
                taken = read_waypoints if source.ending == ".gpx" else read_text_sheet
                sheet = taken(source, self._remarks)
                self._sheets[source.name] = (sheet,) if sheet else ()
        return self._sheets[source.name]

    @staticmethod
    def _fitting(role: str, sheets: Sequence[Sheet]) -> list[Sheet]:
        """Tabs called after the role, else all that are not called after another."""
        called = [sheet for sheet in sheets if _is_called(role, sheet)]
        return called or [
            sheet for sheet in sheets if not any(_is_called(other, sheet) for other in ROLES if other != role)
        ]


def _is_called(role: str, sheet: Sheet) -> bool:
    name = sheet.tab.strip().casefold()
    return name.startswith(role) if role == "readings" else name == role


def tables_of(
    sheets: Sequence[Sheet], vocabulary: Mapping[str, str], missing: Missing, remarks: Remarks
) -> list[Table]:
    """The tables among some sheets; a sheet that is none is a fault, beside others of its file a warning."""
    tables = []
    for sheet in sheets:
        if not any(cell.strip() for row in sheet.rows for cell in row):
            remarks.warning("sheet-empty", SourceRow(sheet.label), "the sheet is empty", "Fill it in, or remove it.")
            continue
        table = find_table(sheet, vocabulary, remarks)
        lacking = missing(table.columns if table else ())
        if table and not lacking:
            table = with_rows_above(table, remarks)
            tables.append(table)
            if not table.rows:
                remarks.warning(
                    "sheet-empty", table.place, "there is no row under the header", "Fill it in, or remove the sheet."
                )
            continue
        place = table.place if table else SourceRow(sheet.label)
        header = sheet.rows[table.header_index] if table else next((row for row in sheet.rows if any(row)), ())
        seen = ", ".join(cell.strip() for cell in header if cell.strip()) or "nothing"
        alone = sum(other.source == sheet.source for other in sheets) == 1
        tell = remarks.fault if alone else _warn(remarks)
        tell(
            place,
            f"the sheet has no {lacking}",
            f"Headers found: {seen}. Name the columns so, in one row above the figures.",
        )
    return tables


def _warn(remarks: Remarks) -> Callable[[SourceRow, str, str], None]:
    return lambda place, problem, remedy: remarks.warning("sheet-not-read", place, problem, remedy)


def note_empty_rows(table: Table, remarks: Remarks) -> None:
    """How many rows between the first and the last used row are empty."""
    numbers = [row.number for row in table.rows if row.number > table.first]
    left_out = sum(table.first < number < numbers[-1] for number in table.left_out) if numbers else 0
    empty = numbers[-1] - table.first - len(numbers) - left_out if numbers else 0
    if empty:
        remarks.note("empty-rows", SourceRow(table.sheet.label), f"{empty} empty row{'s' if empty > 1 else ''} ignored")
