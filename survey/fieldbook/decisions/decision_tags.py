"""A decisions sheet with the tags of its readings written in, for a person to look at before anything is written.

Knows nothing of findings, and writes no file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from survey.errors import SurveyError
from survey.fieldbook.decisions.decisions_sheet import names_place
from survey.fieldbook.files.sources import BOOK_ENDINGS, Source
from survey.fieldbook.files.text_edits import with_cells
from survey.fieldbook.tables.headers import Row, Table
from survey.records.fieldbook import Decision

ADDED = ("tag", "said")
"""Columns added where the sheet has none."""


@dataclass(frozen=True)
class SheetChange:
    """A sheet before and after.

    Parameters
    ----------
    file : str
        Its name in the venue folder.
    before, after : str
        The same text where nothing is to be changed.
    old, new : bytes
        The file as it is, and as it would be.
    """

    file: str
    before: str
    after: str
    old: bytes
    new: bytes


def tags_written(source: Source, table: Table, decisions: Sequence[Decision]) -> SheetChange:
    """A decisions sheet with tags, what the readings say, and row numbers as they are now.

    Cells that hold a tag or say something are left alone, as are decisions that apply to no reading.

    Parameters
    ----------
    source : Source
    table : Table
        The sheet of that file.
    decisions : sequence of Decision
        Those that were read from it.

    Raises
    ------
    SurveyError
        The sheet is in a workbook, or cannot be changed without changing more.
    """
    of_row = {decided.place.row: decided for decided in decisions}
    wanted = {row.number: _wanted(row, of_row[row.number]) for row in table.rows if row.number in of_row}
    if source.ending in BOOK_ENDINGS:
        raise _in_a_workbook(table, wanted)
    lacking = [name for name in ADDED if name not in table.columns and any(name in cells for cells in wanted.values())]
    at = {name: column.index for name, column in table.columns.items()}
    at |= {name: table.width + k for k, name in enumerate(lacking)}
    headers = {(table.header_index + 1, at[name]): name for name in lacking}
    cells = {(row, at[name]): text for row, named in wanted.items() for name, text in named.items()}
    before, after, new = with_cells(source, headers | cells)
    return SheetChange(source.name, before, after, source.data, new)


def _wanted(row: Row, decided: Decision) -> dict[str, str]:
    """Cells of a decision that are to be filled or set right."""
    wanted = {
        name: text for name, text in zip(ADDED, (decided.tag, decided.said), strict=True) if text and not row.text(name)
    }
    if not names_place(row, decided.about):
        wanted |= {name: text for name, text in _where(decided).items() if row.text(name)}
    return wanted


def _where(decided: Decision) -> dict[str, str]:
    return {"sheet": decided.about.file, "row": str(decided.about.row)}


def _in_a_workbook(table: Table, wanted: Mapping[int, Mapping[str, str]]) -> SurveyError:
    lines = [
        f"  row {number}: {', '.join(f'{name} {text}' for name, text in cells.items())}"
        for number, cells in wanted.items()
        if cells
    ]
    return SurveyError(
        "\n".join(
            [
                f"{table.sheet.label} is in a workbook, and only text sheets (CSV) are written to. "
                + ("Write these into it yourself:" if lines else "Nothing is to be written."),
                *lines,
            ]
        )
    )
