"""Cross-validation: readings are left out one by one and peg by peg, predicted, and compared with the stated errors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from survey.depth_model.model import LakeModel

NOMINAL = (0.5, 0.8, 0.95)
LEAST_PEGS = 4
"""With fewer, hiding a peg hides the lake."""
MOST_HIDDEN = 10_000
"""In larger surveys only some patches are cross-validated, which gives shares to half a hundredth."""
BINS = 10


@dataclass(frozen=True)
class Holdout:
    """How often a hidden reading fell within the stated range.

    Parameters
    ----------
    readings : int
        Readings that were hidden, each peg's together, and predicted.
    pegs : int
    rmse_m : float
        Root mean square error of the hidden readings, leave-one-peg-out.
    within : dict of {float: float}
        Nominal share (0.5, 0.8, 0.95) to the share of hidden readings that fell inside.
    single_rmse_m : float
        The same with one reading hidden at a time.
    single_within : dict of {float: float}
    pit : tuple of int
        Histogram of where hidden readings (leave-one-peg-out) fell in their stated
        distributions, ten equal bins; even if the errors are honest.
    """

    readings: int
    pegs: int
    rmse_m: float
    within: dict[float, float]
    single_rmse_m: float = float("nan")
    single_within: dict[float, float] | None = None
    pit: tuple[int, ...] = ()


def hold_out(model: LakeModel) -> Holdout | None:
    """Hide readings and guess them; None with too few pegs to hide one.

    Readings that were set aside as doubtful are not hidden: they shaped nothing.
    """
    peg = np.where(model.kept, model.observations.peg, -1)
    pegs = np.unique(peg[peg >= 0])
    if len(pegs) < LEAST_PEGS:
        return None
    kept = _asked(model, model.kept & (peg >= 0))
    error, sd = _errors(model, [np.flatnonzero(peg == p) for p in pegs], kept)
    single_error, single_sd = _errors(model, [np.array([i]) for i in kept], kept)
    pit = np.histogram(ndtr(error / sd), bins=BINS, range=(0.0, 1.0))[0]
    return Holdout(
        readings=len(kept),
        pegs=len(pegs),
        rmse_m=float(np.sqrt(np.mean(error**2))),
        within=_within(error, sd),
        single_rmse_m=float(np.sqrt(np.mean(single_error**2))),
        single_within=_within(single_error, single_sd),
        pit=tuple(int(n) for n in pit),
    )


def _asked(model: LakeModel, which: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Readings to hide: all of these, or those in every so many patches."""
    patch = model.members[0].partition.home(model.observations.places.xy)
    every = -(-int(which.sum()) // MOST_HIDDEN)
    return np.flatnonzero(which & (patch % every == 0))


def _errors(
    model: LakeModel, groups: list[NDArray[np.intp]], kept: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    wanted = np.zeros(len(model.kept), bool)
    wanted[kept] = True
    predicted, sd = model.cross_validate(groups, wanted)
    return (model.observations.depth_m - predicted)[kept], sd[kept]


def _within(error: NDArray[np.float64], sd: NDArray[np.float64]) -> dict[float, float]:
    return {share: float(np.mean(np.abs(error) <= ndtri(0.5 + share / 2) * sd)) for share in NOMINAL}
