"""A float sighted from two pegs: where the two lines cross, and how well that is known.

Plane geometry in the venue CRS; knows nothing of readings.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from survey.errors import PlacingError

LEAST_CROSSING_DEG = 15.0
"""Sights nearer to parallel than this fix almost no distance (common practice asks for 30)."""
FURTHEST_M = 250.0
LARGEST_SD_M = 15.0


@dataclass(frozen=True)
class Sight:
    """One line of sight.

    Parameters
    ----------
    easting, northing : float
        Where it was taken from, venue CRS, metres.
    azimuth_deg : float
        Grid azimuth, clockwise from grid north.
    azimuth_sd_deg : float
        Everything that may turn it: the sight itself and the peg's straight out.
    point_sd_m : float
        Of the point it was taken from, each axis.
    """

    easting: float
    northing: float
    azimuth_deg: float
    azimuth_sd_deg: float
    point_sd_m: float

    @property
    def along(self) -> NDArray[np.float64]:
        """Unit vector, east and north."""
        turn = math.radians(self.azimuth_deg)
        return np.array([math.sin(turn), math.cos(turn)])


@dataclass(frozen=True)
class Meeting:
    """Where two sights cross.

    Parameters
    ----------
    easting, northing : float
    distance_m : float
        From the first point.
    axis_deg : float
        Grid azimuth of the error ellipse's long axis, 0 to 180.
    long_sd_m, short_sd_m : float
        Standard deviations along its axes.
    """

    easting: float
    northing: float
    distance_m: float
    axis_deg: float
    long_sd_m: float
    short_sd_m: float


def meeting(first: Sight, second: Sight, shown: Callable[[float], str] = "{:.0f} m".format) -> Meeting:
    """Intersect two sights; complaints give lengths as they are ``shown``.

    Raises
    ------
    PlacingError
        Near parallel, meeting behind a peg, or too far off to mean anything.

    Notes
    -----
    With unit vectors u and normals n, the spot solves ``n_k . (x - p_k) = 0``. To first order
    ``N dx = (t_k da_k + n_k . dp_k)`` with the rows of N the normals, t the distances along the sights,
    da their errors in radians and dp those of the points, so the covariance is ``inv(N) D inv(N)'`` with
    ``D = diag(t_k² var(a_k) + var(p_k))`` (classical intersection of two bearings; propagation of
    variances, JCGM 100:2008, 5.1).
    """
    u, v = first.along, second.along
    sine = float(u[0] * v[1] - u[1] * v[0])
    if abs(sine) < math.sin(math.radians(LEAST_CROSSING_DEG)):
        raise PlacingError(
            f"the two sights cross at {math.degrees(math.asin(abs(sine))):.0f}°, nearer to parallel than "
            f"{LEAST_CROSSING_DEG:g}°"
        )
    normals = np.array([[u[1], -u[0]], [v[1], -v[0]]])
    starts = np.array([[first.easting, first.northing], [second.easting, second.northing]])
    # Worked from the first point, so that large coordinates cost no figures.
    local = starts - starts[0]
    spot = np.linalg.solve(normals, (normals * local).sum(axis=1))
    reach = np.array([(spot - local[0]) @ u, (spot - local[1]) @ v])
    if (reach <= 0).any():
        raise PlacingError("the two sights do not meet in front of both pegs")
    if (reach > FURTHEST_M).any():
        out, furthest = shown(reach.max()), shown(FURTHEST_M)
        raise PlacingError(f"the two sights meet {out} out, further than {furthest}")
    turned = np.radians([first.azimuth_sd_deg, second.azimuth_sd_deg])
    across = reach**2 * turned**2 + np.array([first.point_sd_m, second.point_sd_m]) ** 2
    inverse = np.linalg.inv(normals)
    values, axes = np.linalg.eigh(inverse @ np.diag(across) @ inverse.T)
    short, long = np.sqrt(np.maximum(values, 0.0))
    if long > LARGEST_SD_M:
        raise PlacingError(f"the two sights leave the spot open by ± {shown(long)} (one standard deviation)")
    axis = math.degrees(math.atan2(axes[0, 1], axes[1, 1])) % 180.0
    east, north = starts[0] + spot
    return Meeting(float(east), float(north), float(reach[0]), axis, float(long), float(short))


@dataclass(frozen=True)
class Leverage:
    """How the crossing of two sights moves with the errors of one of them, to first order.

    Parameters
    ----------
    way : ndarray, shape (n, 2)
        Metres east and north for a metre across the sight: along the other sight.
    across : ndarray, shape (n, 2)
        Unit vector to the right of the sight; only this part of an error of its point counts.
    reach_m : ndarray, shape (n,)
        From the point to the spot; times the turn in radians it is the metres across.
    """

    way: NDArray[np.float64]
    across: NDArray[np.float64]
    reach_m: NDArray[np.float64]

    def covariance(self, point_sd_m: NDArray[np.float64], turn_sd_deg: NDArray[np.float64]) -> NDArray[np.float64]:
        """What errors of the point and of the direction bring, shape (n, 2, 2), m2."""
        variance = point_sd_m**2 + (self.reach_m * np.radians(turn_sd_deg)) ** 2
        return np.asarray(self.way[:, :, None] * self.way[:, None, :] * variance[:, None, None])


def leverages(
    first: NDArray[np.float64], second: NDArray[np.float64], spots: NDArray[np.float64]
) -> tuple[Leverage, Leverage]:
    """What each of two sights contributes to the spots where they cross.

    Parameters
    ----------
    first, second, spots : ndarray, shape (n, 2)
        Points the sights were taken from, and where they meet, venue CRS, metres.

    Notes
    -----
    With the columns w of ``inv(N)`` in :func:`meeting`,
    ``dx = w_1 (n_1 . dp_1 + t_1 da_1) + w_2 (n_2 . dp_2 + t_2 da_2)``.
    """
    along, reach = [], []
    for point in (first, second):
        off = spots - point
        reach.append(np.hypot(off[:, 0], off[:, 1]))
        along.append(off / reach[-1][:, None])
    u, v = along
    sine = u[:, :1] * v[:, 1:] - u[:, 1:] * v[:, :1]
    right = [np.column_stack([w[:, 1], -w[:, 0]]) for w in along]
    return Leverage(-v / sine, right[0], reach[0]), Leverage(u / sine, right[1], reach[1])
