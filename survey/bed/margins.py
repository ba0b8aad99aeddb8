"""Upper bound on the depth at the bank edge of a peg, shown where people read it; never called "safe"."""

from __future__ import annotations

import numpy as np
import shapely

from survey.bed.grid import Bed
from survey.records.venue import Peg
from survey.units import Z_95

MARGIN_WIDTH_M = 1.5
"""Water this near the edge is margin (ours)."""
MARGIN_LOOK_M = 3.0
"""How far round a peg its margin is measured (ours)."""
STEEP_M = 1.0
"""A margin that may be deeper than this is steep (ours)."""


def margin_upper_m(bed: Bed, peg: Peg) -> float | None:
    """Upper 95 % limit of depth at datum within a step of the edge by a peg.

    Parameters
    ----------
    bed : Bed
    peg : Peg
        A measured ``margin_depth_m`` stands for the limit.

    Returns
    -------
    float or None
        Metres, positive down; None where no cell of the grid lies that near.
    """
    if peg.margin_depth_m is not None:
        return peg.margin_depth_m
    e, n = np.meshgrid(bed.grid.eastings, bed.grid.northings)
    near = bed.on_water & (np.hypot(e - peg.easting, n - peg.northing) <= MARGIN_LOOK_M)
    at_edge = shapely.distance(bed.water.boundary, shapely.points(e[near], n[near])) <= MARGIN_WIDTH_M
    upper = (bed.depth_m[near] + Z_95 * bed.sd_m[near])[at_edge]
    return float(upper.max()) if upper.size else None


def is_steep(upper_m: float | None, rise_m: float) -> bool:
    """Whether a margin is steep at a level so far above datum, metres."""
    return upper_m is not None and upper_m + rise_m > STEEP_M
