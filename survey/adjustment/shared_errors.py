"""Errors that several readings share, and how each moves a reading's spot or its depth: the unknowns of the adjustment.

An unknown is counted in standard deviations as stated for it: nought is as written, one is a standard deviation off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from scipy.sparse import csr_array, diags_array, hstack

from survey.adjustment.crossed_bearings import SightedSpots
from survey.arrays import Flags, FloatArray, Index
from survey.records.venue import Peg, Venue

Kind = Literal["peg across", "peg along", "facing", "distance scale", "depth offset", "level"]
Unknown = tuple[Kind, str]
"""Kind and whose it is: a peg's or an observer's name, or a block of levels."""
Adjustment = Mapping[Unknown, float]
"""Values of unknowns, in stated standard deviations; those not in it are nought."""
UNADJUSTED: Adjustment = {}
OF_POINTS: tuple[Kind, ...] = ("peg across", "peg along")
"""Errors of pegs' points."""

DISTANCE_SCALE_SD = 0.03
"""A standard deviation of what one observer's distances have too much throughout (from memory of taped wraps)."""
DEPTH_OFFSET_SD_M = 0.02
"""A standard deviation of how much too deep one observer reads throughout."""


@dataclass(frozen=True)
class SharedErrors:
    """How n readings move with q unknowns.

    Parameters
    ----------
    east, north : csr_array, shape (n, q)
        Metres the spot moves for one stated standard deviation.
    deeper : csr_array, shape (n, q)
        Metres by which the depth reads too deep, apart from the spot.
    unknowns : tuple of (kind, owner)
        q of them.
    """

    east: csr_array
    north: csr_array
    deeper: csr_array
    unknowns: tuple[Unknown, ...]

    def columns(self, slope: FloatArray) -> csr_array:
        """Metres of depth for one stated standard deviation, shape (n, q).

        Parameters
        ----------
        slope : ndarray, shape (n, 2)
            Gradient of depth at the readings, east and north.
        """
        # A reading is the bed's depth at its true spot, so it changes by the slope times what the spot moves.
        return csr_array(diags_array(slope[:, 0]) @ self.east + diags_array(slope[:, 1]) @ self.north + self.deeper)

    def moved_by(self, adjustment: Adjustment) -> FloatArray:
        """Metres east and north that the readings' spots move, shape (n, 2), to first order."""
        values = self.values(adjustment)
        return np.column_stack([self.east @ values, self.north @ values])

    def values(self, adjustment: Adjustment) -> FloatArray:
        """Values of the unknowns, shape (q,)."""
        return np.array([adjustment.get(unknown, 0.0) for unknown in self.unknowns], float)

    def is_kind(self, kind: Kind) -> Flags:
        """Which unknowns are of a kind, shape (q,)."""
        return np.array([one == kind for one, _ in self.unknowns], bool)

    def declared_in(self, venue: Venue) -> Flags:
        """Unknowns whose size a venue declares, shape (q,): those of points that were taken in a declared way."""
        surely = {peg.name for peg in venue.pegs if peg.position_declared}
        return np.array([kind in OF_POINTS and owner in surely for kind, owner in self.unknowns], bool)


@dataclass(frozen=True)
class Casts:
    """Casts from pegs among n readings.

    Parameters
    ----------
    row : ndarray of int, shape (k,)
        Of the readings.
    peg : tuple of str
        k names.
    off : ndarray, shape (k, 2)
        From the peg's point to the spot, metres.
    peg_sd_m, facing_sd_deg : ndarray, shape (k,)
        As the soundings have them.
    observer : tuple of str
        Who measured.
    """

    row: Index
    peg: tuple[str, ...]
    off: FloatArray
    peg_sd_m: FloatArray
    facing_sd_deg: FloatArray
    observer: tuple[str, ...]


@dataclass(frozen=True)
class PegAxes:
    """Unit vectors across and along the shore at a peg, shape (2, 2), and its errors along them, metres."""

    axes: FloatArray
    sd_m: tuple[float, float]

    @staticmethod
    def of(peg: Peg | None, sd_m: float) -> PegAxes:
        """Of a peg; north and east with the same error where no shore bounds it."""
        if peg is None or peg.bank is None:
            return PegAxes(np.eye(2), (sd_m, sd_m))
        azimuth = np.radians(peg.bank.out_azimuth_deg)
        out = np.array([np.sin(azimuth), np.cos(azimuth)])
        return PegAxes(np.array([out, [out[1], -out[0]]]), (peg.bank.across_sd_m, peg.bank.along_sd_m))


def peg_axes(venue: Venue, names: Sequence[str], sd_m: Sequence[float]) -> dict[str, PegAxes]:
    """Axes of pegs by name; ``sd_m`` is the error of each one's point where no shore bounds it."""
    return {name: PegAxes.of(venue.peg(name), float(sd)) for name, sd in zip(names, sd_m, strict=True)}


def shift_m(axes: Mapping[str, PegAxes], name: str, adjustment: Adjustment) -> FloatArray:
    """How far a peg's point is moved, metres east and north, shape (2,)."""
    one = axes[name]
    across, along = adjustment.get(("peg across", name), 0.0), adjustment.get(("peg along", name), 0.0)
    return np.asarray(across * one.sd_m[0] * one.axes[0] + along * one.sd_m[1] * one.axes[1])


def adjusted_casts(casts: Casts, axes: Mapping[str, PegAxes], adjustment: Adjustment) -> tuple[FloatArray, FloatArray]:
    """Casts as adjusted: how far their pegs moved and the way from there to the spot, shapes (k, 2), metres."""
    shift = np.array([shift_m(axes, name, adjustment) for name in casts.peg], float).reshape(-1, 2)
    turn = np.radians(
        np.array([adjustment.get(("facing", name), 0.0) for name in casts.peg]) * casts.facing_sd_deg
    ).reshape(-1)
    long_by = DISTANCE_SCALE_SD * np.array([adjustment.get(("distance scale", who), 0.0) for who in casts.observer])
    east, north = casts.off.T
    sine, cosine = np.sin(turn), np.cos(turn)
    turned = np.column_stack([east * cosine + north * sine, north * cosine - east * sine])
    return shift, turned * (1.0 - long_by.reshape(-1, 1))


def shared_errors(
    some: pd.DataFrame,
    observers: Sequence[str],
    casts: Casts,
    off: FloatArray,
    spots: SightedSpots,
    axes: Mapping[str, PegAxes],
) -> SharedErrors:
    """Everything readings share.

    Parameters
    ----------
    some : DataFrame
        Rows of the soundings table; only their levels are looked at.
    observers : sequence of str
        Of each reading; empty: nobody's.
    casts : Casts
    off : ndarray, shape (k, 2)
        From the pegs to the spots of the casts as adjusted.
    spots : SightedSpots
        Readings where two sights cross, once for each sight.
    axes : mapping of str to PegAxes
        Of every peg that casts or sights are from.
    """
    n = len(some)
    found: list[_Entries] = []
    right = np.column_stack([off[:, 1], -off[:, 0]])
    for k, kind in enumerate(OF_POINTS):
        of_casts, of_sights = (np.array([axes[name].axes[k] * axes[name].sd_m[k] for name in names]).reshape(-1, 2)
                               for names in (casts.peg, spots.peg))  # fmt: skip
        found.append(_Entries(kind, casts.row, casts.peg, of_casts))
        lever = (spots.across * of_sights).sum(axis=1)
        found.append(_Entries(kind, spots.row, spots.peg, spots.way * lever[:, None]))
    found += [
        _Entries("facing", casts.row, casts.peg, right * np.radians(casts.facing_sd_deg)[:, None]),
        _Entries("facing", spots.row, spots.peg, spots.way * spots.turned_m[:, None]),
        _Entries("distance scale", casts.row, casts.observer, -off * DISTANCE_SCALE_SD),
        _Entries("level", np.arange(n), some["level_block"].astype(str), some["level_sd_m"].to_numpy(float)),
    ]
    return _with_offsets(_made(n, found), observers)


@dataclass(frozen=True)
class _Entries:
    """What unknowns of one kind do to readings: metres of the spot, shape (k, 2), or of the depth, shape (k,)."""

    kind: Kind
    row: Index
    owner: Sequence[str]
    by_m: FloatArray


def _with_offsets(errors: SharedErrors, observers: Sequence[str]) -> SharedErrors:
    """And what each observer reads too deep, against all of them together: their mean is the survey's own depth."""
    names, who = np.unique(np.array(observers, str), return_inverse=True)
    of = np.flatnonzero(names != "")
    if len(names) == 1 or not len(of):
        return errors
    is_theirs = (who[:, None] == of).astype(float)
    deeper = csr_array(DEPTH_OFFSET_SD_M * (is_theirs - is_theirs.mean(axis=0)))
    none = csr_array((len(observers), len(of)), dtype=float)
    return SharedErrors(
        csr_array(hstack([errors.east, none])),
        csr_array(hstack([errors.north, none])),
        csr_array(hstack([errors.deeper, deeper])),
        (*errors.unknowns, *(("depth offset", str(names[k])) for k in of)),
    )


def _made(n: int, found: Sequence[_Entries]) -> SharedErrors:
    unknowns = sorted({(one.kind, str(name)) for one in found for name in set(one.owner) if name})
    place = {unknown: k for k, unknown in enumerate(unknowns)}
    matrices = [csr_array((n, len(unknowns)), dtype=float) for _ in range(3)]
    for one in found:
        column = np.array([place.get((one.kind, str(name)), -1) for name in one.owner], int)
        some = column >= 0
        index, shape = (one.row[some], column[some]), (n, len(unknowns))
        of_spot = one.by_m.ndim > 1
        values = [(k, one.by_m[some, k]) for k in (0, 1)] if of_spot else [(2, one.by_m[some])]
        for k, value in values:
            matrices[k] = matrices[k] + csr_array((value, index), shape=shape)
    east, north, deeper = matrices
    return SharedErrors(east, north, deeper, tuple(unknowns))
