"""Tracks walked round the water with a phone: one lap of them, smoothed as far as their own points scatter.

Works in metres. Knows nothing of files, and not which ring is water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, LineString, Polygon

from survey.arrays import FloatArray, Index

LEAST_POINTS = 30
WIDEST_STEP_M = 15.0
"""A track with fewer points, or with half of them further apart, was drawn or planned: its corners are meant."""
LEAST_SCATTER_M, MOST_SCATTER_M = 0.3, 10.0
"""Points that scatter less are left as they are; more is not believed of a phone."""
ENDS_SHARE, TRIMMED_COST = 0.25, 0.6
"""Where a walk closes is looked for in its first and last quarter; what is cut off has to narrow the gap by so much
of its length."""
MOST_ENDS = 1500
MOST_LAPS = 6
MOST_SMOOTHED = 2000
"""Of longer tracks each few neighbours are taken together first."""
NORMAL_MAD = 0.6745
"""Median size of a standard normal error."""
SECOND_DIFFERENCE = 6.0**0.5
"""Standard deviation of a - 2 b + c, for independent errors of one."""
STRAIGHT_M = 0.01
"""A bend of less counts as none."""
ROUNDS, HALVINGS = 8, 12
SOFTEST, STIFFEST = 0.1, 1e4
"""Between these, times the scatter, the penalty on bends is looked for."""
LAP_STEP_M = 1.0
SECOND = {-1: 1.0, 0: -2.0, 1: 1.0}
"""What a second difference takes of a point and its neighbours."""
BAND = 4


@dataclass(frozen=True)
class Walk:
    """A walk round the water.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Once round, not closed, metres.
    laps : int
        How often it went round.
    apart_m : float
        Root mean square distance of the laps from each other; nan with one.
    scatter_m : float
        Standard deviation of a point about the smoothed line, each axis; 0: it was left as it is.
    """

    points: FloatArray
    laps: int = 1
    apart_m: float = float("nan")
    scatter_m: float = 0.0


def is_walk(points: FloatArray) -> bool:
    """Whether a line has points as close as a phone takes them."""
    if len(points) < LEAST_POINTS:
        return False
    return bool(np.median(np.hypot(*np.diff(points, axis=0).T)) <= WIDEST_STEP_M)


def walked(points: FloatArray) -> Walk:
    """One smoothed lap of a track.

    Several laps are smoothed one by one, and the middle of them taken.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        From where it closes, see :func:`closing_part`, metres.
    """
    laps = [_smoothed(lap) for lap in _laps(points)]
    scatter = float(np.sqrt(np.mean([s**2 for _, s in laps])))
    if len(laps) == 1:
        return Walk(laps[0][0], scatter_m=scatter)
    middle, apart = _middle([lap for lap, _ in laps])
    return Walk(middle, len(laps), apart, scatter)


def scatter_m(points: FloatArray) -> float:
    """How far points of a closed track scatter about a smooth line, each axis: standard deviation, metres.

    By second differences, which a smooth line has next to none of; their median, so that corners do not count.
    """
    second = points - 0.5 * (np.roll(points, 1, axis=0) + np.roll(points, -1, axis=0))
    return float(np.median(np.abs(2.0 * second))) / NORMAL_MAD / SECOND_DIFFERENCE


def _length_m(points: FloatArray) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def closing_part(points: FloatArray) -> tuple[FloatArray, float]:
    """The track without what lies before and after it closes, and the length of that, metres."""
    quarter = max(int(ENDS_SHARE * len(points)), 1)
    step = -(-quarter // MOST_ENDS)
    first, last = np.arange(0, quarter, step), np.arange(len(points) - 1, len(points) - 1 - quarter, -step)
    along = np.concatenate([[0.0], np.hypot(*np.diff(points, axis=0).T).cumsum()])
    cut = along[first][:, None] + (along[-1] - along[last])[None, :]
    apart = np.hypot(*(points[first][:, None] - points[last][None]).transpose(2, 0, 1))
    cost = apart + TRIMMED_COST * cut
    i, j = np.unravel_index(int(np.argmin(cost)), cost.shape)
    return points[first[i] : last[j] + 1], float(cut[i, j])


def _laps(points: FloatArray) -> list[FloatArray]:
    """The track parted where it comes round to its start again."""
    count = _times_round(points)
    if not 1 < count <= MOST_LAPS:
        return [points]
    ends = [0]
    for k in range(1, count):
        # Each lap is about as long as the others; it ends where the track passes its start.
        low, high = (int(len(points) * (k + side) / count) for side in (-0.3, 0.3))
        ends.append(low + int(np.argmin(np.hypot(*(points[low:high] - points[0]).T))))
    return [points[a:b] for a, b in zip(ends, [*ends[1:], len(points)], strict=True)]


def _times_round(points: FloatArray) -> int:
    """How often a track goes round the largest area that it encloses."""
    closed = np.vstack([points, points[:1]])
    faces = shapely.get_parts(shapely.polygonize([shapely.node(LineString(closed))]))
    if not len(faces):
        return 1
    centre = shapely.get_coordinates(shapely.point_on_surface(faces[int(np.argmax(shapely.area(faces)))]))[0]
    east, north = (closed - centre).T
    turned = np.diff(np.unwrap(np.arctan2(north, east)))
    return abs(round(float(turned.sum()) / (2 * np.pi)))


def _smoothed(points: FloatArray) -> tuple[FloatArray, float]:
    """The lap without its scatter, and how large that is; as it is where there is next to none.

    Notes
    -----
    The line that bends at the fewest places among those from which the points are off by their scatter: a penalty on
    the size of second differences, as in trend filtering (Kim, Koh, Boyd and Gorinevsky 2009, from memory), by weighted
    least squares, as stiff as the scatter allows. What it changes in area is given back along the whole shore.
    """
    joined = -(-len(points) // MOST_SMOOTHED)
    if joined > 1:
        points = np.array([part.mean(axis=0) for part in np.array_split(points, len(points) // joined)])
    scatter = scatter_m(points)
    if not LEAST_SCATTER_M <= scatter <= MOST_SCATTER_M:
        return points, 0.0
    low, high = np.log([SOFTEST, STIFFEST])
    found = points
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        line = _stiffened(points, scatter * float(np.exp(middle)))
        if np.sqrt(np.mean((line - points) ** 2)) <= scatter:
            low, found = middle, line
        else:
            high = middle
    return _of_area(found, _area_m2(points)), scatter


def _stiffened(points: FloatArray, stiffness: float) -> FloatArray:
    """The ring that bends little, and only where it must, near the points."""
    from scipy.linalg import solveh_banded  # noqa: PLC0415 - only a walk is worth its start-up

    n = len(points)
    # Taken from both ends in turn, neighbours round the ring stand four places apart at most: a narrow band.
    order = np.empty(n, int)
    order[: -(-n // 2)], order[-(-n // 2) :] = np.arange(0, n, 2), np.arange(1, n, 2)[::-1]
    shuffled = np.empty_like(points)
    shuffled[order] = points
    line, weights = points, np.ones(n)
    for _ in range(ROUNDS):
        line = solveh_banded(_bands(order, stiffness * weights), shuffled, lower=True)[order]
        bends = np.roll(line, 1, axis=0) - 2.0 * line + np.roll(line, -1, axis=0)
        weights = 1.0 / np.hypot(np.hypot(*bends.T), STRAIGHT_M)
    return line


def _bands(order: Index, weights: FloatArray) -> FloatArray:
    """One plus the weighted squares of second differences round a ring, as bands below the diagonal."""
    n = len(order)
    bands = np.zeros((BAND + 1, n))
    bands[0] = 1.0
    ring = np.arange(n)
    for one, of_one in SECOND.items():
        for other, of_other in SECOND.items():
            row, column = order[(ring + one) % n], order[(ring + other) % n]
            below = row >= column
            np.add.at(bands, ((row - column)[below], column[below]), (weights * of_one * of_other)[below])
    return bands


def _area_m2(points: FloatArray) -> float:
    """Area enclosed, loops of the other sense taken off: errors of single points do not change it on average."""
    x, y = (points - points.mean(axis=0)).T
    return float(abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2)


def _of_area(points: FloatArray, area_m2: float) -> FloatArray:
    """The ring set out, or in, all along by what its area lacks; as it is where that would tear it."""
    ring = Polygon(points)
    if not ring.is_valid:
        return points
    wider = ring.buffer((area_m2 - ring.area) / ring.length, join_style="mitre")
    return shapely.get_coordinates(wider.exterior)[:-1] if wider.geom_type == "Polygon" else points


def _middle(laps: list[FloatArray]) -> tuple[FloatArray, float]:
    """The line midway between laps, and their root mean square distance from the first, metres."""
    rings = [LinearRing(lap) for lap in laps]
    points = shapely.get_coordinates(shapely.segmentize(rings[0], LAP_STEP_M))[:-1]
    beside: list[NDArray[np.float64]] = [
        shapely.get_coordinates(ring.interpolate(ring.project(shapely.points(points)))) for ring in rings[1:]
    ]
    apart = np.array([np.hypot(*(other - points).T) for other in beside])
    return np.mean([points, *beside], axis=0), float(np.sqrt(np.mean(apart**2)))
