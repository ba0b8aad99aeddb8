"""The header row of a sheet, found among its first rows, and its columns.

Knows nothing of how a value is read.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from survey.errors import SourceRow
from survey.fieldbook.files.text_sheets import Sheet
from survey.fieldbook.remarks import Remarks, nearest
from survey.fieldbook.tables.headers import DEGREE_WORDS, Column, Table, header_parts, unit_in_header
from survey.units import normalised, unit_named

HEADER_WITHIN = 40
"""Rows among which the header is looked for: titles and notes may stand above it."""

PRIVATE = "private"
"""A header with this word in it belongs to the club alone."""

NAME = "name"
"""A header that means who plumbed, or the peg: the columns beside it tell."""

LEAST_PEGS = 3
_UNIT_ROW_WORDS = DEGREE_WORDS | {"dd/mm/yyyy", "mm/dd/yyyy", "yyyy-mm-dd", "dd/mm/yy", "hh:mm", "-", "text"}


def find_table(sheet: Sheet, vocabulary: Mapping[str, str], remarks: Remarks) -> Table | None:
    """The header row of a sheet and its columns; None if no row looks like a header."""
    meaning = {NAME: ""} | {word: name for name, words in vocabulary.items() for word in words.split(", ")}
    best, known = max(
        ((index, _known(row, meaning)) for index, row in enumerate(sheet.rows[:HEADER_WITHIN])),
        key=lambda found: (len(found[1]), -found[0]),
        default=(0, []),
    )
    if len(known) < 2:  # noqa: PLR2004 - one word alone may be a title
        return None
    _decide_name(sheet, best, meaning, vocabulary, remarks)
    known = _known(sheet.rows[best], meaning)
    first = best + 1
    units_row = sheet.rows[first] if first < len(sheet.rows) and _is_units_row(sheet.rows[first]) else ()
    columns = _columns(sheet, best, meaning, units_row)
    first += bool(units_row)
    table = Table(sheet, _without_doubles(columns, sheet, best, first, remarks), best, first)
    _tell_unknown(table, known, list(meaning), remarks)
    return table


def _decide_name(
    sheet: Sheet, header: int, meaning: dict[str, str], vocabulary: Mapping[str, str], remarks: Remarks
) -> None:
    """Give a column called Name the meaning that the columns beside it leave open, or none."""
    bases = [header_parts(cell)[0] for cell in sheet.rows[header]]
    beside = {meaning[base]: index for index, base in enumerate(bases) if base in meaning and base != NAME}
    open_for = [role for role in ("peg", "observer") if role in vocabulary and role not in beside]
    del meaning[NAME]
    if NAME not in bases or not open_for:
        return
    at = bases.index(NAME)
    if "observer" in vocabulary and "peg" in open_for and {"lon", "easting", "gridref"} & set(beside):
        # A position needs no peg, and a row with an unknown one is lost.
        open_for.remove("peg")
    if open_for:
        meaning[NAME] = open_for[0]
    names = [(_cell(row, beside["peg"]), _cell(row, at)) for row in _others(sheet, header)] if "peg" in beside else []
    why = "each peg has one name of its own" if names else "there is no column for pegs"
    if "observer" in vocabulary and "peg" in vocabulary and (not names or _goes_with_the_peg(names)):
        told = {"peg": "taken for the peg", "observer": "taken for who plumbed"}
        said = told[open_for[0]] if open_for else "left out"
        place = SourceRow(sheet.label, header + 1, sheet.rows[header][at].strip())
        remarks.note("name-column", place, f"{why}; this column was {said}", 'Head it "peg" or "observer".')


def _goes_with_the_peg(names: Sequence[tuple[str, str]]) -> bool:
    """Whether every peg has a name of its own and no other."""
    pairs = {(peg, name) for peg, name in names if peg and name}
    pegs, called = ({pair[k] for pair in pairs} for k in (0, 1))
    return len(pegs) >= LEAST_PEGS and len(pairs) == len(pegs) == len(called)


def _others(sheet: Sheet, header: int) -> tuple[tuple[str, ...], ...]:
    return sheet.rows[:header] + sheet.rows[header + 1 :]


def _known(row: tuple[str, ...], meaning: Mapping[str, str]) -> list[int]:
    return [index for index, cell in enumerate(row) if header_parts(cell)[0] in meaning]


def _is_units_row(row: tuple[str, ...]) -> bool:
    words = [normalised(cell).casefold().strip("()[]") for cell in row if cell.strip()]
    return any(unit_in_header(word) for word in words) and all(
        unit_in_header(word) or word in _UNIT_ROW_WORDS for word in words
    )


def _columns(
    sheet: Sheet, header: int, meaning: Mapping[str, str], units_row: tuple[str, ...]
) -> dict[str, list[Column]]:
    """Every column of each meaning."""
    found: dict[str, list[Column]] = {}
    for index, cell in enumerate(sheet.rows[header]):
        base, unit = header_parts(cell)
        if base in meaning:
            below = normalised(units_row[index]).casefold().strip("()[]") if index < len(units_row) else ""
            shown = cell.replace("\ufeff", "").replace("\u00a0", " ").strip()
            found.setdefault(meaning[base], []).append(
                Column(index, shown, base, unit or unit_in_header(below) or unit_named(base))
            )
    return found


def _without_doubles(
    found: dict[str, list[Column]], sheet: Sheet, header: int, first: int, remarks: Remarks
) -> dict[str, Column]:
    """One column for each meaning: two are a fault unless they agree in every row."""
    for columns in found.values():
        for other in columns[1:]:
            place = SourceRow(sheet.label, header + 1, other.header)
            both = f"columns {columns[0].shown} and {other.shown}"
            pairs = [(_cell(row, columns[0].index), _cell(row, other.index)) for row in sheet.rows[first:]]
            # A title above the header fills one cell; data that was sorted to there fill both.
            pairs += filter(
                all, ((_cell(row, columns[0].index), _cell(row, other.index)) for row in sheet.rows[:header])
            )
            same = (columns[0].base, columns[0].unit) == (other.base, other.unit) and all(a == b for a, b in pairs)
            if same:
                remarks.note("doubled-column", place, f"{both} are the same; the first is used")
            else:
                remarks.fault(place, f"{both} mean the same but differ", "Rename or delete one of them.")
    return {name: columns[0] for name, columns in found.items()}


def _cell(row: tuple[str, ...], index: int) -> str:
    return row[index].strip() if index < len(row) else ""


def _tell_unknown(table: Table, known: list[int], words: list[str], remarks: Remarks) -> None:
    for index, cell in enumerate(table.sheet.rows[table.header_index]):
        if cell.strip() and index not in known:
            place = SourceRow(table.sheet.label, table.header_index + 1, cell.strip())
            if PRIVATE in cell.casefold():
                remarks.note("private-column", place, "the column is marked private and is not read")
                continue
            hint = nearest(header_parts(cell)[0], words)
            tell = remarks.warning if hint else remarks.note
            tell("unknown-column", place, "the column is not recognised, so it was left out", hint.strip())
