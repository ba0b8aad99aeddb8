"""What the XML of an XLSX or ODS workbook holds beyond its values: reach, formulas without a value, merged cells.

Looked at before the sheets are opened, because a single cell far out would make a grid of thousands of millions.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree import ElementTree as ET
from xml.parsers import expat

from survey.fieldbook.files.sources import Source
from survey.fieldbook.files.text_sheets import MAX_COLUMNS, MAX_ROWS

CHUNK = 1 << 20
_FAR_REFERENCE = re.compile(
    rb"<(?:\w+:)?c\s[^>]*?\br\s*=\s*[\"']([A-Za-z]{1,5})(\d{1,9})[\"'](?:[^>]*[^/>])?>", re.DOTALL
)
_CELL = re.compile(rb"<(?:\w+:)?c\s([^>]*[^/>])>(.*?)</(?:\w+:)?c>", re.DOTALL)
_VALUE = re.compile(rb"<(?:\w+:)?v(?:\s[^>]*)?>[^<]|<(?:\w+:)?t[\s>]")
_REFERENCE = re.compile(rb"\br\s*=\s*[\"']([A-Za-z]{1,5})(\d{1,9})[\"']")
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_VALUES = ("value", "date-value", "time-value", "boolean-value", "string-value")


@dataclass
class SheetFacts:
    """Of one sheet.

    Parameters
    ----------
    height, width : int
        Rows and columns from A1 to the furthest cell that holds something.
    unworked : set of (int, int)
        Row and column (from 1) of formulas without a stored value.
    merged : list of (int, int, int)
        Row, column (from 0) and height of cells merged downward; ODS only.
    """

    height: int = 0
    width: int = 0
    unworked: set[tuple[int, int]] = field(default_factory=set)
    merged: list[tuple[int, int, int]] = field(default_factory=list)

    def reach(self, row: int, column: int) -> None:
        """Take note of a cell that holds something, row and column from 1."""
        self.height, self.width = max(self.height, row), max(self.width, column)


def facts_of(source: Source) -> dict[str, SheetFacts]:
    """Facts by sheet name; empty for formats that are not packed XML.

    Raises
    ------
    ValueError, KeyError
        If the XML is not that of a workbook.
    """
    with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
        if "content.xml" in archive.namelist():
            return _of_ods(archive)
        return {name: _of_xlsx_sheet(archive, part) for name, part in _xlsx_sheets(archive)}


def counts_from_1904(source: Source) -> bool:
    """Whether an XLSX counts its days from 1904."""
    with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
        if "xl/workbook.xml" not in archive.namelist():
            return False
        return re.search(rb'date1904="(?:1|true)"', archive.read("xl/workbook.xml")) is not None


def _xlsx_sheets(archive: zipfile.ZipFile) -> Iterator[tuple[str, str]]:
    """Name and part of each worksheet (ECMA-376, part 1, 18.2.19 and part 2, 9.3)."""
    if "xl/workbook.xml" not in archive.namelist():
        return
    parts = {
        link.get("Id"): link.get("Target", "")
        for link in _root(archive, "xl/_rels/workbook.xml.rels")
        if link.get("TargetMode") != "External"
    }
    for sheet in _root(archive, "xl/workbook.xml").iter():
        if sheet.tag.endswith("}sheet") or sheet.tag == "sheet":
            target = parts.get(next((v for k, v in sheet.items() if k.endswith("}id")), None), "")
            part = target.removeprefix("/") if target.startswith("/") else f"xl/{target}"
            if part in archive.namelist():
                yield sheet.get("name", ""), part


def _root(archive: zipfile.ZipFile, part: str) -> ET.Element:
    try:
        return ET.fromstring(archive.read(part))  # noqa: S314 - entities were refused before
    except ET.ParseError as trouble:
        raise ValueError(f"{part}: {trouble}") from trouble


def _of_xlsx_sheet(archive: zipfile.ZipFile, part: str) -> SheetFacts:
    facts, tail, has_formulas = SheetFacts(), b"", False
    with archive.open(part) as stream:
        # Beyond the limits nobody asks how far: the sheet is refused.
        while facts.height <= MAX_ROWS and facts.width <= MAX_COLUMNS and (chunk := stream.read(CHUNK)):
            piece = tail + chunk
            found = _FAR_REFERENCE.findall(piece)
            if found:
                columns, rows = zip(*found, strict=True)
                facts.reach(max(map(int, rows)), max(map(_column, set(columns))))
            has_formulas = has_formulas or re.search(rb"<(?:\w+:)?f[\s/>]", piece) is not None
            tail = piece[max(piece.rfind(b"<"), len(piece) - CHUNK) :]
    if has_formulas:
        for attributes, inside in _CELL.findall(archive.read(part)):
            where = _REFERENCE.search(attributes)
            if where and re.search(rb"<(?:\w+:)?f[\s/>]", inside) and not _VALUE.search(inside):
                facts.unworked.add((int(where[2]), _column(where[1])))
    return facts


def _column(letters: bytes) -> int:
    """Number of a column from 1.

    Examples
    --------
    >>> _column(b"A"), _column(b"AA"), _column(b"XFD")
    (1, 27, 16384)
    """
    number = 0
    for code in letters.upper():
        number = number * 26 + code - ord("A") + 1
    return number


def _of_ods(archive: zipfile.ZipFile) -> dict[str, SheetFacts]:
    walker = _OdsWalker()
    parser = expat.ParserCreate(namespace_separator="}")
    parser.StartElementHandler = walker.start
    parser.EndElementHandler = walker.end
    parser.CharacterDataHandler = walker.text
    try:
        with archive.open("content.xml") as stream:
            while chunk := stream.read(CHUNK):
                parser.Parse(chunk)
        parser.Parse(b"", True)
    except expat.ExpatError as trouble:
        raise ValueError(f"content.xml: {trouble}") from trouble
    return walker.sheets


class _OdsWalker:
    """Counts through the cells of content.xml (OASIS OpenDocument 1.2, part 1, chapter 9).

    Attributes and elements come as ``namespace}name``.
    """

    def __init__(self) -> None:
        self.sheets: dict[str, SheetFacts] = {}
        self._facts = SheetFacts()
        self._row = self._column = 0
        self._rows = self._columns = 1
        self._pending: dict[str, str] | None = None
        self._said = False

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        name = "{" + tag
        if name == f"{_TABLE}table":
            self._facts = self.sheets.setdefault(attributes.get(f"{_TABLE}name"[1:], ""), SheetFacts())
            self._row = 0
        elif name == f"{_TABLE}table-row":
            self._rows, self._column = _times(attributes, "number-rows-repeated"), 0
        elif name in {f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"}:
            self._columns = _times(attributes, "number-columns-repeated")
            self._pending, self._said = attributes, False

    def text(self, words: str) -> None:
        self._said = self._said or bool(words.strip())

    def end(self, tag: str) -> None:
        name = "{" + tag
        if name == f"{_TABLE}table-row":
            self._row += self._rows
        elif name in {f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"} and self._pending is not None:
            self._cell(self._pending)
            self._pending = None

    def _cell(self, attributes: dict[str, str]) -> None:
        has_value = any(f"{_OFFICE}{kind}"[1:] in attributes for kind in _VALUES) or self._said
        formula = f"{_TABLE}formula"[1:] in attributes
        if has_value or formula:
            self._facts.reach(self._row + self._rows, self._column + self._columns)
        if formula and not has_value:
            self._facts.unworked.add((self._row + 1, self._column + 1))
        spanned = _times(attributes, "number-rows-spanned")
        if spanned > 1:
            self._facts.merged.append((self._row, self._column, spanned))
        self._column += self._columns


def _times(attributes: dict[str, str], name: str) -> int:
    written = attributes.get(f"{_TABLE}{name}"[1:], "1")
    return int(written) if re.fullmatch(r"\d{1,9}", written) else 1
