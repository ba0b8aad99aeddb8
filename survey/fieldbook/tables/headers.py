"""Which column of a sheet means what: its header and unit, and the rows under it.

Holds the vocabulary of the four kinds of sheet. Knows nothing of how a value is read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

from survey.errors import SourceRow
from survey.fieldbook.files.text_sheets import Sheet, is_empty, letter
from survey.units import normalised, unit_named

LONGEST = 80
"""Characters of a header; what is longer is a remark."""

READING_COLUMNS = {
    "peg": "peg, peg no, peg number, peg name, swim",
    "clock": "clock, clock face, o'clock",
    "angle": "angle, cast angle",
    "bearing": "bearing, true bearing, magnetic bearing, grid bearing, "
    "bearing (true), bearing (magnetic), bearing (grid), compass bearing",
    "north": "north",
    "peg2": "peg2, peg 2, second peg, other peg",
    "clock2": "clock2, clock 2",
    "angle2": "angle2, angle 2",
    "bearing2": "bearing2, bearing 2",
    "lon": "lon, long, longitude, lng",
    "lat": "lat, latitude",
    "easting": "easting, eastings",
    "northing": "northing, northings",
    "gridref": "gridref, grid ref, grid reference, os grid ref, ngr",
    "distance": "distance, dist, range, wraps, rod lengths, pole sections, yards",
    "distance by": "distance by",
    "distance from": "distance from",
    "direction by": "direction by",
    "position by": "position by",
    "setting": "setting, float setting",
    "float": "float, float name",
    "seen": "seen, what was seen, float seen",
    "tip": "tip, tip showing, tip seen",
    "depth": "depth, water depth",
    "hook height": "hook height",
    "hard depth": "hard depth, hard bed depth, depth hard",
    "date": "date, day",
    "time": "time",
    "method": "method",
    "observer": "observer, by, who, plumbed by, plumber, angler, read by, taken by, measured by, recorded by",
    "bottom": "bottom, bottom type, bottom felt",
    "use": "use, used",
    "sd": "sd, depth sd",
    "note": "note, notes, comment, comments, remark, remarks",
}
PEG_COLUMNS = {
    name: READING_COLUMNS[name]
    for name in ("peg", "lon", "lat", "easting", "northing", "gridref", "position by", "note")
} | {
    "facing": "facing, straight out, faces",
    "aliases": "aliases, alias, other names, also called",
    "access": "access",
    "status": "status",
    "margin depth": "margin depth",
}
LEVEL_COLUMNS = {
    "date": READING_COLUMNS["date"],
    "time": READING_COLUMNS["time"],
    "level": "level, water level, reading, board, dip",
    "note": READING_COLUMNS["note"],
    "observer": READING_COLUMNS["observer"],
}
DECISION_COLUMNS = {
    "code": "code, finding",
    "sheet": "sheet, file",
    "row": "row",
    "tag": "tag, reading, reading tag",
    "said": "said, what it said",
    "decision": "decision, answer, decided",
    "observer": READING_COLUMNS["observer"] + ", decided by",
    "date": READING_COLUMNS["date"],
    "note": READING_COLUMNS["note"] + ", why, reason",
}
DEGREE_WORDS = frozenset({"°", "deg", "degs", "degree", "degrees"})


@dataclass(frozen=True)
class Column:
    """A column in use.

    Parameters
    ----------
    index : int
        From 0.
    header : str
        As written.
    base : str
        Header without unit, in lower case: tells "magnetic bearing" from "true bearing".
    unit : str or None
        Unit of its bare numbers where header or units row says one.
    """

    index: int
    header: str
    base: str
    unit: str | None

    @property
    def shown(self) -> str:
        """Header and spreadsheet letter, for messages."""
        return f"{self.header} ({letter(self.index)})"


@dataclass(frozen=True, slots=True)
class Row:
    """One row that holds something: ``at`` counts those from 0, ``number`` is the spreadsheet's."""

    table: Table
    at: int
    number: int

    @property
    def cells(self) -> tuple[str, ...]:
        """All cells, as they are."""
        return self.table.sheet.rows[self.number - 1]

    def text(self, name: str) -> str:
        """The cell of a column, stripped; empty where there is no such column or the cell is empty."""
        texts = self.table.texts.get(name)
        return texts[self.at] if texts else ""

    def label(self, name: str) -> str:
        """A name exactly as typed, trimmed: nothing counts as missing but a blank."""
        labels = self.table.labels.get(name)
        return labels[self.at] if labels else ""

    def place(self, name: str = "") -> SourceRow:
        """Where the row, or one cell of it, stands."""
        column = self.table.columns.get(name)
        return SourceRow(self.table.sheet.label, self.number, column.header if column else name)

    def is_unworked(self, name: str) -> bool:
        """Whether the cell is a formula whose value was never stored."""
        unworked = self.table.sheet.unworked
        return (
            bool(unworked)
            and name in self.table.columns
            and ((self.number, self.table.columns[name].index + 1) in unworked)
        )


@dataclass(frozen=True, eq=False)
class Table:
    """A sheet whose columns are known; ``first`` is the index of the first row under the header.

    ``above`` and ``unread`` number rows above it that are read as well, or cannot be; rows whose numbers are in
    ``left_out`` count as if they were not there.

    Columns are taken out whole, and each distinct cell is looked at once: most cells repeat.
    """

    sheet: Sheet
    columns: Mapping[str, Column]
    header_index: int
    first: int
    above: tuple[int, ...] = ()
    unread: tuple[int, ...] = ()
    left_out: frozenset[int] = frozenset()

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Rows that hold something, in order."""
        unworked = {number for number, _ in self.sheet.unworked}
        below = enumerate(self.sheet.rows[self.first :], start=self.first + 1)
        held = [number for number, cells in below if "".join(cells).strip() or number in unworked]
        numbers = (number for number in (*self.above, *held) if number not in self.left_out)
        return tuple(Row(self, at, number) for at, number in enumerate(numbers))

    @cached_property
    def texts(self) -> Mapping[str, tuple[str, ...]]:
        """Of each column, the text of its cells, by row: stripped, empty where a cell is empty."""
        return {name: self._column(name, _said) for name in self.columns}

    @cached_property
    def labels(self) -> Mapping[str, tuple[str, ...]]:
        """Of each column, its cells as typed, by row: trimmed, empty only where they are blank."""
        return {name: self._column(name, _typed) for name in self.columns}

    def _column(self, name: str, meaning_of: Callable[[str], str]) -> tuple[str, ...]:
        index, rows = self.columns[name].index, self.sheet.rows
        column = [cells[index] if index < len(cells) else "" for cells in (rows[row.number - 1] for row in self.rows)]
        known = {cell: meaning_of(cell) for cell in set(column)}
        return tuple(known[cell] for cell in column)

    def distinct(self, name: str) -> list[str]:
        """The texts of a column's cells, each once, in order of the rows; blanks left out."""
        return [text for text in dict.fromkeys(self.texts.get(name, ())) if text]

    @property
    def place(self) -> SourceRow:
        """The header row."""
        return SourceRow(self.sheet.label, self.header_index + 1)

    @property
    def width(self) -> int:
        """Cells of the header row."""
        return len(self.sheet.rows[self.header_index])


def _said(cell: str) -> str:
    value = cell.strip()
    return "" if is_empty(value) else value.replace("\u00a0", " ")


def _typed(cell: str) -> str:
    return cell.replace("\u00a0", " ").strip()


def header_parts(header: str) -> tuple[str, str | None]:
    """The name in lower case and the unit a header carries.

    Examples
    --------
    >>> header_parts(" Depth (ft)"), header_parts("distance_m"), header_parts("ANGLE_deg"), header_parts("note")
    (('depth', 'ft'), ('distance', 'm'), ('angle', 'deg'), ('note', None))
    """
    words = re.sub(r"[\s_]+", " ", normalised(header[:LONGEST].replace("\ufeff", "")).casefold()).strip(" :.")
    bracket = re.fullmatch(r"(.+?) ?[(\[/] ?([^)\]]+?) ?[)\]]?", words)
    if bracket and unit_in_header(bracket[2]):
        return bracket[1], unit_in_header(bracket[2])
    tail = re.fullmatch(r"(.+?) (?:in )?((?:pole |rod )?\S+)", words)
    if tail and unit_in_header(tail[2]):
        return tail[1], unit_in_header(tail[2])
    return words, None


def unit_in_header(word: str) -> str | None:
    """The unit a word of a header names, None if it names none."""
    return "deg" if word in DEGREE_WORDS else unit_named(word)
