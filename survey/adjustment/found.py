"""What the adjustment found: points and straight out of pegs, observers' distances, and how large errors are."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from survey.adjustment.peg_points import moved_peg
from survey.adjustment.shared_errors import DISTANCE_SCALE_SD, UNADJUSTED, Adjustment, Kind, PegAxes, Unknown, shift_m
from survey.geometry.geodesy import Geodesy, on_compass
from survey.records.venue import Peg, Venue


@dataclass(frozen=True)
class Adjusted:
    """Values of the unknowns of a survey.

    Parameters
    ----------
    values, sds : mapping of (kind, owner) to float
        Each unknown and the standard deviation left of it, in standard deviations as stated.
    sizes : mapping of (kind, owner) to float
        True over stated size of what each unknown is one of.
    turns_deg : mapping of str to float
        By how much straight out was turned to the right, by peg.
    distance_share, direction_deg : float
        Typical error of a single cast: a share of its distance, and degrees; nan without casts.
    """

    values: Adjustment = field(default_factory=lambda: UNADJUSTED)
    sds: Mapping[Unknown, float] = field(default_factory=dict)
    sizes: Mapping[Unknown, float] = field(default_factory=dict)
    turns_deg: Mapping[str, float] = field(default_factory=dict)
    distance_share: float = float("nan")
    direction_deg: float = float("nan")

    def off_by(self, kind: Kind, owner: str) -> float:
        """An unknown in standard deviations of what such errors usually are: over three is a mistake."""
        return self.values.get((kind, owner), 0.0) / self.sizes.get((kind, owner), 1.0)

    def moved_m(self, peg: Peg) -> tuple[float, float]:
        """How far a peg's point was moved across the shore (positive: out over the water) and along it, metres.

        Along is positive to the right of somebody who looks out. What the outline alone moved is in it.
        """
        axes = PegAxes.of(peg, peg.point_sd_m)
        if peg.bank is None:
            return 0.0, 0.0
        at = np.array([peg.easting - peg.bank.written_easting, peg.northing - peg.bank.written_northing])
        across, along = (float(axis @ at) for axis in axes.axes)
        return across, along

    def turned_deg(self, peg: str) -> float:
        """By how much straight out of a peg was turned to the right, degrees."""
        return self.turns_deg.get(peg, 0.0)

    def scale(self, observer: str) -> float:
        """By what share an observer's distances are too long."""
        return DISTANCE_SCALE_SD * self.values.get(("distance scale", observer), 0.0)

    def applied_to(self, venue: Venue) -> Venue:
        """The venue with its pegs where, and facing as, the adjustment has them."""
        geodesy = Geodesy(venue.crs)
        return replace(venue, pegs=tuple(self._peg(peg, geodesy) for peg in venue.pegs))

    def _peg(self, peg: Peg, geodesy: Geodesy) -> Peg:
        turn = peg.facing_sd_deg * self.values.get(("facing", peg.name), 0.0)
        if turn:
            left = self.sds.get(("facing", peg.name), 1.0)
            peg = replace(peg, facing_deg=on_compass(peg.facing_deg + turn), facing_sd_deg=peg.facing_sd_deg * left)
        axes = PegAxes.of(peg, peg.point_sd_m)
        shift = shift_m({peg.name: axes}, peg.name, self.values)
        if not shift.any():
            return peg
        moved = moved_peg(peg, shift, geodesy)
        across = self.sds.get(("peg across", peg.name), 1.0)
        along = self.sds.get(("peg along", peg.name), 1.0)
        if moved.bank is None:
            return replace(moved, position_sd_m=peg.position_sd_m * math.hypot(across, along) / math.sqrt(2.0))
        sds = {"across_sd_m": moved.bank.across_sd_m * across, "along_sd_m": moved.bank.along_sd_m * along}
        return replace(moved, bank=replace(moved.bank, **sds))

    def sentences(self, venue: Venue) -> tuple[str, ...]:
        """What was learned of the errors of this survey, for the page; ``venue`` is the adjusted one."""
        parts = []
        if math.isfinite(self.distance_share):
            parts.append(f"casts within {max(100 * self.distance_share, 1):.0f} % of their distance")
        if math.isfinite(self.direction_deg) and self.direction_deg > 0:
            parts.append(f"{max(self.direction_deg, 1):.0f}° of their direction")
        along = [abs(self.moved_m(peg)[1]) for peg in venue.pegs if ("peg along", peg.name) in self.values]
        if along:
            size = math.sqrt(sum(m**2 for m in along) / len(along))
            parts.append(f"pegs within {venue.spans.shown(max(size, 0.1))} along the bank")
        if not parts:
            return ()
        return (f"Errors as the readings show them (two in three are smaller): {', '.join(parts)}.",)
