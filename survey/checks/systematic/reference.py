"""What readings cost by a bed that was made without them. Knows nothing of what may be wrong with them.

One member is enough to tell a mistake from a misfit; large surveys are thinned to what it takes to judge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from survey.arrays import FloatArray
from survey.depth_model.model import LakeModel
from survey.depth_model.observations import observations_from
from survey.errors import SourceRow
from survey.kriging.covariance import CANDIDATES
from survey.kriging.likelihood import Theta, fit_theta, prior_theta
from survey.kriging.partition import Partition, TiledPosterior
from survey.records.soundings import Soundings
from survey.records.venue import Venue

CAPPED = 12.0
"""A reading that cannot be right costs this much, however wrong it is: about 3.5 standard deviations."""
TROUBLED = 6.0
"""A reading that costs more does not fit."""
LEAST_OUTSIDE = 12
"""Readings that the judging bed must rest on."""
MOST_JUDGING = 1200
"""This many readings are enough to compare with."""
NEAR_STEP = 2.0**0.5


@dataclass(frozen=True, eq=False)
class Predictor:
    """A reference bed for soundings it was made without.

    Parameters
    ----------
    bed : LakeModel
        Of one member.
    """

    bed: LakeModel

    def residuals_of(self, soundings: Soundings) -> tuple[FloatArray, FloatArray]:
        """Depth less what the bed has there, and the standard deviation of that, shapes (n,), metres."""
        table = soundings.table
        # The ways to write a depth share their spot: it is asked for once.
        spots, back = np.unique(_spots_of(soundings), axis=0, return_inverse=True)
        depth, spread = self._bed_at(spots)
        own = table["sd_m"].to_numpy(float) ** 2 + table["level_sd_m"].to_numpy(float) ** 2
        back = back.reshape(-1)
        return table["depth_m"].to_numpy(float) - depth[back], np.sqrt(own + spread[back] ** 2)

    def _bed_at(self, spots: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Depth and standard deviation of the bed, the error of the place included; see :func:`_spots_of`."""
        xy, out, along, across = spots[:, :2], spots[:, 2:4], spots[:, 4:5], spots[:, 5:]
        aside = np.column_stack([out[:, 1], -out[:, 0]])
        steps = [sign * NEAR_STEP * sd * way for way, sd in ((out, along), (aside, across)) for sign in (1.0, -1.0)]
        here, sd = self.bed.predict(xy)
        beside = self._means(np.vstack([xy + step for step in steps])).reshape(4, -1)
        # Differences of the mean alone: where the bed is held under water both ends move alike.
        placing = ((beside - self._means(xy)) ** 2).sum(axis=0) / 4.0
        return here, np.sqrt(sd**2 + placing)

    def _means(self, xy: FloatArray) -> FloatArray:
        (member,), observations = self.bed.members, self.bed.observations
        places = self.bed.frame.places(xy, observations.level_off_m)
        return np.maximum(member.mean(places, observations.profile.at(places.shore_m)), self.bed.floor_m)

    def cost_of(self, soundings: Soundings) -> tuple[FloatArray, FloatArray]:
        """Squared standardised misfit of each sounding, capped, and its miss in metres, shapes (n,)."""
        miss, sd = self.residuals_of(soundings)
        side = soundings.table["kind"].map({"depth": 0.0, "at_least": 1.0, "at_most": -1.0}).to_numpy(float)
        # A lower bound is broken where the bed is shallower, an upper one where it is deeper.
        miss = np.where(side == 0, miss, side * np.maximum(side * miss, 0.0))
        return np.minimum((miss / sd) ** 2, CAPPED), miss


def _spots_of(soundings: Soundings) -> FloatArray:
    """Spot, unit vector of the cast, and position error along and across it of each sounding, shape (n, 6)."""
    table = soundings.table
    radial = np.radians(table["radial_deg"].to_numpy(float))
    # Where two sights cross, the ellipse holds what straight out brings.
    facing = np.where(table["peg2"] == "", table["facing_sd_deg"], 0.0)
    turned = table["distance_m"].to_numpy(float) * np.radians(facing)
    peg = table["peg_sd_m"].to_numpy(float)
    along = np.hypot(table["radial_sd_m"].to_numpy(float), peg)
    across = np.sqrt(table["tangential_sd_m"].to_numpy(float) ** 2 + peg**2 + turned**2)
    return np.column_stack([soundings.xy, np.sin(radial), np.cos(radial), along, across])


@dataclass(frozen=True, eq=False)
class ReferenceBed:
    """A survey's evidence, and which of it counts in judging the rest.

    Parameters
    ----------
    model : LakeModel
    places : tuple of SourceRow
        Where each datum of its evidence stands.
    counted : ndarray of bool, shape (n,)
    """

    model: LakeModel
    places: tuple[SourceRow, ...]
    counted: NDArray[np.bool_]

    @staticmethod
    def by(model: LakeModel, soundings: Soundings) -> ReferenceBed:
        """Judging by what the model kept, thinned: evidence is sorted by place, so every k-th covers it."""
        table = soundings.table.iloc[model.observations.rows]
        places = tuple(SourceRow(file, row) for file, row in zip(table["file"], table["row"], strict=True))
        some = np.zeros(len(model.kept), bool)
        some[np.flatnonzero(model.kept)[:: -(-int(model.kept.sum()) // MOST_JUDGING)]] = True
        return ReferenceBed(model, places, some)

    @cached_property
    def thinned_out(self) -> frozenset[SourceRow]:
        """Rows that the model kept and that do not count."""
        return frozenset(self.places[i] for i in np.flatnonzero(self.model.kept & ~self.counted))

    def without(self, rows: frozenset[SourceRow]) -> ReferenceBed:
        """The same with some rows no longer counted."""
        return replace(self, counted=self.counted & ~np.array([place in rows for place in self.places], bool))

    @cached_property
    def plain(self) -> TiledPosterior:
        """A bed with parameters as of any lake: a bad sheet may have spoilt those that were fitted."""
        return self._bed(self.any_lake)

    @property
    def any_lake(self) -> Theta:
        """Parameters as of any lake."""
        return prior_theta(CANDIDATES[0], self.model.frame.has_land_between)

    def _bed(self, theta: Theta | None) -> TiledPosterior:
        across = self.model.frame.has_land_between
        data = self.model.observations.data(self.model.bed_slope, self.counted)
        if theta is None:
            theta = fit_theta(CANDIDATES[0], data, across)
        return TiledPosterior.on(CANDIDATES[0], theta, data, Partition.over(data.places.xy), across=across)

    def predictor(self, theta: Theta | None) -> Predictor | None:
        """A bed made of what counts; None where that is too little. Without parameters they are fitted to it."""
        if self.counted.sum() < LEAST_OUTSIDE:
            return None
        return Predictor(replace(self.model, kept=self.counted, members=(self._bed(theta),)))

    def cross_validate(self, groups: Sequence[frozenset[SourceRow]]) -> dict[SourceRow, Residual]:
        """How what counts misses the plain bed without its group, by row; rows in no group are left out."""
        kept = np.flatnonzero(self.counted)
        owner = {place: k for k, rows in enumerate(groups) for place in rows}
        of = np.array([owner.get(self.places[i], -1) for i in kept])
        predicted, spread = self.plain.cross_validate([np.flatnonzero(of == k) for k in np.unique(of[of >= 0])])
        miss = self.plain.data.values[: len(kept)] - predicted[: len(kept)]
        return {
            self.places[i]: Residual(float(miss[n]), float(np.sqrt(spread[n])), float(self._climb[i]))
            for n, i in enumerate(kept)
            if of[n] >= 0
        }

    @cached_property
    def _climb(self) -> FloatArray:
        """Depth gained along each cast for one metre further out, dimensionless, shape (n,)."""
        return np.asarray((self.model.bed_slope.slope * self.model.observations.along).sum(axis=1))


@dataclass(frozen=True)
class Residual:
    """How a reading misses a bed made without it.

    Parameters
    ----------
    miss_m, sd_m : float
        Depth less what the bed has there, and what their errors allow (one standard deviation).
    climb : float
        Depth gained for a metre further out along the cast.
    """

    miss_m: float
    sd_m: float
    climb: float

    @property
    def z(self) -> float:
        """Standardised."""
        return self.miss_m / self.sd_m


def among_themselves(venue: Venue, soundings: Soundings, model: LakeModel) -> tuple[FloatArray, FloatArray]:
    """As :meth:`Predictor.cost_of`, each by a bed of the others with parameters as of any lake; bounds cost nothing."""
    squares, miss = np.zeros(len(soundings)), np.zeros(len(soundings))
    used = soundings.table["use"].to_numpy(bool) & (soundings.table["kind"] == "depth").to_numpy(bool)
    if not used.any():
        return squares, miss
    observations = replace(observations_from(venue, soundings, model.frame), factors=model.observations.factors)
    every, across = np.ones(len(observations), bool), model.frame.has_land_between
    theta = prior_theta(CANDIDATES[0], across)
    data = observations.data(observations.no_slope, every)
    partition = Partition.over(data.places.xy)
    first = TiledPosterior.on(CANDIDATES[0], theta, data, partition, across=across)
    here, beside = (
        first.mean(p, observations.profile.at(p.shore_m)) for p in (observations.places, observations.beside)
    )
    data = observations.data(observations.tilt_from(here, beside), every)
    bed = TiledPosterior.on(CANDIDATES[0], theta, data, partition, across=across)
    n = len(observations)
    predicted, spread = bed.cross_validate([np.array([i]) for i in range(n)])
    miss[observations.rows] = observations.depth_m - predicted[:n]
    squares[observations.rows] = np.minimum(miss[observations.rows] ** 2 / spread[:n], CAPPED)
    return squares, miss
