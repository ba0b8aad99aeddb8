"""The ground as somebody at a peg has it before him: metres right and ahead, and how far the peg sees over water.

Knows nothing of drawings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon

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


def in_sight(view: PegView, water: MultiPolygon, reach_m: float) -> dict[int, float]:
    """For each whole degree from hard left to hard right, how far out the water it sees goes; 0: it sees none.

    Parameters
    ----------
    view : PegView
    water : MultiPolygon
        The venue's.
    reach_m : float
    """
    angles = range(-HARD_DEG, HARD_DEG + 1)
    peg = np.array([view.easting, view.northing])
    right, ahead = np.array([cast_at(angle, reach_m) for angle in angles]).T
    ends = np.column_stack(view.venue(right, ahead))
    share = Sight(water).furthest_m(peg, ends) / (reach_m * view.scale)
    lines = shapely.linestrings([[peg, end] for end in peg + share[:, None] * (ends - peg)])
    # Sight may look along a bank, a little to the side of the line: what is drawn stays on the water.
    far = shapely.hausdorff_distance(shapely.intersection(lines, water), shapely.points(peg))
    return dict(zip(angles, (np.nan_to_num(far) / view.scale).tolist(), strict=True))
