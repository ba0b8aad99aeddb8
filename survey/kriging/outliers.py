"""How likely each reading is mistaken, by what the bed predicts without it, and whether another unit would correct it.

A reading is sound; or mistaken in any way; or its figure was meant in another unit. The share of mistaken
readings is learnt from the survey itself. Knows nothing of beds, sheets or findings: arrays in, chances out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from survey.arrays import FloatArray
from survey.units import FOOT_M, Z_95

RARE_SHARE, RARE_WIDER = 0.03, 2.2
"""So many sound readings stand on something that nothing around them shows; their misfit is so much wider."""
RARE_READINGS = 1000.0
"""How many readings that share weighs: where a bed is closely plumbed few stand so, and a large survey tells."""
PRIOR_SHARE, PRIOR_READINGS = 0.03, 100.0
"""The share of mistaken readings before a survey is looked at, and how many readings that belief weighs."""
MOST_SHARE = 0.2
"""More are never taken to be mistaken one by one: then something is wrong that many share."""
ANYWHERE, NEAR = 0.35, 0.39
"""Shares of mistaken readings: those that may be any depth of the lake, and those some decimetres out."""
NEAR_M = 0.7
"""Mean size of such a miss."""
DEEPEST_SHARE, DEEPER = 0.95, 1.3
"""Any depth of the lake: up to so many times this quantile of the depths predicted; beyond, less and less."""
NAMED_FROM = 0.7
"""Another unit is named from this share of the ways in which a reading may be mistaken."""
LEARNT_TO = 1e-6


@dataclass(frozen=True)
class OtherUnit:
    """A unit a figure may have been meant in.

    Parameters
    ----------
    words : str
        Follows "if the figure were".
    factor : float
        Of the figure as it was read.
    share : float
        Of mistaken readings.
    """

    words: str
    factor: float
    share: float


OTHER_UNITS = (
    OtherUnit("feet, not metres", FOOT_M, 0.12),
    OtherUnit("metres, not feet", 1 / FOOT_M, 0.12),
    OtherUnit("centimetres, not metres", 0.01, 0.01),
    OtherUnit("metres, not centimetres", 100.0, 0.01),
)


@dataclass(frozen=True)
class OutlierProbability:
    """What there is to doubt about readings.

    Parameters
    ----------
    chance : ndarray, shape (n,)
        Probability that the reading is mistaken; nan where nothing was predicted.
    unit : ndarray of int, shape (n,)
        Index into :data:`OTHER_UNITS` of the unit that would mend it; -1 for none.
    mended_m : ndarray, shape (n,)
        The depth it would then say, metres; nan without one.
    """

    chance: FloatArray
    unit: NDArray[np.intp]
    mended_m: FloatArray


def outlier_probability(
    depth_m: FloatArray, predicted_m: FloatArray, sd_m: FloatArray, figure_m: FloatArray
) -> OutlierProbability:
    """Chance that each reading is mistaken.

    Parameters
    ----------
    depth_m : ndarray, shape (n,)
        Depth below datum that the readings say, metres.
    predicted_m, sd_m : ndarray, shape (n,)
        What a bed made without the reading says that it should have been, and the standard deviation of
        that, the reading's own error included, metres.
    figure_m : ndarray, shape (n,)
        The figure that was written (depth or setting), as read, metres; nan where the depth was not made of one: it is
        then taken to fit no other unit.

    Returns
    -------
    OutlierProbability

    Notes
    -----
    Bayes' rule on the mixture ``(1 - e) [(1 - r) N(s) + r N(w s)] + e [a / D + b Laplace + units]`` of the misfit, with
    the shares ``e`` and ``r`` posterior modes under Beta-like priors, by expectation and maximisation (Dempster, Laird
    and Rubin 1977). The constants are ours, chosen on simulated surveys with seeded mistakes.
    """
    known = np.isfinite(depth_m) & np.isfinite(predicted_m) & (sd_m > 0)
    chance = np.full(len(depth_m), np.nan)
    unit, mended = np.full(len(depth_m), -1, np.intp), np.full(len(depth_m), np.nan)
    if known.any():
        off, sd = (depth_m - predicted_m)[known], sd_m[known]
        sound = _normal(off, sd), _normal(off, RARE_WIDER * sd)
        deepest = max(DEEPER * float(np.quantile(predicted_m[known], DEEPEST_SHARE)), 1.0)
        beyond = np.minimum(deepest / np.maximum(depth_m[known], deepest), 1.0) ** 3
        anyhow = ANYWHERE * beyond / deepest + NEAR * np.exp(-np.abs(off) / NEAR_M) / (2.0 * NEAR_M)
        figure = figure_m[known]
        rewritten = _rewritten(depth_m[known], figure)
        units = _of_units(rewritten, predicted_m[known], sd)
        mistaken = anyhow + units.sum(axis=0)
        chance[known] = _chance(sound, mistaken)
        best = units.argmax(axis=0)
        here = np.arange(len(best))
        named = units[best, here] >= NAMED_FROM * mistaken
        named &= np.abs(rewritten[best, here] - predicted_m[known]) <= Z_95 * sd
        unit[known] = np.where(named, best, -1)
        mended[known] = np.where(named, rewritten[best, here], np.nan)
    return OutlierProbability(chance, unit, mended)


def _rewritten(depth_m: FloatArray, figure_m: FloatArray) -> FloatArray:
    """Depths if the figure had been in each of the other units, shape (units, n); nan where that cannot be."""
    depths = np.stack([depth_m + (other.factor - 1.0) * figure_m for other in OTHER_UNITS])
    return np.where(depths > 0.0, depths, np.nan)


def _of_units(rewritten: FloatArray, predicted_m: FloatArray, sd: FloatArray) -> FloatArray:
    """Density of the figures under each other unit, times its share, shape (units, n)."""
    scale = np.array([[other.share * other.factor] for other in OTHER_UNITS])
    return np.nan_to_num(scale * _normal(rewritten - predicted_m, sd))


def _chance(sound: tuple[FloatArray, FloatArray], mistaken: FloatArray) -> FloatArray:
    """Chances, with the shares of mistaken and of rare sound readings learnt from all."""
    share, rare, n = PRIOR_SHARE, RARE_SHARE, len(mistaken)
    while True:
        plain, wide, wrong = (1 - share) * (1 - rare) * sound[0], (1 - share) * rare * sound[1], share * mistaken
        chance = wrong / (plain + wide + wrong)
        widely = wide / (plain + wide + wrong)
        learnt = min(float(chance.sum() + PRIOR_SHARE * PRIOR_READINGS) / (n + PRIOR_READINGS), MOST_SHARE)
        seldom = float(widely.sum() + RARE_SHARE * RARE_READINGS) / (n - float(chance.sum()) + RARE_READINGS)
        if abs(learnt - share) + abs(seldom - rare) < LEARNT_TO:
            return np.asarray(chance)
        share, rare = learnt, seldom


def _normal(off: FloatArray, sd: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * (off / sd) ** 2) / (sd * math.sqrt(2.0 * math.pi)))
