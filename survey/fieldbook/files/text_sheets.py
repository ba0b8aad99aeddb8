"""A sheet as a table of texts under the row numbers a spreadsheet shows; text files become one here.

Knows nothing of what the columns mean.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass

from survey.errors import SourceRow
from survey.fieldbook.files.sources import Source
from survey.fieldbook.remarks import Remarks
from survey.units import normalised

SEPARATORS = (";", "\t", "|", ",")
MAX_ROWS = 200_000
MAX_COLUMNS = 1_000
MAX_CELLS = 8_000_000
LONGEST_LINE = 1 << 20
SNIFFED = 64 * 1024
_DIRECTIONS = (0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))
"""Marks of direction (Unicode UAX 9): they turn a name round unseen; letters keep the direction of their script."""
_UNSEEN = (0x200B, 0x2060, 0xFEFF)
"""Of no width: with one of them two names look alike and are not."""
_CONTROLS = {
    code: None for code in (*range(32), 127, 0xFFFE, 0xFFFF, *_DIRECTIONS, *_UNSEEN) if chr(code) not in "\t\n\r"
}


@dataclass(frozen=True)
class Sheet:
    """One sheet.

    Parameters
    ----------
    label : str
        How messages call it: the file, and the tab where a workbook has several.
    source : str
        File name.
    tab : str
        Name of the tab, empty for text files.
    rows : tuple of tuple of str
        Cells as text; rows[0] is spreadsheet row 1.
    from_1904 : bool
        Bare day numbers count from 1904.
    unworked : frozenset of (int, int)
        Row and column (from 1) of formulas without a stored value.
    """

    label: str
    source: str
    tab: str
    rows: tuple[tuple[str, ...], ...]
    from_1904: bool = False
    unworked: frozenset[tuple[int, int]] = frozenset()


def is_empty(text: str) -> bool:
    """Whether a cell is empty: blank, or only dashes.

    Examples
    --------
    >>> is_empty(" – "), is_empty("0")
    (True, False)
    """
    # Nearly every cell begins with a letter or a figure, and this is asked of every one many times.
    return not text[:1].isalnum() and not normalised(text).strip("- ")


def letter(column: int) -> str:
    """Spreadsheet letter of a column counted from 0.

    Examples
    --------
    >>> letter(0), letter(25), letter(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def read_text_sheet(source: Source, remarks: Remarks) -> Sheet | None:
    """A CSV file as a sheet; None with a fault where it is not one."""
    text = decoded(source, remarks)
    if text is None:
        return None
    if any(line.end() - line.start() > LONGEST_LINE for line in re.finditer(r"[^\r\n]+", text)):
        remarks.fault(
            SourceRow(source.name), "a line has more than a million characters", "Save the sheet again as CSV."
        )
        return None
    separator = separator_of(text)
    rows: list[tuple[str, ...]] = []
    cells = 0
    try:
        for record in csv.reader(io.StringIO(_undeclared(text), newline=""), delimiter=separator, strict=True):
            rows.append(tuple(record))
            cells += len(record)
            if len(rows) > MAX_ROWS or len(record) > MAX_COLUMNS or cells > MAX_CELLS:
                tell_too_large(SourceRow(source.name), remarks)
                return None
    except csv.Error as trouble:
        remarks.fault(
            SourceRow(source.name, len(rows) + 1),
            f"the row cannot be split into cells ({trouble})",
            'Look for a quotation mark " that is opened and not closed, or text after a closing one.',
        )
        return None
    return Sheet(source.name, source.name, "", tuple(rows))


def _undeclared(text: str) -> str:
    """The text without its declared separator, whose line stays empty: row numbers are those of the spreadsheet."""
    declared = _declared(text)
    return text[declared.end() - 1 :] if declared else text


def tell_too_large(place: SourceRow, remarks: Remarks) -> None:
    """The fault of a sheet that no survey fills."""
    remarks.fault(
        place,
        f"the sheet has more than {MAX_ROWS} rows, {MAX_COLUMNS} columns or {MAX_CELLS // 1_000_000} million cells",
        "Remove formatted but empty rows and columns, or split it into several files.",
    )


def decoded(source: Source, remarks: Remarks) -> str | None:
    """Text of a file: UTF-8, UTF-16 with its mark, else Windows-1252 and a note."""
    data = source.data
    try:
        encoding = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        remarks.note(
            "encoding-assumed",
            SourceRow(source.name),
            "the text is not UTF-8 and was read as Windows-1252",
            "Look at the names in it; if they are spoilt, save the sheet as CSV UTF-8.",
        )
    if "\0" in text:
        remarks.fault(SourceRow(source.name), "this is not a text file", "Save the sheet as CSV UTF-8 or XLSX.")
        return None
    return without_controls(text, SourceRow(source.name), remarks)


def without_controls(text: str, place: SourceRow, remarks: Remarks) -> str:
    """Text without characters that are invisible or not allowed in a document (XML 1.0, 2.2), with a note of any."""
    clean = text.translate(_CONTROLS)
    if clean != text:
        remarks.note(
            "control-characters",
            place,
            "control and invisible characters were removed",
        )
    return clean


def separator_of(text: str) -> str:
    """What separates the cells of a sheet: the mark it declares, else that on which most rows agree on a width."""
    declared = _declared(text)
    if declared:
        return declared[1]
    head = text[:SNIFFED]
    return max(SEPARATORS, key=lambda mark: _agreement(head, mark))


def _declared(text: str) -> re.Match[str] | None:
    return re.match(r"sep=(.)\r?\n", text)


def _agreement(head: str, separator: str) -> tuple[int, int]:
    try:
        widths = Counter(
            len(row) for row in csv.reader(io.StringIO(head, newline=""), delimiter=separator) if len(row) > 1
        )
    except csv.Error:
        return 0, 0
    return max(((count, width) for width, count in widths.items()), default=(0, 0))
