"""Whether a spot is on the water, and where a cast enters it.

Works in the venue's CRS. Knows nothing of readings or depths.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, MultiPolygon, Point
from shapely.geometry.polygon import orient

from survey.arrays import FloatArray
from survey.geometry.sight import BANK_M, Sight

SMOOTHED_M = 10.0
"""Length of shore whose normal is straight out."""


_INSIDE_M = 0.01


@dataclass(frozen=True)
class Shoreline:
    """The water's edge.

    Parameters
    ----------
    water : MultiPolygon
        Water without islands, metric CRS.
    """

    water: MultiPolygon

    def __post_init__(self) -> None:
        shapely.prepare(self.water)

    @cached_property
    def _rings(self) -> list[LinearRing]:
        # Turned so that the water lies to the left of every ring, islands too.
        turned = [orient(polygon, 1.0) for polygon in self.water.geoms]
        return [ring for polygon in turned for ring in (polygon.exterior, *polygon.interiors)]

    def distance_m(self, easting: float, northing: float) -> float:
        """Distance to the nearest shore, on land or water, metres."""
        return float(shapely.distance(self._rings, Point(easting, northing)).min())

    def out_azimuth_deg(self, easting: float, northing: float) -> float:
        """Grid azimuth, clockwise from grid north, at right angles to the nearest shore, over the water.

        The shore is smoothed over 10 m (ours): its direction is that of the chord between the
        points 5 m to either side.
        """
        point = Point(easting, northing)
        ring = self._rings[int(np.argmin(shapely.distance(self._rings, point)))]
        half = min(SMOOTHED_M / 2, ring.length / 4)
        at = ring.project(point)
        back, ahead = (_along(ring, at + step) for step in (-half, half))
        east, north = ahead - back
        return float(np.degrees(np.arctan2(-north, east))) % 360.0

    @cached_property
    def sight(self) -> Sight:
        """Who sees what over this water."""
        return Sight(self.water)

    def outside_m(self, easting: float, northing: float) -> float:
        """How far a spot lies from the water, metres; 0 on the water and on its edge."""
        return float(self.all_outside_m(np.array([[easting, northing]]))[0])

    def all_outside_m(self, xy: FloatArray) -> FloatArray:
        """The same for many spots, shape (n, 2)."""
        return np.asarray(shapely.distance(self.water, shapely.points(xy)), float)

    def pulled(self, xy: FloatArray) -> FloatArray:
        """The nearest spots on the water, a centimetre in where there is room; shapes (n, 2)."""
        lines = shapely.shortest_line(shapely.points(xy), self.water)
        (start, end), length = shapely.get_coordinates(lines).reshape(-1, 2, 2).swapaxes(0, 1), shapely.length(lines)
        moved = length > 0
        further = 1.0 + _INSIDE_M / np.where(moved, length, 1.0)
        beyond = start + (end - start) * further[:, None]
        has_room = moved & shapely.intersects_xy(self.water, *beyond.T)
        there: FloatArray = np.where(has_room[:, None], beyond, end)
        return there

    def edges_along(self, pegs: FloatArray, ahead: FloatArray) -> FloatArray:
        """Where casts from pegs enter the water.

        Parameters
        ----------
        pegs : ndarray, shape (n, 2)
            Easting and northing of the pegs' points.
        ahead : ndarray, shape (n, 2)
            Easting and northing of one metre on the ground along each cast.

        Returns
        -------
        ndarray, shape (n,)
            Ground metres from the peg's point, negative where the point stands in the water;
            nan where no edge lies within :data:`BANK_M`.
        """
        lines = _lines(pegs - BANK_M * ahead, pegs + BANK_M * ahead)
        length = shapely.length(lines)
        parts, of_line = shapely.get_parts(shapely.intersection(lines, self.water), return_index=True)
        over = shapely.length(parts) > 0
        parts, of_line = parts[over], of_line[over]
        ends = (shapely.line_locate_point(lines[of_line], shapely.get_point(parts, k)) for k in (0, -1))
        start, end = np.sort(np.column_stack([*ends]), axis=1).T
        # The first stretch of water that reaches to the peg or beyond it.
        reaching = np.flatnonzero(end >= length[of_line] / 2)
        first = reaching[np.lexsort((end[reaching], start[reaching], of_line[reaching]))]
        met, at = np.unique(of_line[first], return_index=True)
        begins = start[first][at]
        found = np.full(len(lines), np.nan)
        found[met] = np.where(begins > 0, (begins / length[met] * 2 - 1) * BANK_M, np.nan)
        return found


def _lines(start: FloatArray, end: FloatArray) -> NDArray[np.object_]:
    """Straight lines between spots, shapes (n, 2)."""
    return np.asarray(shapely.linestrings(np.stack([start, end], axis=1)))


def _along(ring: LinearRing, at: float) -> NDArray[np.float64]:
    spot = ring.interpolate(at % ring.length)
    return np.array([spot.x, spot.y])
