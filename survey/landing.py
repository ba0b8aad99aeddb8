"""Does a spot lie on the water, and does the water reach it from its peg: the outline as an angler meets it.

Works in the venue's CRS. Knows nothing of readings or depths.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import shapely
from shapely.geometry import LineString, MultiPolygon, Point
from shapely.geometry.base import BaseGeometry

BANK_M = 10.0
"""A peg's point stands no further than this from the water along a cast (ours)."""

TRACED_M = 1.0
"""Land that an outline traced to a metre may show where there is none: it hides nothing (ours)."""

_INSIDE_M = 0.01
_NOTHING_M = 1e-6


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
        shapely.prepare(self.water)

    def outside_m(self, easting: float, northing: float) -> float:
        """How far a spot lies from the water, metres; 0 on the water and on its edge."""
        return float(self.water.distance(Point(easting, northing)))

    def pulled(self, easting: float, northing: float) -> tuple[float, float]:
        """The nearest spot on the water, a centimetre in where there is room."""
        line = shapely.shortest_line(Point(easting, northing), self.water)
        (e0, n0), (e1, n1) = line.coords
        if line.length == 0:
            return easting, northing
        further = 1.0 + _INSIDE_M / line.length
        e, n = e0 + (e1 - e0) * further, n0 + (n1 - n0) * further
        return (e, n) if shapely.intersects_xy(self.water, e, n) else (e1, n1)

    def in_sight(self, peg: tuple[float, float], spot: tuple[float, float]) -> bool:
        """True where nothing but water lies between a peg's bank and a spot.

        The bank in front of the peg (up to :data:`BANK_M`) does not count, nor does land
        within :data:`TRACED_M` of the water.
        """
        line = LineString([peg, spot])
        land = line.difference(self._clear)
        start = _leading(line, land)
        return start <= BANK_M and land.length - start < _NOTHING_M

    def edge_along(self, peg: tuple[float, float], ahead: tuple[float, float]) -> float | None:
        """Where a cast from a peg enters the water.

        Parameters
        ----------
        peg : tuple of float
            Easting and northing of the peg's point.
        ahead : tuple of float
            Easting and northing of one metre on the ground along the cast.

        Returns
        -------
        float or None
            Ground metres from the peg's point, negative where the point stands in the water;
            None where no edge lies within :data:`BANK_M`.
        """
        ends = [(peg[0] + k * ahead[0], peg[1] + k * ahead[1]) for k in (-BANK_M, BANK_M)]
        line = LineString(ends)
        for start, end in _spans(line, self.water):
            if end >= line.length / 2:
                return float((start / line.length * 2 - 1) * BANK_M) if start > 0 else None
        return None


def _spans(line: LineString, water: MultiPolygon) -> list[tuple[float, float]]:
    """Where along a line it runs over water, metres from its start, in order."""
    parts = [part for part in shapely.get_parts(line.intersection(water)) if part.length > 0]
    ends = [sorted(float(line.project(Point(part.coords[k]))) for k in (0, -1)) for part in parts]
    return sorted((start, end) for start, end in ends)


def _leading(line: LineString, land: BaseGeometry) -> float:
    """Length of land at the very start of a line, metres."""
    for part in shapely.get_parts(land):
        if part.distance(Point(line.coords[0])) < _NOTHING_M:
            return float(part.length)
    return 0.0
