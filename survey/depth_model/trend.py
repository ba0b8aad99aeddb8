"""What a lake has in common all round: its mean depth by distance to shore, and the slope with which readings end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from survey.arrays import FloatArray

LENGTHS_M = (3.0, 15.0)
"""The mean depth rises from the edge over a short and a long distance."""
RIDGE_M = 10.0
"""Both rises are held near nought by this standard deviation."""
OUTER_SHARE = 0.4
"""The slope with which the bed leaves the readings is taken from this share furthest from shore."""


@dataclass(frozen=True)
class Profile:
    """The lake's mean depth by distance to shore, metres: never below nought."""

    edge_m: float
    rises_m: tuple[float, ...]

    @staticmethod
    def through(shore_m: FloatArray, depth_m: FloatArray, edge_m: float) -> Profile:
        """The profile of least squares through readings, held a little toward the edge.

        Parameters
        ----------
        shore_m, depth_m : ndarray, shape (n,)
            Distance to shore and depth of the readings, metres.
        edge_m : float
            Depth at the shore, metres.
        """
        columns = _columns(shore_m)
        held = columns.T @ columns + np.eye(len(LENGTHS_M)) / RIDGE_M**2
        rises = np.linalg.solve(held, columns.T @ (depth_m - edge_m))
        return Profile(edge_m, tuple(rises.tolist()))

    def at(self, shore_m: FloatArray) -> FloatArray:
        """Mean depth, shape (n,), metres."""
        return np.asarray(np.maximum(self.edge_m + _columns(shore_m) @ np.array(self.rises_m), 0.0))


def _columns(shore_m: FloatArray) -> FloatArray:
    return np.column_stack([1.0 - np.exp(-shore_m / length) for length in LENGTHS_M])


def outer_slope(shore_m: FloatArray, depth_m: FloatArray) -> float:
    """Least-squares slope of depth on distance to shore among the outermost readings, dimensionless."""
    outer = shore_m >= np.quantile(shore_m, 1.0 - OUTER_SHARE)
    off = shore_m[outer] - shore_m[outer].mean()
    return float(off @ depth_m[outer] / max(off @ off, 1.0))
