"""The bed: depth below datum and its standard deviation on one grid, only on water.

This grid answers everybody. Values are kept as whole millimetres so that page, command
and files agree to the last figure. Row 0 is the south, column 0 the west.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import MultiPolygon

from survey.errors import BedError
from survey.geometry.sight import Sight

Sampler = Callable[[NDArray[np.float64], int, int], NDArray[np.float64]]
"""Beds at spots (m, 2), so many, from a seed: depths in metres, shape (n, m)."""

NO_VALUE = -32768
"""Stands where a cell centre is not on water."""
LEAST_WEIGHT = 1e-9
"""Of a corner that is seen, so that a spot on the far edge of a cell still has a value."""


@dataclass(frozen=True)
class Grid:
    """Where the cells lie.

    Parameters
    ----------
    west, south : float
        Outer corner of the first cell, venue CRS, metres.
    cell_m : float
        Side of a cell, metres.
    ny, nx : int
        Rows (from the south) and columns (from the west).
    """

    west: float
    south: float
    cell_m: float
    ny: int
    nx: int

    @property
    def eastings(self) -> NDArray[np.float64]:
        """Cell centres, shape (nx,), metres."""
        return np.asarray(self.west + (np.arange(self.nx) + 0.5) * self.cell_m, float)

    @property
    def northings(self) -> NDArray[np.float64]:
        """Cell centres, shape (ny,), metres, south first."""
        return np.asarray(self.south + (np.arange(self.ny) + 0.5) * self.cell_m, float)


@dataclass(frozen=True)
class Bed:
    """Depth and standard deviation on a grid.

    Parameters
    ----------
    grid : Grid
    water : MultiPolygon
        Water in the venue CRS.
    depth_mm, sd_mm : ndarray of int32, shape (ny, nx)
        Millimetres, positive down from the datum; ``NO_VALUE`` where the centre is not on water.
    beyond_reach : ndarray of bool, shape (ny, nx)
        Further than the venue's reach from every peg in sight.
    split : ndarray of bool, shape (ny - 1, nx - 1)
        Between these four centres land stands; entry [i, j] has centres [i..i+1, j..j+1].
    sampler : callable or None
        Draws beds from the model this one came from; None where the bed was read from a file.
    """

    grid: Grid
    water: MultiPolygon
    depth_mm: NDArray[np.int32]
    sd_mm: NDArray[np.int32]
    beyond_reach: NDArray[np.bool_]
    split: NDArray[np.bool_]
    sampler: Sampler | None = field(default=None, compare=False)

    def draw(self, n: int, seed: int) -> NDArray[np.float64]:
        """Whole beds drawn at random, with the correlation from spot to spot that the evidence leaves.

        Parameters
        ----------
        n : int
            Draws.
        seed : int
            The same seed gives the same beds.

        Returns
        -------
        ndarray, shape (n, ny, nx)
            Depth below datum, metres, nan off the water.

        Raises
        ------
        BedError
            The bed was read from a file, which does not hold the model; or ``n`` is out of bounds.
        """
        if self.sampler is None:
            raise BedError("this bed was read from a file, which holds no model. Work the survey up to draw from it.")
        x, y = np.meshgrid(self.grid.eastings, self.grid.northings)
        out = np.full((n, *x.shape), np.nan)
        out[:, self.on_water] = self.sampler(np.column_stack([x[self.on_water], y[self.on_water]]), n, seed)
        return out

    @property
    def on_water(self) -> NDArray[np.bool_]:
        """Cells that hold a value, shape (ny, nx)."""
        return np.asarray(self.depth_mm != NO_VALUE)

    @property
    def depth_m(self) -> NDArray[np.float64]:
        """Depth below datum, shape (ny, nx), metres, nan off the water."""
        return np.where(self.on_water, self.depth_mm / 1000.0, np.nan)

    @property
    def sd_m(self) -> NDArray[np.float64]:
        """Standard deviation, shape (ny, nx), metres, nan off the water."""
        return np.where(self.on_water, self.sd_mm / 1000.0, np.nan)

    def at(
        self, easting: ArrayLike, northing: ArrayLike
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
        """Depth, standard deviation and the beyond-reach flag at spots.

        Bilinear between cell centres that hold a value; where the four centres are split by
        land, only those in sight of the spot over water count. A spot off the water, or with
        no such centre, has no value.

        Parameters
        ----------
        easting, northing : array_like, shape (n,)
            Venue CRS, metres.

        Returns
        -------
        depth_m, sd_m : ndarray, shape (n,)
            Metres, positive down from the datum; nan where there is no value.
        beyond : ndarray of bool, shape (n,)
            Flag of the centre with most weight.
        """
        e, n = np.broadcast_arrays(
            np.atleast_1d(np.asarray(easting, float)), np.atleast_1d(np.asarray(northing, float))
        )
        rows, cols, weight = self._corners(e, n)
        total = weight.sum(axis=1)
        wet = total > 0
        wet &= shapely.intersects_xy(self.water, e, n)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(wet[:, None], weight / total[:, None], 0.0)
        depth = np.where(wet, (share * self.depth_mm[rows, cols]).sum(axis=1) / 1000.0, np.nan)
        sd = np.where(wet, (share * self.sd_mm[rows, cols]).sum(axis=1) / 1000.0, np.nan)
        most = weight.argmax(axis=1)
        pick = np.arange(len(e))
        beyond = self.beyond_reach[rows[pick, most], cols[pick, most]] | ~wet
        return depth, sd, beyond

    def _corners(
        self, e: NDArray[np.float64], n: NDArray[np.float64]
    ) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float64]]:
        """Indices, shape (n, 4), of the centres round each spot, and their weights (0: not to be used)."""
        g = self.grid
        x = np.clip((e - g.west) / g.cell_m - 0.5, 0, g.nx - 1)
        y = np.clip((n - g.south) / g.cell_m - 0.5, 0, g.ny - 1)
        j0 = np.clip(np.floor(x).astype(np.intp), 0, max(g.nx - 2, 0))
        i0 = np.clip(np.floor(y).astype(np.intp), 0, max(g.ny - 2, 0))
        i1, j1 = np.minimum(i0 + 1, g.ny - 1), np.minimum(j0 + 1, g.nx - 1)
        fx, fy = x - j0, y - i0
        rows = np.stack([i0, i0, i1, i1], axis=1)
        cols = np.stack([j0, j1, j0, j1], axis=1)
        weight = np.stack([(1 - fy) * (1 - fx), (1 - fy) * fx, fy * (1 - fx), fy * fx], axis=1)
        # A spot on the very edge of a cell row still has a neighbour on water: keep it answerable.
        weight = np.maximum(weight, LEAST_WEIGHT) * self.on_water[rows, cols]
        for k in np.flatnonzero(self._is_split(i0, j0)):
            weight[k] *= self._in_sight(e[k], n[k], rows[k], cols[k])
        return rows, cols, weight

    def _is_split(self, i: NDArray[np.intp], j: NDArray[np.intp]) -> NDArray[np.bool_]:
        if self.split.size == 0:
            return np.zeros(len(i), bool)
        return self.split[i, j]

    def _in_sight(self, e: float, n: float, rows: NDArray[np.intp], cols: NDArray[np.intp]) -> NDArray[np.bool_]:
        ends = np.column_stack([self.grid.eastings[cols], self.grid.northings[rows]])
        return self._sight.over_water(np.broadcast_to([e, n], ends.shape), ends)

    @cached_property
    def _sight(self) -> Sight:
        return Sight(self.water)
