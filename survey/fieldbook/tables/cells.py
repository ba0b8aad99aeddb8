"""One row's cells turned into values; what cannot be read rejects the row with a remedy.

Holds the rule for bare numbers: they take their column's unit, and a column without one is a fault.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar, cast

from survey.errors import ParseError, SourceRow
from survey.fieldbook.files.text_sheets import letter
from survey.fieldbook.remarks import Remarks, nearest
from survey.fieldbook.tables.headers import Column, Row, Table
from survey.records.declaration import Declaration
from survey.units import Length, Sizes, UndeclaredSizeError, normalised, read_length
from survey.units.lengths import in_unit

T = TypeVar("T")

UNIT_KEYS = {
    "depth": "depth",
    "hard depth": "depth",
    "margin depth": "depth",
    "sd": "depth",
    "distance": "distance",
    "setting": "setting",
    "tip": "tip",
    "hook height": "tip",
    "level": "level",
}
"""Columns of lengths, and the key under [units] that their bare numbers take."""
LONGEST = 100
"""Characters of a cell that holds a value."""
_ANGLES = ("clock", "angle", "bearing", "clock2", "angle2", "bearing2", "facing", "lon", "lat")
_SIZE_LINES = {"wrap": 'stick_spacing = "12 ft"', "rod": 'rod_length = "13 ft"', "section": 'pole_section = "1.5 m"'}
_USUAL_UNIT = {"distance": "yd", "tip": "in", "level": "m"}


@dataclass(frozen=True)
class Unread:
    """Why a cell cannot be used: code of the finding, problem and remedy."""

    code: str
    problem: str
    remedy: str


class CellReader:
    """Takes the cells of one sheet apart, each distinct text of a column once: most cells repeat.

    Parameters
    ----------
    units : mapping
        Unit of bare numbers by column, None where there is none.
    sizes : Sizes
    """

    def __init__(self, units: Mapping[str, str | None], sizes: Sizes) -> None:
        self.units = units
        self._sizes = sizes
        self._known: dict[tuple[str, str], object] = {}

    def read(self, name: str, text: str, reader: Callable[[str], T | Unread]) -> T | Unread:
        """A text through the reader of its column; one column has one reader."""
        found = self._known.get((name, text))
        if found is None:
            found = self._known[name, text] = _outcome(name, text, reader)
        return cast("T | Unread", found)

    def length(self, name: str, text: str) -> Length | Unread:
        """A length, with the unit it was written in."""
        return self.read(name, text, lambda written: self._length(name, written))

    def choice(self, name: str, text: str, words: Mapping[str, T]) -> T | Unread:
        """One of a closed set of words."""
        return self.read(name, text, lambda written: _word(name, written, words))

    def _length(self, name: str, text: str) -> Length | Unread:
        unit = self.units.get(name)
        if unit is None and not carries_unit(text) and re.search("[1-9]", text):
            remedy = f"Write it with one, or add to venue.toml: {unit_line(name)}."
            return Unread("unit-missing", "the number has no unit", remedy)
        return read_length(text, unit, self._sizes)


def _outcome(name: str, text: str, reader: Callable[[str], T | Unread]) -> T | Unread:
    try:
        return reader(text)
    except UndeclaredSizeError as trouble:
        return Unread("size-undeclared", str(trouble), size_line(trouble.unit))
    except ParseError as trouble:
        return Unread(f"{name.replace(' ', '-')}-unread", str(trouble), "Correct the cell.")


def _word(name: str, text: str, words: Mapping[str, T]) -> T | Unread:
    word = re.sub(r"[\s_.-]+", " ", text).strip().casefold()
    if word in words:
        return words[word]
    remedy = f"{nearest(word, list(words))} Write one of: {', '.join(_leading_words(words))}.".strip()
    return Unread(f"{name.replace(' ', '-')}-unknown", "the word is not known here", remedy)


class RowReader:
    """Reads the cells of one row.

    Parameters
    ----------
    row : Row
    cells : CellReader
        Of its sheet.
    remarks : Remarks
        Told of every cell that cannot be read.
    """

    def __init__(self, row: Row, cells: CellReader, remarks: Remarks) -> None:
        self.row = row
        self.rejected = False
        self.cells = cells
        self._remarks = remarks

    def reject(self, code: str, name: str, problem: str, remedy: str) -> None:
        """Say why the row cannot be used."""
        self.rejected = True
        self._remarks.error(code, self.row.place(name), problem, remedy, self.row.text(name)[:LONGEST])

    def has(self, name: str) -> bool:
        """Whether the cell holds something that can be used."""
        return bool(self.said(name))

    def said(self, name: str) -> str:
        """The cell's text; a formula without a stored value and a cell too long reject the row."""
        texts = self.row.table.texts.get(name)
        if texts is None:
            return ""
        if self.row.is_unworked(name):
            cell = f"{letter(self.row.table.columns[name].index)}{self.row.number}"
            remedy = "Open the workbook in a spreadsheet program and save it once."
            self.reject(
                "formula-without-value", name, f"cell {cell} holds a formula whose result was not stored", remedy
            )
            return ""
        text = texts[self.row.at]
        if len(text) > LONGEST:
            self.reject(
                "cell-too-long", name, f"the cell holds {len(text)} characters", "Put remarks in the note column."
            )
            return ""
        return text

    def read(self, name: str, reader: Callable[[str], T]) -> T | None:
        """A cell through a reader of texts; None where it is empty or cannot be read."""
        text = self.said(name)
        return self._taken(name, self.cells.read(name, text, reader)) if text else None

    def length(self, name: str) -> Length | None:
        """A length, with the unit it was written in."""
        text = self.said(name)
        return self._taken(name, self.cells.length(name, text)) if text else None

    def written(self, name: str, reader: Callable[[str], T | Unread]) -> T | None:
        """A cell that may say more than a length, through a reader that takes its words apart."""
        text = self.said(name)
        return self._taken(name, self.cells.read(f"{name} in words", text, reader)) if text else None

    def choice(self, name: str, words: Mapping[str, T]) -> T | None:
        """One of a closed set of words."""
        text = self.said(name)
        return self._taken(name, self.cells.choice(name, text, words)) if text else None

    def _taken(self, name: str, found: T | Unread) -> T | None:
        if isinstance(found, Unread):
            self.reject(found.code, name, found.problem, found.remedy)
            return None
        return found

    def metres(self, name: str, lowest: float, highest: float) -> float | None:
        """A length in metres; outside the limits the row is rejected."""
        found = self.within(name, lowest, highest)
        return None if found is None else found.metres

    def within(self, name: str, lowest: float, highest: float) -> Length | None:
        """A length, with the unit it was written in; outside the limits, in metres, the row is rejected."""
        found = self.length(name)
        return None if found is None else self.checked(name, found, lowest, highest)

    def checked(self, name: str, found: Length, lowest: float, highest: float) -> Length | None:
        """A length as it is; None, with the row rejected, where it lies outside the limits, in metres."""
        if lowest <= found.metres <= highest:
            return found
        given, least, most = (in_unit(one, found.unit) for one in (found.metres, lowest, highest))
        self.reject(
            f"{name.replace(' ', '-')}-out-of-range",
            name,
            f"{name} of {given}; it must be {least.split()[0]} to {most}",
            "Check the figure and unit against the bank sheet.",
        )
        return None


def _leading_words(words: Mapping[str, T]) -> list[str]:
    """The first word of each meaning."""
    leading: dict[T, str] = {}
    for word, meaning in words.items():
        leading.setdefault(meaning, word)
    return list(leading.values())


def plain_cell(text: str) -> str:
    """A cell in the form it has in any kind of file: figures without idle noughts, a day without its midnight.

    Examples
    --------
    >>> plain_cell("1.50"), plain_cell("2026-05-02 00:00:00"), plain_cell("09:05:00"), plain_cell(" A.  Mole")
    ('1.5', '2026-05-02', '9:05', 'a. mole')
    """
    body = normalised(text).casefold()
    if re.fullmatch(r"[-+]?\d{1,15}(?:[.,]\d{1,15})?", body):
        return f"{float(body.replace(',', '.')):.10g}"
    body = re.sub(r"(?<=\d)[ t]0?0:00(:00)?(\.0+)?$", "", body)
    time = re.fullmatch(r"0?(\d{1,2}:\d\d)(?::00)?", body)
    return time[1] if time else body


def carries_unit(text: str) -> bool:
    """Whether a length is written with a unit of its own."""
    return re.search(r"[a-z'\"]", re.sub(r"(?<=\d)e(?=[-+]?\d)", "", normalised(text).casefold())) is not None


def unit_line(name: str) -> str:
    """The line of ``venue.toml`` that gives a column's bare numbers their unit."""
    key = UNIT_KEYS[name]
    return f'[units] {key} = "{_USUAL_UNIT.get(key, "ft")}" (or "m")'


def size_line(unit: str) -> str:
    """What to add to ``venue.toml`` for a unit of undeclared size."""
    return f"Add to venue.toml: [units] {_SIZE_LINES[unit]}, with your figure, or write the length in metres or yards."


def column_units(table: Table, declared: Declaration, remarks: Remarks) -> dict[str, str | None]:
    """The unit that bare numbers take in each column of lengths.

    A column all of whose numbers are bare and without a unit is a fault, as is one in wraps, rod
    lengths or pole sections of undeclared size, or an angle in a unit of length.
    """
    units: dict[str, str | None] = {}
    for name, column in table.columns.items():
        place = SourceRow(table.sheet.label, table.header_index + 1, column.header)
        if name in _ANGLES and column.unit not in {None, "deg"}:
            remarks.fault(place, f"the column is in {column.unit}, but {name} is not a length", "Correct the header.")
        if name in UNIT_KEYS:
            units[name] = _length_unit(table, column, name, declared, remarks)
    return units


def _length_unit(table: Table, column: Column, name: str, declared: Declaration, remarks: Remarks) -> str | None:
    place = SourceRow(table.sheet.label, table.header_index + 1, column.header)
    unit = column.unit or declared.units.get(UNIT_KEYS[name])
    texts = table.distinct(name)
    bare = [text for text in texts if not carries_unit(text) and re.search("[1-9]", text)]
    if unit == "deg":
        remarks.fault(place, f"the column is in degrees, but {name} is a length", "Correct the header.")
        return None
    unsure = declared.is_unsure_of("units") or (name == "level" and declared.is_unsure_of("level"))
    carries = any(re.search(r"\d", text) and carries_unit(text) for text in texts)
    if unit is None and bare and not unsure and not carries:
        remarks.fault(
            place,
            "the numbers have no unit",
            f'Write it in the header, like "{name} (m)" or "{name} (ft)", or add to venue.toml: {unit_line(name)}.',
            bare[0],
        )
    if unit and bare and not unsure:
        try:
            declared.sizes.metres_per(unit)
        except UndeclaredSizeError as trouble:
            remarks.fault(place, str(trouble), size_line(unit))
    return unit


def note_mixed_decimals(table: Table, names: Iterable[str], remarks: Remarks) -> None:
    """A note for each column in which some numbers have a decimal comma and some a point."""
    for name in names:
        if name not in table.columns:
            continue
        marks = {mark for text in table.distinct(name) for mark in re.findall(r"(?<=\d)[,.](?=\d)", text)}
        if len(marks) > 1:
            remarks.note(
                "mixed-decimals",
                SourceRow(table.sheet.label, table.header_index + 1, table.columns[name].header),
                "some numbers have a decimal comma and some a point; both were read as decimals",
            )
