"""Dates and times as people write them, one day-month order for a whole file, to instants in UTC.

Knows nothing of what was done on a day.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta

from survey.errors import ParseError, rows_named
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import RowReader
from survey.fieldbook.tables.headers import Row, Table
from survey.records.declaration import Declaration
from survey.units.dates import DateOrder, DateRules, Moment, day_readings, is_serial, split_day

EARLIEST_YEAR = 1990


def rules_by_file(tables: Sequence[Table], declared: Declaration, remarks: Remarks) -> dict[str, DateRules]:
    """How the dates of each file are read; one order for all sheets of a file."""
    rules = {}
    for file in dict.fromkeys(table.sheet.source for table in tables):
        own = [table for table in tables if table.sheet.source == file]
        cells = [(text, row) for table in own for row in table.rows if (text := row.text("date"))]
        # Where the order is declared, though not so that it can be read, no file need show it.
        told = Remarks() if "dates" in declared.unread else remarks
        order = declared.dates_in.get(file) or decide_order(cells, declared.dates, told)
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
    except ParseError as trouble:
        reader.reject("date-unread", "date" if day else "time", str(trouble), "Correct the cell.")
        return None
    changed = rules.clocks_changed(moment, day, time) if moment else ""
    if changed:
        column, written = ("time", time) if time else ("date", day)
        remarks.note(
            "clocks-changed", reader.row.place(column), changed, "Write the zone beside it, like UTC.", written
        )
    if moment and (moment.instant > datetime.now(UTC) + timedelta(days=1) or moment.instant.year < EARLIEST_YEAR):
        remarks.warning(
            "date-doubtful",
            reader.row.place("date"),
            f"the date {moment.day} is in the future or before {EARLIEST_YEAR}",
            "Check it against the bank sheet.",
            day,
        )
    return moment


_Dated = tuple[set[DateOrder], str, Row]
FEW_TO_MANY = 5
"""One date the other way round among so many is that person's slip, not the file's order (ours)."""


def decide_order(cells: Iterable[tuple[str, Row]], declared: DateOrder | None, remarks: Remarks) -> DateOrder | None:
    """One order for all dates of a file, from the rows that leave no doubt.

    Parameters
    ----------
    cells : iterable of (text, Row)
        Its date cells and their rows.
    declared : {"dmy", "mdy", "ymd"} or None
        ``dates`` of venue.toml: what is usual here. Rows that can only be read the other way decide against it.
    remarks : Remarks
        Told a fault where the rows contradict each other, or none decides.

    Returns
    -------
    {"dmy", "mdy", "ymd"} or None
        None where no date needs one, or after a fault.
    """
    if declared == "ymd":
        return declared
    cells = list(cells)
    open_orders = {text: _candidates(text) for text in {text for text, _ in cells}}
    open_cells = [(open_orders[text], text, row) for text, row in cells]
    day_first = [cell for cell in open_cells if cell[0] == {"dmy"}]
    month_first = [cell for cell in open_cells if cell[0] == {"mdy"}]
    few, many = sorted((day_first, month_first), key=len)
    if few and len(many) < FEW_TO_MANY * len(few):
        if declared is None:
            _tell_contradiction((day_first[0], month_first[0]), remarks)
            return None
        few, many = (month_first, day_first) if declared == "dmy" else (day_first, month_first)
    if few:
        _tell_few(few, many, sum(len(cell[0]) > 1 for cell in open_cells), remarks)
    if many:
        proved: DateOrder = "dmy" if many is day_first else "mdy"
        if declared and proved != declared:
            _tell_proved(many, open_cells, remarks)
        return proved
    if declared:
        return declared
    doubtful = next((cell for cell in open_cells if len(cell[0]) > 1), None)
    if doubtful:
        remarks.fault(
            doubtful[2].place("date"),
            "no row of the file shows whether day or month comes first",
            'Add the line dates = "dmy" (or "mdy") to venue.toml, above its first [section].',
            doubtful[1],
        )
    return None


def _tell_few(few: Sequence[_Dated], many: Sequence[_Dated], open_count: int, remarks: Remarks) -> None:
    """A few dates the other way round do not turn a whole file; they are left out, and doubt cast on the open ones."""
    usual, odd = ("day", "month") if "dmy" in many[0][0] else ("month", "day")
    unsure = f"; {open_count} other dates could be read both ways and were read {usual} first" if open_count else ""
    for _, text, row in few:
        remarks.warning(
            "date-other-way",
            row.place("date"),
            f"{odd} first here, where {len(many)} dates of the file have the {usual} first{unsure}",
            "Write this date like the others, and look at the dates beside it.",
            text,
        )


def _tell_proved(proofs: Sequence[_Dated], open_cells: Sequence[_Dated], remarks: Remarks) -> None:
    """A file in the order that venue.toml does not declare; it is read by its own, and that is said."""
    proved, declared = ("day", "month") if "dmy" in proofs[0][0] else ("month", "day")
    both_ways = sum(len(cell[0]) > 1 for cell in open_cells)
    remarks.warning(
        "date-order-proved",
        proofs[0][2].place("date"),
        f'read {proved} first, though venue.toml says {declared} first: "{proofs[0][1]}" '
        f"({rows_named([row.number for _, _, row in proofs])}) cannot be read otherwise; "
        f"{both_ways} other dates could be read both ways and were read {proved} first too",
        f'If so, add to venue.toml: [dates_in] "{proofs[0][2].table.sheet.source}" = '
        f'"{"dmy" if proved == "day" else "mdy"}". If not, write the dates like 2026-05-03.',
        proofs[0][1],
    )


def _candidates(text: str) -> set[DateOrder]:
    """Day-first and month-first readings of a cell; one alone decides, two with the same day do not count."""
    found = {o: d for o, d in day_readings(split_day(text)[0]).items() if o != "ymd"}
    return set() if len(found) > 1 and len(set(found.values())) == 1 else set(found)


def _tell_contradiction(cells: Sequence[_Dated], remarks: Remarks) -> None:
    first, second = sorted(cells, key=lambda cell: (cell[2].table.sheet.label, cell[2].number))
    remarks.fault(
        first[2].place("date"),
        f'rows contradict each other: "{first[1]}" here and "{second[1]}" in row {second[2].number} '
        "cannot both be right",
        'Write the dates one way, or add dates = "dmy" (or "mdy") to venue.toml and correct the rest.',
        first[1],
    )
