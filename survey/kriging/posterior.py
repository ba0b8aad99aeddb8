"""A candidate model conditioned on data: depths anywhere, and its own data cross-validated.

Conditioning is exact. Knows nothing of soundings, pegs or grids.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import DTypeLike, NDArray
from scipy.linalg import cho_solve, lapack, solve_triangular
from scipy.linalg.blas import strmm

from survey.arrays import FloatArray
from survey.errors import BedError
from survey.geometry.water import Locations
from survey.kriging.covariance import CandidateModel, EndSlopes, Separations, covariance, variance
from survey.kriging.data import ConditioningData
from survey.kriging.likelihood import Theta


@dataclass(frozen=True)
class Factors:
    """What conditioning needs of one covariance, each worked out once.

    Parameters
    ----------
    lower : ndarray, shape (n, n)
        Cholesky root of the covariance of the data.
    drift : ndarray, shape (n, p)
    drift_precision : ndarray, shape (p, p)
        Of the prior of the drift's coefficients.
    """

    lower: FloatArray
    drift: FloatArray
    drift_precision: FloatArray

    @cached_property
    def solved_drift(self) -> FloatArray:
        """Covariance⁻¹ times drift, shape (n, p)."""
        return np.asarray(cho_solve((self.lower, True), self.drift))

    @cached_property
    def solved_drift32(self) -> NDArray[np.float32]:
        """The same in single precision."""
        return self.solved_drift.astype(np.float32)

    @cached_property
    def inner(self) -> FloatArray:
        """Precision of the drift's coefficients, shape (p, p)."""
        return np.asarray(self.drift.T @ self.solved_drift + self.drift_precision)

    @cached_property
    def root32(self) -> NDArray[np.float32]:
        """Inverse of the lower root; single precision is ample for a variance."""
        inverse, _ = lapack.dtrtri(self.lower, lower=1)
        return np.asfortranarray(inverse, np.float32)

    @cached_property
    def projection(self) -> FloatArray:
        """Precision of the data with the drift taken out, shape (n, n)."""
        inverse, _ = lapack.dpotri(self.lower, lower=1)
        inverse = np.tril(inverse) + np.tril(inverse, -1).T
        return np.asarray(inverse - self.solved_drift @ np.linalg.solve(self.inner, self.solved_drift.T))


@dataclass(eq=False)
class Posterior:
    """A candidate model conditioned on data.

    Its factors are worked out when first needed and kept until they are dropped; nothing else about it changes.

    Parameters
    ----------
    member : CandidateModel
    theta : mapping
    data : ConditioningData
    across : bool
    """

    member: CandidateModel
    theta: Theta
    data: ConditioningData
    across: bool

    _factors: Factors | None = field(default=None, init=False, repr=False)

    @property
    def factors(self) -> Factors:
        """The factors of the data's covariance; made anew where they were dropped."""
        if self._factors is None:
            self.factor(Separations.between(self.data.places, self.data.places, self.across))
        assert self._factors is not None  # noqa: S101 - says to the types what the line above does
        return self._factors

    def _root(self, gaps: Separations) -> FloatArray:
        total = covariance(self.member, self.theta, gaps, self.data.ends, self.data.ends)
        total += self.data.noise(self.theta["nugget"])
        # Rasmussen and Williams 2006, algorithm 2.1, line 2: L = cholesky(K + noise).
        lower, failed = lapack.dpotrf(total, lower=1, clean=1, overwrite_a=1)
        if failed:
            raise BedError(f'the covariance of member "{self.member.name}" is not positive definite')
        return np.asarray(lower)

    def factor(self, gaps: Separations) -> None:
        """Work the factors out from separations of the data that others on the same places use too."""
        self.take_root(self._root(gaps))

    def take_root(self, lower: FloatArray) -> None:
        """Take a Cholesky root of the data's covariance that was worked out elsewhere, shape (n, n)."""
        self._factors = Factors(lower, self.member.drift(self.data.places), self.member.drift_precision)

    def drop_factors(self) -> None:
        """Free the memory of the factors; the weights of the data stay."""
        self._factors = None

    def with_pseudo_data(self, sites: ConditioningData) -> Posterior:
        """The same with data more that share no errors with the others: the root grows by their rows."""
        new = replace(self, data=self.data.joined(sites))
        root = solve_triangular(self.factors.lower, self._towards(sites.places, sites.profile), lower=True)
        among = covariance(
            self.member,
            self.theta,
            Separations.between(sites.places, sites.places, self.across),
            sites.ends,
            sites.ends,
        )
        corner = np.linalg.cholesky(among + sites.noise(self.theta["nugget"]) - root.T @ root)
        n = len(self.data)
        lower = np.zeros((len(new.data), len(new.data)), order="F")
        lower[:n, :n], lower[n:, :n], lower[n:, n:] = self.factors.lower, root.T, corner
        new.take_root(lower)
        return new

    def weights_for(self, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Weights of the drift's columns and of the covariances with the data.

        Parameters
        ----------
        values : ndarray, shape (n,) or (n, k)
            At the data, metres.
        """
        # The same, 2.42 with a prior mean of nought: beta = (B^-1 + H K^-1 H')^-1 H K^-1 y; algorithm 2.1, line 3.
        beta = np.asarray(np.linalg.solve(self.factors.inner, self.factors.solved_drift.T @ values), float)
        return beta, np.asarray(cho_solve((self.factors.lower, True), values - self.factors.drift @ beta), float)

    @cached_property
    def weights(self) -> tuple[FloatArray, FloatArray]:
        """:meth:`weights` of the data's own values."""
        return self.weights_for(self.data.values)

    def _towards(self, places: Locations, profile: FloatArray, dtype: DTypeLike = np.float64) -> FloatArray:
        gaps = Separations.between(self.data.places, places, self.across, dtype)
        return covariance(self.member, self.theta, gaps, self.data.ends, EndSlopes(places.shore_m, profile))

    def mean(self, places: Locations, profile: FloatArray, dtype: DTypeLike = np.float64) -> FloatArray:
        """Expected depth at places, shape (m,), metres."""
        drift, (beta, alpha) = self.member.drift(places), self.weights
        return np.asarray(drift @ beta + alpha.astype(dtype) @ self._towards(places, profile, dtype), float)

    def mean_at(self, weights: tuple[FloatArray, FloatArray], places: Locations, profile: FloatArray) -> FloatArray:
        """Expected depth at places, shape (m,) or (m, k), metres, from :meth:`weights`."""
        beta, alpha = weights
        return np.asarray(self.member.drift(places) @ beta + self._towards(places, profile).T @ alpha)

    def mean_by(
        self, gaps: Separations, places: Locations, profile: FloatArray, weights: tuple[FloatArray, FloatArray]
    ) -> FloatArray:
        """Expected depth at places, shape (m,), metres, from :meth:`weights` and gaps in float32 as below."""
        cross_covariance = covariance(self.member, self.theta, gaps, self.data.ends, EndSlopes(places.shore_m, profile))
        return np.asarray(self.member.drift(places) @ weights[0] + weights[1].astype(np.float32) @ cross_covariance)

    def mean_variance(self, gaps: Separations, places: Locations, profile: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Expected depth (m) and its variance (m2) at places, shapes (m,).

        Parameters
        ----------
        gaps : Separations
            From the data's places to ``places``, in float32.
        places : Locations
        profile : ndarray, shape (m,)
            The lake's mean profile there, metres.
        """
        ends = EndSlopes(places.shore_m, profile)
        cross_covariance = covariance(self.member, self.theta, gaps, self.data.ends, ends)
        drift, (beta, alpha) = self.member.drift(places), self.weights
        # Rasmussen and Williams 2006, algorithm 2.1, line 4: the mean; lines 5 and 6: v = L \\ k*, k** - v'v.
        # Their 2.41: R = H* - H K^-1 K* adds what the drift's coefficients leave open.
        mean = drift @ beta + alpha @ cross_covariance
        lack = drift.T - self.factors.solved_drift32.T @ cross_covariance
        root = strmm(1.0, self.factors.root32, cross_covariance, lower=1)
        spread = variance(self.member, self.theta, ends, self.across) - np.einsum("nm,nm->m", root, root)
        spread += np.einsum("pm,pm->m", lack, np.linalg.solve(self.factors.inner, lack))
        return mean, np.maximum(spread, 0.0)

    def joint(self, places: Locations, profile: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Expected depths (m,) and their covariance (m, m) at a few places."""
        cross_covariance, drift, ends = (
            self._towards(places, profile),
            self.member.drift(places),
            EndSlopes(places.shore_m, profile),
        )
        root = solve_triangular(self.factors.lower, cross_covariance, lower=True, check_finite=False)
        lack = drift.T - self.factors.solved_drift.T @ cross_covariance
        among = covariance(self.member, self.theta, Separations.between(places, places, self.across), ends, ends)
        beta, alpha = self.weights
        return drift @ beta + alpha @ cross_covariance, among - root.T @ root + lack.T @ np.linalg.solve(
            self.factors.inner, lack
        )

    @property
    def projection(self) -> FloatArray:
        """Precision of the data with the drift taken out, shape (n, n); its blocks cross-validate them."""
        return self.factors.projection

    def loo_from(self, first: int) -> tuple[FloatArray, FloatArray]:
        """Each of the data from ``first`` on as all others would have it, and its variance; see :meth:`cross_validate`.

        The corner of the precision that belongs to the last data comes from the corner of the root alone.
        """
        inverse, _ = lapack.dtrtri(self.factors.lower[first:, first:], lower=1)
        drift = self.factors.solved_drift[first:]
        precision = (inverse**2).sum(axis=0) - (drift * np.linalg.solve(self.factors.inner, drift.T).T).sum(axis=1)
        return self.data.values[first:] - self.weights[1][first:] / precision, 1.0 / precision

    def cross_validate(self, groups: list[NDArray[np.intp]]) -> tuple[FloatArray, FloatArray]:
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
        whitened = self.projection @ self.data.values
        predicted, spread = np.full(len(self.data), np.nan), np.full(len(self.data), np.nan)
        alone = np.array([group[0] for group in groups if len(group) == 1], np.intp)
        spread[alone] = 1.0 / np.diag(self.projection)[alone]
        predicted[alone] = self.data.values[alone] - spread[alone] * whitened[alone]
        for group in groups:
            if len(group) == 1:
                continue
            block = np.linalg.inv(self.projection[np.ix_(group, group)])
            predicted[group] = self.data.values[group] - block @ whitened[group]
            spread[group] = np.diag(block)
        return predicted, spread
