"""Workbooks (XLSX, XLS, ODS) become sheets of texts: stored values, merged cells filled, dates in ISO form.

Knows nothing of what the columns mean.
"""

from __future__ import annotations

import io
from datetime import datetime, timedelta

import python_calamine

from survey.errors import SourceRow
from survey.fieldbook.files.archives import is_safe_archive
from survey.fieldbook.files.sources import ROLES, Source
from survey.fieldbook.files.text_sheets import (
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_ROWS,
    Sheet,
    letter,
    tell_too_large,
    without_controls,
)
from survey.fieldbook.files.workbook_xml import SheetFacts, counts_from_1904, facts_of
from survey.fieldbook.remarks import Remarks

_Grid = tuple[tuple[str, ...], ...]

SPREADSHEET_EPOCH_YEARS = (1899, 1900, 1904)
"""A time without a day is stored as a moment on the day a spreadsheet counts from."""


def read_workbook(source: Source, remarks: Remarks) -> tuple[Sheet, ...]:
    """Every sheet of a workbook that holds something; faults where it cannot be opened."""
    packed = source.data.startswith(b"PK")
    if packed and not is_safe_archive(source, remarks):
        return ()
    try:
        facts = facts_of(source) if packed else {}
        if not all(_is_sane(name, fact.height, fact.width, source, remarks) for name, fact in facts.items()):
            return ()
        grids = _grids(source, facts, remarks)
    except (python_calamine.CalamineError, OSError, ValueError, LookupError) as trouble:
        _tell_unopened(source, str(trouble), remarks)
        return ()
    except BaseException as trouble:
        # The library gives up on some broken files in a way of its own, outside the family of errors.
        if type(trouble).__name__ != "PanicException":
            raise
        _tell_unopened(source, "its inside is broken", remarks)
        return ()
    held = [(name, grid) for name, grid in grids if any(any(row) for row in grid)]
    _tell_empty({name for name, _ in grids} - {name for name, _ in held}, source, remarks, alone=not held)
    from_1904 = packed and counts_from_1904(source)
    return tuple(
        Sheet(
            f'{source.name}, sheet "{name}"' if len(held) > 1 else source.name,
            source.name,
            name,
            grid,
            from_1904,
            frozenset(facts[name].unworked if name in facts else ()),
        )
        for name, grid in held
    )


def _tell_empty(names: set[str], source: Source, remarks: Remarks, *, alone: bool) -> None:
    """Name empty sheets, unless they are the spare ones every new workbook has."""
    for name in sorted(names):
        if alone or name.strip().casefold().startswith(ROLES):
            place = SourceRow(f'{source.name}, sheet "{name}"')
            remarks.warning("sheet-empty", place, "the sheet is empty", "Fill it in, or remove it.")


def _tell_unopened(source: Source, why: str, remarks: Remarks) -> None:
    remarks.fault(
        SourceRow(source.name),
        f"the workbook cannot be opened ({why})",
        "Open it in a spreadsheet program and save it again, without a password, as XLSX or CSV.",
    )


def _is_sane(name: str, height: int, width: int, source: Source, remarks: Remarks) -> bool:
    if height <= MAX_ROWS and width <= MAX_COLUMNS and height * width <= MAX_CELLS:
        return True
    tell_too_large(SourceRow(f'{source.name}, sheet "{name}"'), remarks)
    return False


def _grids(source: Source, facts: dict[str, SheetFacts], remarks: Remarks) -> list[tuple[str, _Grid]]:
    book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(source.data))
    grids = []
    for name in book.sheet_names:
        sheet = book.get_sheet_by_name(name)
        if _is_sane(name, sheet.total_height, sheet.total_width, source, remarks):
            grids.append((name, _grid(sheet, facts.get(name, SheetFacts()), source, remarks)))
    return grids


def _grid(sheet: python_calamine.CalamineSheet, facts: SheetFacts, source: Source, remarks: Remarks) -> _Grid:
    """Cells as text from A1 on, merged ranges filled downward."""
    place = SourceRow(source.name)
    known: dict[str, str] = {}

    def text_of(value: object) -> str:
        """Words repeat, and are looked through once; figures are plain by themselves."""
        if not isinstance(value, str):
            return cell_text(value)
        if value not in known:
            known[value] = without_controls(cell_text(value), place, remarks)
        return known[value]

    rows = [[text_of(value) for value in row] for row in sheet.to_python(skip_empty_area=False)]
    ranges = [(top, left, bottom) for (top, left), (bottom, _) in sheet.merged_cell_ranges or ()]
    ranges += [(top, left, top + height - 1) for top, left, height in facts.merged]
    filled = []
    for top, left, bottom in sorted(ranges):
        below = [r for r in range(top + 1, min(bottom + 1, len(rows))) if left < len(rows[r])]
        if top < len(rows) and left < len(rows[top]) and rows[top][left] and below:
            for r in below:
                rows[r][left] = rows[top][left]
            filled.append(f"{letter(left)}{top + 1}:{letter(left)}{below[-1] + 1}")
    if filled:
        remarks.note(
            "merged-cells",
            place,
            f'sheet "{sheet.name}": merged cells count for each of their rows: {", ".join(filled)}',
        )
    return tuple(tuple(row) for row in rows)


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
