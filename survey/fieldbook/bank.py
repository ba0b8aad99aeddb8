"""Where a peg stands to the bank: how far from the shore, and which way is straight out.

Knows nothing of files.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, MultiPolygon, Point
from shapely.geometry.polygon import orient

SMOOTHED_M = 10.0
"""Length of shore whose normal is straight out."""


class Bank:
    """The shore of a venue.

    Parameters
    ----------
    water : MultiPolygon
        Venue CRS, metres.
    """

    def __init__(self, water: MultiPolygon) -> None:
        # Turned so that the water lies to the left of every ring, islands too.
        turned = [orient(polygon, 1.0) for polygon in water.geoms]
        self._rings: list[LinearRing] = [ring for p in turned for ring in (p.exterior, *p.interiors)]

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


def _along(ring: LinearRing, at: float) -> NDArray[np.float64]:
    spot = ring.interpolate(at % ring.length)
    return np.array([spot.x, spot.y])
