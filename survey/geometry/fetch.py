"""Fetch: how much open water the wind has blown over."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Point

RADIALS_DEG = tuple(range(-42, 43, 6))
"""Fifteen lines to either side of the wind (Saville, McClendon and Cochran 1962; Shore Protection Manual)."""


def effective_fetch(water: MultiPolygon, easting: float, northing: float, from_deg: float) -> float | None:
    """Effective fetch at a spot, metres; None off the water.

    Parameters
    ----------
    water : MultiPolygon
        Water without islands, metric CRS.
    easting, northing : float
    from_deg : float
        Grid azimuth the wind comes from.

    Notes
    -----
    ``sum(x_i cos a_i) / sum(cos a_i)`` over fifteen radials within 42° of the wind, x_i the length over water to
    the first land along each (Saville and others 1962; Håkanson and Jansson 1983; authors differ in whether x_i
    is the radial or its projection: here the radial).
    """
    if not shapely.intersects_xy(water, easting, northing):
        return None
    angles = np.radians(RADIALS_DEG)
    west, south, east, north = water.bounds
    far = float(np.hypot(east - west, north - south)) + 1.0
    lengths = [_open_water(water, easting, northing, np.radians(from_deg) + a, far) for a in angles]
    return float(np.dot(lengths, np.cos(angles)) / np.cos(angles).sum())


def _open_water(water: MultiPolygon, easting: float, northing: float, azimuth: float, far: float) -> float:
    end = (easting + far * np.sin(azimuth), northing + far * np.cos(azimuth))
    over = shapely.get_parts(LineString([(easting, northing), end]).intersection(water))
    here = Point(easting, northing)
    return max((float(part.length) for part in over if part.distance(here) < 1e-6), default=0.0)  # noqa: PLR2004
