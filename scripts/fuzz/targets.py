"""What guided fuzzing feeds: readers of one cell, and readers of whole files, each chosen by an input's first byte.

Packed formats get their inner XML: a wound in packed bytes seldom gets past the checksum.
"""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

from scripts.fuzz.readers import BASES, LIKELY, Readers
from survey.errors import ParseError
from survey.fieldbook.tables.headers import DECISION_COLUMNS, LEVEL_COLUMNS, PEG_COLUMNS, READING_COLUMNS, header_parts
from survey.fieldbook.tables.vocabulary import DISTANCE_BY, DISTANCE_FROM, METHODS, NORTHS, SEEN, USED
from survey.units import Sizes, read_angle, read_bearing, read_clock, read_length, read_number
from survey.units.coordinates import read_declination, read_degrees, read_gridref
from survey.units.dates import DateRules, is_serial
from survey.units.float_ratings import read_mark

SIZES = Sizes(wrap_m=3.6576)
ZONE = ZoneInfo("Europe/London")


def _moment(text: str) -> object:
    rules, (day, _, time) = DateRules("dmy", ZONE), text.partition("|")
    moment = rules.moment(day, time)
    return moment and rules.clocks_changed(moment, day, time)


CELLS: tuple[Callable[[str], object], ...] = (
    lambda text: read_length(text, "ft", SIZES),
    lambda text: read_length(text, None, SIZES),
    read_angle,
    read_bearing,
    read_clock,
    read_number,
    lambda text: read_degrees(text, "lon"),
    lambda text: read_degrees(text, "lat"),
    read_declination,
    read_gridref,
    _moment,
    is_serial,
    header_parts,
    read_mark,
)
"""Each gives a value or raises ``ParseError``."""


def _packed(parts: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return stream.getvalue()


def _parts(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


WORKBOOK = _parts(BASES["readings.xlsx"])
SHEET_PART = "xl/worksheets/sheet1.xml"
_NAMES = "".join(f' xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{n}:1.0"' for n in ("office", "table", "text"))
_CELL = '<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>'
_ODS_ROWS = "".join(
    f"<table:table-row>{''.join(map(_CELL.format, row.split(',')))}</table:table-row>"
    for row in ("peg,angle,distance (m),depth (m)", "1,0,10,1.2", "2,-5,12,1.5")
)
CONTENT = (
    f'<office:document-content{_NAMES}><office:body><office:spreadsheet><table:table table:name="S">{_ODS_ROWS}'
    "</table:table></office:spreadsheet></office:body></office:document-content>"
).encode()
OPEN_DOCUMENT = {
    "mimetype": b"application/vnd.oasis.opendocument.spreadsheet",
    "META-INF/manifest.xml": b"<manifest/>",
}

FILES: tuple[tuple[str, Callable[[bytes], bytes], bytes], ...] = (
    *((name, bytes, data) for name, data in sorted(BASES.items())),
    ("readings.xlsx", lambda data: _packed(WORKBOOK | {SHEET_PART: data}), WORKBOOK[SHEET_PART]),
    ("readings.xlsx", lambda data: _packed(WORKBOOK | {"xl/workbook.xml": data}), WORKBOOK["xl/workbook.xml"]),
    ("readings.ods", lambda data: _packed(OPEN_DOCUMENT | {"content.xml": data}), CONTENT),
    ("outline.kmz", lambda data: _packed({"doc.kml": data}), BASES["outline.kml"]),
)
"""File, how an input becomes its bytes, and a sound input."""


class Targets:
    """Every target over one folder."""

    def __init__(self, folder: Path) -> None:
        self.readers = Readers(folder)

    def give(self, data: bytes) -> None:
        """Feed one input: a byte that chooses the target, and what it is fed.

        Raises
        ------
        Exception
            Of any kind: the input is read neither way, by a value nor by a refusal in words.
        """
        if not data:
            return
        chosen, fed = data[0] % (len(CELLS) + len(FILES)), data[1:]
        if chosen < len(CELLS):
            try:
                CELLS[chosen](fed.decode("utf-8", "replace"))
            except ParseError as refused:
                if not str(refused).strip():
                    raise AssertionError("refused without a word") from refused
            return
        name, packed, _ = FILES[chosen - len(CELLS)]
        self.readers.give(name, packed(fed))


def seeds() -> list[bytes]:
    """Sound inputs for every target."""
    cells = [bytes([k]) + text.encode() for k in range(len(CELLS)) for text in LIKELY.split("|")]
    return cells + [bytes([len(CELLS) + k]) + sound for k, (_, _, sound) in enumerate(FILES)]


def write_seeds(folder: Path) -> None:
    """The seeds as files, as a fuzzer takes them."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(seeds()):
        (folder / f"seed-{number:04d}").write_bytes(seed)


def words() -> str:
    """Words that the readers know, to be put into inputs; in the form of libFuzzer's dictionaries."""
    columns = (READING_COLUMNS, PEG_COLUMNS, LEVEL_COLUMNS, DECISION_COLUMNS)
    spelled = {word for known in columns for spellings in known.values() for word in spellings.split(", ")}
    spelled |= {word for known in (SEEN, METHODS, DISTANCE_BY, DISTANCE_FROM, NORTHS, USED) for word in known}
    spelled |= set(filter(None, LIKELY.split("|")))
    escaped = ("".join(map("\\x{:02x}".format, word.encode())) for word in sorted(spelled))
    return "".join(f'"{word}"\n' for word in escaped)


def targets() -> Targets:
    """Targets over a folder of their own, which lasts as long as the process."""
    return Targets(Path(tempfile.mkdtemp(prefix="fuzz-")))
