"""Reads a venue folder; the only place in survey that opens files.

In reading order: remarks, sources, cells, archives, packed, workbooks, waypoints, headers, dates, keys,
coordinates, settings, shapes, outline, rings, bank, fields, positions, tabs, copies, moments, pegs, words, casts,
swaps, readings, levels, edges, decisions.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Literal, cast

from survey.errors import SourceRow
from survey.fieldbook.files.outlines import read_outline
from survey.fieldbook.files.sources import Sources, find_sources
from survey.fieldbook.observations.decisions_sheet import missing_decision_columns, read_decisions, with_decisions
from survey.fieldbook.observations.levels_sheet import missing_level_columns, read_levels
from survey.fieldbook.observations.readings_sheet import missing_reading_columns, read_readings
from survey.fieldbook.observations.waterlines_sheet import read_edges
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.headers import DECISION_COLUMNS, LEVEL_COLUMNS, PEG_COLUMNS, READING_COLUMNS, Table
from survey.fieldbook.tables.repeats import without_copies
from survey.fieldbook.tables.tabs import Missing, Tabs, tables_of
from survey.fieldbook.venue.own_units import with_own_units
from survey.fieldbook.venue.pegs_sheet import PegGround, missing_peg_columns, read_pegs, stated_of_pegs
from survey.fieldbook.venue.settings import read_settings
from survey.fieldbook.venue.water_rings import water_of
from survey.findings import ordered
from survey.gc_pause import collector_paused
from survey.records.declaration import Declaration
from survey.records.fieldbook import Fieldbook
from survey.records.venue import Venue

__all__ = ["read_fieldbook", "sources_digest"]

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
        Where the venue cannot be read or is ambiguous, with every fault found up to there.
    """
    remarks = Remarks()
    sources = find_sources(Path(folder), remarks)
    declared = read_settings(sources.venue, remarks)
    tabs = Tabs(sources, remarks)
    pegs_tables = _tables(tabs, "pegs", PEG_COLUMNS, missing_peg_columns, remarks)
    reading_tables = without_copies(
        _tables(tabs, "readings", READING_COLUMNS, missing_reading_columns, remarks), remarks
    )
    level_tables = _tables(tabs, "levels", LEVEL_COLUMNS, missing_level_columns, remarks)
    declared = with_own_units(declared, reading_tables, level_tables)
    venue = _venue(sources, declared, pegs_tables, remarks)
    levels = read_levels(level_tables, declared, remarks)
    if not levels:
        venue = replace(venue, cautions=(*venue.cautions, NO_LEVELS))
    readings, rows = read_readings(reading_tables, venue, declared, remarks)
    edges = read_edges(sources.edges, venue.crs, declared, remarks)
    decision_tables = _tables(tabs, "decisions", DECISION_COLUMNS, missing_decision_columns, remarks)
    remarks.stop_if_faulty()
    decisions = read_decisions(decision_tables, rows, declared, remarks)
    readings = with_decisions(readings, decisions, remarks)
    findings = ordered(remarks.findings)
    return Fieldbook(venue, readings, levels, findings, len(rows), sources.digest, rows, edges, decisions)


def sources_digest(folder: Path) -> str:
    """SHA-256 over a venue's sources, as in ``Fieldbook.digest``, without parsing them.

    Raises
    ------
    FieldbookError
        If the sources cannot be told.
    """
    return find_sources(Path(folder), Remarks()).digest


def _tables(tabs: Tabs, role: str, vocabulary: Mapping[str, str], missing: Missing, remarks: Remarks) -> list[Table]:
    sheets = tabs.of(role)
    if not sheets and role in {"pegs", "readings"} and not remarks.faults:
        remarks.fault(
            SourceRow(role),
            f"there is no sheet of {role}",
            f'Add {role}.csv or {role}.xlsx, or name the file in venue.toml: [files] {role} = "...".',
        )
    return tables_of(sheets, vocabulary, missing, remarks)


def _venue(sources: Sources, declared: Declaration, pegs_tables: list[Table], remarks: Remarks) -> Venue:
    """The venue: its water first, then its pegs held against the shore."""
    if sources.outline is None:
        remarks.refuse(
            SourceRow("outline"),
            "there is no outline of the water",
            'Add outline.geojson, .kml, .gpx or .gpkg, or name the file in venue.toml: [files] outline = "...".',
        )
    water, crs = water_of(read_outline(sources.outline, remarks), declared, remarks)
    pegs = read_pegs(pegs_tables, PegGround.of(water, crs), declared, remarks)
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
