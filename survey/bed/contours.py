"""Lines of equal depth, clipped to the water. Contours are numbers, so they live here."""

from __future__ import annotations

import contourpy
import geopandas as gpd
import numpy as np
import shapely
from scipy.ndimage import distance_transform_edt

from survey.arrays import FloatArray
from survey.bed.grid import Bed
from survey.units import FOOT_M

INTERVALS_M = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
INTERVALS_FT = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
MOST_LINES = 8
"""As many steps as a legend can show and eyes can tell apart."""
STRONG_EVERY = 5
BEYOND_CELLS = 3
"""The grid is carried so far over the bank before it is contoured, then cut back to the water."""


def chosen_interval_m(deepest_m: float, feet: bool) -> float:
    """Contour interval in metres: the smallest round one that keeps the lines few.

    Examples
    --------
    >>> chosen_interval_m(3.1, feet=False), round(chosen_interval_m(2.2, feet=True) / FOOT_M, 6)
    (0.5, 1.0)
    """
    choices = [f * FOOT_M for f in INTERVALS_FT] if feet else list(INTERVALS_M)
    return next((c for c in choices if deepest_m / c <= MOST_LINES), choices[-1])


def isobaths(bed: Bed, crs: str, interval_m: float) -> gpd.GeoDataFrame:
    """Lines of equal depth below datum.

    Parameters
    ----------
    bed : Bed
    crs : str
    interval_m : float
        Metres between lines; the first lies one interval down.

    Returns
    -------
    GeoDataFrame
        ``depth_m``, ``strong`` (each fifth) and LineString geometry, venue CRS, shallow first.
    """
    lines = contourpy.contour_generator(*_over_the_bank(bed))
    deepest = float(np.nanmax(bed.depth_m))
    found: list[tuple[float, bool, shapely.Geometry]] = []
    for k in range(1, int(deepest / interval_m) + 1):
        level = k * interval_m
        made = [shapely.LineString(line) for line in lines.lines(level) if len(line) > 1]
        if not made:
            continue
        # Simplified before it is cut: afterwards a straightened line could leave the water.
        drawn = shapely.simplify(shapely.MultiLineString(made), bed.grid.cell_m / 10)
        cut = shapely.line_merge(shapely.intersection(bed.water, drawn))
        parts = [p for p in shapely.get_parts(cut) if p.geom_type == "LineString" and p.length > bed.grid.cell_m / 2]
        found += [(level, k % STRONG_EVERY == 0, part) for part in parts]
    return gpd.GeoDataFrame(
        {"depth_m": [f[0] for f in found], "strong": [f[1] for f in found]}, geometry=[f[2] for f in found], crs=crs
    )


def _over_the_bank(bed: Bed) -> tuple[FloatArray, FloatArray, np.ma.MaskedArray]:
    """Eastings, northings, and depths carried a few cells over the bank by the nearest water."""
    grid, around = bed.grid, np.arange(1, BEYOND_CELLS + 1) * bed.grid.cell_m
    axes = [np.concatenate([a[0] - around[::-1], a, a[-1] + around]) for a in (grid.eastings, grid.northings)]
    depth = np.pad(bed.depth_m, BEYOND_CELLS, constant_values=np.nan)
    distance, nearest = distance_transform_edt(np.isnan(depth), return_indices=True)
    filled = depth[nearest[0], nearest[1]]
    return axes[0], axes[1], np.ma.masked_where(distance > BEYOND_CELLS, filled)
