"""Readings that disagree with the others are set aside, so that mistakes do not bend the bed they are compared with.

Small surveys are judged as a whole, round by round; of large ones each patch judges the readings that lie in it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from scipy.spatial import cKDTree

from survey.arrays import Flags, FloatArray, Index
from survey.depth_model.observations import BedSlope, Observations
from survey.depth_model.tiled_fit import TiledObservations, condition_all
from survey.geometry.water import Locations
from survey.kriging.covariance import CANDIDATES, Separations
from survey.kriging.data import ConditioningData
from survey.kriging.likelihood import FULL, ROUGH, Fitted, Theta, fit_with_errors, prior_theta
from survey.kriging.partition import Partition, TiledPosterior
from survey.kriging.posterior import Posterior

FIT_ROUNDS = (ROUGH, FULL)
"""Position error enters through the slope of the bed, which the bed of the round before gives."""
DOUBTFUL_Z = 3.5
SCREEN_LEAST = 50
"""With fewer readings none is set aside: each has too few neighbours to compare with."""
BORNE_OUT_Z = 2.0
"""A doubtful reading with a smaller residual against all the others, doubtful ones included, is restored."""
SCREEN_ROUNDS = 6
SWEEPS = ((ROUGH, 6), (FULL, 30), (None, 30))
"""Size of the fit (None: none) and rounds within a patch, which cost little there. In the first sweep the slope is
not known yet, so that sound readings on steep ground look doubtful: it stops early. What mistakes did to that slope
hides a sixth of them from the second."""
SCREEN_CLEAR_M = 8.0
"""Only the worst reading within this distance is set aside in one round."""
MAD_SD = 1.4826
"""Median absolute deviation of a normal variable to its standard deviation."""


@dataclass(frozen=True)
class Screened:
    """What was found.

    Parameters
    ----------
    kept : ndarray of bool, shape (n,)
    theta : mapping
        Parameters of the judging member.
    bed_slope : BedSlope
        The bed about the readings as it has it.
    observations : Observations
        With the sizes of their errors.
    """

    kept: Flags
    theta: Theta
    bed_slope: BedSlope
    observations: Observations


def bed_slope_of(found: TiledPosterior, observations: Observations) -> BedSlope:
    """The bed about the readings as a member has it."""
    places = Locations.joined(observations.places, observations.beside)
    depth = found.mean(places, observations.profile.at(places.shore_m), np.float32)
    here, beside = np.split(depth, [len(observations)])
    return observations.tilt_from(here, beside)


def screened(observations: Observations, across: bool) -> Screened:
    """Readings left after the worst misfits were set aside, round by round.

    A wrong reading makes its neighbours look wrong, so only the worst within a few metres goes
    in one round, and everything is compared again with what is left. At the end, what fits
    the others after all comes back, and what its like nearby bear out: several readings that agree on
    a hole are a hole. How large errors are is found on the way.
    """
    kept, member = np.ones(len(observations), bool), CANDIDATES[0]
    theta: Theta = prior_theta(member, across)
    bed_slope = observations.no_slope
    rounds = SCREEN_ROUNDS if len(observations) >= SCREEN_LEAST else len(FIT_ROUNDS)
    for turn in range(rounds):
        # With the worst gone the parameters hardly move: later rounds keep them.
        if turn < len(FIT_ROUNDS):
            bare, sources = observations.bare_data(bed_slope, kept)
            start = Fitted(theta, observations.factors)
            theta, factors = fit_with_errors(member, bare, sources, across, start, FIT_ROUNDS[turn])
            observations = replace(observations, factors=factors)
        data = observations.data(bed_slope, kept)
        found = TiledPosterior.on(member, theta, data, Partition.over(data.places.xy), across=across)
        bed_slope = bed_slope_of(found, observations)
        worst = _worst(found, observations, np.flatnonzero(kept))
        worst = worst[~observations.trusted[worst]]
        if len(observations) < SCREEN_LEAST:
            continue
        if not len(worst):
            break
        kept[worst] = False
    if not kept.all():
        fits = np.abs(_misfit_of_aside(found, observations, bed_slope, kept)) <= DOUBTFUL_Z
        everything = replace(found, data=observations.data(bed_slope, np.ones(len(kept), bool)))
        kept = kept | fits | _borne_out(everything, across)
    return Screened(kept, theta, bed_slope, observations)


def _borne_out(found: TiledPosterior, across: bool) -> Flags:
    """Readings that fit well among all the others, the doubtful included, shape (n,)."""
    member, partition = found.fits[0].member, Partition.over(found.data.places.xy)
    everything = TiledPosterior.on(member, found.theta, found.data, partition, across=across)
    n = int((~found.data.shore).sum())
    predicted, spread = everything.cross_validate([np.array([i]) for i in range(n)])
    return np.asarray(np.abs(found.data.values[:n] - predicted[:n]) <= BORNE_OUT_Z * np.sqrt(spread[:n]))


def _worst(found: TiledPosterior, observations: Observations, kept_at: Index) -> Index:
    n = len(kept_at)
    predicted, spread = found.cross_validate([np.array([i]) for i in range(n)])
    z = np.abs(found.data.values[:n] - predicted[:n]) / np.sqrt(spread[:n])
    z = z / max(1.0, MAD_SD * float(np.median(z)))
    doubtful = np.flatnonzero(z > DOUBTFUL_Z)
    return np.asarray(kept_at[doubtful[worst_about(doubtful, z, observations.places.xy[kept_at])]])


def worst_about(doubtful: Index, z: FloatArray, xy: FloatArray) -> Flags:
    """Which suspects misfit no less than any other reading near them, shape (k,).

    Parameters
    ----------
    doubtful : ndarray of int, shape (k,)
    z : ndarray, shape (n,)
        Standardised misfit of each reading, without sign; nought for those that do not count.
    xy : ndarray, shape (n, 2)
        Places, metres.
    """
    near = cKDTree(xy).query_ball_point(xy[doubtful], SCREEN_CLEAR_M)
    return np.array([z[k] >= z[about].max() for k, about in zip(doubtful, near, strict=True)], bool)


def _misfit_of_aside(found: TiledPosterior, observations: Observations, bed_slope: BedSlope, kept: Flags) -> FloatArray:
    """Standardised misfit of what was set aside, shape (n,); infinite for what was kept."""
    z, aside = np.full(len(kept), np.inf), np.flatnonzero(~kept)
    home = found.partition.home(observations.places.xy[aside])
    for patch in np.unique(home):
        some = aside[home == patch]
        places = observations.places.take(some)
        mean, cov = found.fits[patch].joint(places, observations.profile.at(places.shore_m))
        noise = observations.noise_var(bed_slope)[some] + found.theta["nugget"]
        read = observations.depth_m[some] + observations.correction_m(bed_slope)[some]
        z[some] = (read - mean) / np.sqrt(np.diag(cov) + noise)
    return z


def screened_in_patches(tiled: TiledObservations) -> Screened:
    """As :func:`screened`, each patch by itself and in closed form.

    A patch judges all readings that speak for it, but its word counts only for those that lie in it.
    """
    observations, member = tiled.observations, CANDIDATES[0]
    n = len(observations)
    kept, bed_slope = np.ones(n, bool), observations.no_slope
    theta: Theta = prior_theta(member, tiled.across)
    for size, rounds in SWEEPS:
        if size is not None:
            bare, sources = observations.bare_data(bed_slope, kept)
            start = Fitted(theta, observations.factors)
            theta, factors = fit_with_errors(member, bare, sources, tiled.across, start, size)
            observations = replace(observations, factors=factors)
            tiled = replace(tiled, observations=observations)
        data = observations.data(bed_slope, np.ones(n, bool))
        found = list(tiled.each(partial(_judged, tiled, data, theta, rounds)))
        for own, (aside, _) in zip(tiled.own, found, strict=True):
            kept[own] = ~aside
        bed_slope = tiled.bed_slope(mean for _, mean in found)
    return Screened(kept, theta, bed_slope, observations)


def _judged(
    tiled: TiledObservations, data: ConditioningData, theta: Theta, rounds: int, patch: int
) -> tuple[Flags, FloatArray]:
    """Which of a patch's own readings are set aside, and depths around them all by the others."""
    uses, own, observations = tiled.partition.uses[patch], tiled.own[patch], tiled.observations
    (fit,) = condition_all([(CANDIDATES[0], theta)], data.take(uses), tiled.across)
    trusted, readings = np.zeros(len(uses), bool), uses < len(observations)
    trusted[readings] = observations.trusted[uses[readings]]
    aside = _set_aside(fit, trusted, rounds)
    return np.isin(own, uses[aside]), _around_without(fit, aside, *tiled.around(own))


def _set_aside(fit: Posterior, trusted: Flags, rounds: int) -> Flags:
    """Which of a patch's data do not fit the others, shape (n,).

    Leaving data out is a matter of the precision's blocks (Dubrule 1983), and so is judging again without them.
    """
    data, whitened = fit.data, fit.projection @ fit.data.values
    first = np.abs(whitened) / np.sqrt(np.diag(fit.projection))
    precision, left, kept = fit.projection.copy(), whitened.copy(), ~data.shore
    for _ in range(rounds):
        at = np.flatnonzero(kept)
        z = np.abs(left[at]) / np.sqrt(np.diag(precision)[at])
        doubtful = np.flatnonzero(z > DOUBTFUL_Z * max(1.0, MAD_SD * float(np.median(z))))
        worst = at[doubtful[worst_about(doubtful, z, data.places.xy[at])]]
        worst = worst[~trusted[worst]]
        if not len(worst):
            break
        kept[worst] = False
        column = precision[:, worst]
        gain = np.linalg.solve(precision[np.ix_(worst, worst)], column.T)
        left -= gain.T @ left[worst]
        precision -= column @ gain
    aside = np.flatnonzero(~kept & ~data.shore)
    missed, spread = _without(fit, whitened, aside)
    back = (np.abs(missed) <= DOUBTFUL_Z * np.sqrt(spread)) | (first[aside] <= BORNE_OUT_Z)
    out = np.zeros(len(data), bool)
    out[aside[~back]] = True
    return out


def _without(fit: Posterior, whitened: FloatArray, aside: Index) -> tuple[FloatArray, FloatArray]:
    """By how much data set aside together miss the others, and the variance of that."""
    block = np.linalg.inv(fit.projection[np.ix_(aside, aside)])
    return block @ whitened[aside], np.diag(block)


def _around_without(fit: Posterior, aside: Flags, places: Locations, profile: FloatArray) -> FloatArray:
    """Depths at places from the data without some, as if these had read what the others predict."""
    values, some = fit.data.values.copy(), np.flatnonzero(aside)
    values[some] -= _without(fit, fit.projection @ values, some)[0]
    gaps = Separations.between(fit.data.places, places, fit.across, np.float32)
    return fit.mean_by(gaps, places, profile, fit.weights_for(values))
