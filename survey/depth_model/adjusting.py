"""The adjustment: points of pegs, straight out, distances and depths of observers, all from all readings at once.

Each round reads the unknowns off a bed that was made with them open, moves the spots there, and makes the bed anew:
Gauss and Newton's iteration for the most probable values, with the bed integrated out.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from survey.arrays import FloatArray
from survey.depth_model.observations import BedSlope, Observations
from survey.depth_model.screening import Screened, bed_slope_of
from survey.kriging.covariance import CANDIDATES
from survey.kriging.likelihood import FULL, fit_with_errors
from survey.kriging.partition import Partition, TiledPosterior

ROUNDS = 3
SETTLED = 0.02
"""No further round where no unknown moved by more stated standard deviations than this."""


def adjusted_to(found: Screened, across: bool) -> tuple[Observations, BedSlope]:
    """Observations where the adjustment has them, and the bed about them.

    Parameters
    ----------
    found : Screened
    across : bool
        Land stands between waters.

    Notes
    -----
    With u the unknowns, standard normal in units of their size, C their columns and K the covariance of the data with
    the drift taken out, E[u | y] = C' K^-1 y (Rasmussen and Williams 2006, 2.23; for errors of place Cressie and
    Kornak 2003, from memory).
    """
    observations, bed_slope, theta, kept = found.observations, found.bed_slope, found.theta, found.kept
    for turn in range(ROUNDS):
        if turn == 1:
            bare, sources = observations.bare_data(bed_slope, kept)
            theta, factors = fit_with_errors(CANDIDATES[0], bare, sources, across, theta, observations.factors, FULL)
            observations = replace(observations, factors=factors)
        data = observations.data(bed_slope, kept)
        fitted = TiledPosterior.on(CANDIDATES[0], theta, data, Partition.over(data.places.xy), across=across)
        values = unknowns_of(fitted, observations)
        bed_slope = bed_slope_of(fitted, observations)
        moved = np.abs(values - observations.errors.values(observations.adjustment)).max(initial=0.0)
        if moved < SETTLED:
            break
        observations = observations.adjusted(dict(zip(observations.errors.unknowns, values.tolist(), strict=True)))
    return observations, bed_slope


def unknowns_of(fitted: TiledPosterior, observations: Observations) -> FloatArray:
    """Most probable values of the unknowns, shape (q,), in stated standard deviations.

    Of several patches the one in whose data an unknown shows most tells it.
    """
    q = len(observations.errors.unknowns)
    best, values = np.zeros(q), np.zeros(q)
    for uses, fit in zip(fitted.partition.uses, fitted.fits, strict=True):
        columns = fitted.data.shared[uses]
        shows = np.asarray(columns.power(2).sum(axis=0)).ravel()
        told = np.asarray(columns.T @ fit.weights[1]).ravel()
        values = np.where(shows > best, told, values)
        best = np.maximum(shows, best)
    return values * observations.sizes

