"""Tables for a spreadsheet: text that a spreadsheet would run as a formula is made harmless here."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

Cell = str | int | float | bool | None
STARTS_A_FORMULA = ("=", "+", "-", "@")
BREAKS_A_CELL = ("\t", "\r", "\n")


def harmless(cell: Cell) -> str:
    """A cell as it is written: text that begins like a formula gets a leading apostrophe, numbers do not.

    Examples
    --------
    >>> harmless("=1+1"), harmless(-0.5), harmless("-0.5"), harmless(None), harmless(True)
    ("'=1+1", '-0.5', "'-0.5", '', 'yes')
    """
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if not isinstance(cell, str):
        return str(cell)
    # Some spreadsheets look past leading spaces before they decide that a cell is a formula.
    risky = cell.startswith(BREAKS_A_CELL) or cell.lstrip().startswith(STARTS_A_FORMULA)
    return f"'{cell}" if risky else cell


def write_csv(path: Path, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """A table as CSV (RFC 4180), UTF-8.

    Parameters
    ----------
    path : Path
    header : sequence of str
    rows : iterable of sequence
        Each as long as the header.
    """
    with path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle)
        writer.writerow([harmless(name) for name in header])
        writer.writerows([harmless(cell) for cell in row] for row in rows)
