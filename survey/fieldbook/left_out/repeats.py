"""Sheets and rows that stand word for word in the readings twice.

Knows nothing of what they say.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from survey.errors import SourceRow
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.headers import Row, Table

LEAST_CELLS = 4
"""Rows of fewer cells are alike too easily."""
LEAST_ROWS = 3
NAMED = 12

Contents = tuple[tuple[str, ...], ...]
"""The contents of a sheet's rows, by row."""


def without_copies(tables: Sequence[Table], remarks: Remarks) -> list[Table]:
    """The tables without those that repeat an earlier one; each copy and every run of repeated rows is reported."""
    kept: dict[Contents, Table] = {}
    for table in tables:
        contents = _contents(table)
        first = kept.setdefault(contents, table)
        if first is not table and contents:
            remarks.warning(
                "sheet-copied",
                SourceRow(table.sheet.label),
                f"its {len(contents)} row{'s are' if len(contents) > 1 else ' is'} word for word "
                f"{'those' if len(contents) > 1 else 'that'} of {first.sheet.label}, and counted once",
                "Remove the copy from the folder.",
            )
    _tell_repeated_rows(kept, remarks)
    return list(kept.values())


def _contents(table: Table) -> Contents:
    """Of every row, its cells with the names of their columns; the order of the columns does not matter."""
    named = []
    for name in sorted(table.columns):
        known = {label: f"{name}={label}" if label else "" for label in set(table.labels[name])}
        named.append([known[label] for label in table.labels[name]])
    return tuple(tuple(filter(None, cells)) for cells in zip(*named, strict=True))


def _tell_repeated_rows(kept: Mapping[Contents, Table], remarks: Remarks) -> None:
    """One warning a sheet: a few repeats may be chance, and a float may read the same twice."""
    first: dict[tuple[str, ...], Row] = {}
    repeats: dict[str, list[tuple[SourceRow, SourceRow]]] = defaultdict(list)
    for contents, table in kept.items():
        for row, content in zip(table.rows, contents, strict=True):
            if len(content) >= LEAST_CELLS:
                earlier = first.setdefault(content, row)
                if earlier is not row and earlier.place() != row.place():
                    repeats[table.sheet.label].append((row.place(), earlier.place()))
    for label, pairs in repeats.items():
        if len(pairs) >= LEAST_ROWS:
            rows = ", ".join(str(place.row) for place, _ in pairs[:NAMED])
            more = f" and {len(pairs) - NAMED} more" if len(pairs) > NAMED else ""
            remarks.warning(
                "rows-repeated",
                pairs[0][0],
                f"{len(pairs)} rows of {label} repeat others word for word (rows {rows}{more}; "
                f"the first that of {pairs[0][1]}); each counts as a reading of its own",
                "Delete them if they were copied; add times if the spot was plumbed again.",
            )
