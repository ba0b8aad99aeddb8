"""Sight over water: the one rule for whether land lies between, and its tolerances.

Everything that asks goes through :class:`Sight`: placing and checking readings, the bed, reach, suggested spots and
drawings. The page has the same rule with these numbers. Works in the venue's CRS.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

FloatArray = NDArray[np.float64]

BANK_M = 10.0
"""A peg's point stands no further than this from the water along a cast: the bank before it hides nothing (ours)."""
TRACED_M = 1.0
"""Outline and pegs are known to a metre: what a line so far to either side sees, the peg sees (ours)."""
ASIDE = (0.0, 0.5, -0.5, 1.0, -1.0)
"""Lines that are looked along, in shares of that to the right; the line itself first."""
TOUCH_M = 1e-3
"""A spot on the shore sees the water before it, whatever the last digit of its coordinates."""

NOTHING_M = 1e-6


class Sight:
    """Who sees what over one water.

    Parameters
    ----------
    water : MultiPolygon
        Water without islands, metric CRS.
    """

    def __init__(self, water: MultiPolygon) -> None:
        self._water = water
        shapely.prepare(water)

    @cached_property
    def _touched(self) -> BaseGeometry:
        return _prepared(self._water.buffer(TOUCH_M, quad_segs=1))

    def over_water(self, start: FloatArray, end: FloatArray) -> NDArray[np.bool_]:
        """Whether the straight line between two spots on the water stays on it, shape (n,).

        Parameters
        ----------
        start, end : ndarray, shape (n, 2)
            Easting and northing, metres.
        """
        return np.asarray(shapely.covers(self._touched, _lines(start, end)))

    def from_peg(self, peg: tuple[float, float], spot: tuple[float, float]) -> bool:
        """True where nothing but water lies between a peg's bank and a spot."""
        return bool(self.from_pegs(np.array([peg]), np.array([spot]))[0])

    def from_pegs(self, pegs: FloatArray, spots: FloatArray) -> NDArray[np.bool_]:
        """The same for many, shape (n,).

        The bank on which the peg stands (up to :data:`BANK_M` along the line) does not count, and the line may pass
        up to :data:`TRACED_M` to either side.

        Parameters
        ----------
        pegs, spots : ndarray, shape (n, 2)
            Easting and northing, metres.
        """
        seen = np.zeros(len(pegs), bool)
        for share in ASIDE:
            rest = np.flatnonzero(~seen)
            if not rest.size:
                break
            aside = _aside(pegs[rest], spots[rest], share * TRACED_M)
            seen[rest] = self._over_bank(pegs[rest] + aside, spots[rest] + aside)
        return seen

    def _over_bank(self, pegs: FloatArray, spots: FloatArray) -> NDArray[np.bool_]:
        """Whether all the land on each line is a bank at its start.

        Taking a whole outline off a line is slow, and nearly every line that sees is clear beyond its peg's bank.
        """
        seen = np.asarray(shapely.covers(self._water, _lines(pegs, spots)))
        rest = np.flatnonzero(~seen)
        length = np.hypot(*(spots[rest] - pegs[rest]).T)
        share = np.minimum(BANK_M / np.maximum(length, BANK_M), 1.0)
        beyond = pegs[rest] + (spots[rest] - pegs[rest]) * share[:, None]
        rest = rest[(length <= BANK_M) | shapely.intersects_xy(self._water, *beyond.T)]
        if rest.size:
            land = shapely.difference(_lines(pegs[rest], spots[rest]), self._water)
            seen[rest] = _only_bank(land, shapely.points(pegs[rest]))
        return seen

    def furthest_m(self, peg: FloatArray, ends: FloatArray) -> FloatArray:
        """How far along each line from a peg the water in its sight goes, metres from the peg; 0: it sees none.

        Parameters
        ----------
        peg : ndarray, shape (2,)
            Easting and northing, metres.
        ends : ndarray, shape (n, 2)
            Where the lines end.
        """
        start = np.broadcast_to(peg, ends.shape)
        found = []
        for share in ASIDE:
            aside = _aside(start, ends, share * TRACED_M)
            found.append(self._first_water_m(start + aside, ends + aside))
        return np.asarray(np.max(found, axis=0))

    def _first_water_m(self, pegs: FloatArray, ends: FloatArray) -> FloatArray:
        """Where on each line the first water ends that begins within a bank of its start; 0 where none does."""
        parts, of_line = shapely.get_parts(shapely.intersection(_lines(pegs, ends), self._water), return_index=True)
        start = shapely.points(pegs)[of_line]
        begins, stops = shapely.distance(parts, start), shapely.hausdorff_distance(parts, start)
        order = np.lexsort((begins, of_line))
        line, first = np.unique(of_line[order], return_index=True)
        nearest = order[first]
        found = np.zeros(len(ends))
        found[line] = np.where(begins[nearest] <= BANK_M, stops[nearest], 0.0)
        return found


def _prepared(geometry: BaseGeometry) -> BaseGeometry:
    shapely.prepare(geometry)
    return geometry


def _lines(start: FloatArray, end: FloatArray) -> NDArray[np.object_]:
    """Straight lines between spots, shapes (n, 2)."""
    return np.asarray(shapely.linestrings(np.stack([start, end], axis=1)))


def _aside(start: FloatArray, end: FloatArray, by_m: float) -> FloatArray:
    """What moves lines so far to their right, shape (n, 2)."""
    run = end - start
    length = np.maximum(np.hypot(*run.T), NOTHING_M)
    return np.asarray(by_m / length[:, None] * np.column_stack([run[:, 1], -run[:, 0]]))


def _only_bank(land: NDArray[np.object_], starts: NDArray[np.object_]) -> NDArray[np.bool_]:
    """Whether the land on each line is one stretch that begins about its start and is no longer than a bank."""
    parts, of_line = shapely.get_parts(land, return_index=True)
    parts, of_line = (found[shapely.length(parts) > NOTHING_M] for found in (parts, of_line))
    start = starts[of_line]
    bank = (shapely.distance(parts, start) <= TRACED_M) & (shapely.hausdorff_distance(parts, start) <= BANK_M)
    stretches = np.bincount(of_line, minlength=len(land))
    seen: NDArray[np.bool_] = (stretches == 0) | (
        (stretches == 1) & (np.bincount(of_line, bank, minlength=len(land)) == 1)
    )
    return seen
