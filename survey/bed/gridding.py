"""From the lake's model to the one grid that answers everybody."""

from __future__ import annotations

from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from survey.bed.grid import NO_VALUE, Bed, Grid
from survey.bed.simulation import draw_beds
from survey.depth_model.model import LakeModel
from survey.errors import BedError
from survey.geometry.water import WaterGeometry
from survey.records.venue import Venue

CELLS_M = (0.25, 0.5, 1.0, 2.0, 4.0, 5.0, 10.0, 20.0, 50.0)
CELLS_AIMED_AT = 32_000
LEAST_CELL_M, MOST_CELL_M = 0.05, 1000.0
MOST_CELLS = 4_000_000
NARROW_CELLS = 3
"""Water narrower than so many cells is too coarse on the grid to trust."""


def chosen_cell_m(area_m2: float) -> float:
    """Cell side for a water of this area, metres: the smallest round one that keeps the page light.

    Examples
    --------
    >>> chosen_cell_m(15_000), chosen_cell_m(60_000), chosen_cell_m(1_000_000)
    (1.0, 2.0, 10.0)
    """
    wanted = (area_m2 / CELLS_AIMED_AT) ** 0.5
    return next((c for c in CELLS_M if c >= wanted), CELLS_M[-1])


def make_bed(venue: Venue, model: LakeModel, cell_m: float) -> Bed:
    """The bed on a grid whose cell edges lie on whole multiples of the cell.

    Parameters
    ----------
    venue : Venue
    model : LakeModel
    cell_m : float
        Side of a cell, metres.

    Raises
    ------
    BedError
        The cell is not a length, or the grid would be too large or empty.
    """
    grid = _grid(venue, cell_m)
    x, y = np.meshgrid(grid.eastings, grid.northings)
    wet = shapely.contains_xy(venue.water, x.ravel(), y.ravel()).reshape(x.shape)
    if not wet.any():
        raise BedError(f"no cell of {cell_m:g} m has its centre on the water. Choose a smaller cell.")
    xy = np.column_stack([x[wet], y[wet]])
    depth, sd = model.predict(xy)
    depth_mm, sd_mm = (np.full(x.shape, NO_VALUE, np.int32) for _ in range(2))
    depth_mm[wet] = np.rint(depth * 1000).astype(np.int32)
    sd_mm[wet] = np.rint(sd * 1000).astype(np.int32)
    beyond = np.zeros(x.shape, bool)
    beyond[wet] = ~within_reach(venue, model.frame, xy)
    split = _split(grid, wet, model.frame)
    return Bed(grid, venue.water, depth_mm, sd_mm, beyond, split, partial(draw_beds, model))


def _grid(venue: Venue, cell_m: float) -> Grid:
    if not LEAST_CELL_M <= cell_m <= MOST_CELL_M:
        raise BedError(
            f"a cell of {cell_m:g} m cannot be used. Give a length from {LEAST_CELL_M:g} to {MOST_CELL_M:g} m."
        )
    west, south, east, north = venue.water.bounds
    west, south = np.floor(west / cell_m) * cell_m, np.floor(south / cell_m) * cell_m
    nx, ny = int(np.ceil((east - west) / cell_m)), int(np.ceil((north - south) / cell_m))
    if nx * ny > MOST_CELLS:
        workable = next((c for c in CELLS_M if (east - west) * (north - south) / c**2 <= MOST_CELLS), CELLS_M[-1])
        raise BedError(
            f"cells of {cell_m:g} m make a grid of {nx * ny:,} cells, more than {MOST_CELLS:,}. "
            f"Try --cell {workable:g}."
        )
    return Grid(float(west), float(south), float(cell_m), max(ny, 1), max(nx, 1))


def within_reach(venue: Venue, frame: WaterGeometry, xy: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which spots lie within the venue's reach of a peg that sees them over water, shape (n,)."""
    reached = np.zeros(len(xy), bool)
    if not venue.pegs:
        return reached
    pegs = np.array([[p.easting, p.northing] for p in venue.pegs])
    stands = _on_water(frame, pegs)
    distance, nearest = cKDTree(stands).query(xy, k=min(len(stands), 8), distance_upper_bound=venue.limits.reach_m)
    distance, nearest = distance.reshape(len(xy), -1), nearest.reshape(len(xy), -1)
    for k in range(distance.shape[1]):
        near = np.flatnonzero(~reached & np.isfinite(distance[:, k]))
        reached[near] = frame.sight.from_pegs(pegs[nearest[near, k]], xy[near])
    return reached


def _on_water(frame: WaterGeometry, xy: NDArray[np.float64]) -> NDArray[np.float64]:
    """Pegs moved to the nearest water: reach is measured from where a cast meets it."""
    lines = shapely.shortest_line(frame.water, shapely.points(xy))
    return np.asarray(shapely.get_coordinates(shapely.get_point(lines, 0)))


def _split(grid: Grid, wet: NDArray[np.bool_], frame: WaterGeometry) -> NDArray[np.bool_]:
    """Blocks of four centres between which land stands, shape (ny - 1, nx - 1)."""
    split = np.zeros((max(grid.ny - 1, 0), max(grid.nx - 1, 0)), bool)
    corners = [(0, 0), (0, 1), (1, 0), (1, 1)]
    i, j = np.nonzero(wet)
    near = np.zeros(wet.shape, bool)
    near[i, j] = frame.shore_m(np.column_stack([grid.eastings[j], grid.northings[i]])) < 1.5 * grid.cell_m
    for a in range(4):
        for b in range(a + 1, 4):
            (ai, aj), (bi, bj) = corners[a], corners[b]
            both = (
                near[ai : ai + split.shape[0], aj : aj + split.shape[1]]
                & wet[bi : bi + split.shape[0], bj : bj + split.shape[1]]
            )
            i, j = np.nonzero(both)
            start = np.column_stack([grid.eastings[j + aj], grid.northings[i + ai]])
            end = np.column_stack([grid.eastings[j + bj], grid.northings[i + bi]])
            split[i, j] |= ~frame.sight.over_water(start, end)
    return split


def narrow_water_m2(venue: Venue, cell_m: float) -> float:
    """Area of water narrower than a few cells, square metres."""
    half = NARROW_CELLS * cell_m / 2
    opened = venue.water.buffer(-half).buffer(half * 1.01)
    return float(venue.water.difference(opened).area)
