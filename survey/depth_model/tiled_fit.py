"""Large surveys: what is done to each patch when the bed is made, one patch after the other on all processors.

A patch is conditioned, makes all its predictions, and frees its matrices. Readings are predicted in the patch they
lie in. Knows nothing of what becomes of the answers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from threadpoolctl import threadpool_limits

from survey.arrays import Flags, FloatArray, Index
from survey.depth_model.bounds import Bounds, all_with_bounds
from survey.depth_model.observations import BedSlope, Observations
from survey.geometry.water import Locations
from survey.kriging.covariance import CandidateModel, Separations
from survey.kriging.data import ConditioningData
from survey.kriging.likelihood import Theta
from survey.kriging.partition import LARGE, Partition, TiledPosterior
from survey.kriging.posterior import Posterior
from survey.processors import threads

T = TypeVar("T")


@dataclass(frozen=True)
class TiledObservations:
    """A large survey's evidence in its patches.

    Parameters
    ----------
    observations : Observations
    partition : Partition
        Over all readings and shore points, whether they are kept or not.
    across : bool
        Land stands between waters.
    """

    observations: Observations
    partition: Partition
    across: bool

    @staticmethod
    def of(observations: Observations, across: bool) -> TiledObservations | None:
        """None where the survey is not so large."""
        xy = np.vstack([observations.places.xy, observations.shore.places.xy])
        return TiledObservations(observations, Partition.over(xy).own_last(xy), across) if len(xy) > LARGE else None

    @cached_property
    def own(self) -> list[Index]:
        """Readings that lie in each patch."""
        home = self.partition.home(self.observations.places.xy)
        order = np.argsort(home, kind="stable")
        return np.split(order, np.searchsorted(home[order], np.arange(1, len(self.partition))))

    @cached_property
    def _bounded(self) -> dict[int, Index]:
        """Bounds applied in each patch."""
        return {patch: some for patch, some, _ in self.partition.shares(self.observations.bounds.places.xy)}

    def bounds(self, patch: int) -> Bounds:
        """Bounds applied in a patch."""
        return self.observations.bounds.take(self._bounded.get(patch, np.empty(0, np.intp)))

    def with_shore(self, kept: Flags) -> Flags:
        """Which data of the patchwork are kept: these readings and all of the shore."""
        return np.append(kept, np.ones(len(self.observations.shore), bool))

    def each(self, work: Callable[[int], T], patches: Iterable[int] | None = None) -> Iterator[T]:
        """Do some work for patches, all of them by default; results come in their order."""
        with threadpool_limits(1), ThreadPoolExecutor(threads()) as pool:
            yield from pool.map(work, range(len(self.partition)) if patches is None else patches)

    def around(self, own: Index) -> tuple[Locations, FloatArray]:
        """Readings and the four spots beside each, with the lake's mean profile there."""
        n = len(self.observations)
        beside = self.observations.beside.take(np.concatenate([own + k * n for k in range(4)]))
        places = Locations.joined(self.observations.places.take(own), beside)
        return places, self.observations.profile.at(places.shore_m)

    def bed_slope(self, means: Iterable[FloatArray]) -> BedSlope:
        """The bed about the readings from its depths :meth:`around` them in every patch."""
        n = len(self.observations)
        here, beside = np.empty(n), np.empty((4, n))
        for own, mean in zip(self.own, means, strict=True):
            here[own], beside[:, own] = mean[: len(own)], mean[len(own) :].reshape(4, -1)
        return self.observations.tilt_from(here, beside.ravel())


def condition_all(
    members: Iterable[tuple[CandidateModel, Theta]], data: ConditioningData, across: bool
) -> list[Posterior]:
    """Members conditioned on the same data."""
    return factorise([Posterior(member, theta, data, across) for member, theta in members])


def factorise(fits: list[Posterior]) -> list[Posterior]:
    """Fits that stand on the same places, the work done; the places are compared among each other once."""
    gaps = Separations.between(fits[0].data.places, fits[0].data.places, fits[0].across)
    for fit in fits:
        fit.factor(gaps)
    return fits


@dataclass(frozen=True)
class Answers:
    """What the patches answered; of the arrays each patch writes the part of its own readings.

    Parameters
    ----------
    fits : list of list of Posterior
        A patch's members, by patch.
    alone : ndarray, shape (members, 2, n)
        Each reading that was kept as all others would have it, and the variance of that.
    aside : ndarray, shape (members, 2, n)
        The bed at each reading that was set aside, and its variance.
    around : list of ndarray, shape (members, 5 k)
        Depths at and beside a patch's readings, by patch.
    """

    fits: list[list[Posterior]]
    alone: FloatArray
    aside: FloatArray
    around: list[FloatArray]

    @staticmethod
    def none(patches: int, members: int, n: int) -> Answers:
        """Nothing answered yet."""
        alone, aside = np.full((2, members, 2, n), np.nan)
        return Answers([[]] * patches, alone, aside, [np.empty(0)] * patches)

    def conditioned(self, tiled: TiledObservations, kept: Flags, bed_slope: BedSlope) -> tuple[TiledPosterior, ...]:
        """The members on the readings that were kept."""
        data = tiled.observations.data(bed_slope, kept)
        shore = np.full(len(data) - int(kept.sum()), np.nan)
        partition = tiled.partition.keeping(tiled.with_shore(kept))
        return tuple(
            TiledPosterior(
                data,
                partition,
                tuple(fits[k] for fits in self.fits),
                (np.append(alone[0][kept], shore), np.append(alone[1][kept], shore)),
            )
            for k, alone in enumerate(self.alone)
        )


def sweep(
    tiled: TiledObservations,
    kept: Flags,
    bed_slope: BedSlope,
    members: list[tuple[CandidateModel, Theta]],
    before: tuple[Answers, Iterable[int]] | None = None,
) -> Answers:
    """Condition all members on the readings kept, and compute what is requested of every patch.

    Parameters
    ----------
    tiled : TiledObservations
    kept : ndarray of bool, shape (n,)
    bed_slope : BedSlope
        For the errors of the readings.
    members : list of (CandidateModel, mapping)
        With their parameters.
    before : (Answers, patches), optional
        What was answered before; only these patches are asked again.
    """
    n = len(kept)
    everything, all_kept = tiled.observations.data(bed_slope, np.ones(n, bool)), tiled.with_shore(kept)

    def visit(patch: int) -> tuple[list[Posterior], FloatArray, FloatArray, FloatArray]:
        uses, own = tiled.partition.uses[patch], tiled.own[patch]
        uses = uses[all_kept[uses]]
        fits = condition_all(members, everything.take(uses), tiled.across)
        fits = all_with_bounds(fits, tiled.bounds(patch), tiled.observations.profile)
        places, profile = tiled.around(own)
        gaps = Separations.between(fits[0].data.places, places, tiled.across, np.float32)
        around = np.array([fit.mean_by(gaps, places, profile, fit.weights) for fit in fits])
        alone = np.array([_alone(fit, uses, own[kept[own]]) for fit in fits])
        aside = np.array([_at(fit, tiled.observations, own[~kept[own]]) for fit in fits])
        for fit in fits:
            fit.drop_factors()
        return fits, alone, aside, around

    patches = range(len(tiled.partition)) if before is None else before[1]
    answers = Answers.none(len(tiled.own), len(members), n) if before is None else before[0]
    for patch, (fits, alone, aside, around) in zip(patches, tiled.each(visit, patches), strict=True):
        own = tiled.own[patch]
        answers.fits[patch], answers.around[patch] = fits, around
        answers.alone[:, :, own[kept[own]]], answers.aside[:, :, own[~kept[own]]] = alone, aside
    return answers


def _alone(fit: Posterior, uses: Index, own: Index) -> FloatArray:
    """Readings of a patch as the others would have them, and the variance, shape (2, k); ``own`` stands last in it."""
    if not len(own):
        return np.empty((2, 0))
    at = np.flatnonzero(np.isin(uses, own))
    return np.array(fit.loo_from(int(at[0])))[:, at - at[0]]


def _at(fit: Posterior, observations: Observations, aside: Index) -> FloatArray:
    """The bed at readings that did not shape it, and its variance, shape (2, k)."""
    if not len(aside):
        return np.empty((2, 0))
    places = observations.places.take(aside)
    mean, covariance = fit.joint(places, observations.profile.at(places.shore_m))
    return np.array([mean, np.diag(covariance)])
