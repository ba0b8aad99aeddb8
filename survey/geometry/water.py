"""The water as a shape: distance to shore, sight over water, and where land stands between.

Geometry only, in the venue CRS; knows nothing of depths.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from survey.arrays import FloatArray
from survey.geometry.barriers import Barriers
from survey.geometry.sight import Sight

LEAST_NODES = 3
LEVEL_OFF_SHARE = 0.25


@dataclass(frozen=True)
class Locations:
    """Spots on the water with all that the covariance needs of them.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Easting and northing, metres.
    shore_m : ndarray, shape (n,)
        Distance to the nearest shore, islands included, metres.
    axes : ndarray, shape (n, 2)
        Extra coordinates, metres, that hold spots apart across land; zero on a convex lake.
    true_shore_m : ndarray, shape (n,)
        Distance to shore as it is; ``shore_m`` may have been levelled off.
    """

    xy: FloatArray
    shore_m: FloatArray
    axes: FloatArray
    true_shore_m: FloatArray

    def __len__(self) -> int:
        return len(self.xy)

    def take(self, index: NDArray[np.intp] | NDArray[np.bool_] | slice) -> Locations:
        """The places of an index."""
        return Locations(self.xy[index], self.shore_m[index], self.axes[index], self.true_shore_m[index])

    @staticmethod
    def joined(first: Locations, second: Locations) -> Locations:
        """Both, one after the other."""
        return Locations(
            np.vstack([first.xy, second.xy]),
            np.concatenate([first.shore_m, second.shore_m]),
            np.vstack([first.axes, second.axes]),
            np.concatenate([first.true_shore_m, second.true_shore_m]),
        )


class WaterGeometry:
    """Geometry of one water surface, worked out once.

    Parameters
    ----------
    water : MultiPolygon
        Valid, in a metric CRS.
    """

    def __init__(self, water: MultiPolygon) -> None:
        self.water = water
        shapely.prepare(self.water)
        rings = [ring for part in shapely.get_parts(water) for ring in [part.exterior, *part.interiors]]
        ends = [np.asarray(ring.coords)[:, :2] for ring in rings]
        self._from = np.vstack([e[:-1] for e in ends])
        self._to = np.vstack([e[1:] for e in ends])
        self._segments = shapely.STRtree(shapely.linestrings(np.stack([self._from, self._to], axis=1)))
        self.rings = rings

    def places(self, xy: FloatArray, level_off_m: float = np.inf) -> Locations:
        """Everything the covariance needs of spots.

        Parameters
        ----------
        xy : ndarray, shape (n, 2)
            Easting and northing, metres; may lie off the water.
        level_off_m : float
            Distance to shore beyond which it soon counts as no larger: readings teach nothing of
            the profile further out than they reach, and the middle of a lake is mostly flat.
        """
        xy = np.asarray(xy, float).reshape(-1, 2)
        spots, of = _each_spot(xy)
        shore = self.shore_m(spots)
        axes = self.barriers.axes(spots, shore)[of]
        return Locations(xy, levelled_off(shore, level_off_m)[of], axes, shore[of])

    def shore_m(self, xy: FloatArray) -> FloatArray:
        """Distance to the nearest shore, shape (n,), metres; on land too."""
        index, distance = self._segments.query_nearest(shapely.points(xy), all_matches=False, return_distance=True)
        out = np.empty(len(xy))
        out[index[0]] = distance
        return out

    @cached_property
    def sight(self) -> Sight:
        """Who sees what over this water."""
        return Sight(self.water)

    def shore_points(self, spacing_m: float) -> FloatArray:
        """Points along every shore at about even spacing, shape (n, 2)."""
        found = []
        for ring in self.rings:
            count = max(LEAST_NODES, round(ring.length / spacing_m))
            at = (np.arange(count) + 0.5) / count * ring.length
            found.append(shapely.get_coordinates(shapely.line_interpolate_point(ring, at)))
        return np.vstack(found)

    @cached_property
    def barriers(self) -> Barriers:
        """The land between waters, and the axes that stand for it."""
        return Barriers(self.water, self.shore_m, self.sight)

    @property
    def has_land_between(self) -> bool:
        """Whether land stands between any two waters enough to matter."""
        return self.barriers.divide


def _each_spot(xy: FloatArray) -> tuple[FloatArray, NDArray[np.intp]]:
    """Spots without repetition, shape (m, 2), and which of them each is: casts to one clock and metre are of one."""
    order = np.lexsort(xy.T)
    new = np.ones(len(xy), bool)
    new[1:] = (xy[order[1:]] != xy[order[:-1]]).any(axis=1)
    of = np.empty(len(xy), np.intp)
    of[order] = np.cumsum(new) - 1
    return xy[order[new]], of


def levelled_off(shore_m: FloatArray, limit_m: float) -> FloatArray:
    """Distance to shore that grows no further than a quarter beyond a limit, smoothly, metres.

    Examples
    --------
    >>> levelled_off(np.array([5.0, 20.0, 1000.0]), 20.0).tolist()
    [5.0, 20.0, 25.0]
    """
    if not np.isfinite(limit_m) or limit_m <= 0:
        return shore_m
    soft = LEVEL_OFF_SHARE * limit_m
    return np.where(shore_m <= limit_m, shore_m, limit_m + soft * -np.expm1(-(shore_m - limit_m) / soft))
