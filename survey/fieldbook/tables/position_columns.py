"""A position in a row: longitude and latitude, easting and northing, or a grid reference.

Knows nothing of what stands there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from survey.errors import ParseError
from survey.fieldbook.tables.cells import RowReader
from survey.geometry.geodesy import lonlat_of_grid
from survey.records.declaration import Declaration
from survey.units import read_number
from survey.units.coordinates import read_degrees, read_gridref

WAYS = (("lon", "lat"), ("easting", "northing"), ("gridref",))
READERS: dict[str, Callable[[str], float]] = {
    "lon": lambda text: read_degrees(text, "lon"),
    "lat": lambda text: read_degrees(text, "lat"),
    "easting": read_number,
    "northing": read_number,
}
COARSEST_M = 10.0
POSITION_BY = {"surveyed": "surveyed", "survey": "surveyed", "traced": "surveyed", "phone": "phone", "gps": "phone"}


@dataclass(frozen=True)
class Position:
    """A position and how far each of its axes may be out.

    Parameters
    ----------
    x, y : float
        WGS 84 degrees, or metres in the venue's CRS where ``in_venue_crs``.
    sd_m : float
        Standard deviation of each axis, metres.
    way : str
        ``lon``, ``easting`` or ``gridref``: how it was written.
    in_venue_crs : bool
    sd_declared : bool
        False where the way it was taken was assumed.
    """

    x: float
    y: float
    sd_m: float
    way: str
    in_venue_crs: bool
    sd_declared: bool = False


def ways_given(reader: RowReader) -> list[tuple[str, ...]]:
    """The ways in which the row gives a position, each wholly or in part."""
    columns = reader.row.table.columns
    return [way for way in WAYS if any(name in columns and reader.row.text(name) for name in way)]


def read_position(reader: RowReader, declared: Declaration) -> Position | None:
    """The position of a row; None where it gives none or it cannot be read (the row is then rejected).

    Where ``position_by`` is silent, longitude and latitude count as taken with a phone, easting and
    northing and grid references as surveyed (ours).
    """
    given = ways_given(reader)
    if len(given) > 1:
        reader.reject(
            "position-twice",
            given[1][0],
            f"the position is given twice, as {given[0][0]} and as {given[1][0]}",
            "Keep one of them.",
        )
        return None
    if not given:
        return None
    way = given[0]
    missing = [name for name in way if not reader.row.text(name)]
    if missing:
        reader.reject(
            "position-missing",
            missing[0],
            f"there is {way[0] if missing[0] != way[0] else way[1]}, but no {missing[0]}",
            "Fill in both.",
        )
        return None
    told = reader.choice("position by", POSITION_BY)
    by = told or ("phone" if way[0] == "lon" else "surveyed")
    spread = "peg_phone_m" if by == "phone" else "peg_surveyed_m"
    sd = float(getattr(declared.standard_errors, spread))
    is_declared = told is not None or spread in declared.standard_errors.declared
    if way[0] == "gridref":
        found = _from_gridref(reader, sd, declared.on_british_grid)
        return found and replace(found, sd_declared=is_declared)
    x, y = (reader.read(name, READERS[name]) for name in way)
    return None if x is None or y is None else Position(x, y, sd, way[0], way[0] == "easting", is_declared)


def _from_gridref(reader: RowReader, sd_m: float, in_grid: bool) -> Position | None:
    found = reader.read("gridref", read_gridref)
    if found is None:
        return None
    easting, northing, cell = found
    if cell > COARSEST_M:
        reader.reject(
            "gridref-coarse",
            "gridref",
            f"the reference names a square of {cell:g} m",
            "Write it with at least four figures for each half.",
        )
        return None
    # Anywhere in the square is as likely: a rectangular distribution (JCGM 100:2008, 4.3.7).
    sd = float((sd_m**2 + cell**2 / 12) ** 0.5)
    if in_grid:
        return Position(easting, northing, sd, "gridref", in_venue_crs=True)
    try:
        lon, lat = lonlat_of_grid(easting, northing)
    except ParseError as trouble:
        reader.reject("gridref-unread", "gridref", str(trouble), "Correct the cell.")
        return None
    return Position(lon, lat, sd, "gridref", in_venue_crs=False)
