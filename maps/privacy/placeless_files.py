"""Files of a lake that hides its place: in a local frame, without coordinates."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely

from maps.language.catalogue import stated_key
from maps.privacy.own_frame import OWN, peg_moved, table_moved
from survey.arrays import FloatArray
from survey.errors import SurveyError
from survey.geometry.geodesy import Geodesy
from survey.records.readings import Fix
from survey.records.soundings import Soundings
from survey.records.venue import Peg, Venue
from survey.workup import WorkedSurvey

SEA_LON, SEA_LAT = -30.0, 60.0
"""Where the copy is laid out: mid-ocean, so that nobody takes it for the lake."""

SEA = f"+proj=tmerc +lat_0={SEA_LAT:g} +lon_0={SEA_LON:g} +k=1"

FILE_CRS = (
    'ENGCRS["Metres east and north of a corner of the water",EDATUM["a corner of the water"],CS[Cartesian,2],'
    'AXIS["easting (E)",east,ORDER[1]],AXIS["northing (N)",north,ORDER[2]],LENGTHUNIT["metre",1]]'
)
"""How files describe their coordinates: an engineering system (ISO 19162), tied to nothing on Earth."""

TELL_OF_PLACE = frozenset({"stated_utm", "stated_national_grid", "stated_phone", "stated_gridref"})
"""Defaults that hint at where the lake lies."""


def sea_crs(venue: Venue) -> str:
    """The copy's frame, for a venue in its own: metres from a corner of the water, laid out at sea."""
    west, south, *_ = venue.water.bounds
    return f"{SEA} +x_0={-math.floor(west)} +y_0={-math.floor(south)} +datum=WGS84 +units=m +no_defs"


def is_placeless(venue: Venue) -> bool:
    """True for the venue of a copy without its place."""
    return venue.crs.startswith(SEA)


def crs_of_files(venue: Venue) -> str:
    """The coordinate system that files name."""
    return FILE_CRS if is_placeless(venue) else venue.crs


def without_place(worked: WorkedSurvey) -> WorkedSurvey:
    """A survey that was worked up in the lake's own frame, without its place.

    Parameters
    ----------
    worked : WorkedSurvey

    Returns
    -------
    WorkedSurvey
        The same depths to the bit. No coordinate, zone of time, declination or default in it tells where the lake lies;
        what the club itself wrote in names, notes and words stands as it was.

    Raises
    ------
    SurveyError
        It was worked up in another frame: turn and scale of a national grid would tell of the place.
    """
    venue = worked.venue
    if not OWN.fullmatch(venue.crs):
        raise SurveyError(
            "[publish] hide_place: the survey was worked up on a map grid, which tells where the lake lies. "
            "Move its fieldbook first: placeless.in_own_frame."
        )
    west, south, *_ = venue.water.bounds
    corner = np.array([math.floor(west), math.floor(south)], float)
    crs = sea_crs(venue)

    def move(xy: FloatArray) -> FloatArray:
        return xy[:, :2] - corner

    water, geometry = shapely.transform(venue.water, move), Geodesy(crs)
    pegs = tuple(_at_sea(peg_moved(peg, move), geometry) for peg in venue.pegs)
    stated = tuple(line for line in venue.stated if stated_key(line) not in TELL_OF_PLACE)
    hidden = replace(venue, crs=crs, water=water, pegs=pegs, stated=stated, timezone="UTC", declination_deg=None)
    grid = worked.bed.grid
    grid = replace(grid, west=grid.west - corner[0], south=grid.south - corner[1])
    book = worked.fieldbook
    readings = tuple(replace(reading, where=Fix(0.0, 0.0, "venue", 0.0)) for reading in book.readings)
    return replace(
        worked,
        fieldbook=replace(book, venue=hidden, readings=readings, edges=(), changes=()),
        soundings=Soundings(table_moved(worked.soundings.table, move, crs)),
        isobaths=table_moved(worked.isobaths, move, crs),
        spots=tuple(replace(s, easting=s.easting - corner[0], northing=s.northing - corner[1]) for s in worked.spots),
        bed=replace(worked.bed, grid=grid, water=water, sampler=None),
    )


def _at_sea(peg: Peg, geometry: Geodesy) -> Peg:
    lon, lat = geometry.lonlat(peg.easting, peg.northing)
    return replace(peg, lon=float(lon), lat=float(lat))
