"""The decisions sheet: what people answered to findings, by code, sheet and row.

Knows nothing of the findings themselves.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Literal

from survey.errors import SourceRow
from survey.fieldbook.remarks import Remarks, nearest
from survey.fieldbook.tables.cells import CellReader, RowReader
from survey.fieldbook.tables.headers import Table
from survey.fieldbook.tables.vocabulary import DECISIONS
from survey.records.declaration import Declaration
from survey.records.fieldbook import Decision
from survey.records.readings import Reading

Answer = Literal["out", "keep", "noted"]


def missing_decision_columns(found: Iterable[str]) -> str:
    """What a decisions sheet lacks."""
    return " and no ".join(f'column "{name}"' for name in ("row", "decision") if name not in set(found))


def read_decisions(
    tables: Sequence[Table], rows: Sequence[SourceRow], declared: Declaration, remarks: Remarks
) -> tuple[Decision, ...]:
    """Decisions whose row exists in the reading sheets; the others are reported."""
    sheets = list(dict.fromkeys(place.file for place in rows))
    existing = {(place.file, place.row) for place in rows}
    decisions = []
    for table in tables:
        cells = CellReader({}, declared.sizes)
        for row in table.rows:
            reader = RowReader(row, cells, remarks)
            about = _about(reader, sheets)
            answer = reader.choice("decision", DECISIONS)
            if about and (about.file, about.row) not in existing:
                reader.reject("decision-row-missing", "row", f"there is no {about} that holds a reading", "Correct it.")
            elif answer is None and not reader.rejected:
                reader.reject("decision-missing", "decision", "nothing is decided", "Write out, keep or noted.")
            if about and answer and not reader.rejected:
                code = row.text("code").casefold()
                decisions.append(Decision(row.place(), code, about, answer, row.text("observer"), row.text("note")))
    return tuple(sorted(decisions, key=lambda d: d.place))


def _about(reader: RowReader, sheets: Sequence[str]) -> SourceRow | None:
    """The row a decision is about; a sheet need not be named where there is only one."""
    number, named = reader.row.text("row"), reader.row.text("sheet")
    if not re.fullmatch(r"\d{1,7}", number):
        reader.reject(
            "decision-row-missing", "row", "this is not a row number", "Write its number as the check names it."
        )
        return None
    fitting = [s for s in sheets if s.casefold() == named.casefold()] or [
        s for s in sheets if s.casefold().startswith(named.casefold())
    ]
    if len(fitting) != 1:
        problem = f'"{named}" is not a reading sheet' if named else "the decision does not say of which sheet"
        names = ", ".join(sheets) or "none"
        reader.reject(
            "decision-sheet-unknown", "sheet", problem, f"Reading sheets are {names}.{nearest(named, list(sheets))}"
        )
        return None
    return SourceRow(fitting[0], int(number))


def with_decisions(readings: Sequence[Reading], decisions: Sequence[Decision], remarks: Remarks) -> tuple[Reading, ...]:
    """Readings, those decided against no longer in use."""
    out = {(d.about.file, d.about.row): d for d in decisions if d.answer == "out"}
    for decision in out.values():
        why = f": {decision.note}" if decision.note else ""
        who = f" by {decision.by}" if decision.by else ""
        remarks.note("decision-taken", decision.about, f"left out{who}{why} ({decision.place})")
    return tuple(replace(r, use=False) if (r.place.file, r.place.row) in out else r for r in readings)
