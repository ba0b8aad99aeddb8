"""Single cells of a text sheet set anew, every other character left as it is.

Knows nothing of what the cells mean, and writes no file.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping

from survey.errors import SurveyError
from survey.fieldbook.files.sources import Source
from survey.fieldbook.files.text_sheets import separator_of

_CODECS = ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"), (b"\xef\xbb\xbf", "utf-8"), (b"", "utf-8"))

Cells = Mapping[tuple[int, int], str]
"""New texts by row, as a spreadsheet numbers it, and column from 0."""


def with_cells(source: Source, cells: Cells) -> tuple[str, str, bytes]:
    """A text sheet before and after some of its cells were set, and the bytes to write.

    Raises
    ------
    SurveyError
        The sheet cannot be changed without changing more than those cells.
    """
    mark, codec = _codec(source.data)
    try:
        before = source.data[len(mark) :].decode(codec)
    except UnicodeDecodeError as trouble:
        raise _unsafe(source) from trouble
    separator = separator_of(before)
    records = [
        _with(record, separator, {column: text for (row, column), text in cells.items() if row == number})
        for number, record in enumerate(_records(before, separator), start=1)
    ]
    after = "".join(records)
    if _grid(after, separator) != _expected(_grid(before, separator), cells):
        raise _unsafe(source)
    return before, after, mark + after.encode(codec)


def _codec(data: bytes) -> tuple[bytes, str]:
    mark, codec = next((mark, codec) for mark, codec in _CODECS if data.startswith(mark))
    try:
        data[len(mark) :].decode(codec)
    except UnicodeDecodeError:
        return b"", "cp1252"
    return mark, codec


def _unsafe(source: Source) -> SurveyError:
    return SurveyError(
        f"{source.name} cannot be changed safely, so it was left alone. Save it again as CSV UTF-8, then try again."
    )


def _grid(text: str, separator: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))


def _expected(grid: list[list[str]], cells: Cells) -> list[list[str]]:
    for (row, column), text in cells.items():
        padded = grid[row - 1] + [""] * (column + 1 - len(grid[row - 1]))
        grid[row - 1] = [*padded[:column], text, *padded[column + 1 :]]
    return grid


def _records(text: str, separator: str) -> Iterator[str]:
    """The rows of a sheet as they stand, each with its line end; a row may run over several lines."""
    lines = list(io.StringIO(text, newline=""))
    reader, begun = csv.reader(lines, delimiter=separator), 0
    for _ in reader:
        yield "".join(lines[begun : reader.line_num])
        begun = reader.line_num


def _with(record: str, separator: str, cells: Mapping[int, str]) -> str:
    if not cells:
        return record
    body = record.rstrip("\r\n")
    written = list(_written(body, separator))
    written += [""] * (max(cells) + 1 - len(written))
    for column, text in cells.items():
        quoted = text.replace('"', '""')
        written[column] = f'"{quoted}"' if re.search(rf'["\r\n{re.escape(separator)}]', text) else text
    return separator.join(written) + record[len(body) :]


def _written(body: str, separator: str) -> Iterator[str]:
    """The cells of a row with their quotation marks."""
    apart = re.escape(separator)
    cell = re.compile(rf'"(?:[^"]|"")*"[^{apart}]*|[^{apart}]*')
    at = 0
    while at <= len(body):
        found = cell.match(body, at)
        yield found[0] if found else ""
        at = (found.end() if found else at) + 1
