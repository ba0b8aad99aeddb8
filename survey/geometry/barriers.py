"""Land as a barrier: path distances over water, and two axes that stand for the detours."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree
from shapely.geometry import MultiPolygon

from survey.arrays import FloatArray
from survey.geometry.sight import Sight
from survey.processors import threads

LEAST_NODES = 3

LATTICE_NODES = 2500
"""The lattice of water paths is spaced so that about this many nodes cover the lake."""

LATTICE_FINEST_M = 2.0

LATTICE_COARSEST_M = 6.0

LANDMARKS = 120
"""Path distances are kept to this many places, spread as far apart as they go."""

SHALLOWEST_BAY_M = 3.0
"""A lake without islands whose shore stays this near its hull has no land between (no axes)."""

PATH_STRETCH = 1.0275
"""Paths over sixteen neighbours are at most this much too long."""

STRAIGHT_SLACK = 1.05

DETOUR_CAP_M = 40.0
"""No two spots are held further apart than this for the land between them."""

_STEPS = [(0, 1), (1, 0), (1, 1), (1, -1), (1, 2), (2, 1), (1, -2), (2, -1)]


class Barriers:
    """Land that stands between waters, as two extra coordinates that hold spots apart across it.

    Parameters
    ----------
    water : MultiPolygon
        Metric CRS.
    shore_m : callable
        Distance of spots to the nearest shore, metres.
    sight : Sight
    """

    def __init__(self, water: MultiPolygon, shore_m: Callable[[FloatArray], FloatArray], sight: Sight) -> None:
        self._water, self._shore_m, self._sight = water, shore_m, sight

    @property
    def divide(self) -> bool:
        """Whether land stands between any two waters enough to matter."""
        return self._embedding is not None

    @cached_property
    def lattice_m(self) -> float:
        """Spacing of the path lattice, metres: from the water's area alone."""
        return float(np.clip(np.sqrt(self._water.area / LATTICE_NODES), LATTICE_FINEST_M, LATTICE_COARSEST_M))

    @cached_property
    def _embedding(self) -> tuple[FloatArray, FloatArray] | None:
        """Lattice nodes and their axes; None where land stands between nothing."""
        islands = any(len(part.interiors) for part in shapely.get_parts(self._water))
        into_hull = shapely.distance(
            shapely.points(shapely.get_coordinates(self._water)), self._water.convex_hull.exterior
        ).max()
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
        west, south, east, north = self._water.bounds
        step = self.lattice_m
        i, j = np.meshgrid(
            np.arange(int((north - south) / step) + 1), np.arange(int((east - west) / step) + 1), indexing="ij"
        )
        xy = np.column_stack([west + (j.ravel() + 0.5) * step, south + (i.ravel() + 0.5) * step])
        wet = shapely.contains_xy(self._water, xy[:, 0], xy[:, 1])
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
        shore = self._shore_m(nodes)
        clear = shore[pairs[:, 0]] > length
        clear[~clear] = self._sight.over_water(nodes[pairs[~clear, 0]], nodes[pairs[~clear, 1]])
        pairs, length = pairs[clear], length[clear]
        return coo_matrix((length, (pairs[:, 0], pairs[:, 1])), shape=(len(nodes), len(nodes)))

    def axes(self, xy: FloatArray, shore_m: FloatArray) -> FloatArray:
        """Two coordinates of spots, shape (n, 2), metres; nought where land stands between nothing.

        Parameters
        ----------
        xy : ndarray, shape (n, 2)
        shore_m : ndarray, shape (n,)
            Their distance to the nearest shore, metres.
        """
        if self._embedding is None:
            return np.zeros((len(xy), 2))
        nodes, axes = self._embedding
        near = 2.2 * self.lattice_m
        count = min(12, len(nodes))
        distance, index = self._tree.query(xy, k=count, distance_upper_bound=near, workers=threads())
        weight = np.where(np.isfinite(distance), (1.0 - np.minimum(distance / near, 1.0)) ** 2, 0.0)
        index = np.minimum(index, len(nodes) - 1)
        for k in range(count):
            # Nothing stands nearer than the shore.
            some = np.flatnonzero((weight[:, k] > 0) & (shore_m <= distance[:, k]))
            if len(some):
                weight[some, k] *= self._sight.over_water(xy[some], nodes[index[some, k]])
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


def _path_distances(nodes: FloatArray, edges: coo_matrix) -> tuple[FloatArray, NDArray[np.intp]]:
    """Water paths from every node to landmarks chosen as far apart as they go, shape (n, m)."""
    graph = edges.tocsr()
    count = min(LANDMARKS, len(nodes))
    # Straight-line spreading chooses the landmarks, so that all paths come from one call.
    chosen = [int(np.lexsort((nodes[:, 1], nodes[:, 0]))[0])]
    nearest = np.linalg.norm(nodes - nodes[chosen[0]], axis=1)
    while len(chosen) < count:
        chosen.append(int(nearest.argmax()))
        nearest = np.minimum(nearest, np.linalg.norm(nodes - nodes[chosen[-1]], axis=1))
    landmarks = np.array(chosen)
    return dijkstra(graph, directed=False, indices=landmarks).T, landmarks


def _detours(path: FloatArray, straight: FloatArray) -> FloatArray:
    """Squared extra distance for the land between, capped; zero where the way is straight."""
    with np.errstate(invalid="ignore"):
        extra = np.maximum((path / PATH_STRETCH) ** 2 - (STRAIGHT_SLACK * straight) ** 2, 0.0)
        capped = extra / (1.0 + extra / DETOUR_CAP_M**2)
    return np.where(np.isfinite(path), capped, DETOUR_CAP_M**2)


def _landmark_scaling(squared: FloatArray, landmarks: NDArray[np.intp]) -> FloatArray | None:
    """Two axes whose distances stand for the detours (classical scaling on landmarks).

    Source: de Silva and Tenenbaum 2004, landmark multidimensional scaling.
    """
    between = squared[landmarks]
    between = 0.5 * (between + between.T)
    mean = between.mean(axis=0)
    centred = -0.5 * (between - mean[None, :] - mean[:, None] + mean.mean())
    values, vectors = np.linalg.eigh(centred)
    values, vectors = values[::-1][:2], vectors[:, ::-1][:, :2]
    keep = values > 1e-6 * DETOUR_CAP_M**2 * len(landmarks)
    if not keep.any():
        return None
    axes = np.zeros((len(squared), 2))
    for a in np.flatnonzero(keep):
        # A fixed sign: eigenvectors come with either.
        sign = np.sign(vectors[np.abs(vectors[:, a]).argmax(), a])
        axes[:, a] = sign * -0.5 * (squared - mean) @ vectors[:, a] / np.sqrt(values[a])
    return axes
