"""The water as a shape: distance to shore, sight over water, and where land stands between.

Geometry only, in the venue CRS; knows nothing of depths.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.spatial import cKDTree
from shapely.geometry import MultiPolygon

from survey.geometry.barriers import (
    _STEPS,
    LATTICE_COARSEST_M,
    LATTICE_FINEST_M,
    LATTICE_NODES,
    SHALLOWEST_BAY_M,
    FloatArray,
    _detours,
    _landmark_scaling,
    _path_distances,
)
from survey.geometry.sight import Sight

LEAST_NODES = 3
WORKERS = 2
"""Threads that look for the nearest nodes; only the lines of sight, on prepared geometry, keep to one."""
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
        axes = self._axes(spots, shore)[of]
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

    @property
    def has_land_between(self) -> bool:
        """Whether land stands between any two waters enough to matter."""
        return self._embedding is not None

    @cached_property
    def lattice_m(self) -> float:
        """Spacing of the path lattice, metres: from the water's area alone."""
        return float(np.clip(np.sqrt(self.water.area / LATTICE_NODES), LATTICE_FINEST_M, LATTICE_COARSEST_M))

    @cached_property
    def _embedding(self) -> tuple[FloatArray, FloatArray] | None:
        """Lattice nodes and their axes; None where land stands between nothing."""
        islands = any(len(part.interiors) for part in shapely.get_parts(self.water))
        into_hull = shapely.distance(shapely.points(self._from), self.water.convex_hull.exterior).max()
        if not islands and into_hull <= SHALLOWEST_BAY_M:
            return None
        nodes, index = self._lattice()
        if len(nodes) < LEAST_NODES:
            return None
        to_landmarks, landmarks = _path_distances(nodes, self._edges(nodes, index))
        straight = np.linalg.norm(nodes[:, None, :] - nodes[None, landmarks, :], axis=2)
        squared = _detours(to_landmarks, straight)
        axes = _landmark_scaling(squared, landmarks)
        return None if axes is None else (nodes, axes)

    def _lattice(self) -> tuple[FloatArray, dict[tuple[int, int], int]]:
        west, south, east, north = self.water.bounds
        step = self.lattice_m
        i, j = np.meshgrid(
            np.arange(int((north - south) / step) + 1), np.arange(int((east - west) / step) + 1), indexing="ij"
        )
        xy = np.column_stack([west + (j.ravel() + 0.5) * step, south + (i.ravel() + 0.5) * step])
        wet = shapely.contains_xy(self.water, xy[:, 0], xy[:, 1])
        keys = zip(i.ravel()[wet].tolist(), j.ravel()[wet].tolist(), strict=True)
        return xy[wet], {key: k for k, key in enumerate(keys)}

    def _edges(self, nodes: FloatArray, index: dict[tuple[int, int], int]) -> coo_matrix:
        pairs = np.array(
            [
                (k, index[i + di, j + dj])
                for (i, j), k in index.items()
                for di, dj in _STEPS
                if (i + di, j + dj) in index
            ]
        ).reshape(-1, 2)
        length = np.linalg.norm(nodes[pairs[:, 0]] - nodes[pairs[:, 1]], axis=1)
        shore = self.shore_m(nodes)
        clear = shore[pairs[:, 0]] > length
        clear[~clear] = self.sight.over_water(nodes[pairs[~clear, 0]], nodes[pairs[~clear, 1]])
        pairs, length = pairs[clear], length[clear]
        return coo_matrix((length, (pairs[:, 0], pairs[:, 1])), shape=(len(nodes), len(nodes)))

    def _axes(self, xy: FloatArray, shore_m: FloatArray) -> FloatArray:
        if self._embedding is None:
            return np.zeros((len(xy), 2))
        nodes, axes = self._embedding
        near = 2.2 * self.lattice_m
        count = min(12, len(nodes))
        distance, index = self._tree.query(xy, k=count, distance_upper_bound=near, workers=WORKERS)
        weight = np.where(np.isfinite(distance), (1.0 - np.minimum(distance / near, 1.0)) ** 2, 0.0)
        index = np.minimum(index, len(nodes) - 1)
        for k in range(count):
            # Nothing stands nearer than the shore.
            some = np.flatnonzero((weight[:, k] > 0) & (shore_m <= distance[:, k]))
            if len(some):
                weight[some, k] *= self.sight.over_water(xy[some], nodes[index[some, k]])
        total = weight.sum(axis=1)
        lost = total <= 0
        if lost.any():
            index[lost, 0] = self._tree.query(xy[lost])[1]
            weight[lost, 0] = total[lost] = 1.0
        return np.asarray(np.einsum("nk,nka->na", weight / total[:, None], axes[index]))

    @cached_property
    def _tree(self) -> cKDTree:
        nodes = self._embedding[0] if self._embedding is not None else np.zeros((1, 2))
        return cKDTree(nodes)


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
