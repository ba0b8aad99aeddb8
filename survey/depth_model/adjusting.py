"""The adjustment: points of pegs, straight out, distances and depths of observers, all from all readings at once.

Each round reads the unknowns off a bed that was made with them open, moves the spots there, and makes the bed anew:
Gauss and Newton's iteration for the most probable values, with the bed integrated out.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from survey.adjustment.found import Adjusted
from survey.adjustment.shared_errors import Unknown
from survey.arrays import FloatArray
from survey.depth_model.model import LakeModel
from survey.depth_model.observations import BedSlope, Observations
from survey.depth_model.screening import Screened, bed_slope_of
from survey.depth_model.sizes import sized
from survey.kriging.covariance import CANDIDATES
from survey.kriging.likelihood import Fitted
from survey.kriging.partition import Partition, TiledPosterior

ROUNDS, ROUNDS_MORE = 4, 5
"""And where a peg is held to be mistaken so many more: it may have far to go."""
SNOOPED = ("peg along", "facing")
"""Unknowns of which single ones may be mistakes. Across the shore the outline has its say first: where a bed falls
steeply from the bank, pegs that stand right would be let go."""
MISTAKEN_Z = 4.0
"""One that is so many standard deviations off is held to be mistaken, and no longer held where it was written."""
LEAST_SCATTER = 1e-3
LEFT_WIDER = 2.5
"""What is left of an unknown is stated so much wider than a straight bed about it would have it: on the lakes for
choosing, points by a phone, the 95 % ellipses then hold nine pegs in ten instead of two in three."""
LONGEST_STEP = 1.0
"""In one round an unknown moves by no more than so many of its standard deviations: the bed is not straight further."""
SETTLED = 0.05
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
    for turn in range(ROUNDS + ROUNDS_MORE):
        if turn >= ROUNDS and not observations.loose:
            break
        if turn == 1:
            start = Fitted(theta, observations.factors)
            theta, factors = sized(replace(found, observations=observations, bed_slope=bed_slope), start, across)
            observations = replace(observations, factors=factors)
        data = observations.data(bed_slope, kept)
        fitted = TiledPosterior.on(CANDIDATES[0], theta, data, Partition.over(data.places.xy), across=across)
        values = unknowns_of(fitted, observations)
        bed_slope = bed_slope_of(fitted, observations)
        if turn == 1:
            observations = replace(observations, loose=observations.loose | _mistaken(fitted, observations, values))
        before, most = observations.errors.values(observations.adjustment), LONGEST_STEP * observations.sizes
        values = before + np.clip(values - before, -most, most)
        moved = np.abs(values - before).max(initial=0.0)
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


def _mistaken(fitted: TiledPosterior, observations: Observations, values: FloatArray) -> frozenset[Unknown]:
    """Unknowns of pegs that are further off than their size allows: each against what its value may scatter by.

    Notes
    -----
    Baarda 1968, A testing procedure for use in geodetic networks: one test for each unknown (from memory).
    """
    told = 1.0 - _left(fitted, observations) ** 2
    z = np.abs(values) / np.maximum(observations.sizes * np.sqrt(told), LEAST_SCATTER)
    of_pegs = [kind in SNOOPED for kind, _ in observations.errors.unknowns]
    return frozenset(observations.errors.unknowns[k] for k in np.flatnonzero((z > MISTAKEN_Z) & of_pegs))


def adjustment_of(model: LakeModel) -> Adjusted:
    """What the adjustment of a fitted lake found; what is left of each unknown by its first member's bed."""
    observations = model.observations
    unknowns = observations.errors.unknowns
    values = {unknown: observations.adjustment.get(unknown, 0.0) for unknown in unknowns}
    sds: dict[Unknown, float] = {}
    if any(values.values()):
        left = np.minimum(LEFT_WIDER * _left(model.members[0], observations), 1.0) * observations.sizes
        sds = dict(zip(unknowns, left.tolist(), strict=True))
    facing_sd = {peg.name: peg.facing_sd_deg for peg in observations.source.venue.pegs}
    turns = {name: facing_sd.get(name, 0.0) * value for (kind, name), value in values.items() if kind == "facing"}
    sizes = dict(zip(unknowns, observations.shared_sizes.tolist(), strict=True))
    return Adjusted(values, sds, sizes, turns, *_single_casts(observations))


def _left(fitted: TiledPosterior, observations: Observations) -> FloatArray:
    """Share of each unknown's standard deviation that the readings leave, shape (q,)."""
    q = len(observations.errors.unknowns)
    told = np.zeros(q)
    for fit in fitted.fits:
        columns = fit.data.shared[:, :q]
        told = np.maximum(told, ((columns.T @ fit.projection) * columns.T.toarray()).sum(axis=1))
    return np.sqrt(np.clip(1.0 - told, 0.0, 1.0))


def _single_casts(observations: Observations) -> tuple[float, float]:
    """Typical error of one cast, as a share of its distance and in degrees."""
    distance = observations.source.soundings.table["distance_m"].to_numpy(float)[observations.rows]
    found = []
    for k, kind in enumerate(("distance", "direction")):
        sizes = np.zeros(len(distance))
        for source in observations.own_sources:
            if source.size.kind == kind:
                sizes[source.of] = observations.factors.get(source.size.name, 1.0)
        some = (sizes > 0) & (distance > 0)
        share = sizes[some] * observations.position_sd_m[some, k] / distance[some]
        found.append(float(np.median(share)) if some.any() else float("nan"))
    return found[0], float(np.degrees(found[1]))
