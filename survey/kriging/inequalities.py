"""Gaussian depths and half-lines: bounds applied by expectation propagation, and the bed held under water.

Source of the first: Rasmussen and Williams, Gaussian Processes for Machine Learning (2006), section 3.6.
"""

from __future__ import annotations

import numpy as np
from scipy.special import log_ndtr, ndtr

from survey.arrays import FloatArray

SWEEPS = 30
SETTLED = 1e-6


def half_line_sites(
    mean: FloatArray, cov: FloatArray, limit: FloatArray, side: FloatArray, noise_var: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Gaussian stand-ins for bounds on jointly normal depths.

    Parameters
    ----------
    mean, cov : ndarray, shapes (k,) and (k, k)
        Depths at the bounds before the bounds are applied.
    limit, side, noise_var : ndarray, shape (k,)
        Bound (m), +1 for at least and -1 for at most, variance of the bound (m2).

    Returns
    -------
    precision, shift : ndarray, shape (k,)
        Of the sites: a pseudo-reading has value ``shift / precision`` and variance
        ``1 / precision``; a precision of nought says that the bound teaches nothing.
    """
    k = len(mean)
    precision, shift = np.zeros(k), np.zeros(k)
    post_mean, post_cov = mean.copy(), cov.copy()
    for _ in range(SWEEPS):
        moved = 0.0
        for i in range(k):
            new_precision, new_shift = _site(i, post_mean, post_cov, precision, shift, (limit, side, noise_var))
            change = new_precision - precision[i], new_shift - shift[i]
            moved = max(moved, abs(change[0]) * post_cov[i, i], abs(change[1]) * np.sqrt(post_cov[i, i]))
            precision[i], shift[i] = new_precision, new_shift
            column = post_cov[:, i]
            gain = change[0] / (1.0 + change[0] * column[i])
            post_mean = post_mean + column * (change[1] - gain * (post_mean[i] + change[1] * column[i]))
            post_cov = post_cov - gain * np.outer(column, column)
        if moved < SETTLED:
            break
    return precision, shift


def _site(
    i: int,
    mean: FloatArray,
    cov: FloatArray,
    precision: FloatArray,
    shift: FloatArray,
    bounds: tuple[FloatArray, FloatArray, FloatArray],
) -> tuple[float, float]:
    """The i-th site that matches the moments of its half-line against the others."""
    limit, side, noise_var = (float(b[i]) for b in bounds)
    # Rasmussen and Williams 2006, 3.56: the cavity; 3.58: the moments to match; 3.59: the site (from memory).
    cavity_precision = 1.0 / cov[i, i] - precision[i]
    if cavity_precision <= 0:
        return float(precision[i]), float(shift[i])
    cavity_var = 1.0 / cavity_precision
    cavity_mean = cavity_var * (mean[i] / cov[i, i] - shift[i])
    spread = np.sqrt(cavity_var + noise_var)
    z = side * (cavity_mean - limit) / spread
    ratio = np.exp(-0.5 * z * z - 0.5 * np.log(2 * np.pi) - log_ndtr(z))
    new_mean = cavity_mean + side * cavity_var * ratio / spread
    new_var = cavity_var - cavity_var**2 * ratio * (z + ratio) / spread**2
    new_precision = max(1.0 / new_var - cavity_precision, 0.0)
    new_shift = new_mean / new_var - cavity_mean * cavity_precision if new_precision > 0 else 0.0
    return float(new_precision), float(new_shift)


def rectified(mean: FloatArray, sd: FloatArray, floor: float) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of a normal variable held up at a floor, shapes as given.

    The bed is the larger of a Gaussian field and the floor, so it is never above the water, and neither its
    mean nor its draws need clipping. Close to shore this is nearer the truth than cutting the mean off, and
    the narrower standard deviation holds.

    Parameters
    ----------
    mean, sd : ndarray
        Of the field before, same unit.
    floor : float
        Same unit.

    Notes
    -----
    Moments of the censored normal distribution, Greene, Econometric Analysis, theorem on censored moments
    (from memory).

    Examples
    --------
    >>> [round(float(v), 4) for v in rectified(np.array(0.0), np.array(1.0), 0.0)]
    [0.3989, 0.5838]
    """
    sd = np.maximum(sd, 1e-9)
    above = (mean - floor) / sd
    share, density = ndtr(above), np.exp(-0.5 * above**2) / np.sqrt(2.0 * np.pi)
    first = above * share + density
    second = (above**2 + 1.0) * share + above * density
    return floor + sd * first, sd * np.sqrt(np.maximum(second - first**2, 0.0))
