"""Readings that do not fit the others are set aside, so that mistakes do not bend the bed that judges them.

Small surveys are judged as a whole, round by round; of large ones each patch judges the readings that lie in it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from survey.depth_model.observations import Evidence, Tilt
from survey.depth_model.tiled_fit import Ground, together
from survey.geometry.water import Places
from survey.kriging.covariance import MEMBERS, Gaps
from survey.kriging.data import Data
from survey.kriging.likelihood import FULL, ROUGH, Theta, fit_theta, prior_theta
from survey.kriging.partition import Conditioned, Patchwork
from survey.kriging.posterior import Fitted

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.intp]

FIT_ROUNDS = (ROUGH, FULL)
"""Position error enters through the slope of the bed, which the bed of the round before gives."""
DOUBTFUL_Z = 3.5
SCREEN_LEAST = 50
"""With fewer readings none is set aside: each has too few neighbours to be judged by."""
BORNE_OUT_Z = 2.0
"""A doubtful reading that misses what all the others say, the doubtful included, by no more comes back."""
SCREEN_ROUNDS = 6
SWEEPS = ((ROUGH, 6), (FULL, 30), (None, 30))
"""Size of the fit (None: none) and rounds within a patch, which cost little there. In the first sweep the slope is
not known yet, so that sound readings on steep ground look doubtful: it stops early. What mistakes did to that slope
hides a sixth of them from the second."""
SCREEN_CLEAR_M = 8.0
"""Only the worst reading within this distance is set aside in one round."""
MAD_SD = 1.4826
"""Median absolute deviation of a normal variable to its standard deviation."""


def tilt_of(found: Conditioned, evidence: Evidence) -> Tilt:
    """The bed about the readings as a member has it."""
    here, beside = (found.mean(p, evidence.profile.at(p.shore_m)) for p in (evidence.places, evidence.beside))
    return evidence.tilt_from(here, beside)


def screened(evidence: Evidence, across: bool) -> Flags:
    """Readings left after the worst misfits were set aside, round by round.

    A wrong reading makes its neighbours look wrong, so only the worst within a few metres goes
    in one round, and everything is judged again against what is left. At the end, what fits
    the others after all comes back, and what its like nearby bear out: several readings that agree on
    a hole are a hole.
    """
    kept = np.ones(len(evidence), bool)
    if len(evidence) < SCREEN_LEAST:
        return kept
    member = MEMBERS[0]
    theta, tilt = prior_theta(member, across), evidence.untilted
    for turn in range(SCREEN_ROUNDS):
        data = evidence.data(tilt, kept)
        # With the worst gone the parameters hardly move: later rounds keep them.
        theta = fit_theta(member, data, across, theta, FIT_ROUNDS[turn]) if turn < len(FIT_ROUNDS) else theta
        found = Conditioned.on(member, theta, data, Patchwork.over(data.places.xy), across=across)
        tilt = tilt_of(found, evidence)
        worst = _worst(found, evidence, np.flatnonzero(kept))
        worst = worst[~evidence.trusted[worst]]
        if not len(worst):
            break
        kept[worst] = False
    fits = np.abs(_misfit_of_aside(found, evidence, tilt, kept)) <= DOUBTFUL_Z
    return kept | fits | _borne_out(replace(found, data=evidence.data(tilt, np.ones(len(kept), bool))), across)


def _borne_out(found: Conditioned, across: bool) -> Flags:
    """Readings that fit well among all the others, the doubtful included, shape (n,)."""
    member, patchwork = found.fits[0].member, Patchwork.over(found.data.places.xy)
    everything = Conditioned.on(member, found.theta, found.data, patchwork, across=across)
    n = int((~found.data.shore).sum())
    predicted, spread = everything.left_out([np.array([i]) for i in range(n)])
    return np.asarray(np.abs(found.data.values[:n] - predicted[:n]) <= BORNE_OUT_Z * np.sqrt(spread[:n]))


def _worst(found: Conditioned, evidence: Evidence, kept_at: Index) -> Index:
    n = len(kept_at)
    predicted, spread = found.left_out([np.array([i]) for i in range(n)])
    z = np.abs(found.data.values[:n] - predicted[:n]) / np.sqrt(spread[:n])
    z = z / max(1.0, MAD_SD * float(np.median(z)))
    suspects = np.flatnonzero(z > DOUBTFUL_Z)
    return np.asarray(kept_at[suspects[worst_about(suspects, z, evidence.places.xy[kept_at])]])


def worst_about(suspects: Index, z: Floats, xy: Floats) -> Flags:
    """Which suspects misfit no less than any other reading near them, shape (k,).

    Parameters
    ----------
    suspects : ndarray of int, shape (k,)
    z : ndarray, shape (n,)
        Standardised misfit of each reading, without sign; nought for those that do not count.
    xy : ndarray, shape (n, 2)
        Places, metres.
    """
    near = cKDTree(xy).query_ball_point(xy[suspects], SCREEN_CLEAR_M)
    return np.array([z[k] >= z[about].max() for k, about in zip(suspects, near, strict=True)], bool)


def _misfit_of_aside(found: Conditioned, evidence: Evidence, tilt: Tilt, kept: Flags) -> Floats:
    """Standardised misfit of what was set aside, shape (n,); infinite for what was kept."""
    z, aside = np.full(len(kept), np.inf), np.flatnonzero(~kept)
    home = found.patchwork.home(evidence.places.xy[aside])
    for patch in np.unique(home):
        some = aside[home == patch]
        places = evidence.places.take(some)
        mean, cov = found.fits[patch].joint(places, evidence.profile.at(places.shore_m))
        noise = evidence.own_var[some] + tilt.own_var[some] + found.theta["nugget"]
        z[some] = (evidence.depth_m[some] - mean) / np.sqrt(np.diag(cov) + noise)
    return z


@dataclass(frozen=True)
class Screened:
    """What the patches found.

    Parameters
    ----------
    kept : ndarray of bool, shape (n,)
    theta : mapping
        Parameters of the judging member.
    tilt : Tilt
        The bed about the readings as it has it.
    """

    kept: Flags
    theta: Theta
    tilt: Tilt


def screened_in_patches(ground: Ground) -> Screened:
    """As :func:`screened`, each patch by itself and in closed form.

    A patch judges all readings that speak for it, but its word counts only for those that lie in it.
    """
    evidence, member = ground.evidence, MEMBERS[0]
    n = len(evidence)
    kept, tilt, theta = np.ones(n, bool), evidence.untilted, prior_theta(member, ground.across)
    for size, rounds in SWEEPS:
        if size is not None:
            theta = fit_theta(member, evidence.data(tilt, kept), ground.across, theta, size)
        data = evidence.data(tilt, np.ones(n, bool))
        found = list(ground.each(partial(_judged, ground, data, theta, rounds)))
        for own, (aside, _) in zip(ground.own, found, strict=True):
            kept[own] = ~aside
        tilt = ground.tilt(mean for _, mean in found)
    return Screened(kept, theta, tilt)


def _judged(ground: Ground, data: Data, theta: Theta, rounds: int, patch: int) -> tuple[Flags, Floats]:
    """Which of a patch's own readings are set aside, and depths around them all by the others."""
    uses, own, evidence = ground.patchwork.uses[patch], ground.own[patch], ground.evidence
    (fit,) = together([(MEMBERS[0], theta)], data.take(uses), ground.across)
    trusted, readings = np.zeros(len(uses), bool), uses < len(evidence)
    trusted[readings] = evidence.trusted[uses[readings]]
    aside = _set_aside(fit, trusted, rounds)
    return np.isin(own, uses[aside]), _around_without(fit, aside, *ground.around(own))


def _set_aside(fit: Fitted, trusted: Flags, rounds: int) -> Flags:
    """Which of a patch's data do not fit the others, shape (n,).

    Leaving data out is a matter of the precision's blocks (Dubrule 1983), and so is judging again without them.
    """
    data, weighed = fit.data, fit.projection @ fit.data.values
    first = np.abs(weighed) / np.sqrt(np.diag(fit.projection))
    precision, left, kept = fit.projection.copy(), weighed.copy(), ~data.shore
    for _ in range(rounds):
        at = np.flatnonzero(kept)
        z = np.abs(left[at]) / np.sqrt(np.diag(precision)[at])
        suspects = np.flatnonzero(z > DOUBTFUL_Z * max(1.0, MAD_SD * float(np.median(z))))
        worst = at[suspects[worst_about(suspects, z, data.places.xy[at])]]
        worst = worst[~trusted[worst]]
        if not len(worst):
            break
        kept[worst] = False
        column = precision[:, worst]
        gain = np.linalg.solve(precision[np.ix_(worst, worst)], column.T)
        left -= gain.T @ left[worst]
        precision -= column @ gain
    aside = np.flatnonzero(~kept & ~data.shore)
    missed, spread = _without(fit, weighed, aside)
    back = (np.abs(missed) <= DOUBTFUL_Z * np.sqrt(spread)) | (first[aside] <= BORNE_OUT_Z)
    out = np.zeros(len(data), bool)
    out[aside[~back]] = True
    return out


def _without(fit: Fitted, weighed: Floats, aside: Index) -> tuple[Floats, Floats]:
    """By how much data set aside together miss the others, and the variance of that."""
    block = np.linalg.inv(fit.projection[np.ix_(aside, aside)])
    return block @ weighed[aside], np.diag(block)


def _around_without(fit: Fitted, aside: Flags, places: Places, profile: Floats) -> Floats:
    """Depths at places by the data without some: as if these had said what the others foretell of them."""
    values, some = fit.data.values.copy(), np.flatnonzero(aside)
    values[some] -= _without(fit, fit.projection @ values, some)[0]
    gaps = Gaps.between(fit.data.places, places, fit.across, np.float32)
    return fit.mean_by(gaps, places, profile, fit.weights(values))
