"""A lake without its place: the same water, pegs and bed, in metres east and north of a corner of its own.

The survey is worked up in a frame of the lake whose north is true north and whose metre is a metre on the ground.
For the public copy that frame is laid out again in the open sea, where all that asks for longitude and latitude finds
some, and none that is true. Knows nothing of pages and files.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry import MultiPolygon

from survey.arrays import FloatArray
from survey.geometry.geodesy import Geodesy
from survey.records.fieldbook import Edge, Fieldbook
from survey.records.readings import Direction, Fix, Intersection, Reading
from survey.records.venue import Peg, Venue

ABOUT_THE_MIDDLE = "+k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"
OWN = re.compile(rf"\+proj=tmerc \+lat_0=[-\d.]+ \+lon_0=[-\d.]+ {re.escape(ABOUT_THE_MIDDLE)}")

Move = Callable[[FloatArray], FloatArray]


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
    there, own = Geodesy(venue.crs), own_crs(venue)
    ours = Geodesy(own)

    def move(xy: FloatArray) -> FloatArray:
        return np.column_stack(ours.xy(*there.lonlat(xy[:, 0], xy[:, 1])))

    pegs = tuple(peg_moved(peg, move) for peg in venue.pegs)
    turns = {peg.name: there.convergence_deg(peg.easting, peg.northing) for peg in venue.pegs}
    moved = replace(venue, crs=own, water=_water(venue.water, move), pegs=pegs)
    readings = tuple(_reading(reading, move, turns) for reading in book.readings)
    edges = tuple(_edge(edge, move) for edge in book.edges)
    changes = tuple(replace(one, area=None if one.area is None else _water(one.area, move)) for one in book.changes)
    return replace(book, venue=moved, readings=readings, edges=edges, changes=changes)


def own_crs(venue: Venue) -> str:
    """The lake's own frame: its middle is the origin."""
    middle = venue.water.envelope.centroid
    lon, lat = Geodesy(venue.crs).lonlat(middle.x, middle.y)
    return f"+proj=tmerc +lat_0={float(lat):.9f} +lon_0={float(lon):.9f} {ABOUT_THE_MIDDLE}"


def _water(water: MultiPolygon, move: Move) -> MultiPolygon:
    moved = shapely.make_valid(shapely.transform(water, move))
    parts = (inner for part in shapely.get_parts(moved) for inner in shapely.get_parts(part))
    return MultiPolygon([part for part in parts if part.geom_type == "Polygon"])


def peg_moved(peg: Peg, move: Move) -> Peg:
    """A peg in the lake's own frame."""
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
    if isinstance(turned, Intersection):
        other = _true(turned.other_direction, turns.get(turned.other_peg, 0.0))
        turned = replace(turned, other_direction=other)
    return replace(reading, where=turned)


def _true(direction: Direction, convergence_deg: float) -> Direction:
    if direction.kind != "bearing" or direction.north != "grid":
        return direction
    return replace(direction, value_deg=(direction.value_deg + convergence_deg) % 360.0, north="true")


def table_moved(table: gpd.GeoDataFrame, move: Move, crs: str) -> gpd.GeoDataFrame:
    """A table whose geometry stands in the lake's own frame."""
    shapes = shapely.transform(table.geometry.to_numpy(), move)
    return table.set_geometry(gpd.GeoSeries(shapes, index=table.index, crs=crs), crs=crs)
