"""Example rows of a new venue: told by their mark, named, and never part of a survey.

A mark stands at the beginning of the note, with a tag of what the row said: a row that was changed is the club's own.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from survey.errors import SourceRow
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import plain_cell
from survey.fieldbook.tables.headers import Row, Table
from survey.records.tags import marked_tag, tag_of

MEANT = {
    "pegs": ("peg", "lon", "lat"),
    "readings": ("peg", "clock", "distance", "setting", "depth", "seen", "date", "time"),
    "levels": ("date", "time", "level"),
}
"""Columns of which a row's mark is made: with one of them changed the row is no example any more."""
NAMED = 30


def without_examples(tables: Sequence[Table], role: str, remarks: Remarks) -> list[Table]:
    """The tables without their example rows; every sheet that holds some is reported."""
    return [_without(table, role, remarks) for table in tables]


def example_tag(row: Row, role: str) -> str:
    """The tag an example row has in its mark."""
    return tag_of("|".join(_figures(row.text(name)) if name == "date" else _plain(row, name) for name in MEANT[role]))


def _plain(row: Row, name: str) -> str:
    return plain_cell(row.text(name))


def _figures(date: str) -> str:
    """The figures of a date in any order, since spreadsheets turn one order into another."""
    return " ".join(sorted(figure.lstrip("0") for figure in re.findall(r"\d+", plain_cell(date))))


def _without(table: Table, role: str, remarks: Remarks) -> Table:
    notes = ((row, marked_tag(row.text("note"))) for row in table.rows)
    marked = [(row, tag) for row, tag in notes if tag is not None]
    examples = [row for row, tag in marked if tag == example_tag(row, role)]
    if examples:
        _tell_left_out(table, examples, role, remarks)
    changed = [row for row, tag in marked if tag != example_tag(row, role)]
    if changed:
        remarks.warning(
            "example-mark",
            changed[0].place("note"),
            f"{_rows(changed)} marked EXAMPLE, but not as the example was, and counted as yours",
            "Delete the row if it is none of yours, otherwise take the mark out of its note.",
        )
    return replace(table, left_out=frozenset(row.number for row in examples)) if examples else table


def _tell_left_out(table: Table, examples: Sequence[Row], role: str, remarks: Remarks) -> None:
    place = SourceRow(table.sheet.label, examples[0].number)
    remedy = "Replace or delete them. A row is yours once you change it or take the mark EXAMPLE out of its note."
    if role == "pegs" and len(examples) == len(table.rows):
        remarks.fault(SourceRow(table.sheet.label), "all its pegs are examples, which are never used", remedy)
    remarks.warning("example-left-out", place, f"{_rows(examples)} an example and left out of the survey", remedy)


def _rows(rows: Sequence[Row]) -> str:
    """Which rows, as the beginning of a sentence."""
    if len(rows) == 1:
        return f"row {rows[0].number} is"
    numbers = ", ".join(str(row.number) for row in rows[:NAMED])
    more = f" and {len(rows) - NAMED} more" if len(rows) > NAMED else ""
    return f"{len(rows)} rows ({numbers}{more}) are each"
