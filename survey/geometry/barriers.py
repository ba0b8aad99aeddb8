"""Land as a barrier: path distances over water, and two axes that stand for the detours."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

FloatArray = NDArray[np.float64]

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
