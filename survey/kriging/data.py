"""Conditioning data: values with their own errors and those they share; sources of error whose size is to be found."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, vstack

from survey.arrays import FloatArray
from survey.geometry.water import Locations
from survey.kriging.covariance import EndSlopes


@dataclass(frozen=True)
class ConditioningData:
    """What a member is conditioned on.

    Parameters
    ----------
    places : Locations
        n of them.
    values : ndarray, shape (n,)
        Depth below datum, metres.
    own : ndarray, shape (n,)
        Variance of each value by itself, m2.
    shared : csr_array, shape (n, q)
        Columns of shared errors, metres: the noise covariance is ``diag(own) + shared shared'``.
    profile : ndarray, shape (n,)
        The lake's mean profile at the places, metres.
    shore : ndarray of bool, shape (n,)
        Shore points; they carry no nugget.
    """

    places: Locations
    values: FloatArray
    own: FloatArray
    shared: csr_array
    profile: FloatArray
    shore: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.values)

    @property
    def ends(self) -> EndSlopes:
        """What the places bring by themselves."""
        return EndSlopes(self.places.shore_m, self.profile)

    def noise(self, nugget: float) -> FloatArray:
        """Noise covariance, shape (n, n), m2."""
        columns, at = np.unique(self.shared.indices, return_inverse=True)
        shared = np.zeros((len(self), len(columns)))
        shared[np.repeat(np.arange(len(self)), np.diff(self.shared.indptr)), at] = self.shared.data
        out = shared @ shared.T
        out[np.diag_indices_from(out)] += self.own + nugget * ~self.shore
        return out

    def take(self, index: NDArray[np.intp] | NDArray[np.bool_]) -> ConditioningData:
        """The data of an index."""
        return ConditioningData(
            self.places.take(index),
            self.values[index],
            self.own[index],
            self.shared[index],
            self.profile[index],
            self.shore[index],
        )

    def joined(self, other: ConditioningData) -> ConditioningData:
        """These data and others that share no errors with them."""
        q = self.shared.shape[1]
        return ConditioningData(
            Locations.joined(self.places, other.places),
            np.concatenate([self.values, other.values]),
            np.concatenate([self.own, other.own]),
            vstack([self.shared, unshared(len(other), q)], format="csr"),
            np.concatenate([self.profile, other.profile]),
            np.concatenate([self.shore, other.shore]),
        )


@dataclass(frozen=True)
class ErrorSource:
    """One source of error in data, at the size stated for it: what it adds to the noise covariance.

    Parameters
    ----------
    name : str
    own : ndarray, shape (n,)
        Variance it brings to each value by itself, m2.
    shared : csr_array, shape (n, q)
        Columns that values share, metres.
    usual, log_sd : float
        How far the stated size is trusted: median of true over stated size, and standard deviation of its logarithm.
    largest : float
        True over stated size, at most.
    """

    name: str
    own: FloatArray
    shared: csr_array
    usual: float
    log_sd: float
    largest: float

    def take(self, index: NDArray[np.intp] | NDArray[np.bool_]) -> ErrorSource:
        """Its part in the data of an index."""
        return replace(self, own=self.own[index], shared=self.shared[index])

    def joined(self, others: int) -> ErrorSource:
        """The same with so many data more that it does not touch."""
        shared = vstack([self.shared, unshared(others, self.shared.shape[1])], format="csr")
        return replace(self, own=np.append(self.own, np.zeros(others)), shared=shared)


def unshared(n: int, q: int = 0) -> csr_array:
    """Columns for ``n`` data that share no errors."""
    return csr_array((n, q), dtype=float)
