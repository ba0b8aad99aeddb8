"""One plumb sets the level: from what a float found at known spots to the level of the whole lake today.

Level is positive up from the datum, depth positive down. Knows nothing of how spots were asked for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from survey.errors import QueryError
from survey.records.fieldbook import LevelRecord
from survey.records.floats import Float
from survey.records.readings import FloatSeen
from survey.records.uncertainty import StandardErrors
from survey.records.water_level import LevelMark
from survey.spots.cast import Met
from survey.units import shown_length

FINE_IN = 0.25
"""Floats and tips are said to the quarter inch."""
SEASON_MONTHS = 1.5
"""Records this far from the chosen month count e^-1/2 of those in it (ours)."""
DOUBT_RECORDS = 2.0
"""The sd of an unknown level weighs as much as this many records (ours)."""
ALIKE_M = 15.0
"""Errors of the bed at two spots are alike by exp(-distance / this) (ours)."""
WRONG_Z = 3.0
"""A plumb this many standard deviations from what the others predict is wrong (ours)."""
ENOUGH_TO_TELL = 3
"""With this many plumbs the odd one out can be found."""


@dataclass(frozen=True)
class LevelPrior:
    """What is thought of the level before anything is plumbed.

    Parameters
    ----------
    rise_m, sd_m : float
        Above the datum, metres.
    """

    rise_m: float
    sd_m: float


def level_prior(
    records: Sequence[LevelRecord], mark: LevelMark, standard_errors: StandardErrors, month: int | None = None
) -> LevelPrior:
    """The level to be expected, from the records' spread and season.

    Parameters
    ----------
    records : sequence of LevelRecord
    mark : LevelMark
        Without a kind, no record counts.
    standard_errors : StandardErrors
    month : int, optional
        1 to 12; None: no season.

    Notes
    -----
    Records weigh ``w = exp(-(months apart / 1.5)²/2)``, 1 without a month. With n their sum, r their rises and
    u the sd of an unknown level, one more record at the datum is taken as seen and u as found from two:
    mean ``m = sum(w r)/(n + 1)``, variance ``(sum(w (r - m)²) + m² + 2 u²)/(n + 2) * (1 + 1/(n + 1))``. So a venue
    without records has the datum and 1.4 u, and with many the mean and spread of their season.
    """
    used = [] if mark.kind is None else list(records)
    rises = np.array([mark.rise_m(record.shown_m) for record in used], float)
    weights = np.array([_season_weight(record, month) for record in used], float)
    n = float(weights.sum())
    mean = float((weights * rises).sum()) / (n + 1)
    spread = float((weights * (rises - mean) ** 2).sum()) + mean**2
    variance = (spread + DOUBT_RECORDS * standard_errors.level_unknown_m**2) / (n + 2) * (1 + 1 / (n + 1))
    return LevelPrior(mean, math.sqrt(variance))


def _season_weight(record: LevelRecord, month: int | None) -> float:
    if month is None:
        return 1.0
    apart = abs(int(record.when.day[5:7]) - month) % 12
    return math.exp(-0.5 * (min(apart, 12 - apart) / SEASON_MONTHS) ** 2)


def found_depth_m(
    setting_m: float,
    held_by: Float,
    tip_m: float | None = None,
    seen: FloatSeen = FloatSeen.STANDS,
    shows: str = "metres",
) -> float:
    """Depth of water from what was set and seen (geometry): ``d = S + L - p``; to the tip ``d = S - p``.

    Parameters
    ----------
    setting_m : float
        As this angler measures, plummet on the hook.
    held_by : Float
    tip_m : float, optional
        Tip showing; None: the float's usual tip.
    seen : FloatSeen
    shows : {"feet", "metres"}
        What its complaints are in.

    Raises
    ------
    QueryError
        What was seen is no depth yet: it says what to do next.
    """
    if seen is FloatSeen.SUNK:
        raise QueryError("The float went under: the water is deeper. Lengthen the setting until the float stands.")
    if seen is FloatSeen.FLAT:
        raise QueryError("The float lay flat: the water is shallower. Shorten the setting until the float stands.")
    if seen is FloatSeen.USUAL:
        raise QueryError("A float at its usual height may hang on a slack line. Shorten the setting, then plumb again.")
    showing = held_by.tip_m if tip_m is None else tip_m
    if not 0 <= showing <= held_by.length_m:
        raise QueryError(
            f"{shown_length(showing, shows, FINE_IN)} of tip, and the float is "
            f"{shown_length(held_by.length_m, shows, FINE_IN)} long. Measure again."
        )
    depth = setting_m + (0.0 if held_by.setting_to == "tip" else held_by.length_m) - showing
    if setting_m <= 0 or depth <= 0:
        raise QueryError(
            f"A setting of {shown_length(setting_m, shows)} plumbs no water. Give the length from hook to float."
        )
    return depth


@dataclass(frozen=True)
class Plumb:
    """One plumb at a known spot.

    Parameters
    ----------
    easting, northing : float
        Where it was aimed, metres.
    found_m : float
        Depth of water found, metres.
    datum_m : float
        Depth at datum to be expected there: mean over where the cast may have fallen.
    bed_sd_m : float
        Of the bed there.
    own_sd_m : float
        Of the plumbing, and of the depths met within the scatter of the cast.
    """

    easting: float
    northing: float
    found_m: float
    datum_m: float
    bed_sd_m: float
    own_sd_m: float

    @property
    def rise_m(self) -> float:
        """The level this plumb alone gives, above datum."""
        return self.found_m - self.datum_m


def plumb_at(place: tuple[float, float], met: Met, found_m: float, plumbing_sd_m: float) -> Plumb:
    """A plumb against what a cast may find there."""
    scatter = float(np.std(met.depths_m))
    bed_sd = float(np.sqrt(np.mean(met.sds_m**2)))
    return Plumb(*place, found_m, float(np.mean(met.depths_m)), bed_sd, math.hypot(scatter, plumbing_sd_m))


@dataclass(frozen=True)
class LevelFound:
    """The level of the lake today.

    Parameters
    ----------
    rise_m, sd_m : float
        Above the datum, metres.
    misfits : tuple of float
        For each plumb, how many standard deviations it lies from what prior and the others predict; the
        others are those that are not set aside.
    wrong : int or None
        The plumb that is set aside, counted from 0.
    disagree : bool
        A plumb is wrong, or the bed or the records are, and which cannot be told.
    """

    rise_m: float
    sd_m: float
    misfits: tuple[float, ...]
    wrong: int | None = None
    disagree: bool = False


def level_found(plumbs: Sequence[Plumb], prior: LevelPrior) -> LevelFound:
    """Level today from plumbs and prior.

    Notes
    -----
    Normal prior and errors: with y the levels the plumbs speak for and C their covariance (own variances, and
    the bed's, alike for spots close together), precision ``1/s² + 1'C⁻¹1`` and mean ``(m/s² + 1'C⁻¹y)`` over it
    (Gelman and others, Bayesian Data Analysis, 2.5 and 3.5). Of three or more plumbs the one furthest from
    what the others predict is set aside if it lies beyond three standard deviations; of fewer it is only reported.

    Raises
    ------
    QueryError
        Without a plumb.
    """
    if not plumbs:
        raise QueryError("Plumb at least once to set the level.")
    misfits = tuple(_misfit(plumbs, k, prior) for k in range(len(plumbs)))
    worst = max(range(len(plumbs)), key=lambda k: abs(misfits[k]))
    rise, sd = _updated(plumbs, prior)
    if abs(misfits[worst]) <= WRONG_Z:
        return LevelFound(rise, sd, misfits)
    if len(plumbs) < ENOUGH_TO_TELL:
        return LevelFound(rise, sd, misfits, disagree=True)
    others = [plumb for k, plumb in enumerate(plumbs) if k != worst]
    rise, sd = _updated(others, prior)
    left = [_misfit(others, k, prior) for k in range(len(others))]
    still = any(abs(misfit) > WRONG_Z for misfit in left)
    return LevelFound(rise, sd, (*left[:worst], misfits[worst], *left[worst:]), worst, still)


def _updated(plumbs: Sequence[Plumb], prior: LevelPrior) -> tuple[float, float]:
    """Mean and standard deviation of the level given the plumbs."""
    precision, pull = 1 / prior.sd_m**2, prior.rise_m / prior.sd_m**2
    if plumbs:
        weights = np.linalg.solve(_covariance(plumbs), np.ones(len(plumbs)))
        precision += float(weights.sum())
        pull += float(weights @ [plumb.rise_m for plumb in plumbs])
    return pull / precision, math.sqrt(1 / precision)


def _covariance(plumbs: Sequence[Plumb]) -> NDArray[np.float64]:
    """Covariance of the levels that plumbs give, square metres."""
    at = np.array([(plumb.easting, plumb.northing) for plumb in plumbs])
    bed = np.array([plumb.bed_sd_m for plumb in plumbs])
    own = np.array([plumb.own_sd_m for plumb in plumbs])
    apart = np.hypot(*(at[:, None, :] - at[None, :, :]).transpose(2, 0, 1))
    return np.asarray(np.outer(bed, bed) * np.exp(-apart / ALIKE_M) + np.diag(own**2))


def _misfit(plumbs: Sequence[Plumb], k: int, prior: LevelPrior) -> float:
    """How far one plumb is from what the prior and the others predict, in standard deviations."""
    one, others = plumbs[k], [plumb for j, plumb in enumerate(plumbs) if j != k]
    covariance = _covariance(plumbs) + prior.sd_m**2
    rest = [j for j in range(len(plumbs)) if j != k]
    mean, variance = prior.rise_m, covariance[k, k]
    if others:
        pull = np.linalg.solve(covariance[np.ix_(rest, rest)], covariance[rest, k])
        mean += float(pull @ [plumb.rise_m - prior.rise_m for plumb in others])
        variance -= float(pull @ covariance[rest, k])
    return (one.rise_m - mean) / math.sqrt(variance)
