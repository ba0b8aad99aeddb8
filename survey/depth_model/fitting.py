"""From observations to a fitted lake model: candidates fitted, mistakes set aside, bounds applied."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from survey.depth_model.bounds import with_bounds
from survey.depth_model.model import LakeModel, combined
from survey.depth_model.observations import Evidence, Tilt
from survey.depth_model.screening import FIT_ROUNDS, SCREEN_LEAST, screened, screened_in_patches, tilt_of, worst_about
from survey.depth_model.tiled_fit import WORKERS, Answers, Ground, sweep
from survey.geometry.water import WaterFrame
from survey.kriging.covariance import MEMBERS, Member
from survey.kriging.likelihood import Theta, fit_theta, prior_theta
from survey.kriging.outliers import doubt
from survey.kriging.partition import Conditioned, Patchwork

MISTAKEN_FROM = 0.5
"""A reading that is more likely mistaken than sound shapes nothing."""

SETTLING_ROUNDS = (True, True, False)
"""Whether readings may be set aside in a round; the last only lets them back in, so that none goes to and fro."""


def fit_lake(frame: WaterFrame, evidence: Evidence, progress: Callable[[str], None] = lambda _: None) -> LakeModel:
    """Fit all members to the evidence.

    Parameters
    ----------
    frame : WaterFrame
    evidence : Evidence
    progress : callable
        Told in words what is being done.
    """
    across = frame.has_land_between
    ground = Ground.of(evidence, across)
    # Many small factors: threads of the linear algebra would wait for one another longer than they reckon.
    with threadpool_limits(1), ThreadPoolExecutor(WORKERS) as pool:
        progress("looking for readings that do not fit")
        if ground is not None:
            return _fit_in_patches(frame, ground, progress, pool)
        kept = screened(evidence, across)
        progress("fitting the bed")
        made = list(pool.map(lambda member: _fit_member(member, evidence, kept, across), MEMBERS))
        model = LakeModel(frame, evidence, kept, tuple(m for m, _ in made), _average([t for _, t in made]))
        return _settled(model, _resting_on)


def _average(tilts: list[Tilt]) -> Tilt:
    return Tilt(np.mean([t.slope for t in tilts], axis=0), np.mean([t.own_var for t in tilts], axis=0))


def _settled(model: LakeModel, resting_on: Callable[[LakeModel, NDArray[np.bool_]], LakeModel]) -> LakeModel:
    """The model on those readings that are more likely sound than not, by what all members foretell of each."""
    for may_go in SETTLING_ROUNDS:
        kept = _sound(model) if may_go else _sound(model) | model.kept
        if (kept == model.kept).all():
            break
        model = resting_on(model, kept)
    return model


def _resting_on(model: LakeModel, kept: NDArray[np.bool_]) -> LakeModel:
    """The same members conditioned on other readings."""
    data = model.evidence.data(model.tilt, kept)
    patchwork, across = Patchwork.over(data.places.xy), model.frame.has_land_between
    again = (Conditioned.on(m.fits[0].member, m.theta, data, patchwork, across=across) for m in model.members)
    members = tuple(with_bounds(found, model.evidence.bounds, model.evidence.profile) for found in again)
    return replace(model, kept=kept, members=members)


def _sound(model: LakeModel) -> NDArray[np.bool_]:
    """Readings that a bed made without them does not hold to be mistaken, shape (n,).

    Of those that shaped it only the worst within a few metres goes in one round: it makes its neighbours look wrong.
    """
    evidence, n = model.evidence, len(model.evidence)
    if n < SCREEN_LEAST:
        return model.kept
    foretold, sd = model.left_out(np.arange(n)[:, None])
    chance = doubt(evidence.depth_m, foretold, sd, np.full(n, np.nan)).chance
    sound = evidence.trusted | (chance <= MISTAKEN_FROM)
    z = np.where(model.kept, np.abs(evidence.depth_m - foretold) / sd, 0.0)
    suspects = np.flatnonzero(model.kept & ~sound)
    sound[suspects[~worst_about(suspects, z, evidence.places.xy)]] = True
    return sound


def _fit_member(member: Member, evidence: Evidence, kept: NDArray[np.bool_], across: bool) -> tuple[Conditioned, Tilt]:
    """One member, its tilt at the readings fed back into their errors, bounds heard last."""
    tilt, theta = evidence.untilted, prior_theta(member, across)
    patchwork = Patchwork.over(evidence.data(tilt, kept).places.xy)
    for size in FIT_ROUNDS:
        data = evidence.data(tilt, kept)
        theta = fit_theta(member, data, across, theta, size)
        found = Conditioned.on(member, theta, data, patchwork, across=across)
        tilt = tilt_of(found, evidence)
    return with_bounds(found, evidence.bounds, evidence.profile), tilt


def _fit_in_patches(
    frame: WaterFrame, ground: Ground, progress: Callable[[str], None], pool: ThreadPoolExecutor
) -> LakeModel:
    """All members patch by patch; position errors meet the bed that the search for mistakes left."""
    found = screened_in_patches(ground)
    progress("fitting the bed")
    data, across = ground.evidence.data(found.tilt, found.kept), ground.across

    def fit(member: Member) -> tuple[Member, Theta]:
        theta = prior_theta(member, across)
        for size in FIT_ROUNDS:
            theta = fit_theta(member, data, across, theta, size)
        return member, theta

    members = list(pool.map(fit, MEMBERS))
    answers = sweep(ground, found.kept, found.tilt, members)

    def resting_on(model: LakeModel, kept: NDArray[np.bool_]) -> LakeModel:
        changed = np.flatnonzero(kept != model.kept)
        touched = [patch for patch, uses in enumerate(ground.patchwork.uses) if np.isin(uses, changed).any()]
        return _model_of(frame, ground, kept, found.tilt, sweep(ground, kept, found.tilt, members, (answers, touched)))

    return _settled(_model_of(frame, ground, found.kept, found.tilt, answers), resting_on)


def _model_of(frame: WaterFrame, ground: Ground, kept: NDArray[np.bool_], tilt: Tilt, answers: Answers) -> LakeModel:
    around = [ground.tilt(mean[k] for mean in answers.around) for k in range(len(answers.alone))]
    aside = np.flatnonzero(~kept)
    asides = combined([(mean[aside], var[aside]) for mean, var in answers.aside])
    return LakeModel(
        frame, ground.evidence, kept, answers.conditioned(ground, kept, tilt), _average(around), (aside, *asides)
    )
