"""Fitting one member of the model to data, and asking it for depths.

Parameters come from restricted maximum likelihood with log-normal priors and analytic
gradients; conditioning is exact. Knows nothing of soundings, pegs or grids.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve, lapack, solve_triangular
from scipy.linalg.blas import strmm
from scipy.optimize import minimize

from survey.covariance import PRIORS, Ends, Gaps, Member, covariance, slopes, variance
from survey.errors import BedError
from survey.water import Places

Floats = NDArray[np.float64]
Theta = Mapping[str, float]


@dataclass(frozen=True)
class FitSize:
    """Parameters are fitted on so many readings and shore points at most; all of them condition the bed."""

    readings: int
    shore: int


FULL, ROUGH = FitSize(240, 140), FitSize(120, 60)
"""For the bed; and for what only leads to it. With two thirds of the full size the error on the lakes for
choosing grows by 2 to 3 %."""
FIT_STEPS = 30


@dataclass(frozen=True)
class Data:
    """What a member is conditioned on.

    Parameters
    ----------
    places : Places
        n of them.
    values : ndarray, shape (n,)
        Depth below datum, metres.
    own : ndarray, shape (n,)
        Variance of each value by itself, m2.
    shared : ndarray, shape (n, q)
        Columns of shared errors, metres: the noise covariance is ``diag(own) + shared shared'``.
    profile : ndarray, shape (n,)
        The lake's mean profile at the places, metres.
    shore : ndarray of bool, shape (n,)
        Shore points; they carry no nugget.
    """

    places: Places
    values: Floats
    own: Floats
    shared: Floats
    profile: Floats
    shore: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.values)

    @property
    def ends(self) -> Ends:
        """What the places bring by themselves."""
        return Ends(self.places.shore_m, self.profile)

    def noise(self, nugget: float) -> Floats:
        """Noise covariance, shape (n, n), m2."""
        out = self.shared @ self.shared.T
        out[np.diag_indices_from(out)] += self.own + nugget * ~self.shore
        return out

    def take(self, index: NDArray[np.intp] | NDArray[np.bool_]) -> Data:
        """The data of an index."""
        return Data(
            self.places.take(index),
            self.values[index],
            self.own[index],
            self.shared[index],
            self.profile[index],
            self.shore[index],
        )

    def joined(self, other: Data) -> Data:
        """These data and others that share no errors with them."""
        q = self.shared.shape[1]
        return Data(
            Places.joined(self.places, other.places),
            np.concatenate([self.values, other.values]),
            np.concatenate([self.own, other.own]),
            np.vstack([self.shared, np.zeros((len(other), q))]),
            np.concatenate([self.profile, other.profile]),
            np.concatenate([self.shore, other.shore]),
        )


def prior_theta(member: Member, across: bool) -> dict[str, float]:
    """Parameters at their prior medians."""
    return {name: PRIORS[name].median for name in member.parameters(across)}


def fit_theta(
    member: Member, data: Data, across: bool, start: Theta | None = None, size: FitSize = FULL
) -> dict[str, float]:
    """Parameters of a member from data.

    Parameters
    ----------
    member : Member
    data : Data
        Thinned to ``size`` by a fixed draw; shore points only if the member fits with them.
    across : bool
        Land stands between waters.
    start : mapping, optional
        Where to begin; prior medians by default.
    size : FitSize

    Returns
    -------
    dict
        Name to value.

    Notes
    -----
    Patterson and Thompson 1971 (restricted likelihood), priors as penalties on the logarithms.
    """
    some = _thinned(member, data, size)
    names = member.parameters(across)
    gaps = Gaps.between(some.places, some.places, across)
    first = {**prior_theta(member, across), **(dict(start) if start else {})}
    bounds = [(np.log(PRIORS[n].low), np.log(PRIORS[n].high)) for n in names]
    found = minimize(
        _restricted_likelihood,
        np.log([first[n] for n in names]),
        args=(member, names, some, gaps),
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": FIT_STEPS, "ftol": 1e-5, "gtol": 1e-2, "maxcor": 8},
    )
    return dict(zip(names, np.exp(found.x).tolist(), strict=True))


def _thinned(member: Member, data: Data, size: FitSize) -> Data:
    readings, shore = _some(~data.shore, size.readings), _some(data.shore, size.shore if member.shore_in_fit else 0)
    return data.take(np.concatenate([readings, shore]))


def _some(which: NDArray[np.bool_], most: int) -> NDArray[np.intp]:
    """Indices of the true ones, thinned by a fixed draw."""
    index = np.flatnonzero(which)
    return index if len(index) <= most else np.sort(np.random.default_rng(0).permutation(index)[:most])


def _restricted_likelihood(
    log_theta: Floats, member: Member, names: tuple[str, ...], data: Data, gaps: Gaps
) -> tuple[float, Floats]:
    """Negative penalised restricted log-likelihood and its gradient."""
    theta = dict(zip(names, np.exp(log_theta).tolist(), strict=True))
    parts = slopes(member, theta, gaps, data.ends)
    # The covariance is the sum of its derivatives by the logarithms of its variances.
    total = parts["variance"] + data.noise(theta["nugget"])
    for name in ("profile_variance", "across_variance"):
        if name in parts:
            total = total + parts[name]
    drift = member.drift(data.places)
    lower, failed = lapack.dpotrf(total, lower=1, clean=1)
    if failed:
        return 1e10, np.zeros(len(names))
    inverse, _ = lapack.dpotri(lower, lower=1)
    inverse = np.tril(inverse) + np.tril(inverse, -1).T
    solved = inverse @ drift
    inner = drift.T @ solved + member.drift_precision
    projected = inverse - solved @ np.linalg.solve(inner, solved.T)
    weighed = projected @ data.values
    value = np.log(np.diag(lower)).sum() + 0.5 * np.linalg.slogdet(inner)[1] + 0.5 * data.values @ weighed
    gradient = np.empty(len(names))
    for k, name in enumerate(names):
        if name == "nugget":
            free = ~data.shore
            gradient[k] = 0.5 * theta["nugget"] * (np.diag(projected)[free].sum() - (weighed[free] ** 2).sum())
        else:
            gradient[k] = 0.5 * (np.vdot(projected, parts[name]) - weighed @ parts[name] @ weighed)
        prior = PRIORS[name]
        off = (log_theta[k] - np.log(prior.median)) / prior.log_sd
        value += 0.5 * off**2
        gradient[k] += off / prior.log_sd
    return float(value), gradient


@dataclass(frozen=True)
class Fitted:
    """A member conditioned on data.

    Parameters
    ----------
    member : Member
    theta : mapping
    data : Data
    across : bool
    """

    member: Member
    theta: Theta
    data: Data
    across: bool

    @cached_property
    def _lower(self) -> Floats:
        gaps = Gaps.between(self.data.places, self.data.places, self.across)
        total = covariance(self.member, self.theta, gaps, self.data.ends, self.data.ends)
        total += self.data.noise(self.theta["nugget"])
        lower, failed = lapack.dpotrf(total, lower=1, clean=1, overwrite_a=1)
        if failed:
            raise BedError(f'the covariance of member "{self.member.name}" is not positive definite')
        return np.asarray(lower)

    @cached_property
    def _drift(self) -> Floats:
        return self.member.drift(self.data.places)

    @cached_property
    def _solved_drift(self) -> Floats:
        return np.asarray(cho_solve((self._lower, True), self._drift))

    @cached_property
    def _solved_drift32(self) -> NDArray[np.float32]:
        return self._solved_drift.astype(np.float32)

    @cached_property
    def _inner(self) -> Floats:
        return np.asarray(self._drift.T @ self._solved_drift + self.member.drift_precision)

    def weights(self, values: Floats) -> tuple[Floats, Floats]:
        """Weights of the drift's columns and of the covariances with the data.

        Parameters
        ----------
        values : ndarray, shape (n,) or (n, k)
            At the data, metres.
        """
        beta = np.asarray(np.linalg.solve(self._inner, self._solved_drift.T @ values), float)
        return beta, np.asarray(cho_solve((self._lower, True), values - self._drift @ beta), float)

    @cached_property
    def _own_weights(self) -> tuple[Floats, Floats]:
        return self.weights(self.data.values)

    def _towards(self, places: Places, profile: Floats) -> Floats:
        gaps = Gaps.between(self.data.places, places, self.across)
        return covariance(self.member, self.theta, gaps, self.data.ends, Ends(places.shore_m, profile))

    def mean(self, places: Places, profile: Floats) -> Floats:
        """Expected depth at places, shape (m,), metres."""
        return self.weighed(self._own_weights, places, profile)

    def weighed(self, weights: tuple[Floats, Floats], places: Places, profile: Floats) -> Floats:
        """Expected depth at places, shape (m,) or (m, k), metres, from :meth:`weights`."""
        beta, alpha = weights
        return np.asarray(self.member.drift(places) @ beta + self._towards(places, profile).T @ alpha)

    def mean_variance(self, gaps: Gaps, places: Places, profile: Floats) -> tuple[Floats, Floats]:
        """Expected depth (m) and its variance (m2) at places, shapes (m,).

        Parameters
        ----------
        gaps : Gaps
            From the data's places to ``places``, in float32.
        places : Places
        profile : ndarray, shape (m,)
            The lake's mean profile there, metres.
        """
        ends = Ends(places.shore_m, profile)
        towards = covariance(self.member, self.theta, gaps, self.data.ends, ends)
        drift, (beta, alpha) = self.member.drift(places), self._own_weights
        mean = drift @ beta + alpha @ towards
        lack = drift.T - self._solved_drift32.T @ towards
        root = strmm(1.0, self._root32, towards, lower=1)
        spread = variance(self.member, self.theta, ends, self.across) - np.einsum("nm,nm->m", root, root)
        spread += np.einsum("pm,pm->m", lack, np.linalg.solve(self._inner, lack))
        return mean, np.maximum(spread, 0.0)

    @cached_property
    def _root32(self) -> NDArray[np.float32]:
        """Inverse of the lower root of the data's covariance; single precision is ample for a variance."""
        inverse, _ = lapack.dtrtri(self._lower, lower=1)
        return np.asfortranarray(inverse, np.float32)

    def joint(self, places: Places, profile: Floats) -> tuple[Floats, Floats]:
        """Expected depths (m,) and their covariance (m, m) at a few places."""
        towards, drift, ends = self._towards(places, profile), self.member.drift(places), Ends(places.shore_m, profile)
        root = solve_triangular(self._lower, towards, lower=True, check_finite=False)
        lack = drift.T - self._solved_drift.T @ towards
        among = covariance(self.member, self.theta, Gaps.between(places, places, self.across), ends, ends)
        beta, alpha = self._own_weights
        return drift @ beta + alpha @ towards, among - root.T @ root + lack.T @ np.linalg.solve(self._inner, lack)

    @cached_property
    def _projection(self) -> Floats:
        inverse, _ = lapack.dpotri(self._lower, lower=1)
        inverse = np.tril(inverse) + np.tril(inverse, -1).T
        return np.asarray(inverse - self._solved_drift @ np.linalg.solve(self._inner, self._solved_drift.T))

    def left_out(self, groups: list[NDArray[np.intp]]) -> tuple[Floats, Floats]:
        """Each datum as its group's absence would have it, in closed form.

        Parameters
        ----------
        groups : list of ndarray
            Indices into the data that are hidden together.

        Returns
        -------
        predicted, variance : ndarray, shape (n,)
            Of the observation, its own noise included; nan outside all groups.

        Notes
        -----
        Dubrule 1983, Cross validation of kriging in a unique neighborhood.
        """
        weighed = self._projection @ self.data.values
        predicted, spread = np.full(len(self.data), np.nan), np.full(len(self.data), np.nan)
        for group in groups:
            block = np.linalg.inv(self._projection[np.ix_(group, group)])
            predicted[group] = self.data.values[group] - block @ weighed[group]
            spread[group] = np.diag(block)
        return predicted, spread
