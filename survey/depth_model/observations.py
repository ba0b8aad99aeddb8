"""Soundings as the model wants them: places, values, and errors split into own and shared.

The order of rows never matters: evidence is sorted by place and value first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
import pandas as pd
import shapely
from scipy.sparse import csr_array, diags_array

from survey.adjustment.error_sizes import SizeSource
from survey.adjustment.own_errors import OwnSource, own_variance
from survey.adjustment.placing import placed_by
from survey.adjustment.shared_errors import UNADJUSTED, Adjustment, SharedErrors, Unknown
from survey.arrays import Flags, FloatArray, Index
from survey.depth_model.bounds import Bounds
from survey.depth_model.shore_data import shore_data
from survey.depth_model.trend import Profile, outer_slope
from survey.errors import BedError
from survey.geometry.water import Locations, WaterGeometry
from survey.kriging.data import ConditioningData, ErrorSource, unshared
from survey.records.soundings import Soundings
from survey.records.venue import Venue

SIGMA_STEP = 2.0**0.5
"""A reading's neighbours stand so many standard deviations of its position away: the mean square of
four depth differences is then the variance that position brings, on a slope and over an edge."""
LEAST_STEP_M = 0.5
LOOSENED = 6.0
"""A peg that is held to be mistaken may be so many times further off than others."""
PROFILE_REACH = 0.95
"""The mean profile is followed out to this quantile of the readings' distances to shore."""


class Source(NamedTuple):
    """What observations are made from."""

    venue: Venue
    soundings: Soundings
    frame: WaterGeometry
    trusted: frozenset[tuple[str, int]]


@dataclass(frozen=True)
class BedSlope:
    """The bed about each reading, as far as position errors meet it.

    Parameters
    ----------
    slope : ndarray, shape (n, 2)
        Gradient of depth (east, north), dimensionless, for errors that readings share.
    own_var : ndarray, shape (n, 2)
        Variance that the reading's own position error brings, along and across the cast, at its stated size, m2.
    """

    slope: FloatArray
    own_var: FloatArray


@dataclass(frozen=True)
class Observations:
    """Readings as observations, before the part that depends on the bed's slope.

    Parameters
    ----------
    places : Locations
        n readings of depth, where the adjustment has them.
    beside : Locations
        4n: each reading's neighbours further and nearer along the cast, right and left of it.
    beside_wet : ndarray of bool, shape (4n,)
    steps_m : ndarray, shape (n, 2)
        How far those stand, along and across.
    depth_m, own_var : ndarray, shape (n,)
    along : ndarray, shape (n, 2)
        Unit vector of the cast in the venue CRS.
    position_sd_m : ndarray, shape (n, 2)
        The reading's own position error along and across the cast, as stated.
    own_sources : tuple of OwnSource
        What readings err by singly.
    errors : SharedErrors
        What readings share.
    moved_m : ndarray, shape (n, 2)
        How far the adjustment moves each spot, to first order, metres east and north.
    factors : mapping of str to float
        How large errors are beside what is stated, by source; 1 where none is named.
    peg : ndarray, shape (n,)
        Index of the peg whose reading it is (-1: none).
    rows : ndarray of int, shape (n,)
        Position of each in the soundings table.
    trusted : ndarray of bool, shape (n,)
        Never set aside: somebody decided to keep them.
    bounds : Bounds
    shore : ConditioningData
    profile : Profile
    level_off_m : float
        See :meth:`survey.geometry.water.WaterGeometry.places`.
    outer_slope : float
        Depth gained per metre from shore among the outermost readings, dimensionless.
    source : Source
    adjustment : mapping
        Values of unknowns, in stated standard deviations.
    loose : frozenset of unknowns
        Held to be mistaken: they may be further off than others of their kind.
    """

    places: Locations
    beside: Locations
    beside_wet: Flags
    steps_m: FloatArray
    depth_m: FloatArray
    own_var: FloatArray
    along: FloatArray
    position_sd_m: FloatArray
    own_sources: tuple[OwnSource, ...]
    errors: SharedErrors
    moved_m: FloatArray
    peg: Index
    rows: Index
    trusted: Flags
    bounds: Bounds
    shore: ConditioningData
    profile: Profile
    level_off_m: float
    outer_slope: float
    source: Source
    adjustment: Adjustment
    factors: Mapping[str, float]
    loose: frozenset[Unknown] = frozenset()

    def __len__(self) -> int:
        return len(self.depth_m)

    def adjusted(self, adjustment: Adjustment) -> Observations:
        """The same readings where other values of the unknowns have them."""
        venue, soundings, frame, trusted = self.source
        new = observations_from(venue, soundings, frame, trusted, adjustment)
        return replace(new, factors=self.factors, loose=self.loose)

    def data(self, bed_slope: BedSlope, keep: Flags) -> ConditioningData:
        """Readings and shore for conditioning.

        Parameters
        ----------
        bed_slope : BedSlope
            Turns position error into depth error.
        keep : ndarray of bool, shape (n,)
            Readings to use.
        """
        return self._conditioning(self.noise_var(bed_slope), self.shared(bed_slope), bed_slope, keep)

    @property
    def sizes(self) -> FloatArray:
        """How large what readings share may be beside what is stated, shape (q,): those held to be mistaken larger."""
        return self.shared_sizes * self._looseness

    @property
    def shared_sizes(self) -> FloatArray:
        """How large what readings share usually is beside what is stated, shape (q,)."""
        return np.array([self.factors.get(source.name, 1.0) for source in self._shared_sources], float)

    @cached_property
    def _shared_sources(self) -> list[SizeSource]:
        declared = self.errors.declared_in(self.source.venue).tolist()
        return [SizeSource(kind, told) for (kind, _), told in zip(self.errors.unknowns, declared, strict=True)]

    @property
    def _looseness(self) -> FloatArray:
        return np.array([LOOSENED if unknown in self.loose else 1.0 for unknown in self.errors.unknowns], float)

    def shared(self, bed_slope: BedSlope) -> csr_array:
        """Columns of what readings share, shape (n, q), metres."""
        if not len(self.sizes):
            return unshared(len(self))
        return csr_array(self.errors.columns(bed_slope.slope) @ diags_array(self.sizes))

    def bare_data(self, bed_slope: BedSlope, keep: Flags) -> tuple[ConditioningData, tuple[ErrorSource, ...]]:
        """As :meth:`data` without their errors, and those by source at the size stated for them."""
        none = unshared(len(self))
        data = self._conditioning(np.zeros(len(self)), none, bed_slope, keep)
        var = self._var_by_kind(bed_slope)
        own = ((one.size, np.where(one.of, var[one.size.kind], 0.0)) for one in self.own_sources)
        found = [ErrorSource(size.name, brought, none, *size.prior) for size, brought in own if brought.any()]
        columns = csr_array(self.errors.columns(bed_slope.slope) @ diags_array(self._looseness)).tocsc()
        for source in dict.fromkeys(self._shared_sources):
            of_source = csr_array(columns[:, np.array([one == source for one in self._shared_sources])])
            if of_source.count_nonzero():
                found.append(ErrorSource(source.name, np.zeros(len(self)), of_source, *source.prior))
        return data, tuple(source.take(keep).joined(len(self.shore)) for source in found)

    def _conditioning(self, own: FloatArray, shared: csr_array, bed_slope: BedSlope, keep: Flags) -> ConditioningData:
        values = self.depth_m + self.correction_m(bed_slope)
        profile, none = self.profile.at(self.places.shore_m), np.zeros(len(self), bool)
        return ConditioningData(self.places, values, own, shared, profile, none).take(keep).joined(self.shore)

    def correction_m(self, bed_slope: BedSlope) -> FloatArray:
        """What is added to depths for the way their spots were moved, shape (n,), metres.

        The unknowns keep their priors about nought, so at the moved spot u a reading is
        ``f(p(u)) + slope . (p(v) - p(u))`` with v the true unknowns: linear in v once ``slope . J u`` is added.
        """
        return np.asarray((self.moved_m * bed_slope.slope).sum(axis=1))

    def noise_var(self, bed_slope: BedSlope) -> FloatArray:
        """Variance of each reading by itself, its position error included, shape (n,), m2."""
        return own_variance(self.own_sources, self._var_by_kind(bed_slope), self.factors)

    def _var_by_kind(self, bed_slope: BedSlope) -> dict[str, FloatArray]:
        along, across = bed_slope.own_var.T
        return {"depth": self.own_var, "distance": along, "direction": across, "place": along + across}

    def tilt_from(self, here: FloatArray, beside: FloatArray) -> BedSlope:
        """What position errors do, from the bed's depths at the readings and at ``beside``."""
        beside = np.where(self.beside_wet, beside, self.profile.edge_m).reshape(4, -1)
        squares = 0.25 * (beside - here) ** 2
        share = (SIGMA_STEP * self.position_sd_m / self.steps_m) ** 2
        own = np.column_stack([squares[0] + squares[1], squares[2] + squares[3]]) * share
        rise = np.column_stack([beside[0] - beside[1], beside[2] - beside[3]]) / (2 * self.steps_m)
        side = np.column_stack([self.along[:, 1], -self.along[:, 0]])
        return BedSlope(rise[:, :1] * self.along + rise[:, 1:] * side, own)

    @property
    def no_slope(self) -> BedSlope:
        """A level bed: position errors bring nothing."""
        return BedSlope(*np.zeros((2, len(self), 2)))


def observations_from(
    venue: Venue,
    soundings: Soundings,
    frame: WaterGeometry,
    trusted: frozenset[tuple[str, int]] = frozenset(),
    adjustment: Adjustment = UNADJUSTED,
) -> Observations:
    """Evidence from soundings.

    Parameters
    ----------
    venue : Venue
    soundings : Soundings
    frame : WaterGeometry
    trusted : frozenset of (str, int)
        File and row of readings that are never set aside.
    adjustment : mapping
        Values of what readings share that is wrong, in stated standard deviations; as written by default.

    Raises
    ------
    BedError
        Not one depth can be used.
    """
    source = Source(venue, soundings, frame, trusted)
    table, written = soundings.table, soundings.xy
    used, is_depth = table["use"].to_numpy(bool), (table["kind"] == "depth").to_numpy(bool)
    rows = _canonical(np.flatnonzero(used & is_depth), written, table)
    if not len(rows):
        raise BedError("no reading with a depth can be used, so there is no bed. The check lists the rows set aside.")
    some = table.iloc[rows]
    depth = some["depth_m"].to_numpy(float)
    placed = placed_by(venue, some, written[rows], adjustment)
    at, out, position = placed.at, placed.along, placed.position_sd_m
    shore = frame.shore_m(at)
    level_off = float(np.quantile(shore, PROFILE_REACH))
    places = frame.places(at, level_off)
    profile = Profile.through(places.shore_m, depth, venue.edge_at_datum_m)
    side = np.column_stack([out[:, 1], -out[:, 0]])
    steps = np.maximum(SIGMA_STEP * position, LEAST_STEP_M)
    beside = np.vstack([at + s * v * steps[:, k : k + 1] for k, v in enumerate((out, side)) for s in (1.0, -1.0)])
    pegs = {name: k for k, name in enumerate(sorted(set(some["peg"]) - {""}))}
    return Observations(
        places=places,
        beside=frame.places(beside, level_off),
        beside_wet=shapely.intersects_xy(frame.water, beside[:, 0], beside[:, 1]),
        steps_m=steps,
        depth_m=depth,
        own_var=some["sd_m"].to_numpy(float) ** 2,
        along=out,
        position_sd_m=position,
        own_sources=placed.own_sources,
        errors=placed.errors,
        moved_m=placed.errors.moved_by(adjustment),
        peg=np.array([pegs.get(name, -1) for name in some["peg"]], np.intp),
        rows=rows,
        trusted=np.array([key in trusted for key in zip(some["file"], some["row"], strict=True)], bool),
        bounds=_bounds(source, used & ~is_depth, level_off, adjustment),
        shore=shore_data(venue, frame, profile, level_off),
        profile=profile,
        level_off_m=level_off,
        outer_slope=outer_slope(shore, depth),
        source=source,
        adjustment=adjustment,
        factors={},
    )


def _canonical(rows: Index, xy: FloatArray, table: pd.DataFrame) -> Index:
    """Rows by place, depth and what else they bring: two of one spot and depth may be of different days."""
    some = table.iloc[rows]
    names = [np.unique(some[name].astype(str).to_numpy(str), return_inverse=True)[1] for name in ("peg", "level_block")]
    sds = [some[name].to_numpy(float) for name in ("tangential_sd_m", "radial_sd_m", "sd_m", "depth_m")]
    return rows[np.lexsort((*names, *sds, xy[rows, 1], xy[rows, 0]))]


def _bounds(source: Source, which: Flags, level_off_m: float, adjustment: Adjustment) -> Bounds:
    table, written = source.soundings.table, source.soundings.xy
    rows = _canonical(np.flatnonzero(which), written, table)
    some = table.iloc[rows]
    at = placed_by(source.venue, some, written[rows], adjustment).at
    own = some["sd_m"].to_numpy(float) ** 2 + some["level_sd_m"].to_numpy(float) ** 2
    side = np.where(some["kind"] == "at_least", 1.0, -1.0)
    return Bounds(source.frame.places(at, level_off_m), some["depth_m"].to_numpy(float), own, side, rows)
