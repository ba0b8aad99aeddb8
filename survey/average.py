"""The lake's model: several fitted members averaged, mistakes kept from bending it, bounds heard.

This is where evidence becomes depths with a standard deviation; grids and files come later.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from threadpoolctl import threadpool_limits

from survey.covariance import MEMBERS, Gaps, Member
from survey.evidence import Bounds, Evidence, Profile, Tilt
from survey.conditioning import Fitted
from survey.members import FULL, ROUGH, Data, fit_theta, prior_theta, unshared
from survey.patches import Conditioned, Patchwork
from survey.truncation import RANGE_Z, half_line_sites, rectified
from survey.water import Places, WaterFrame

Floats = NDArray[np.float64]

WORKERS = 2
FIT_ROUNDS = (ROUGH, FULL)
"""Position error enters through the slope of the bed, which the bed of the round before gives."""
ACROSS_WIDER = 1.5
"""Where the nearest reading lies across land, the standard deviation is so much wider."""
DOUBTFUL_Z = 3.5
SCREEN_LEAST = 50
"""With fewer readings none is set aside: each has too few neighbours to be judged by."""
BORNE_OUT_Z = 2.0
"""A doubtful reading that misses what all the others say, the doubtful included, by no more comes back."""
SCREEN_ROUNDS = 6
SCREEN_CLEAR_M = 8.0
"""Only the worst reading within this distance is set aside in one round."""
RUNS_ON_M = 30.0
"""Beyond the readings the bed is held to level off; that it runs on at its slope, this far at
most, is one standard deviation."""
FORGOTTEN_M, FORGETTING_M = 8.0, 10.0
"""From the first distance beyond the nearest reading on, and over the second, the readings stop telling how
this part of the lake differs from them: its depth may then vary as much again as theirs do."""
SITE_LEAST_PRECISION = 1e-6
"""A bound that teaches nothing stays as a pseudo-reading of no weight, so that all members keep
the same places."""
CHUNK = 1024
"""Places asked for at a time: bounds memory and fits the cache."""


@dataclass(frozen=True)
class LakeModel:
    """Members conditioned on a lake's evidence.

    Parameters
    ----------
    frame : WaterFrame
    evidence : Evidence
    kept : ndarray of bool, shape (n,)
        Readings that shaped the bed; the others were set aside as doubtful.
    members : tuple of Conditioned
    tilt : Tilt
        The bed about the readings.
    """

    frame: WaterFrame
    evidence: Evidence
    kept: NDArray[np.bool_]
    members: tuple[Conditioned, ...]
    tilt: Tilt

    def predict(self, xy: Floats) -> tuple[Floats, Floats]:
        """Depth below datum and its standard deviation at spots, shapes (m,), metres.

        Both are those of the bed held under water: see :func:`survey.truncation.rectified`.
        """
        xy = np.asarray(xy, float).reshape(-1, 2)
        home = self.members[0].patchwork.home(xy)
        parts = [some for patch in np.unique(home) for some in _chunks(np.flatnonzero(home == patch))]
        # Prepared geometries bear one thread only: this one looks at land while the others reckon.
        asked = ((places, self.across_land(places)) for places in (self._places(xy[some]) for some in parts))
        depth, sd = np.empty(len(xy)), np.empty(len(xy))
        with threadpool_limits(1), ThreadPoolExecutor(WORKERS) as pool:
            for some, (d, s) in zip(parts, pool.map(lambda ask: self._predict(*ask), asked), strict=True):
                depth[some], sd[some] = d, s
        return depth, sd

    def _places(self, xy: Floats) -> Places:
        return self.frame.places(xy, self.evidence.level_off_m)

    @property
    def floor_m(self) -> float:
        """Least depth, metres: nought, or the edge where the outline was traced above the datum."""
        return float(min(0.0, self.evidence.profile.edge_m))

    def unforeseen(self, places: Places) -> tuple[Floats, Floats]:
        """Standard deviations, shapes (n,), metres, for what lies beyond the readings.

        Further from shore than they reach the bed may run on (first); far from all of them it may
        differ from theirs (second).
        """
        beyond = np.minimum(places.true_shore_m - places.shore_m, RUNS_ON_M)
        distance, _ = self._readings_tree.query(places.xy)
        forgotten = -np.expm1(-np.maximum(distance - FORGOTTEN_M, 0.0) / FORGETTING_M)
        spread = float(np.std(self.evidence.depth_m[self.kept]))
        return abs(self.evidence.outer_slope) * beyond, spread * forgotten

    def _predict(self, places: Places, across: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        profile = self.evidence.profile.at(places.shore_m)
        mean, var = np.zeros(len(places)), np.zeros(len(places))
        for patch, share in enumerate(self.members[0].patchwork.shares(places.xy)):
            some = np.flatnonzero(share)
            if not len(some):
                continue
            here, fits = places.take(some), [m.fits[patch] for m in self.members]
            # All members of a patch stand on the same places.
            gaps = Gaps.between(fits[0].data.places, here, fits[0].across, np.float32)
            m, v = combined([fit.mean_variance(gaps, here, profile[some]) for fit in fits])
            mean[some] += share[some] * m
            var[some] += share[some] * v
        runs_on, differs = self.unforeseen(places)
        var *= np.where(across, ACROSS_WIDER, 1.0) ** 2
        return rectified(mean, np.sqrt(var + runs_on**2 + differs**2), self.floor_m)

    def across_land(self, places: Places) -> NDArray[np.bool_]:
        """Where the nearest reading is not in sight."""
        if not self.frame.has_land_between:
            return np.zeros(len(places), bool)
        _, nearest = self._readings_tree.query(places.xy)
        return ~self.frame.in_sight(places.xy, self.evidence.places.xy[self.kept][nearest])

    @cached_property
    def _readings_tree(self) -> cKDTree:
        return cKDTree(self.evidence.places.xy[self.kept])

    def left_out(self, groups: Iterable[NDArray[np.intp]]) -> tuple[Floats, Floats]:
        """Each reading as the model would have it without its group, shapes (n,), metres.

        The standard deviation is that of the observation, its own noise included. A reading
        that was set aside is predicted from all that were kept.
        """
        kept_at = np.flatnonzero(self.kept)
        place_in_data = np.full(len(self.kept), -1)
        place_in_data[kept_at] = np.arange(len(kept_at))
        inside = [g for g in (place_in_data[group[self.kept[group]]] for group in groups) if len(g)]
        with threadpool_limits(1), ThreadPoolExecutor(WORKERS) as pool:
            found = list(pool.map(lambda m: m.left_out(inside), self.members))
        n = len(kept_at)
        mean, var = combined([(m[:n], v[:n]) for m, v in found])
        out_mean, out_sd = np.full(len(self.kept), np.nan), np.full(len(self.kept), np.nan)
        out_mean[kept_at], out_sd[kept_at] = mean, np.sqrt(var)
        out_mean[~self.kept], out_sd[~self.kept] = self.expected_of_aside()
        return out_mean, out_sd

    def expected_of_aside(self) -> tuple[Floats, Floats]:
        """What each reading that was set aside should have been, and its standard deviation, metres."""
        mean, sd = self.predict(self.evidence.places.xy[~self.kept])
        return mean, np.sqrt(sd**2 + self._noise_var()[~self.kept])

    def _noise_var(self) -> Floats:
        """Variance of each reading about the bed, nugget included, shape (n,)."""
        everything = self.evidence.data(self.tilt, np.ones(len(self.kept), bool))
        n = len(self.kept)
        nugget = float(np.mean([m.theta["nugget"] for m in self.members]))
        return np.asarray(everything.own[:n] + everything.shared[:n].power(2).sum(axis=1) + nugget)


def _chunks(index: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    return [index[k : k + CHUNK] for k in range(0, len(index), CHUNK)]


def combined(found: list[tuple[Floats, Floats]]) -> tuple[Floats, Floats]:
    """Mean and variance of the even mixture of members, from each one's mean and variance."""
    means = np.stack([m for m, _ in found])
    variances = np.stack([v for _, v in found])
    return means.mean(axis=0), variances.mean(axis=0) + means.var(axis=0)


def fit_lake(frame: WaterFrame, evidence: Evidence, progress: Callable[[str], None] = lambda _: None) -> LakeModel:
    """Fit all members to the evidence.

    Parameters
    ----------
    frame : WaterFrame
    evidence : Evidence
    progress : callable
        Told in words what is being done.
    """
    with threadpool_limits(1), ThreadPoolExecutor(WORKERS) as pool:
        progress("looking for readings that do not fit")
        kept = _screened(frame, evidence)
        progress("fitting the bed")
        made = list(pool.map(lambda member: _fit_member(member, frame, evidence, kept), MEMBERS))
    tilts = [t for _, t in made]
    tilt = Tilt(np.mean([t.slope for t in tilts], axis=0), np.mean([t.own_var for t in tilts], axis=0))
    model = LakeModel(frame, evidence, kept, tuple(m for m, _ in made), tilt)
    return _readmitted(model)


def _readmitted(model: LakeModel) -> LakeModel:
    """The model with those readings back that lie within the range all members give together."""
    expected, sd = model.expected_of_aside()
    back = np.abs(model.evidence.depth_m[~model.kept] - expected) <= RANGE_Z * sd
    if not back.any():
        return model
    kept = model.kept.copy()
    kept[~model.kept] = back
    data = model.evidence.data(model.tilt, kept)
    patchwork, across = Patchwork.over(data.places.xy), model.frame.has_land_between
    again = (Conditioned.on(m.fits[0].member, m.theta, data, patchwork, across=across) for m in model.members)
    members = tuple(_with_bounds(found, model.evidence.bounds, model.evidence.profile) for found in again)
    return replace(model, kept=kept, members=members)


def _fit_member(
    member: Member, frame: WaterFrame, evidence: Evidence, kept: NDArray[np.bool_]
) -> tuple[Conditioned, Tilt]:
    """One member, its tilt at the readings fed back into their errors, bounds heard last."""
    across = frame.has_land_between
    tilt, theta = evidence.untilted, prior_theta(member, across)
    patchwork = Patchwork.over(evidence.data(tilt, kept).places.xy)
    for size in FIT_ROUNDS:
        data = evidence.data(tilt, kept)
        theta = fit_theta(member, data, across, theta, size)
        found = Conditioned.on(member, theta, data, patchwork, across=across)
        tilt = _tilt(found, evidence)
    return _with_bounds(found, evidence.bounds, evidence.profile), tilt


def _tilt(found: Conditioned, evidence: Evidence) -> Tilt:
    here, beside = (found.mean(p, evidence.profile.at(p.shore_m)) for p in (evidence.places, evidence.beside))
    return evidence.tilt_from(here, beside)


def _with_bounds(found: Conditioned, bounds: Bounds, profile: Profile) -> Conditioned:
    """The member having heard one-sided evidence as pseudo-readings, in every patch that it touches."""
    if not len(bounds):
        return found
    shares = found.patchwork.shares(bounds.places.xy)
    fits = [_hearing(fit, bounds.take(share > 0), profile) for fit, share in zip(found.fits, shares, strict=True)]
    return replace(found, fits=tuple(fits))


def _hearing(fitted: Fitted, bounds: Bounds, profile: Profile) -> Fitted:
    if not len(bounds):
        return fitted
    at = profile.at(bounds.places.shore_m)
    mean, cov = fitted.joint(bounds.places, at)
    noise = bounds.own_var + fitted.theta["nugget"]
    precision, shift = half_line_sites(mean, cov, bounds.limit_m, bounds.side, noise)
    heard = precision > SITE_LEAST_PRECISION
    precision = np.where(heard, precision, SITE_LEAST_PRECISION)
    value = np.where(heard, shift / precision, mean)
    # As with shore points, no nugget: it is in the site already.
    sites = Data(bounds.places, value, 1.0 / precision, unshared(len(bounds)), at, np.ones(len(bounds), bool))
    return replace(fitted, data=fitted.data.joined(sites))


def _screened(frame: WaterFrame, evidence: Evidence) -> NDArray[np.bool_]:
    """Readings left after the worst misfits were set aside, round by round.

    A wrong reading makes its neighbours look wrong, so only the worst within a few metres goes
    in one round, and everything is judged again against what is left. At the end, what fits
    the others after all comes back, and what its like nearby bear out: several readings that agree on
    a hole are a hole.
    """
    kept = np.ones(len(evidence), bool)
    if len(evidence) < SCREEN_LEAST:
        return kept
    member, across = MEMBERS[0], frame.has_land_between
    theta, tilt = prior_theta(member, across), evidence.untilted
    for turn in range(SCREEN_ROUNDS):
        data = evidence.data(tilt, kept)
        # With the worst gone the parameters hardly move: later rounds keep them.
        theta = fit_theta(member, data, across, theta, FIT_ROUNDS[turn]) if turn < len(FIT_ROUNDS) else theta
        found = Conditioned.on(member, theta, data, Patchwork.over(data.places.xy), across=across)
        tilt = _tilt(found, evidence)
        worst = _worst(found, evidence, np.flatnonzero(kept))
        worst = worst[~evidence.trusted[worst]]
        if not len(worst):
            break
        kept[worst] = False
    fits = np.abs(_misfit_of_aside(found, evidence, tilt, kept)) <= DOUBTFUL_Z
    return kept | fits | _borne_out(replace(found, data=evidence.data(tilt, np.ones(len(kept), bool))), across)


def _borne_out(found: Conditioned, across: bool) -> NDArray[np.bool_]:
    """Readings that fit well among all the others, the doubtful included, shape (n,)."""
    member, patchwork = found.fits[0].member, Patchwork.over(found.data.places.xy)
    everything = Conditioned.on(member, found.theta, found.data, patchwork, across=across)
    n = int((~found.data.shore).sum())
    predicted, spread = everything.left_out([np.array([i]) for i in range(n)])
    return np.abs(found.data.values[:n] - predicted[:n]) <= BORNE_OUT_Z * np.sqrt(spread[:n])


def _worst(found: Conditioned, evidence: Evidence, kept_at: NDArray[np.intp]) -> NDArray[np.intp]:
    n = len(kept_at)
    predicted, spread = found.left_out([np.array([i]) for i in range(n)])
    z = np.abs(found.data.values[:n] - predicted[:n]) / np.sqrt(spread[:n])
    z = z / max(1.0, 1.4826 * float(np.median(z)))
    xy = evidence.places.xy[kept_at]
    suspects = np.flatnonzero(z > DOUBTFUL_Z)
    tree = cKDTree(xy)
    return np.array(
        [kept_at[i] for i in suspects if z[i] >= z[tree.query_ball_point(xy[i], SCREEN_CLEAR_M)].max()], np.intp
    )


def _misfit_of_aside(found: Conditioned, evidence: Evidence, tilt: Tilt, kept: NDArray[np.bool_]) -> Floats:
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
