"""Reading sheets to readings as written; a row that cannot be used is reported, the rest is kept.

Knows nothing of levels; nothing is reduced or placed here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from survey.errors import SourceRow, runs_of_rows
from survey.fieldbook.decisions.reading_contents import ContentRules, Contents, contents_of
from survey.fieldbook.decisions.reading_tags import ReadingTags
from survey.fieldbook.naming.sheet_names import pegs_meant
from survey.fieldbook.observations.cast_columns import DIRECTIONS, CastRules, read_where, silent_on_north
from survey.fieldbook.observations.plummet_cells import HOW_TO, Plumbing, read_plumbing
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import (
    UNIT_KEYS,
    CellReader,
    RowReader,
    column_units,
    note_mixed_decimals,
)
from survey.fieldbook.tables.headers import Row, Table
from survey.fieldbook.tables.moments import read_moment, rules_by_file
from survey.fieldbook.tables.position_columns import ways_given
from survey.fieldbook.tables.swaps import note_centimetres, swapped_columns, tell_swapped
from survey.fieldbook.tables.tabs import note_empty_rows
from survey.fieldbook.tables.vocabulary import METHODS, SEEN, USED
from survey.fieldbook.venue.pegs_sheet import DEEPEST_M
from survey.records.declaration import Declaration
from survey.records.floats import Float
from survey.records.readings import FloatSeen, Method, Reading
from survey.records.venue import Venue
from survey.units.dates import DateRules

TALLEST_TIP_M = 1.5
HIGHEST_HOOK_M = 1.5
LEAST_SD_M, LARGEST_SD_M = 0.001, 5.0


@dataclass(frozen=True)
class SheetRules:
    """What holds for all rows of one sheet; ``pegs`` has the painted name for each name in it that means a peg."""

    venue: Venue
    declared: Declaration
    cells: CellReader
    casts: CastRules
    dates: DateRules
    pegs: Mapping[str, str]


def missing_reading_columns(found: Iterable[str]) -> str:
    """What a readings sheet lacks."""
    names = set(found)
    placed = {"lon", "lat"} <= names or {"easting", "northing"} <= names or "gridref" in names
    lacking = []
    if not placed and "peg" not in names:
        lacking.append('column "peg"')
    if not placed and not names & set(DIRECTIONS):
        lacking.append('direction: column "clock", "angle" or "bearing"')
    if not placed and not names & {"distance", "peg2"}:
        lacking.append('column "distance"')
    if not names & {"depth", "setting"}:
        lacking.append('depth: column "depth", or "setting" with "float"')
    return " and no ".join(lacking)


@dataclass(frozen=True)
class SheetsRules:
    """How the dates and bare numbers of all reading sheets are read: by file, and by sheet."""

    dates: Mapping[str, DateRules]
    units: Sequence[Mapping[str, str | None]]

    @classmethod
    def of(cls, tables: Sequence[Table], declared: Declaration, remarks: Remarks) -> SheetsRules:
        """The rules of some sheets.

        Raises
        ------
        FieldbookError
            Dates of no plain order, lengths without a unit.
        """
        dates = rules_by_file(tables, declared, remarks)
        units = [column_units(table, declared, remarks) for table in tables]
        remarks.stop_if_faulty()
        return cls(dates, units)


def read_readings(
    tables: Sequence[Table], sheets: SheetsRules, venue: Venue, declared: Declaration, remarks: Remarks
) -> tuple[tuple[Reading, ...], ReadingTags]:
    """Readings of all sheets, and the tag of every row that held anything, whether or not it could be used."""
    readings: list[Reading] = []
    said: list[Contents] = []
    for table, sheet_units in zip(tables, sheets.units, strict=True):
        note_empty_rows(table, remarks)
        cells, dates = CellReader(sheet_units, declared.sizes), sheets.dates[table.sheet.source]
        swap = swapped_columns(table, sheet_units, declared.sizes)
        pegs = {} if swap else _pegs_of(table, venue, remarks)
        said += contents_of(table, ContentRules(cells, dates, pegs))
        if swap:
            tell_swapped(table, swap, remarks)
            continue
        note_mixed_decimals(table, (*UNIT_KEYS, "angle", "bearing"), remarks)
        note_centimetres(table, sheet_units, declared.sizes, remarks)
        casts = CastRules.of(table, declared, remarks)
        rules = SheetRules(venue, declared, cells, casts, dates, pegs)
        _tell_assumed(table, remarks)
        for row in table.rows:
            reading = _reading(row, rules, remarks)
            if reading:
                readings.append(reading)
    _tell_north(tables, declared, remarks)
    return tuple(sorted(readings, key=lambda r: (r.place.file, r.place.row or 0))), ReadingTags(said)


def _tell_assumed(table: Table, remarks: Remarks) -> None:
    place = SourceRow(table.sheet.label)
    if "date" not in table.columns:
        remarks.note(
            "date-column-missing",
            place,
            "there is no date, so these readings cannot be brought to one level",
            'Add a column "date".',
        )
    bare = next(
        (row for row in table.rows if row.text("setting") and not row.text("seen") and not row.text("tip")), None
    )
    if bare:
        remarks.note(
            "seen-assumed",
            bare.place("seen"),
            "where seen is empty, the float is assumed to stand with its usual tip showing",
            'Write stands, sunk, flat or usual under "seen".',
        )


def _tell_north(tables: Sequence[Table], declared: Declaration, remarks: Remarks) -> None:
    """One note for all sheets: they are silent alike, and one line of venue.toml answers it."""
    silent = [row for table in tables for row in silent_on_north(table)]
    if silent:
        first, several = min(silent, key=lambda row: row.place()), len(silent) > 1
        remarks.note(
            "north-assumed",
            first.place("north"),
            f"{len(silent)} bearing{'s say' if several else ' says'} nothing of north; "
            f"{'they were' if several else 'it was'} taken from {declared.north} north, as the venue has it "
            f"({runs_of_rows(row.place() for row in silent)})",
            'Write true, magnetic or grid under "north", or add to venue.toml: [units] north = "magnetic".',
            first.text("bearing"),
        )


def _reading(row: Row, rules: SheetRules, remarks: Remarks) -> Reading | None:
    """One row as a reading, all its faults reported at once; None if it cannot be used."""
    reader = RowReader(row, rules.cells, remarks)
    _reject_extra_cells(reader)
    peg = _peg_name(reader, rules)
    other = _peg_name(reader, rules, "peg2") if row.text("peg2") else ""
    where = read_where(reader, rules.casts, other)
    setting, setting_unit = _setting(reader)
    seen = reader.choice("seen", SEEN)
    held_by = _float(reader, rules.venue) if setting is not None else None
    tip = reader.metres("tip", 0.0, TALLEST_TIP_M)
    plumbing = read_plumbing(reader, remarks, has_setting=bool(row.text("setting")))
    when = read_moment(reader, rules.dates, remarks)
    used = reader.choice("use", USED)
    hook = reader.metres("hook height", 0.0, HIGHEST_HOOK_M)
    hard = reader.metres("hard depth", 0.0, DEEPEST_M)
    sd = reader.metres("sd", LEAST_SD_M, LARGEST_SD_M)
    method = reader.choice("method", METHODS) or _usual_method(row, rules, setting_unit)
    _reject_depthless(reader, plumbing, setting)
    if reader.rejected or where is None:
        return None
    return Reading(
        place=row.place(),
        peg=peg,
        where=where,
        setting_m=setting,
        float_name=held_by.name if held_by else row.text("float"),
        seen=seen or (FloatSeen.STANDS if setting is not None else None),
        tip_m=tip,
        depth_m=plumbing.metres,
        when=when,
        method=method,
        observer=row.text("observer"),
        bottom=row.text("bottom"),
        use=used is not False and not (plumbing.stopped_by and plumbing.metres is None),
        note=row.text("note"),
        hook_height_m=hook or 0.0,
        hard_depth_m=hard,
        sd_m=sd,
        limit=plumbing.limit,
        stopped_by=plumbing.stopped_by,
    )


def _reject_extra_cells(reader: RowReader) -> None:
    """Text files only: a row longer than the header has its cells out of step."""
    table = reader.row.table
    beyond = [cell for cell in reader.row.cells[table.width :] if cell.strip()]
    if beyond and not table.sheet.tab:
        reader.reject(
            "extra-cells",
            "",
            f"the row has more cells than the header ({beyond[0]})",
            "Look for a comma inside a cell: put such a cell in quotation marks, or separate cells by semicolons.",
        )


def _pegs_of(table: Table, venue: Venue, remarks: Remarks) -> Mapping[str, str]:
    """The pegs that a sheet's names mean; what is unknown is told once, with its rows."""
    named: defaultdict[str, list[int]] = defaultdict(list)
    for column in ("peg", "peg2"):
        for row in table.rows:
            if row.label(column) and (column == "peg" or row.text(column)):
                named[row.label(column)].append(row.number)
    header = table.columns["peg"].header if "peg" in table.columns else "peg"
    return pegs_meant(named, venue.pegs, SourceRow(table.sheet.label, column=header), remarks)


def _peg_name(reader: RowReader, rules: SheetRules, column: str = "peg") -> str:
    """The painted name of the peg; empty for a fix that names none, and where the name is unknown (told by sheet)."""
    written = reader.row.label(column)
    if not written and not ways_given(reader):
        reader.reject("peg-missing", column, "the row has no peg", "Fill it in.")
    reader.rejected |= bool(written) and written not in rules.pegs
    return rules.pegs.get(written, "")


def _setting(reader: RowReader) -> tuple[float | None, str]:
    length = reader.within("setting", 0.0, DEEPEST_M)
    return (None, "") if length is None else (length.metres, length.unit)


def _float(reader: RowReader, venue: Venue) -> Float | None:
    """The float that holds a setting: without its length a setting is no depth."""
    name = reader.row.text("float")
    found = venue.float_named(name) if name else None
    if found is None:
        known = ", ".join(f.name for f in venue.floats) or "none"
        problem = (
            f'"{name}" is not a float of this venue' if name else "the setting names no float, so it is not a depth"
        )
        reader.reject(
            "float-unknown" if name else "float-missing",
            "float",
            problem,
            f'Floats in venue.toml: {known}. Add [floats."{name or "its name"}"] with length and tip.',
        )
    return found


def _usual_method(row: Row, rules: SheetRules, setting_unit: str) -> Method:
    """A pole where its sections measured the cast or the setting, else a float."""
    sections = rules.cells.units.get("distance") == "section" or "section" in row.text("distance").casefold()
    return "pole" if sections or setting_unit == "section" else "float"


def _reject_depthless(reader: RowReader, plumbing: Plumbing, setting: float | None) -> None:
    if not plumbing.says_nothing and setting is not None:
        reader.reject(
            "depth-twice",
            "depth",
            "the row gives both a depth and a setting",
            "Keep the one read on the bank; clear the other.",
        )
    elif plumbing.says_nothing and not any(
        reader.row.text(name) or reader.row.is_unworked(name) for name in ("depth", "setting")
    ):
        name = "depth" if "depth" in reader.row.table.columns else "setting"
        reader.reject("depth-missing", name, "there is no depth", f"Fill in depth, or setting and float; {HOW_TO}")
