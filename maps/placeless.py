"""A lake without its place: the same water, pegs and bed, in metres east and north of a corner of its own.

The survey is worked up in a frame of the lake whose north is true north and whose metre is a metre on the ground.
For the public copy that frame is laid out again in the open sea, where all that asks for longitude and latitude finds
some, and none that is true. Knows nothing of pages and files.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from maps.words import stated_key
from survey.errors import SurveyError
from survey.fixes import Geometry
from survey.readings import Crossing, Direction, Edge, Fieldbook, Fix, Reading
from survey.soundings import Soundings
from survey.venue import Peg, Venue
from survey.workup import WorkedSurvey

SEA_LON, SEA_LAT = -30.0, 60.0
"""Where the copy is laid out: mid-ocean, so that nobody takes it for the lake."""
ABOUT_THE_MIDDLE = "+k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"
OWN = re.compile(rf"\+proj=tmerc \+lat_0=[-\d.]+ \+lon_0=[-\d.]+ {re.escape(ABOUT_THE_MIDDLE)}")
SEA = f"+proj=tmerc +lat_0={SEA_LAT:g} +lon_0={SEA_LON:g} +k=1"
FILE_CRS = (
    'ENGCRS["Metres east and north of a corner of the water",EDATUM["a corner of the water"],CS[Cartesian,2],'
    'AXIS["easting (E)",east,ORDER[1]],AXIS["northing (N)",north,ORDER[2]],LENGTHUNIT["metre",1]]'
)
"""What files say of their coordinates: an engineering system (ISO 19162), tied to nothing on Earth."""
TELL_OF_PLACE = frozenset({"stated_utm", "stated_national_grid", "stated_phone", "stated_gridref"})
"""Defaults that hint at where the lake lies."""

Floats = NDArray[np.float64]
Move = Callable[[Floats], Floats]


def in_own_frame(book: Fieldbook) -> Fieldbook:
    """The fieldbook of a venue that hides its place, moved into the lake's own frame before it is worked up.

    Parameters
    ----------
    book : Fieldbook

    Returns
    -------
    Fieldbook
        As it is where the place is not hidden. Else transverse Mercator about the middle of the water, scale 1, so
        that no turn or scale of a national grid is left in it; bearings from grid north are made true.
    """
    venue = book.venue
    if not venue.publishing.hides_place:
        return book
    there, own = Geometry(venue.crs), own_crs(venue)
    ours = Geometry(own)

    def move(xy: Floats) -> Floats:
        return np.column_stack(ours.xy(*there.lonlat(xy[:, 0], xy[:, 1])))

    pegs = tuple(_standing(peg, move) for peg in venue.pegs)
    turns = {peg.name: there.convergence_deg(peg.easting, peg.northing) for peg in venue.pegs}
    moved = replace(venue, crs=own, water=_water(venue.water, move), pegs=pegs)
    readings = tuple(_reading(reading, move, turns) for reading in book.readings)
    return replace(book, venue=moved, readings=readings, edges=tuple(_edge(edge, move) for edge in book.edges))


def own_crs(venue: Venue) -> str:
    """The lake's own frame: its middle is the origin."""
    middle = venue.water.envelope.centroid
    lon, lat = Geometry(venue.crs).lonlat(middle.x, middle.y)
    return f"+proj=tmerc +lat_0={float(lat):.9f} +lon_0={float(lon):.9f} {ABOUT_THE_MIDDLE}"


def _water(water: MultiPolygon, move: Move) -> MultiPolygon:
    moved = shapely.make_valid(shapely.transform(water, move))
    parts = (inner for part in shapely.get_parts(moved) for inner in shapely.get_parts(part))
    return MultiPolygon([part for part in parts if part.geom_type == "Polygon"])


def _standing(peg: Peg, move: Move) -> Peg:
    easting, northing = move(np.array([[peg.easting, peg.northing]]))[0]
    return replace(peg, easting=float(easting), northing=float(northing))


def _edge(edge: Edge, move: Move) -> Edge:
    return replace(edge, points=tuple((float(x), float(y)) for x, y in move(np.array(edge.points, float))))


def _reading(reading: Reading, move: Move, turns: dict[str, float]) -> Reading:
    where = reading.where
    if isinstance(where, Fix):
        if where.frame == "lonlat":
            return reading
        x, y = move(np.array([[where.x, where.y]]))[0]
        return replace(reading, where=replace(where, x=float(x), y=float(y)))
    turned = replace(where, direction=_true(where.direction, turns.get(reading.peg, 0.0)))
    if isinstance(turned, Crossing):
        other = _true(turned.other_direction, turns.get(turned.other_peg, 0.0))
        turned = replace(turned, other_direction=other)
    return replace(reading, where=turned)


def _true(direction: Direction, convergence_deg: float) -> Direction:
    if direction.kind != "bearing" or direction.north != "grid":
        return direction
    return replace(direction, value_deg=(direction.value_deg + convergence_deg) % 360.0, north="true")


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

    def move(xy: Floats) -> Floats:
        return xy[:, :2] - corner

    water, geometry = shapely.transform(venue.water, move), Geometry(crs)
    pegs = tuple(_at_sea(_standing(peg, move), geometry) for peg in venue.pegs)
    stated = tuple(line for line in venue.stated if stated_key(line) not in TELL_OF_PLACE)
    hidden = replace(venue, crs=crs, water=water, pegs=pegs, stated=stated, timezone="UTC", declination_deg=None)
    grid = worked.bed.grid
    grid = replace(grid, west=grid.west - corner[0], south=grid.south - corner[1])
    book = worked.fieldbook
    readings = tuple(replace(reading, where=Fix(0.0, 0.0, "venue", 0.0)) for reading in book.readings)
    return replace(
        worked,
        fieldbook=replace(book, venue=hidden, readings=readings, edges=()),
        soundings=Soundings(_moved(worked.soundings.table, move, crs)),
        isobaths=_moved(worked.isobaths, move, crs),
        spots=tuple(replace(s, easting=s.easting - corner[0], northing=s.northing - corner[1]) for s in worked.spots),
        bed=replace(worked.bed, grid=grid, water=water, sampler=None),
    )


def _at_sea(peg: Peg, geometry: Geometry) -> Peg:
    lon, lat = geometry.lonlat(peg.easting, peg.northing)
    return replace(peg, lon=float(lon), lat=float(lat))


def _moved(table: gpd.GeoDataFrame, move: Move, crs: str) -> gpd.GeoDataFrame:
    shapes = shapely.transform(table.geometry.to_numpy(), move)
    return table.set_geometry(gpd.GeoSeries(shapes, index=table.index, crs=crs), crs=crs)
