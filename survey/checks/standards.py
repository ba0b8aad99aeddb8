"""S-44 orders and the club grades."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from survey.bed.grid import Bed
from survey.units import Z_95

Order = Literal["special", "1a", "1b", "2", "exclusive"]

TVU: dict[Order, tuple[float, float]] = {
    "exclusive": (0.15, 0.0075),
    "special": (0.25, 0.0075),
    "1a": (0.5, 0.013),
    "1b": (0.5, 0.013),
    "2": (1.0, 0.023),
}
"""Constants a (m) and b of IHO S-44 edition 6.1.0, table 1."""

CLUB_GRADES_M = {"A": 0.10, "B": 0.20, "C": 0.40}
"""Half-ranges (95 %) that matter to a float: within a tip, within a hand, within a foot and a half (ours)."""


def tvu_m(depth_m: ArrayLike, order: Order) -> NDArray[np.float64]:
    """Largest total vertical uncertainty at 95 % for a depth, metres: sqrt(a2 + (b d)2).

    Source: IHO S-44, edition 6.1.0 (2022), section 3.2.3.

    Examples
    --------
    >>> tvu_m([0, 20], "special").round(4).tolist()
    [0.25, 0.2915]
    """
    a, b = TVU[order]
    return np.asarray(np.hypot(a, b * np.asarray(depth_m, float)))


def share_within_order(bed: Bed, order: Order) -> float:
    """Share of the water whose 95 % half-range is within an S-44 order's limit."""
    wet = bed.on_water
    return float(np.mean(Z_95 * bed.sd_m[wet] <= tvu_m(bed.depth_m[wet], order)))


def share_within_club_grade(bed: Bed, grade: str) -> float:
    """Share of the water whose 95 % half-range is within a club grade."""
    wet = bed.on_water
    return float(np.mean(Z_95 * bed.sd_m[wet] <= CLUB_GRADES_M[grade]))
