"""Does a spot lie on the water, and does the water reach it from its peg: the outline as an angler meets it.

Works in the venue's CRS. Knows nothing of readings or depths.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

BANK_M = 10.0
"""A peg's point stands no further than this from the water along a cast (ours)."""

TRACED_M = 1.0
"""Land that an outline traced to a metre may show where there is none: it hides nothing (ours)."""

_INSIDE_M = 0.01
_NOTHING_M = 1e-6
_PAST_BANK_M = BANK_M + 1e-3


@dataclass(frozen=True)
class Shore:
    """The water's edge.

    Parameters
    ----------
    water : MultiPolygon
        Water without islands, metric CRS.
    """

    water: MultiPolygon
    _clear: BaseGeometry = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_clear", self.water.buffer(TRACED_M))
        shapely.prepare([self.water, self._clear])

    def outside_m(self, easting: float, northing: float) -> float:
        """How far a spot lies from the water, metres; 0 on the water and on its edge."""
        return float(self.all_outside_m(np.array([[easting, northing]]))[0])

    def all_outside_m(self, xy: Floats) -> Floats:
        """The same for many spots, shape (n, 2)."""
        return np.asarray(shapely.distance(self.water, shapely.points(xy)), float)

    def pulled(self, xy: Floats) -> Floats:
        """The nearest spots on the water, a centimetre in where there is room; shapes (n, 2)."""
        lines = shapely.shortest_line(shapely.points(xy), self.water)
        (start, end), length = shapely.get_coordinates(lines).reshape(-1, 2, 2).swapaxes(0, 1), shapely.length(lines)
        moved = length > 0
        further = 1.0 + _INSIDE_M / np.where(moved, length, 1.0)
        beyond = start + (end - start) * further[:, None]
        has_room = moved & shapely.intersects_xy(self.water, *beyond.T)
        there: Floats = np.where(has_room[:, None], beyond, end)
        return there

    def in_sight(self, peg: tuple[float, float], spot: tuple[float, float]) -> bool:
        """True where nothing but water lies between a peg's bank and a spot."""
        return bool(self.all_in_sight(np.array([peg]), np.array([spot]))[0])

    def all_in_sight(self, pegs: Floats, spots: Floats) -> NDArray[np.bool_]:
        """The same for many, shapes (n, 2).

        The bank in front of the peg (up to :data:`BANK_M`) does not count, nor does land
        within :data:`TRACED_M` of the water.
        """
        lines = _lines(pegs, spots)
        seen = np.asarray(shapely.covers(self._clear, lines))
        rest = np.flatnonzero(~seen)
        if rest.size:
            seen[rest] = self._in_sight_over_bank(pegs[rest], spots[rest])
        return seen

    def _in_sight_over_bank(self, pegs: Floats, spots: Floats) -> NDArray[np.bool_]:
        """For casts that meet land: at the bank where only what lies about the peg is looked at, or further on.

        Taking a whole outline off a line is slow, and nearly every line is clear beyond its peg's bank.
        """
        length = np.hypot(*(spots - pegs).T)
        share = np.minimum(_PAST_BANK_M / np.maximum(length, _PAST_BANK_M), 1.0)
        middle = pegs + (spots - pegs) * share[:, None]
        stands, which = np.unique(pegs, axis=0, return_inverse=True)
        about = shapely.box(*(stands - 2 * _PAST_BANK_M).T, *(stands + 2 * _PAST_BANK_M).T)
        near = shapely.intersection(self._clear, about)
        seen = _only_bank(_lines(pegs, middle), near[which.ravel()])
        unsure = np.flatnonzero(seen & (length > _PAST_BANK_M) & ~shapely.covers(self._clear, _lines(middle, spots)))
        seen[unsure] = _only_bank(_lines(pegs[unsure], spots[unsure]), self._clear)
        return seen

    def edges_along(self, pegs: Floats, ahead: Floats) -> Floats:
        """Where casts from pegs enter the water.

        Parameters
        ----------
        pegs : ndarray, shape (n, 2)
            Easting and northing of the pegs' points.
        ahead : ndarray, shape (n, 2)
            Easting and northing of one metre on the ground along each cast.

        Returns
        -------
        ndarray, shape (n,)
            Ground metres from the peg's point, negative where the point stands in the water;
            nan where no edge lies within :data:`BANK_M`.
        """
        lines = _lines(pegs - BANK_M * ahead, pegs + BANK_M * ahead)
        length = shapely.length(lines)
        parts, of_line = shapely.get_parts(shapely.intersection(lines, self.water), return_index=True)
        over = shapely.length(parts) > 0
        parts, of_line = parts[over], of_line[over]
        ends = (shapely.line_locate_point(lines[of_line], shapely.get_point(parts, k)) for k in (0, -1))
        start, end = np.sort(np.column_stack([*ends]), axis=1).T
        # The first stretch of water that reaches to the peg or beyond it.
        reaching = np.flatnonzero(end >= length[of_line] / 2)
        first = reaching[np.lexsort((end[reaching], start[reaching], of_line[reaching]))]
        met, at = np.unique(of_line[first], return_index=True)
        begins = start[first][at]
        found = np.full(len(lines), np.nan)
        found[met] = np.where(begins > 0, (begins / length[met] * 2 - 1) * BANK_M, np.nan)
        return found


def _lines(start: Floats, end: Floats) -> NDArray[np.object_]:
    """Straight lines between spots, shapes (n, 2)."""
    return np.asarray(shapely.linestrings(np.stack([start, end], axis=1)))


def _only_bank(lines: NDArray[np.object_], clear: BaseGeometry | NDArray[np.object_]) -> NDArray[np.bool_]:
    """Whether all that is not clear of each line is a bank at its very start."""
    land = np.asarray(shapely.difference(lines, clear))
    parts, of_line = shapely.get_parts(land, return_index=True)
    at_start = shapely.distance(parts, shapely.get_point(lines, 0)[of_line]) < _NOTHING_M
    bank = np.zeros(len(lines))
    # Backwards, so that the first part stays where two touch the start.
    bank[of_line[at_start][::-1]] = shapely.length(parts[at_start])[::-1]
    seen: NDArray[np.bool_] = (bank <= BANK_M) & (shapely.length(land) - bank < _NOTHING_M)
    return seen
