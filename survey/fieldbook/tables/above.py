"""Rows that stand above a header and look like data: a header that was sorted with its rows comes to lie among them.

Knows nothing of what the values are for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from zoneinfo import ZoneInfo

from survey.errors import ParseError, SourceRow
from survey.fieldbook.files.text_sheets import is_empty
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import LONGEST, UNIT_KEYS
from survey.fieldbook.tables.headers import Column, Table
from survey.fieldbook.tables.position_columns import READERS
from survey.units import Sizes, read_angle, read_bearing, read_clock, read_length
from survey.units.coordinates import read_gridref
from survey.units.dates import ORDERS, DateRules, read_time

MOST = 0.6
"""Share of a row's filled cells, in columns of values, that must hold values (ours)."""
LEAST = 2
NAMED = 12

_SIZES = Sizes(1.0, 1.0, 1.0)
_RULES = [DateRules(order, ZoneInfo("UTC")) for order in ORDERS]
_VALUES: dict[str, Callable[[str], object]] = {
    **READERS,
    **dict.fromkeys(("clock", "clock2"), read_clock),
    **dict.fromkeys(("angle", "angle2"), read_angle),
    **dict.fromkeys(("bearing", "bearing2", "facing"), read_bearing),
    "gridref": read_gridref,
    "time": read_time,
}


def with_rows_above(table: Table, remarks: Remarks) -> Table:
    """The table with the rows above its header that look like data, each of them told.

    They are read under the header unless a row among them may be a header of their own; then they are errors.
    """
    rows = table.sheet.rows
    held = [index for index in range(table.header_index) if any(not is_empty(cell) for cell in rows[index])]
    first = next((index for index in held if _looks_like_data(rows[index], table)), None)
    if first is None:
        return table
    numbers = tuple(index + 1 for index in held if index >= first)
    rival = next((index + 1 for index in held if _looks_like_a_header(rows[index])), None)
    place = SourceRow(table.sheet.label, numbers[0])
    said = f"{_rows(numbers)} above the header in row {table.header_index + 1} and look{'s' * (len(numbers) == 1)}"
    if rival is None:
        remarks.warning(
            "rows-above-header",
            place,
            f"{said} like data; read under that header",
            "Move the header to the top: it may have been sorted with the rows.",
        )
        return replace(table, above=numbers)
    remarks.error(
        "rows-above-header",
        place,
        f"{said} like data, but row {rival} may be a header of their own; not read",
        "Move the header to the top, or put the rows into a sheet of their own.",
        rows=numbers[1:],
    )
    return replace(table, unread=numbers)


def _rows(numbers: tuple[int, ...]) -> str:
    if len(numbers) == 1:
        return f"row {numbers[0]} stands"
    shown = ", ".join(map(str, numbers[:NAMED])) + (f" and {len(numbers) - NAMED} more" if len(numbers) > NAMED else "")
    return f"{len(numbers)} rows ({shown}) stand"


def _looks_like_data(cells: tuple[str, ...], table: Table) -> bool:
    """Whether most cells under columns of values hold such values, and enough of them."""
    wanted = {name: column for name, column in table.columns.items() if name in {*_VALUES, *UNIT_KEYS, "date"}}
    filled = [(name, column, text) for name, column in wanted.items() if (text := _text(cells, column))]
    values = sum(_is_value(name, text, column.unit) for name, column, text in filled)
    return 0 < min(LEAST, len(wanted)) <= values and values >= MOST * len(filled)


def _text(cells: tuple[str, ...], column: Column) -> str:
    cell = cells[column.index].strip() if column.index < len(cells) else ""
    return "" if is_empty(cell) else cell[:LONGEST]


def _is_value(name: str, text: str, unit: str | None) -> bool:
    if name == "date":
        return any(_reads(partial(rules.moment, time_text=""), text) for rules in _RULES)
    return _reads((lambda cell: read_length(cell, unit or "m", _SIZES)) if name in UNIT_KEYS else _VALUES[name], text)


def _reads(reader: Callable[[str], object], text: str) -> bool:
    try:
        reader(text)
    except (ParseError, OverflowError):
        return False
    return True


def _looks_like_a_header(cells: tuple[str, ...]) -> bool:
    """Whether a row holds words alone, and several."""
    texts = [cell for cell in cells if not is_empty(cell)]
    return len(texts) >= LEAST and not any(letter.isdigit() for text in texts for letter in text)
