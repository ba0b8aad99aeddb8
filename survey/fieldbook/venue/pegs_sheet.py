"""The pegs sheet to pegs: points, straight out, names; each held against the shore.

Knows nothing of readings.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from survey.errors import ParseError, PlacingError, SourceRow
from survey.fieldbook.naming.habits import after_peg
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import CellReader, RowReader, column_units
from survey.fieldbook.tables.headers import Row, Table
from survey.fieldbook.tables.position_columns import Position, read_position
from survey.fieldbook.tables.tabs import note_empty_rows
from survey.fieldbook.venue.peg_checks import (
    PegGround,
    PegName,
    tell_astray,
    tell_changed_names,
    tell_clashing_names,
    tell_from_shore,
    tell_same_place,
)
from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import SMOOTHED_M
from survey.records.declaration import Declaration
from survey.records.venue import Peg
from survey.units import read_bearing
from survey.units.club_units import DistanceUnit

DEEPEST_M = 40.0


def missing_peg_columns(found: Iterable[str]) -> str:
    """What a pegs sheet lacks."""
    names = set(found)
    if "peg" not in names:
        return 'column "peg"'
    if {"lon", "lat"} <= names or {"easting", "northing"} <= names or "gridref" in names:
        return ""
    return 'position: columns "lon" and "lat", "easting" and "northing", or "gridref"'


def read_pegs(tables: Sequence[Table], ground: PegGround, declared: Declaration, remarks: Remarks) -> tuple[Peg, ...]:
    """Pegs in the order of the sheet.

    Raises
    ------
    FieldbookError
        Two pegs of one name, none at all, or all of them far from the water.
    """
    pegs: list[Peg] = []
    ways: set[str] = set()
    for table in tables:
        cells = CellReader(column_units(table, declared, remarks), declared.sizes)
        note_empty_rows(table, remarks)
        for row in table.rows:
            reader = RowReader(row, cells, remarks)
            position = read_position(reader, declared)
            peg = _peg(reader, position, ground, declared, remarks)
            if peg and position:
                pegs.append(peg)
                ways.add(position.way)
    pegs = _without_peg_word(pegs, remarks)
    names = [PegName(peg.name, peg.aliases, peg.place) for peg in pegs]
    tell_clashing_names(names, remarks)
    tell_changed_names(names, remarks)
    if not pegs:
        where = tables[0].place if tables else SourceRow("pegs")
        remarks.fault(where, "there is no peg with a position", "List each peg with its name and position.")
    tell_astray(pegs, ground, remarks)
    tell_same_place(pegs, declared.shows, remarks)
    remarks.stop_if_faulty()
    if {"gridref", "lon"} <= ways:
        remarks.note(
            "positions-mixed",
            tables[0].place,
            "grid references, converted with OSTN15, stand beside longitudes; they agree if those are WGS 84",
        )
    for peg in pegs:
        tell_from_shore(peg, ground, declared.spans, remarks)
    return tuple(pegs)


def _without_peg_word(pegs: list[Peg], remarks: Remarks) -> list[Peg]:
    """The pegs, "Peg 1" and so on called 1: everywhere they are shown the word stands before the name."""
    short = [after_peg(peg.name) for peg in pegs]
    if not all(short) or len({name.casefold() for name in short}) < len(short):
        return pegs
    if pegs:
        told = f'the word "peg" is no part of a name: "{pegs[0].name}" is shown as "{short[0]}", and the others alike'
        remarks.note("peg-word", SourceRow(pegs[0].place.file), told)
    return [replace(peg, name=name) for peg, name in zip(pegs, short, strict=True)]


def check_pegs(tables: Sequence[Table], declared: Declaration, remarks: Remarks) -> None:
    """Tell what can be told of pegs without the water: units, and names that clash."""
    for table in tables:
        column_units(table, declared, remarks)
    rows = [row for table in tables for row in table.rows if row.label("peg")]
    tell_clashing_names([PegName(row.label("peg"), _aliases(row), row.place()) for row in rows], remarks)


def _aliases(row: Row) -> tuple[str, ...]:
    return tuple(alias.strip() for alias in re.split("[;|]", row.label("aliases")) if alias.strip())


def _peg(
    reader: RowReader, position: Position | None, ground: PegGround, declared: Declaration, remarks: Remarks
) -> Peg | None:
    row = reader.row
    name = row.label("peg")
    if not name:
        reader.reject("peg-missing", "peg", "the peg has no name", "Write its painted name.")
    elif position is None and not reader.rejected:
        reader.reject(
            "position-missing", next(iter(row.table.columns)), "the peg has no position", "Write its position."
        )
    margin = reader.metres("margin depth", 0.0, DEEPEST_M)
    if reader.rejected or position is None:
        return None
    lon, lat, easting, northing = _both_frames(position, ground.geometry)
    if not np.isfinite([lon, lat, easting, northing]).all():
        reader.reject(
            "position-unread",
            "lon",
            "the position lies outside the area of the venue's coordinate system",
            "Correct it.",
        )
        return None
    facing = _facing(row, remarks)
    return Peg(
        name=name,
        easting=easting,
        northing=northing,
        lon=lon,
        lat=lat,
        facing_deg=_worked_out(easting, northing, ground) if facing is None else facing,
        facing_sd_deg=declared.standard_errors.facing_guessed_deg
        if facing is None
        else declared.standard_errors.facing_declared_deg,
        facing_declared=facing is not None,
        position_sd_m=position.sd_m,
        position_declared=position.sd_declared,
        place=row.place(),
        aliases=_aliases(row),
        access=row.text("access"),
        status=row.text("status"),
        note=row.text("note"),
        margin_depth_m=margin,
    )


def _both_frames(position: Position, geometry: Geodesy) -> tuple[float, float, float, float]:
    if position.in_venue_crs:
        lon, lat = geometry.lonlat(position.x, position.y)
        return float(lon), float(lat), position.x, position.y
    try:
        easting, northing = geometry.xy(position.x, position.y)
    except PlacingError:
        return position.x, position.y, np.nan, np.nan
    return position.x, position.y, float(easting), float(northing)


def _facing(row: Row, remarks: Remarks) -> float | None:
    """The declared true bearing of straight out; a bad one is reported and estimated instead."""
    text = row.text("facing")
    if not text:
        return None
    try:
        bearing, north = read_bearing(text)
    except ParseError as trouble:
        problem = str(trouble)
    else:
        if north != "magnetic":
            return bearing
        problem = "straight out is given as a magnetic bearing"
    remarks.error(
        "facing-unread",
        row.place("facing"),
        f"{problem}; it was estimated from the bank instead",
        "Write a true bearing, 0 to 360.",
        text,
    )
    return None


def _worked_out(easting: float, northing: float, ground: PegGround) -> float:
    azimuth = ground.bank.out_azimuth_deg(easting, northing)
    return (azimuth + ground.geometry.convergence_deg(easting, northing)) % 360.0


def stated_of_pegs(pegs: Sequence[Peg], tables: Sequence[Table], spans: DistanceUnit) -> list[str]:
    """Defaults that the pegs took, each a sentence."""
    stated = []
    guessed = sum(not peg.facing_declared for peg in pegs)
    if guessed:
        sd = max(peg.facing_sd_deg for peg in pegs)
        where = f"{spans.whole(SMOOTHED_M)} of bank at {guessed} of {len(pegs)} pegs"
        stated.append(f"Facing estimated from {where}: usually within {sd:g}°, sometimes twice that.")
    rows = [row for table in tables for row in table.rows]
    if any(row.text("lon") and not row.text("position by") for row in rows):
        stated.append("Peg longitudes and latitudes are assumed to come from a phone where position_by is empty.")
    if any(row.text("gridref") for row in rows):
        stated.append(
            "Grid references were converted to WGS 84 with OSTN15, unless the map itself is on the national grid."
        )
    return stated
