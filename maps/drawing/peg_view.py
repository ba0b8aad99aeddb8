"""The ground as somebody at a peg has it before him: metres right and ahead, and how far the peg sees over water.

Knows nothing of drawings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely.geometry import MultiPolygon, Polygon

from survey.arrays import FloatArray
from survey.geometry.geodesy import Geodesy
from survey.geometry.sight import Sight
from survey.records.venue import Peg

HARD_DEG = 90
"""Hard left and hard right of straight out."""


@dataclass(frozen=True)
class PegView:
    """From venue metres to metres right of and ahead of a peg, as somebody there sees them.

    Parameters
    ----------
    easting, northing : float
        The peg.
    azimuth_deg : float
        Grid azimuth of straight out.
    scale : float
        Grid metres per metre on the ground.
    """

    easting: float
    northing: float
    azimuth_deg: float
    scale: float

    @classmethod
    def of(cls, peg: Peg, crs: str) -> PegView:
        """The frame of a peg."""
        geometry = Geodesy(crs)
        azimuth = peg.facing_deg - geometry.convergence_deg(peg.easting, peg.northing)
        return cls(peg.easting, peg.northing, azimuth, geometry.scale(peg.easting, peg.northing))

    def local(self, xy: FloatArray) -> FloatArray:
        """Venue metres, shape (n, 2), as metres right and ahead."""
        turn = math.radians(self.azimuth_deg)
        d = (xy[:, :2] - [self.easting, self.northing]) / self.scale
        return np.column_stack(
            [
                d[:, 0] * math.cos(turn) - d[:, 1] * math.sin(turn),
                d[:, 0] * math.sin(turn) + d[:, 1] * math.cos(turn),
            ]
        )

    def venue(self, right: FloatArray, ahead: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Metres right and ahead as easting and northing."""
        turn = math.radians(self.azimuth_deg)
        e = right * math.cos(turn) + ahead * math.sin(turn)
        n = ahead * math.cos(turn) - right * math.sin(turn)
        return self.easting + self.scale * e, self.northing + self.scale * n


def cast_at(angle_deg: float, out_m: float) -> tuple[float, float]:
    """Metres right and ahead of a cast."""
    return out_m * math.sin(math.radians(angle_deg)), out_m * math.cos(math.radians(angle_deg))


def in_sight(water: MultiPolygon, reach_m: float) -> dict[int, float]:
    """For each whole degree from hard left to hard right, how far out the peg sees over water; 0 for not at all.

    Parameters
    ----------
    water : MultiPolygon
        In metres right and ahead of the peg.
    reach_m : float
    """
    angles = range(-HARD_DEG, HARD_DEG + 1)
    ends = np.array([cast_at(angle, reach_m) for angle in angles])
    return dict(zip(angles, Sight(water).furthest_m(np.zeros(2), ends).tolist(), strict=True))


def seen_area(seen: dict[int, float]) -> Polygon:
    """The water within sight as an area, metres right and ahead."""
    return Polygon([(0.0, 0.0), *(cast_at(angle, out) for angle, out in seen.items())])
