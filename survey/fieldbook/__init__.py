"""Reads a venue folder; the only place in survey that opens files.

In reading order: remarks, sources, cells, archives, packed, workbooks, waypoints, headers, dates, keys,
coordinates, settings, shapes, outline, rings, bank, fields, positions, tabs, copies, moments, pegs, words, casts,
swaps, readings, levels, edges, changes, decisions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal, cast

from shapely.geometry import MultiPolygon

from survey.errors import SourceRow, SurveyError
from survey.fieldbook.days.date_orders import tell_orders
from survey.fieldbook.days.dated_rows import dated_rows, days_of
from survey.fieldbook.decisions.decision_tags import SheetChange, tags_written
from survey.fieldbook.decisions.decisions_sheet import missing_decision_columns, read_decisions, with_decisions
from survey.fieldbook.files.outlines import Outline, read_outline
from survey.fieldbook.files.sources import Sources, find_sources
from survey.fieldbook.left_out.examples import MEANT, without_examples
from survey.fieldbook.left_out.repeats import without_copies
from survey.fieldbook.naming.venue_keys import HIDDEN, OFF_BANK, pegs_named
from survey.fieldbook.observations.changes_file import read_changes
from survey.fieldbook.observations.levels_sheet import missing_level_columns, read_levels
from survey.fieldbook.observations.readings_sheet import SheetsRules, missing_reading_columns, read_readings
from survey.fieldbook.observations.waterlines_sheet import read_edges
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.headers import DECISION_COLUMNS, LEVEL_COLUMNS, PEG_COLUMNS, READING_COLUMNS, Table
from survey.fieldbook.tables.tabs import Missing, Tabs, tables_of
from survey.fieldbook.venue.own_units import with_own_units
from survey.fieldbook.venue.peg_checks import PegGround
from survey.fieldbook.venue.pegs_sheet import (
    check_pegs,
    missing_peg_columns,
    read_pegs,
    stated_of_pegs,
)
from survey.fieldbook.venue.settings import read_settings
from survey.fieldbook.venue.water_rings import water_of
from survey.findings import ordered
from survey.gc_pause import collector_paused
from survey.records.declaration import Declaration
from survey.records.fieldbook import Change, Edge, Fieldbook, LevelRecord
from survey.records.venue import Peg, Venue

__all__ = ["SheetChange", "decisions_with_tags", "read_fieldbook", "sources_digest"]

NO_LEVELS = "No water level was recorded with this survey, so the level of its depths is unknown."
"""One of the venue's cautions, so that page and command show it."""


@collector_paused()
def read_fieldbook(folder: Path) -> Fieldbook:
    """Read everything in a venue folder, and list the findings.

    Parameters
    ----------
    folder : Path
        Holds ``venue.toml``, an outline, pegs, readings and, if there are any, levels.

    Returns
    -------
    Fieldbook
        Every row of the reading sheets is either among its readings or has an ERROR finding.

    Raises
    ------
    FieldbookError
        Where the venue cannot be read or is ambiguous, with every fault that could be found.
    """
    remarks = Remarks()
    sources = find_sources(Path(folder), remarks)
    tables = Tables.of(sources, remarks)
    declared = None
    with remarks.part() as own:
        declared = read_settings(sources.venue, own) if sources.venue else None
    if declared is None:
        _look_at_outlines(sources, remarks)
        remarks.stop_if_faulty()
        raise AssertionError  # pragma: no cover - without settings there is a fault
    return _written_up(sources, tables, declared, remarks)


def _written_up(sources: Sources, tables: Tables, declared: Declaration, remarks: Remarks) -> Fieldbook:
    """The fieldbook of what was declared; every part is read, whatever is wrong with the others."""
    of_sheets = list(remarks.findings)
    declared = with_own_units(declared, tables.readings, tables.levels)
    venue = _venue(sources, declared, tables.pegs, remarks)
    levels: tuple[LevelRecord, ...] = ()
    sheets: SheetsRules | None = None
    edges: tuple[Edge, ...] = ()
    with remarks.part() as own:
        levels = read_levels(tables.levels, declared, own)
    with remarks.part() as own:
        sheets = SheetsRules.of(tables.readings, declared, own)
    with remarks.part() as own:
        edges = read_edges(sources.edges, venue.crs if venue else declared.crs, declared, own)
    if declared.unread:
        # What cells lack for it is no error of theirs.
        remarks.findings = of_sheets
        remarks.stop_if_faulty()
    if venue is None or sheets is None:
        remarks.stop_if_faulty()
        raise AssertionError  # pragma: no cover - what is missing has a fault
    venue = _with_named_pegs(venue, declared.off_bank, remarks)
    if not levels:
        venue = replace(venue, cautions=(*venue.cautions, NO_LEVELS))
    readings, tags = read_readings(tables.readings, sheets, venue, declared, remarks)
    changes: tuple[Change, ...] = ()
    with remarks.part() as own:
        changes = read_changes(sources.changes, venue, declared, own)
    dated = (
        *dated_rows(tables.readings, days_of(readings), is_level=False),
        *dated_rows(tables.levels, days_of(levels), is_level=True),
    )
    tell_orders(dated, {date.fromisoformat(edge.when.day) for edge in edges}, declared, remarks)
    remarks.stop_if_faulty()
    decisions = read_decisions(tables.decisions, tags, declared, remarks)
    readings = with_decisions(readings, decisions, remarks)
    findings = ordered(remarks.findings)
    unread = [SourceRow(table.sheet.label, number) for table in tables.readings for number in table.unread]
    rows = tuple(sorted((*tags.places, *unread), key=lambda place: (place.file, place.row or 0)))
    return Fieldbook(
        venue, readings, levels, findings, len(rows), sources.digest, rows, edges, decisions, tags.by_row, changes
    )


def decisions_with_tags(folder: Path) -> SheetChange:
    """The decisions sheet of a venue with the tags of its readings, as it would be; nothing is written.

    Raises
    ------
    FieldbookError
        The venue cannot be read.
    SurveyError
        There is no decisions sheet, it is in a workbook, or it cannot be changed without changing more.
    """
    decisions, remarks = read_fieldbook(folder).decisions, Remarks()
    sources = find_sources(Path(folder), remarks)
    tables = Tables.of(sources, remarks).decisions
    if not tables:
        raise SurveyError(f"There is no decisions sheet in {folder}, so there is nothing to write tags into.")
    (table, *_) = tables
    (source,) = [s for s in sources.all_files if s.name == table.sheet.source]
    return tags_written(source, table, [d for d in decisions if d.place.file == table.sheet.label])


def sources_digest(folder: Path) -> str:
    """SHA-256 over a venue's sources, as in ``Fieldbook.digest``, without parsing them.

    Raises
    ------
    FieldbookError
        If the sources cannot be told.
    """
    remarks = Remarks()
    sources = find_sources(Path(folder), remarks)
    remarks.stop_if_faulty()
    return sources.digest


@dataclass(frozen=True)
class Tables:
    """The sheets of a venue by role, as tables with the columns they need."""

    pegs: list[Table]
    readings: list[Table]
    levels: list[Table]
    decisions: list[Table]

    @classmethod
    def of(cls, sources: Sources, remarks: Remarks) -> Tables:
        """The tables of some sources; a sheet that is none has a fault or a finding."""
        tabs = Tabs(sources, remarks)

        def tables(role: str, vocabulary: Mapping[str, str], missing: Missing) -> list[Table]:
            before = len(remarks.faults)
            sheets = tabs.of(role)
            found = tables_of(sheets, vocabulary, missing, remarks)
            if role in MEANT:
                found = without_examples(found, role, remarks)
            needed = role in {"pegs", "readings"} and role not in sources.unclear
            if needed and not found and len(remarks.faults) == before:
                _tell_missing(role, [source.name for source in getattr(sources, role)], remarks)
            return found

        return cls(
            tables("pegs", PEG_COLUMNS, missing_peg_columns),
            without_copies(tables("readings", READING_COLUMNS, missing_reading_columns), remarks),
            tables("levels", LEVEL_COLUMNS, missing_level_columns),
            tables("decisions", DECISION_COLUMNS, missing_decision_columns),
        )


def _tell_missing(role: str, files: list[str], remarks: Remarks) -> None:
    if files:
        remarks.fault(SourceRow(files[0]), f"no sheet of {role} holds anything", "Fill it in.", ", ".join(files[1:]))
        return
    remarks.fault(
        SourceRow(role),
        f"there is no sheet of {role}",
        f'Add {role}.csv or {role}.xlsx, or name the file in venue.toml: [files] {role} = "...".',
    )


def _look_at_outlines(sources: Sources, remarks: Remarks) -> list[Outline]:
    """The outlines as they are drawn; none, with a fault, where there is none or one cannot be read."""
    outlines: list[Outline] = []
    with remarks.part() as own:
        outlines = [read_outline(source, own) for source in sources.outlines]
        if not outlines and "outline" not in sources.unclear:
            own.fault(
                SourceRow("outline"),
                "there is no outline of the water",
                'Add outline.geojson, .kml, .gpx or .gpkg, or name the file in venue.toml: [files] outline = "...".',
            )
    return outlines


def _venue(sources: Sources, declared: Declaration, pegs_tables: list[Table], remarks: Remarks) -> Venue | None:
    """The venue: its water first, then its pegs held against the shore; None with faults."""
    outlines = _look_at_outlines(sources, remarks)
    ground: tuple[MultiPolygon, str] | None = None
    pegs: tuple[Peg, ...] = ()
    with remarks.part() as own:
        # In which grid the outline is drawn cannot be told where the grid cannot be read.
        ground = water_of(outlines, declared, own) if outlines and "crs" not in declared.unread else None
    with remarks.part() as own:
        if ground is None:
            check_pegs(pegs_tables, declared, own)
        elif pegs_tables:
            pegs = read_pegs(pegs_tables, PegGround.of(*ground), declared, own)
    if ground is None or not pegs:
        return None
    water, crs = ground
    return Venue(
        name=declared.name,
        crs=crs,
        water=water,
        pegs=pegs,
        mark=declared.mark,
        floats=declared.floats,
        standard_errors=declared.standard_errors,
        limits=declared.limits,
        edge_depth_m=declared.edge_depth_m,
        edge_sd_m=declared.edge_sd_m,
        timezone=declared.timezone,
        shows=cast('Literal["feet", "metres"]', declared.shows),
        distances=declared.distances,
        rod_reach_m=declared.rod_reach_m,
        sizes=declared.sizes,
        declination_deg=declared.declination_deg,
        credit=declared.credit,
        licence=declared.licence,
        emergency=declared.emergency,
        cautions=declared.cautions,
        stated=(*declared.stated, *stated_of_pegs(pegs, pegs_tables, declared.spans)),
        publishing=declared.publishing,
    )


def _with_named_pegs(venue: Venue, off_bank: Sequence[str], remarks: Remarks) -> Venue:
    """The venue with the pegs that ``venue.toml`` names: those to be hidden, and those off the bank."""
    hidden = pegs_named(venue.publishing.hidden_pegs, venue.pegs, HIDDEN, remarks)
    off = pegs_named(off_bank, venue.pegs, OFF_BANK, remarks)
    pegs = tuple(replace(peg, off_bank=peg.name in off) for peg in venue.pegs)
    return replace(venue, pegs=pegs, publishing=replace(venue.publishing, hidden_pegs=hidden))
