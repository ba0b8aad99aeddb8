"""Universal kriging in its plain form, to hold the others against."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from survey.arrays import FloatArray


@dataclass(frozen=True)
class Kriged:
    """Universal kriging at m places: estimate (m,), variance (m,), weights (n, m)."""

    estimate: FloatArray
    variance: FloatArray
    weights: FloatArray


def krige(
    values: FloatArray,
    among: FloatArray,
    cross_covariance: FloatArray,
    at: FloatArray,
    drift: FloatArray,
    drift_at: FloatArray,
) -> Kriged:
    """Universal kriging in its plain form, for checks and for small things.

    Parameters
    ----------
    values : ndarray, shape (n,)
    among : ndarray, shape (n, n)
        Covariance of the data, noise included.
    cross_covariance : ndarray, shape (n, m)
        Covariance of the data with the places asked for.
    at : ndarray, shape (m,)
        Variance at the places.
    drift, drift_at : ndarray, shapes (n, p) and (m, p)

    Returns
    -------
    Kriged

    Notes
    -----
    Chilès and Delfiner, Geostatistics (2nd ed. 2012), section 3.4 (from memory).
    """
    factor = cho_factor(among, lower=True)
    solved = cho_solve(factor, cross_covariance)
    solved_drift = cho_solve(factor, drift)
    inner = drift.T @ solved_drift
    lack = drift_at.T - drift.T @ solved
    multipliers = np.linalg.solve(inner, lack)
    weights = solved + solved_drift @ multipliers
    spread = at - np.einsum("nm,nm->m", cross_covariance, solved) + np.einsum("pm,pm->m", lack, multipliers)
    return Kriged(weights.T @ values, np.maximum(spread, 0.0), weights)
