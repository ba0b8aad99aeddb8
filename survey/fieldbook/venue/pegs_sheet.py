"""The pegs sheet to pegs: points, straight out, names; each held against the shore.

Knows nothing of readings.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import MultiPolygon

from survey.errors import ParseError, PlacingError, SourceRow
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import CellReader, RowReader, column_units
from survey.fieldbook.tables.headers import Row, Table
from survey.fieldbook.tables.position_columns import Position, read_position
from survey.fieldbook.tables.tabs import note_empty_rows
from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import SMOOTHED_M, Shoreline
from survey.records.declaration import Declaration
from survey.records.venue import Peg
from survey.units import read_bearing
from survey.units.club_units import DistanceUnit

SILENT_M = 2.0
NOTED_M = 10.0
ASTRAY_M = 50_000.0
FITS_M = 1000.0
DEEPEST_M = 40.0


@dataclass(frozen=True)
class PegGround:
    """What pegs are held against: the shore, and the ways between degrees and metres."""

    bank: Shoreline
    geometry: Geodesy

    @classmethod
    def of(cls, water: MultiPolygon, crs: str) -> PegGround:
        """The ground of a venue."""
        return cls(Shoreline(water), Geodesy(crs))


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
    _tell_clashing_names(pegs, remarks)
    if not pegs:
        where = tables[0].place if tables else SourceRow("pegs")
        remarks.fault(where, "there is no peg with a position", "List each peg with its name and position.")
    _tell_astray(pegs, ground, remarks)
    remarks.stop_if_faulty()
    if {"gridref", "lon"} <= ways:
        remarks.note(
            "positions-mixed",
            tables[0].place,
            "grid references, converted with OSTN15, stand beside longitudes; they agree if those are WGS 84",
        )
    for peg in pegs:
        _tell_from_shore(peg, ground, declared.spans, remarks)
    return tuple(pegs)


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
        place=row.place(),
        aliases=tuple(alias.strip() for alias in re.split("[;|]", row.label("aliases")) if alias.strip()),
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


def _tell_clashing_names(pegs: Sequence[Peg], remarks: Remarks) -> None:
    painted: dict[str, Peg] = {}
    for peg in pegs:
        first = painted.setdefault(peg.name, peg)
        if first is not peg:
            remarks.fault(
                SourceRow(peg.place.file, peg.place.row, "peg"),
                f"two pegs have this name, the other in row {first.place.row}",
                "Give each its own; other names go under aliases.",
                peg.name,
            )
    owners: dict[str, Peg] = {}
    for peg in pegs:
        for alias in peg.aliases:
            first = owners.setdefault(alias.casefold(), painted.get(alias, peg))
            if first is not peg:
                remarks.fault(
                    SourceRow(peg.place.file, peg.place.row, "aliases"),
                    f'the name also stands for peg "{first.name}"',
                    "Keep it for one of them.",
                    alias,
                )


def _tell_astray(pegs: Sequence[Peg], ground: PegGround, remarks: Remarks) -> None:
    """A fault where the pegs lie by another water, and above all if they fit with their axes swapped."""
    if not pegs:
        return
    away = float(np.median([ground.bank.distance_m(peg.easting, peg.northing) for peg in pegs]))
    if away <= FITS_M:
        return
    place = SourceRow(pegs[0].place.file)
    swapped = float(np.median([_swapped_distance_m(peg, ground) for peg in pegs]))
    if swapped <= FITS_M:
        remarks.fault(
            place,
            f"the pegs lie {away / 1000:.0f} km from the outline, but fit when longitude and latitude are swapped",
            "Swap the two columns in pegs, or the two numbers in the outline: longitude comes first there.",
        )
    elif away > ASTRAY_M:
        remarks.fault(
            place,
            f"the pegs lie {away / 1000:.0f} km from the outline",
            "Check the coordinate system and the signs of both (west and south are negative).",
        )


def _swapped_distance_m(peg: Peg, ground: PegGround) -> float:
    if abs(peg.lon) > 90.0:  # noqa: PLR2004 - no latitude
        return np.inf
    easting, northing = (float(value) for value in ground.geometry.xy(peg.lat, peg.lon))
    # The outline may be the one that is swapped, and its zone with it: then the shore is moved instead.
    return ground.bank.distance_m(easting, northing) if np.isfinite([easting, northing]).all() else np.inf


def _tell_from_shore(peg: Peg, ground: PegGround, spans: DistanceUnit, remarks: Remarks) -> None:
    away = ground.bank.distance_m(peg.easting, peg.northing)
    if away <= SILENT_M:
        return
    place = SourceRow(peg.place.file, peg.place.row, "peg")
    problem = f"the peg lies {spans.shown(away)} from the shore of the outline"
    if away <= NOTED_M:
        remarks.note("peg-off-shore", place, problem, value=peg.name)
    else:
        remarks.warning("peg-off-shore", place, problem, "Check its position and the outline there.", peg.name)


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
