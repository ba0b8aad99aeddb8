"""Large surveys: what is done to each patch when the bed is made, one patch after the other on all processors.

A patch is conditioned, asked all there is to ask, and its matrices are let go. Readings are asked in the patch they
lie in. Knows nothing of what becomes of the answers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from survey.depth_model.bounds import all_hearing
from survey.depth_model.observations import Bounds, Evidence, Tilt
from survey.geometry.water import Places
from survey.kriging.covariance import Gaps, Member
from survey.kriging.data import Data
from survey.kriging.likelihood import Theta
from survey.kriging.partition import LARGE, Conditioned, Patchwork
from survey.kriging.posterior import Fitted

Floats = NDArray[np.float64]
Index = NDArray[np.intp]
Flags = NDArray[np.bool_]
T = TypeVar("T")

WORKERS = 2


@dataclass(frozen=True)
class Ground:
    """A large survey's evidence in its patches.

    Parameters
    ----------
    evidence : Evidence
    patchwork : Patchwork
        Over all readings and shore points, whether they are kept or not.
    across : bool
        Land stands between waters.
    """

    evidence: Evidence
    patchwork: Patchwork
    across: bool

    @staticmethod
    def of(evidence: Evidence, across: bool) -> Ground | None:
        """None where the survey is not so large."""
        xy = np.vstack([evidence.places.xy, evidence.shore.places.xy])
        return Ground(evidence, Patchwork.over(xy).own_last(xy), across) if len(xy) > LARGE else None

    @cached_property
    def own(self) -> list[Index]:
        """Readings that lie in each patch."""
        home = self.patchwork.home(self.evidence.places.xy)
        order = np.argsort(home, kind="stable")
        return np.split(order, np.searchsorted(home[order], np.arange(1, len(self.patchwork))))

    @cached_property
    def _bounded(self) -> dict[int, Index]:
        """Bounds that each patch hears."""
        return {patch: some for patch, some, _ in self.patchwork.shares(self.evidence.bounds.places.xy)}

    def bounds(self, patch: int) -> Bounds:
        """Bounds that a patch hears."""
        return self.evidence.bounds.take(self._bounded.get(patch, np.empty(0, np.intp)))

    def with_shore(self, kept: Flags) -> Flags:
        """Which data of the patchwork are kept: these readings and all of the shore."""
        return np.append(kept, np.ones(len(self.evidence.shore), bool))

    def each(self, work: Callable[[int], T], patches: Iterable[int] | None = None) -> Iterator[T]:
        """Do some work for patches, all of them by default; results come in their order."""
        with threadpool_limits(1), ThreadPoolExecutor(WORKERS) as pool:
            yield from pool.map(work, range(len(self.patchwork)) if patches is None else patches)

    def around(self, own: Index) -> tuple[Places, Floats]:
        """Readings and the four spots beside each, with the lake's mean profile there."""
        n = len(self.evidence)
        beside = self.evidence.beside.take(np.concatenate([own + k * n for k in range(4)]))
        places = Places.joined(self.evidence.places.take(own), beside)
        return places, self.evidence.profile.at(places.shore_m)

    def tilt(self, means: Iterable[Floats]) -> Tilt:
        """The bed about the readings from its depths :meth:`around` them in every patch."""
        n = len(self.evidence)
        here, beside = np.empty(n), np.empty((4, n))
        for own, mean in zip(self.own, means, strict=True):
            here[own], beside[:, own] = mean[: len(own)], mean[len(own) :].reshape(4, -1)
        return self.evidence.tilt_from(here, beside.ravel())


def together(members: Iterable[tuple[Member, Theta]], data: Data, across: bool) -> list[Fitted]:
    """Members conditioned on the same data."""
    return factored([Fitted(member, theta, data, across) for member, theta in members])


def factored(fits: list[Fitted]) -> list[Fitted]:
    """Fits that stand on the same places, the work done; the places are compared among each other once."""
    gaps = Gaps.between(fits[0].data.places, fits[0].data.places, fits[0].across)
    for fit in fits:
        fit.factor(gaps)
    return fits


@dataclass(frozen=True)
class Answers:
    """What the patches answered; of the arrays each patch writes the part of its own readings.

    Parameters
    ----------
    fits : list of list of Fitted
        A patch's members, by patch.
    alone : ndarray, shape (members, 2, n)
        Each reading that was kept as all others would have it, and the variance of that.
    aside : ndarray, shape (members, 2, n)
        The bed at each reading that was set aside, and its variance.
    around : list of ndarray, shape (members, 5 k)
        Depths at and beside a patch's readings, by patch.
    """

    fits: list[list[Fitted]]
    alone: Floats
    aside: Floats
    around: list[Floats]

    @staticmethod
    def none(patches: int, members: int, n: int) -> Answers:
        """Nothing answered yet."""
        alone, aside = np.full((2, members, 2, n), np.nan)
        return Answers([[]] * patches, alone, aside, [np.empty(0)] * patches)

    def conditioned(self, ground: Ground, kept: Flags, tilt: Tilt) -> tuple[Conditioned, ...]:
        """The members on the readings that were kept."""
        data = ground.evidence.data(tilt, kept)
        shore = np.full(len(data) - int(kept.sum()), np.nan)
        patchwork = ground.patchwork.keeping(ground.with_shore(kept))
        return tuple(
            Conditioned(
                data,
                patchwork,
                tuple(fits[k] for fits in self.fits),
                (np.append(alone[0][kept], shore), np.append(alone[1][kept], shore)),
            )
            for k, alone in enumerate(self.alone)
        )


def sweep(
    ground: Ground,
    kept: Flags,
    tilt: Tilt,
    members: list[tuple[Member, Theta]],
    before: tuple[Answers, Iterable[int]] | None = None,
) -> Answers:
    """Condition all members on the readings that are kept, and ask what is asked of every patch.

    Parameters
    ----------
    ground : Ground
    kept : ndarray of bool, shape (n,)
    tilt : Tilt
        For the errors of the readings.
    members : list of (Member, mapping)
        With their parameters.
    before : (Answers, patches), optional
        What was answered before; only these patches are asked again.
    """
    n = len(kept)
    everything, all_kept = ground.evidence.data(tilt, np.ones(n, bool)), ground.with_shore(kept)

    def visit(patch: int) -> tuple[list[Fitted], Floats, Floats, Floats]:
        uses, own = ground.patchwork.uses[patch], ground.own[patch]
        uses = uses[all_kept[uses]]
        fits = together(members, everything.take(uses), ground.across)
        fits = all_hearing(fits, ground.bounds(patch), ground.evidence.profile)
        places, profile = ground.around(own)
        gaps = Gaps.between(fits[0].data.places, places, ground.across, np.float32)
        around = np.array([fit.mean_by(gaps, places, profile, fit.own_weights) for fit in fits])
        alone = np.array([_alone(fit, uses, own[kept[own]]) for fit in fits])
        aside = np.array([_at(fit, ground.evidence, own[~kept[own]]) for fit in fits])
        for fit in fits:
            fit.let_go()
        return fits, alone, aside, around

    patches = range(len(ground.patchwork)) if before is None else before[1]
    answers = Answers.none(len(ground.own), len(members), n) if before is None else before[0]
    for patch, (fits, alone, aside, around) in zip(patches, ground.each(visit, patches), strict=True):
        own = ground.own[patch]
        answers.fits[patch], answers.around[patch] = fits, around
        answers.alone[:, :, own[kept[own]]], answers.aside[:, :, own[~kept[own]]] = alone, aside
    return answers


def _alone(fit: Fitted, uses: Index, own: Index) -> Floats:
    """Readings of a patch as the others would have them, and the variance, shape (2, k); ``own`` stands last in it."""
    if not len(own):
        return np.empty((2, 0))
    at = np.flatnonzero(np.isin(uses, own))
    return np.array(fit.alone_from(int(at[0])))[:, at - at[0]]


def _at(fit: Fitted, evidence: Evidence, aside: Index) -> Floats:
    """The bed at readings that did not shape it, and its variance, shape (2, k)."""
    if not len(aside):
        return np.empty((2, 0))
    places = evidence.places.take(aside)
    mean, covariance = fit.joint(places, evidence.profile.at(places.shore_m))
    return np.array([mean, np.diag(covariance)])
