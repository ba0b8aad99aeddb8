"""From observations to a fitted lake model: candidates fitted, mistakes set aside, bounds applied."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from survey.depth_model.adjusting import adjusted_to
from survey.depth_model.bounds import with_bounds
from survey.depth_model.model import LakeModel, combined
from survey.depth_model.observations import BedSlope, Observations
from survey.depth_model.screening import (
    FIT_ROUNDS,
    SCREEN_LEAST,
    screened,
    screened_in_patches,
    worst_about,
)
from survey.depth_model.tiled_fit import Answers, TiledObservations, sweep
from survey.geometry.water import WaterGeometry
from survey.kriging.covariance import CANDIDATES, CandidateModel
from survey.kriging.likelihood import Theta, fit_theta, prior_theta
from survey.kriging.outliers import outlier_probability
from survey.kriging.partition import Partition, TiledPosterior
from survey.processors import threads

MISTAKEN_FROM = 0.5
"""Readings set aside are more likely wrong than right."""

SETTLING_ROUNDS = (True, True, False)
"""Whether readings may be set aside in a round; the last only lets them back in, so that none goes to and fro."""


def fit_lake(
    frame: WaterGeometry, observations: Observations, progress: Callable[[str], None] = lambda _: None
) -> LakeModel:
    """Fit all members to the evidence.

    Parameters
    ----------
    frame : WaterGeometry
    observations : Observations
    progress : callable
        Told in words what is being done.
    """
    across = frame.has_land_between
    tiled = TiledObservations.of(observations, across)
    # Many small factors: threads of the linear algebra would wait for one another longer than they reckon.
    with threadpool_limits(1), ThreadPoolExecutor(threads()) as pool:
        progress("looking for readings that do not fit")
        if tiled is not None:
            return _fit_in_patches(frame, tiled, progress, pool)
        found = screened(observations, across)
        progress("fitting the bed")
        adjusted, bed_slope = adjusted_to(found, across)
        kept = found.kept
        made = pool.map(lambda member: _fit_member(member, adjusted, bed_slope, kept, across), CANDIDATES)
        # The slope that the data were made with: what moved spots add to depths is taken off again by it.
        model = LakeModel(frame, adjusted, kept, tuple(made), bed_slope)
        return _settled(model, _resting_on)


def _average(tilts: list[BedSlope]) -> BedSlope:
    return BedSlope(np.mean([t.slope for t in tilts], axis=0), np.mean([t.own_var for t in tilts], axis=0))


def _settled(model: LakeModel, resting_on: Callable[[LakeModel, NDArray[np.bool_]], LakeModel]) -> LakeModel:
    """The model on those readings that are more likely sound than not, by what all members predict for each."""
    for may_go in SETTLING_ROUNDS:
        kept = _sound(model) if may_go else _sound(model) | model.kept
        if (kept == model.kept).all():
            break
        model = resting_on(model, kept)
    return model


def _resting_on(model: LakeModel, kept: NDArray[np.bool_]) -> LakeModel:
    """The same members conditioned on other readings."""
    data = model.observations.data(model.bed_slope, kept)
    partition, across = Partition.over(data.places.xy), model.frame.has_land_between
    again = (TiledPosterior.on(m.fits[0].member, m.theta, data, partition, across=across) for m in model.members)
    members = tuple(with_bounds(found, model.observations.bounds, model.observations.profile) for found in again)
    return replace(model, kept=kept, members=members)


def _sound(model: LakeModel) -> NDArray[np.bool_]:
    """Readings that a bed made without them does not hold to be mistaken, shape (n,).

    Of those that shaped it only the worst within a few metres goes in one round: it makes its neighbours look wrong.
    """
    observations, n = model.observations, len(model.observations)
    if n < SCREEN_LEAST:
        return model.kept
    predicted, sd = model.cross_validate(np.arange(n)[:, None])
    chance = outlier_probability(observations.depth_m, predicted, sd, np.full(n, np.nan)).chance
    sound = observations.trusted | (chance <= MISTAKEN_FROM)
    z = np.where(model.kept, np.abs(observations.depth_m - predicted) / sd, 0.0)
    doubtful = np.flatnonzero(model.kept & ~sound)
    sound[doubtful[~worst_about(doubtful, z, observations.places.xy)]] = True
    return sound


def _fit_member(
    member: CandidateModel, observations: Observations, bed_slope: BedSlope, kept: NDArray[np.bool_], across: bool
) -> TiledPosterior:
    """One member, position errors met by the bed of the adjustment, bounds applied last."""
    theta: Theta = prior_theta(member, across)
    partition = Partition.over(observations.data(bed_slope, kept).places.xy)
    data = observations.data(bed_slope, kept)
    theta = fit_theta(member, data, across, theta)
    found = TiledPosterior.on(member, theta, data, partition, across=across)
    return with_bounds(found, observations.bounds, observations.profile)


def _fit_in_patches(
    frame: WaterGeometry, tiled: TiledObservations, progress: Callable[[str], None], pool: ThreadPoolExecutor
) -> LakeModel:
    """All members patch by patch; position errors meet the bed that the search for mistakes left."""
    found = screened_in_patches(tiled)
    tiled = replace(tiled, observations=found.observations)
    progress("fitting the bed")
    data, across = tiled.observations.data(found.bed_slope, found.kept), tiled.across

    def fit(member: CandidateModel) -> tuple[CandidateModel, Theta]:
        theta: Theta = prior_theta(member, across)
        for size in FIT_ROUNDS:
            theta = fit_theta(member, data, across, theta, size)
        return member, theta

    members = list(pool.map(fit, CANDIDATES))
    answers = sweep(tiled, found.kept, found.bed_slope, members)

    def resting_on(model: LakeModel, kept: NDArray[np.bool_]) -> LakeModel:
        changed = np.flatnonzero(kept != model.kept)
        touched = [patch for patch, uses in enumerate(tiled.partition.uses) if np.isin(uses, changed).any()]
        return _model_of(
            frame, tiled, kept, found.bed_slope, sweep(tiled, kept, found.bed_slope, members, (answers, touched))
        )

    return _settled(_model_of(frame, tiled, found.kept, found.bed_slope, answers), resting_on)


def _model_of(
    frame: WaterGeometry, tiled: TiledObservations, kept: NDArray[np.bool_], bed_slope: BedSlope, answers: Answers
) -> LakeModel:
    around = [tiled.bed_slope(mean[k] for mean in answers.around) for k in range(len(answers.alone))]
    aside = np.flatnonzero(~kept)
    asides = combined([(mean[aside], var[aside]) for mean, var in answers.aside])
    return LakeModel(
        frame, tiled.observations, kept, answers.conditioned(tiled, kept, bed_slope), _average(around), (aside, *asides)
    )
