"""A member conditioned on data: predicts depths, and cross-validates its own data.

Conditioning is exact. Knows nothing of soundings, pegs or grids.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve, lapack, solve_triangular
from scipy.linalg.blas import strmm

from survey.errors import BedError
from survey.geometry.water import Locations
from survey.kriging.covariance import CandidateModel, EndSlopes, Separations, covariance, variance
from survey.kriging.data import ConditioningData
from survey.kriging.likelihood import Theta

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Posterior:
    """A member conditioned on data.

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

    @cached_property
    def _lower(self) -> FloatArray:
        return self._root(Separations.between(self.data.places, self.data.places, self.across))

    def _root(self, gaps: Separations) -> FloatArray:
        total = covariance(self.member, self.theta, gaps, self.data.ends, self.data.ends)
        total += self.data.noise(self.theta["nugget"])
        lower, failed = lapack.dpotrf(total, lower=1, clean=1, overwrite_a=1)
        if failed:
            raise BedError(f'the covariance of member "{self.member.name}" is not positive definite')
        return np.asarray(lower)

    # Frozen as a record; these three only manage what is kept of the work done for it.
    def factor(self, gaps: Separations) -> None:
        """Do the work of conditioning from gaps among the data that others on the same places use too."""
        self.__dict__["_lower"] = self._root(gaps)

    def drop_factors(self) -> None:
        """Free all matrices; the weights of the data stay, and the rest is remade if needed."""
        for name in ("_lower", "_drift", "_solved_drift", "_solved_drift32", "_inner", "_root32", "projection"):
            self.__dict__.pop(name, None)

    def with_pseudo_data(self, sites: ConditioningData) -> Posterior:
        """The same with data more that share no errors with the others: the root grows by their rows."""
        new = replace(self, data=self.data.joined(sites))
        root = solve_triangular(self._lower, self._towards(sites.places, sites.profile), lower=True)
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
        lower[:n, :n], lower[n:, :n], lower[n:, n:] = self._lower, root.T, corner
        new.__dict__["_lower"] = lower
        return new

    @cached_property
    def _drift(self) -> FloatArray:
        return self.member.drift(self.data.places)

    @cached_property
    def _solved_drift(self) -> FloatArray:
        return np.asarray(cho_solve((self._lower, True), self._drift))

    @cached_property
    def _solved_drift32(self) -> NDArray[np.float32]:
        return self._solved_drift.astype(np.float32)

    @cached_property
    def _inner(self) -> FloatArray:
        return np.asarray(self._drift.T @ self._solved_drift + self.member.drift_precision)

    def weights_for(self, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Weights of the drift's columns and of the covariances with the data.

        Parameters
        ----------
        values : ndarray, shape (n,) or (n, k)
            At the data, metres.
        """
        beta = np.asarray(np.linalg.solve(self._inner, self._solved_drift.T @ values), float)
        return beta, np.asarray(cho_solve((self._lower, True), values - self._drift @ beta), float)

    @cached_property
    def weights(self) -> tuple[FloatArray, FloatArray]:
        """:meth:`weights` of the data's own values."""
        return self.weights_for(self.data.values)

    def _towards(self, places: Locations, profile: FloatArray) -> FloatArray:
        gaps = Separations.between(self.data.places, places, self.across)
        return covariance(self.member, self.theta, gaps, self.data.ends, EndSlopes(places.shore_m, profile))

    def mean(self, places: Locations, profile: FloatArray) -> FloatArray:
        """Expected depth at places, shape (m,), metres."""
        return self.mean_at(self.weights, places, profile)

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
        mean = drift @ beta + alpha @ cross_covariance
        lack = drift.T - self._solved_drift32.T @ cross_covariance
        root = strmm(1.0, self._root32, cross_covariance, lower=1)
        spread = variance(self.member, self.theta, ends, self.across) - np.einsum("nm,nm->m", root, root)
        spread += np.einsum("pm,pm->m", lack, np.linalg.solve(self._inner, lack))
        return mean, np.maximum(spread, 0.0)

    @cached_property
    def _root32(self) -> NDArray[np.float32]:
        """Inverse of the lower root of the data's covariance; single precision is ample for a variance."""
        inverse, _ = lapack.dtrtri(self._lower, lower=1)
        return np.asfortranarray(inverse, np.float32)

    def joint(self, places: Locations, profile: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Expected depths (m,) and their covariance (m, m) at a few places."""
        cross_covariance, drift, ends = (
            self._towards(places, profile),
            self.member.drift(places),
            EndSlopes(places.shore_m, profile),
        )
        root = solve_triangular(self._lower, cross_covariance, lower=True, check_finite=False)
        lack = drift.T - self._solved_drift.T @ cross_covariance
        among = covariance(self.member, self.theta, Separations.between(places, places, self.across), ends, ends)
        beta, alpha = self.weights
        return drift @ beta + alpha @ cross_covariance, among - root.T @ root + lack.T @ np.linalg.solve(
            self._inner, lack
        )

    @cached_property
    def projection(self) -> FloatArray:
        """Precision of the data with the drift taken out, shape (n, n): its blocks give what the others predict."""
        inverse, _ = lapack.dpotri(self._lower, lower=1)
        inverse = np.tril(inverse) + np.tril(inverse, -1).T
        return np.asarray(inverse - self._solved_drift @ np.linalg.solve(self._inner, self._solved_drift.T))

    def loo_from(self, first: int) -> tuple[FloatArray, FloatArray]:
        """Each of the data from ``first`` on as all others would have it, and its variance; see :meth:`cross_validate`.

        The corner of the precision that belongs to the last data comes from the corner of the root alone.
        """
        inverse, _ = lapack.dtrtri(self._lower[first:, first:], lower=1)
        drift = self._solved_drift[first:]
        precision = (inverse**2).sum(axis=0) - (drift * np.linalg.solve(self._inner, drift.T).T).sum(axis=1)
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
