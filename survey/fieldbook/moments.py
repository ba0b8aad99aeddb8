"""Date and time cells of one file to moments, with the file's order of day and month.

Knows nothing of what was done then.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from survey.errors import UnitError
from survey.fieldbook.dates import DateRules, decide_order, is_serial
from survey.fieldbook.fields import RowReader
from survey.fieldbook.headers import Table
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.settings import Declared
from survey.readings import Moment

EARLIEST_YEAR = 1990


def rules_by_file(tables: Sequence[Table], declared: Declared, remarks: Remarks) -> dict[str, DateRules]:
    """How the dates of each file are read; one order for all sheets of a file."""
    rules = {}
    for file in dict.fromkeys(table.sheet.source for table in tables):
        own = [table for table in tables if table.sheet.source == file]
        cells = [(text, row) for table in own for row in table.rows if (text := row.text("date"))]
        order = decide_order(cells, declared.dates, remarks)
        rules[file] = DateRules(order, declared.zone, any(table.sheet.from_1904 for table in own))
        serials = {text for text in {text for text, _ in cells} if is_serial(text)}
        serial = next((cell for cell in cells if cell[0] in serials), None)
        if serial:
            since = 1904 if rules[file].from_1904 else 1900
            remarks.note(
                "serial-date",
                serial[1].place("date"),
                f"bare day numbers were read as a spreadsheet's, counted from {since}",
                value=serial[0],
            )
    return rules


def read_moment(reader: RowReader, rules: DateRules, remarks: Remarks) -> Moment | None:
    """The moment of a row; None where it has none or it cannot be read (the row is then rejected)."""
    if not reader.has("date") and not reader.has("time"):
        return None
    day, time = reader.row.text("date"), reader.row.text("time")
    try:
        moment = rules.moment(day, time)
    except UnitError as trouble:
        reader.reject("date-unread", "date" if day else "time", str(trouble), "Correct the cell.")
        return None
    changed = rules.clocks_changed(moment, day, time) if moment else ""
    if changed:
        remarks.note("clocks-changed", reader.row.place("time"), changed, value=time)
    if moment and (moment.instant > datetime.now(UTC) + timedelta(days=1) or moment.instant.year < EARLIEST_YEAR):
        remarks.warning(
            "date-doubtful",
            reader.row.place("date"),
            f"the date {moment.day} lies in the future or before {EARLIEST_YEAR}",
            "Check it against the sheet from the bank.",
            day,
        )
    return moment
