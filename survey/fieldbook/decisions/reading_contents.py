"""What each row of a readings sheet says, in one form however it was written: by this a reading is known again.

The sheet's name, the row's number, the order of columns and the kind of file have no part in it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from survey.errors import ParseError, SourceRow
from survey.fieldbook.tables.cells import LONGEST, UNIT_KEYS, CellReader, Unread, plain_cell
from survey.fieldbook.tables.headers import Table
from survey.fieldbook.tables.position_columns import READERS
from survey.fieldbook.tables.vocabulary import DISTANCE_FROM, HEADER_NORTHS, NORTHS, SEEN
from survey.units import Length, read_angle, read_bearing, read_clock
from survey.units.coordinates import read_gridref
from survey.units.dates import DateRules

Meaning = Callable[[str], str]

NAMES = ("peg", "peg2")
BEARINGS = ("bearing", "bearing2")
SAYS = (
    *("peg", "clock", "angle", "bearing", "peg2", "clock2", "angle2", "bearing2"),
    *("lon", "lat", "easting", "northing", "gridref", "distance", "distance from"),
    *("setting", "float", "seen", "tip", "hook height", "depth", "date", "observer"),
)
"""Columns by which a reading is known: where, how deep, when, who."""
WRITTEN = (*SAYS[:-1], "time", SAYS[-1])
BESIDE = ("distance by", "direction by", "position by", "hard depth", "method", "bottom", "use", "sd", "note")
"""Columns that tell readings apart only where they say the same in all of ``SAYS``."""


@dataclass(frozen=True)
class Contents:
    """What one row says.

    Parameters
    ----------
    place : SourceRow
    said, beside : str
        Its cells of ``SAYS`` and ``BESIDE``, in one form.
    written : str
        The cells of ``SAYS`` as written, for messages.
    """

    place: SourceRow
    said: str
    beside: str
    written: str


@dataclass(frozen=True)
class ContentRules:
    """How the cells of one sheet are read; ``pegs`` are the painted names of those it names."""

    cells: CellReader
    dates: DateRules
    pegs: Mapping[str, str]


def contents_of(table: Table, rules: ContentRules) -> list[Contents]:
    """What every row of a sheet says, by row."""
    columns = {name: _column(table, name, rules) for name in SAYS if name in table.columns or name == "date"}
    beside = {name: [plain_cell(text) for text in table.texts[name]] for name in BESIDE if name in table.columns}
    shown = {name: table.labels[name] for name in WRITTEN if name in table.columns}
    headers = {name: table.columns[name].header.casefold() for name in shown}
    return [
        Contents(
            row.place(),
            _joined(columns, row.at),
            _joined(beside, row.at),
            ", ".join(f"{headers[name]} {cells[row.at][:LONGEST]}" for name, cells in shown.items() if cells[row.at]),
        )
        for row in table.rows
    ]


def _joined(columns: Mapping[str, Sequence[str]], at: int) -> str:
    return "|".join(f"{name}={cells[at]}" for name, cells in columns.items() if cells[at])


def _column(table: Table, name: str, rules: ContentRules) -> list[str]:
    """The cells of a column in one form; a date with its time, a bearing with its north."""
    blank = ("",) * len(table.rows)
    texts = table.labels[name] if name in NAMES else table.texts.get(name, blank)
    if name == "date":
        return _paired(texts, table.texts.get("time", blank), lambda day, time: _moment(day, time, rules.dates))
    if name in BEARINGS:
        header = HEADER_NORTHS.get(table.columns[name].base, "")
        return _paired(
            texts, table.texts.get("north", blank), lambda text, north: _bearing(name, text, north or header, rules)
        )
    meaning = _meaning(name, rules)
    known = {text: meaning(text) if text else "" for text in set(texts)}
    return [known[text] for text in texts]


def _paired(first: Sequence[str], second: Sequence[str], meaning: Callable[[str, str], str]) -> list[str]:
    pairs = list(zip(first, second, strict=True))
    known = {pair: meaning(*pair) if any(pair) else "" for pair in set(pairs)}
    return [known[pair] for pair in pairs]


def _moment(day: str, time: str, dates: DateRules) -> str:
    try:
        moment = dates.moment(day, time)
    except ParseError:
        moment = None
    if moment is None:
        return f"{plain_cell(day)} {plain_cell(time)}"
    return moment.day if moment.half_width else moment.instant.isoformat()


def _bearing(name: str, text: str, north: str, rules: ContentRules) -> str:
    found = rules.cells.read(name, text, read_bearing) if 0 < len(text) <= LONGEST else None
    if found is None or isinstance(found, Unread):
        return plain_cell(text)
    degrees, lettered = found
    return f"{_figures(degrees, 2)} {lettered or NORTHS.get(north.casefold(), plain_cell(north))}"


def _meaning(name: str, rules: ContentRules) -> Meaning:
    """The one form of a column's cells; what cannot be read stands for itself."""

    def said(text: str) -> str:
        found = _value(name, text, rules) if len(text) <= LONGEST else None
        return plain_cell(text) if found is None or isinstance(found, Unread) else found

    return said


def _value(name: str, text: str, rules: ContentRules) -> str | Unread | None:  # noqa: PLR0911 - one a kind of column
    cells = rules.cells
    if name in NAMES:
        return rules.pegs.get(text)
    if name in UNIT_KEYS:
        length = cells.length(name, text)
        return f"{length.metres * 1000:.0f} mm" if isinstance(length, Length) else length
    if name.startswith("clock"):
        face = cells.read(name, text, read_clock)
        return face if isinstance(face, Unread) else _figures(face.angle_deg, 2)
    if name.startswith("angle"):
        angle = cells.read(name, text, read_angle)
        return angle if isinstance(angle, Unread) else _figures(angle, 2)
    if name in READERS:
        place = cells.read(name, text, READERS[name])
        return place if isinstance(place, Unread) else _figures(place, 7)
    if name == "gridref":
        square = cells.read(name, text, read_gridref)
        return square if isinstance(square, Unread) else " ".join(_figures(one, 1) for one in square)
    if name == "seen":
        seen = cells.choice(name, text, SEEN)
        return seen if isinstance(seen, Unread) else seen.value
    return cells.choice(name, text, DISTANCE_FROM) if name == "distance from" else None


def _figures(value: float, places: int) -> str:
    return f"{value + 0.0:.{places}f}"
