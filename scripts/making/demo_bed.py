"""Sallowby Pit, an invented lake whose bed is known in closed form: outline, depth and hard bed.

Local metres: x east and y north on the venue's grid from ``ORIGIN``. Depth is below datum,
positive down, and zero at every shore. Knows nothing of pegs, readings or how they are written.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline
from scipy.special import expit
from shapely import LineString, Polygon

CRS = "EPSG:32630"
ORIGIN = (650_900.0, 5_990_950.0)
"""Easting and northing of local (0, 0): dry chalk upland, where no lake is."""

SHORE = (
    *((97, 0), (92, 24), (73, 40), (46, 46), (18, 44), (-8, 48), (-36, 50), (-61, 43), (-77, 28)),
    *((-91, 17), (-109, 14), (-127, 10), (-138, 2), (-130, -7), (-113, -2), (-96, -1)),  # the arm
    *((-85, -12), (-73, -32), (-50, -44), (-24, -50), (2, -54), (26, -52), (41, -45)),
    *((36, -36), (22, -33), (6, -31), (-4, -26), (6, -21), (26, -22)),  # the spit and the bay behind it
    *((48, -27), (69, -30), (87, -20)),
)
ISLAND_CENTRE, ISLAND_HALF_AXES = (40.0, 11.0), (14.0, 8.0)

SHELF_DEPTH, SHELF_RAMP, DROP_SCALE = 0.5, 0.9, 1.2
BAR_FROM, BAR_TO, BAR_HEIGHT, BAR_WIDTH = (-26.0, -36.0), (-2.0, 33.0), 1.3, 6.0
BAY_LIFT = 1.5
ARM_DEPTH, SILT_THICKNESS = 1.6, 0.75

Numbers = NDArray[np.float64]


def shoreline() -> Numbers:
    """Outer shore: a periodic cubic through ``SHORE``, shape (n, 2), counterclockwise, local metres."""
    points = np.array([*SHORE, SHORE[0]], float)
    steps = np.sqrt(np.hypot(*np.diff(points, axis=0).T))
    knots = np.concatenate([[0.0], np.cumsum(steps)])
    between = [np.linspace(a, b, 8, endpoint=False) for a, b in pairwise(knots)]
    curve: Numbers = CubicSpline(knots, points, bc_type="periodic")(np.concatenate(between))
    return curve


def island() -> Numbers:
    """Shore of the island: an ellipse with a blunt end, shape (n, 2), local metres."""
    turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    (cx, cy), (a, b) = ISLAND_CENTRE, ISLAND_HALF_AXES
    return np.column_stack([cx + a * np.cos(turn), cy + b * np.sin(turn) * (1 + 0.25 * np.cos(turn))])


WATER = Polygon(shoreline(), [island()])
"""The water at datum, local metres."""
shapely.prepare(WATER)


def depth(x: ArrayLike, y: ArrayLike) -> Numbers:
    """Depth of the bed that a plummet meets (top of the silt), metres below datum; 0 off the water."""
    return hard_depth(x, y) - silt(x, y)


def hard_depth(x: ArrayLike, y: ArrayLike) -> Numbers:
    """Depth of the hard bed: a marginal shelf, a drop-off, then the open bed; metres below datum."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    off = _off_shore(x, y)
    width = 3.4 + 1.6 * np.sin(x / 23) * np.cos(y / 19 + 0.7)
    foot = expit(-width / DROP_SCALE)
    drop = (expit((off - width) / DROP_SCALE) - foot) / (1 - foot)
    return SHELF_DEPTH * (1 - np.exp(-off / SHELF_RAMP)) + (_open_bed(x, y) - SHELF_DEPTH) * drop


def silt(x: ArrayLike, y: ArrayLike) -> Numbers:
    """Thickness of the silt, metres: it fills the arm toward its head."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    return SILT_THICKNESS * expit(-(x + 108) / 5) * (1 - np.exp(-((_off_shore(x, y) / 3.5) ** 2)))


def _off_shore(x: Numbers, y: Numbers) -> Numbers:
    """Distance to the nearest shore, metres; 0 off the water."""
    points = shapely.points(x, y)
    return np.where(shapely.covers(WATER, points), shapely.distance(WATER.boundary, points), 0.0)


def _open_bed(x: Numbers, y: Numbers) -> Numbers:
    """The bed away from the shore: gently rolling, two holes, a gravel bar, a shallow bay and arm."""
    bed = 2.4 + 0.3 * np.sin(x / 40 + 0.5) + 0.2 * np.cos(y / 22)
    bed = bed + 1.5 * _mound((x + 50) / 11, (y - 14) / 9) + 1.2 * _mound((x - 66) / 12, (y + 4) / 7)
    bed = bed - bar(x, y) - BAY_LIFT * expit((-28.5 - y) / 1.5) * expit((x + 6) / 3) * expit((44 - x) / 2)
    in_arm = expit(-(x + 92) / 4)
    return bed + (ARM_DEPTH - bed) * in_arm


def _mound(u: Numbers, v: Numbers) -> Numbers:
    return np.exp(-(u**2 + v**2) / 2)


def bar(x: ArrayLike, y: ArrayLike) -> Numbers:
    """Height of the gravel bar over the bed around it, metres."""
    line = LineString([BAR_FROM, BAR_TO])
    return BAR_HEIGHT * np.exp(-((shapely.distance(line, shapely.points(x, y)) / BAR_WIDTH) ** 2) / 2)
