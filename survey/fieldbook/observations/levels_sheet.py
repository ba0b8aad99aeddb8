"""Level sheets to records of what the mark showed.

Knows nothing of readings.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

from survey.errors import SourceRow
from survey.fieldbook.files.sources import VENUE_FILE
from survey.fieldbook.observations.level_slips import tell_far_levels
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import CellReader, RowReader, column_units, note_mixed_decimals
from survey.fieldbook.tables.headers import Row, Table
from survey.fieldbook.tables.moments import read_moment, rules_by_file
from survey.fieldbook.tables.tabs import note_empty_rows
from survey.records.declaration import Declaration
from survey.records.fieldbook import LevelRecord
from survey.units.club_units import shown_level
from survey.units.dates import Moment

LOWEST_M, HIGHEST_M = -500.0, 6000.0
"""A board may count from the sea."""


def missing_level_columns(found: Iterable[str]) -> str:
    """What a levels sheet lacks."""
    return " and no ".join(f'column "{name}"' for name in ("date", "level") if name not in set(found))


def read_levels(tables: Sequence[Table], declared: Declaration, remarks: Remarks) -> tuple[LevelRecord, ...]:
    """Records sorted by time.

    Raises
    ------
    FieldbookError
        Dates of no plain order, levels without a unit.
    """
    dates = rules_by_file(tables, declared, remarks)
    units = [column_units(table, declared, remarks) for table in tables]
    remarks.stop_if_faulty()
    records = []
    for table, sheet_units in zip(tables, units, strict=True):
        note_empty_rows(table, remarks)
        note_mixed_decimals(table, ("level",), remarks)
        cells = CellReader(sheet_units, declared.sizes)
        for row in table.rows:
            reader = RowReader(row, cells, remarks)
            moment = read_moment(reader, dates[table.sheet.source], remarks)
            record = _record(reader, moment, row, remarks)
            if record:
                records.append(record)
    records.sort(key=lambda record: (record.when.instant, record.place))
    _tell_doubled(records, declared, remarks)
    tell_far_levels(records, declared, remarks)
    if records and declared.mark.kind is None:
        remarks.error(
            "level-kind-missing",
            SourceRow(VENUE_FILE, column="[level] kind"),
            "there are levels but no level mark is declared, so they are not used",
            'Add [level] kind = "board" (reads more as water rises) or "dip" (distance down to the water).',
        )
    return tuple(records)


def _record(reader: RowReader, moment: Moment | None, row: Row, remarks: Remarks) -> LevelRecord | None:
    shown = reader.metres("level", LOWEST_M, HIGHEST_M)
    if reader.rejected:
        return None
    if shown is None:
        remarks.note("level-missing", row.place("level"), "the row has no level and was skipped")
        return None
    if moment is None:
        reader.reject("date-missing", "date", "the level has no date", "Fill it in.")
        return None
    return LevelRecord(moment, shown, row.place())


def _tell_doubled(records: Sequence[LevelRecord], declared: Declaration, remarks: Remarks) -> None:
    for first, second in itertools.pairwise(records):
        if first.when == second.when and first.shown_m != second.shown_m:
            here, there = (shown_level(one.shown_m, declared.mark.unit, declared.shows) for one in (second, first))
            remarks.warning(
                "level-twice",
                second.place,
                f"{here} here and {there} in {_seen_from(second.place, first.place)} are for the same time",
                "Correct one, or write the time of each.",
            )


def _seen_from(here: SourceRow, there: SourceRow) -> str:
    return f"row {there.row}" if there.file == here.file else str(there)
