"""Workbooks (XLSX, XLS, ODS) become sheets of texts: stored values, merged cells filled, dates in ISO form.

Knows nothing of what the columns mean.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from datetime import datetime, timedelta

import openpyxl
import python_calamine

from survey.errors import Place
from survey.fieldbook.cells import MAX_ROWS, Sheet, letter, without_controls
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.sources import Source

MAX_UNPACKED = 512 * 1024 * 1024
MAX_PARTS = 10_000
PROLOG = 64 * 1024
MAX_CELLS = 20_000_000
SPREADSHEET_EPOCH_YEARS = (1899, 1900, 1904)
"""A time without a day is stored as a moment on the day a spreadsheet counts from."""


def read_workbook(source: Source, remarks: Remarks) -> tuple[Sheet, ...]:
    """Every sheet of a workbook that holds something; faults where it cannot be opened."""
    packed = source.data.startswith(b"PK")
    if packed and not is_safe_archive(source, remarks):
        return ()
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(source.data))
        tables = [(name, book.get_sheet_by_name(name)) for name in book.sheet_names]
        grids = [(name, _grid(sheet, source, remarks)) for name, sheet in tables]
    except (python_calamine.CalamineError, OSError, ValueError) as trouble:
        remarks.fault(
            Place(source.name),
            f"the workbook cannot be opened ({trouble})",
            "Open it in a spreadsheet program and save it again, without a password, as XLSX or CSV.",
        )
        return ()
    if source.ending == ".ods":
        _tell_merged_ods(source, remarks)
    held = [(name, grid) for name, grid in grids if any(any(row) for row in grid)]
    unworked = _formulas_without_value(source) if packed else {}
    from_1904 = packed and _counts_from_1904(source)
    return tuple(
        Sheet(
            f'{source.name}, sheet "{name}"' if len(held) > 1 else source.name,
            source.name,
            name,
            grid,
            from_1904,
            frozenset(unworked.get(name, ())),
        )
        for name, grid in held
    )


def is_safe_archive(source: Source, remarks: Remarks) -> bool:
    """Whether a zipped file unpacks to a sane size and declares no XML entities; a fault if not."""
    try:
        with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
            parts = archive.infolist()
            if len(parts) > MAX_PARTS or sum(part.file_size for part in parts) > MAX_UNPACKED:
                remarks.fault(
                    Place(source.name),
                    "the file unpacks to far more than a survey holds",
                    "Save it anew, with its tables only.",
                )
                return False
            for part in parts:
                if part.filename.casefold().endswith((".xml", ".kml", ".rels")):
                    with archive.open(part) as stream:
                        if declares_entities(stream.read(PROLOG)):
                            remarks.fault(
                                Place(source.name),
                                "its XML declares entities, which are not read",
                                "Save it anew in the program it came from.",
                            )
                            return False
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError, EOFError) as trouble:
        remarks.fault(
            Place(source.name), f"the file is damaged or locked ({trouble})", "Save it again, without a password."
        )
        return False
    return True


def declares_entities(data: bytes) -> bool:
    """Whether an XML file declares entities or a document type, in whatever encoding."""
    squeezed = data.replace(b"\0", b"").upper()
    return b"<!ENTITY" in squeezed or b"<!DOCTYPE" in squeezed


def _grid(sheet: python_calamine.CalamineSheet, source: Source, remarks: Remarks) -> tuple[tuple[str, ...], ...]:
    """Cells as text from A1 on, merged ranges filled downward."""
    if sheet.total_height > MAX_ROWS or sheet.total_height * sheet.total_width > MAX_CELLS:
        remarks.fault(
            Place(source.name),
            f'sheet "{sheet.name}" has more than {MAX_ROWS} rows',
            "Take out formatted but empty rows, or split it.",
        )
        return ()
    place = Place(source.name)
    values = sheet.to_python(skip_empty_area=False)
    rows = [[without_controls(cell_text(value), place, remarks) for value in row] for row in values]
    filled = []
    for (top, left), (bottom, _) in sorted(sheet.merged_cell_ranges or ()):
        below = [r for r in range(top + 1, min(bottom + 1, len(rows))) if left < len(rows[r])]
        if top < len(rows) and left < len(rows[top]) and rows[top][left] and below:
            for r in below:
                rows[r][left] = rows[top][left]
            filled.append(f"{letter(left)}{top + 1}:{letter(left)}{below[-1] + 1}")
    if filled:
        remarks.note(
            "merged-cells",
            Place(source.name),
            f'sheet "{sheet.name}": merged cells count for each of their rows: {", ".join(filled)}',
        )
    return tuple(tuple(row) for row in rows)


def _tell_merged_ods(source: Source, remarks: Remarks) -> None:
    """Merged cells of an ODS are not known to the reader: their lower rows stay empty, which has to be said."""
    with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
        content = archive.read("content.xml")
    if re.search(rb'number-rows-spanned="(?!1")', content):
        remarks.warning(
            "merged-cells-unread",
            Place(source.name),
            "merged cells of an ODS workbook count for their first row only",
            "Unmerge them and fill every row, or save the workbook as XLSX.",
        )


def cell_text(value: object) -> str:
    """A stored value as a person would type it; dates in ISO form.

    Examples
    --------
    >>> cell_text(7.0), cell_text(0.1 + 0.2), cell_text("007"), cell_text(timedelta(hours=11, minutes=30))
    ('7', '0.3', '007', '11:30:00')
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:.15g}"
    if isinstance(value, datetime):
        timeless = value.year in SPREADSHEET_EPOCH_YEARS
        return value.time().isoformat("seconds") if timeless else value.isoformat(" ", "seconds")
    if isinstance(value, timedelta):
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        return f"{minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}"
    # A date and a time of day are in ISO form by themselves.
    return str(value).strip()


def _formulas_without_value(source: Source) -> dict[str, set[tuple[int, int]]]:
    """Row and column (from 1) of formulas that hold no value, by sheet."""
    with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
        sheets = [n for n in archive.namelist() if re.fullmatch(r"xl/worksheets/[^/]+\.xml", n)]
        if not any(re.search(rb"<f[ >/]", archive.read(name)) for name in sheets):
            return {}
    formulas = dict(_cells(source, values=False))
    values = dict(_cells(source, values=True))
    empty: dict[str, set[tuple[int, int]]] = {}
    for where, content in formulas.items():
        if content and values.get(where) is None:
            empty.setdefault(where[0], set()).add(where[1:])
    return empty


def _cells(source: Source, *, values: bool) -> Iterator[tuple[tuple[str, int, int], object]]:
    """Formula cells as formulas, or all stored values, by sheet, row and column."""
    book = openpyxl.load_workbook(io.BytesIO(source.data), read_only=True, data_only=values)
    try:
        for sheet in book.worksheets:
            for row in sheet.iter_rows():
                for cell in row:
                    if cell.value is not None and (values or cell.data_type == "f"):
                        yield (sheet.title, cell.row, cell.column), cell.value
    finally:
        book.close()


def _counts_from_1904(source: Source) -> bool:
    with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
        if "xl/workbook.xml" not in archive.namelist():
            return False
        return re.search(rb'date1904="(?:1|true)"', archive.read("xl/workbook.xml")) is not None
