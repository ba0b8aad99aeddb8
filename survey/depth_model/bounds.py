"""Bounds applied to a member: one-sided evidence becomes pseudo-readings, patch by patch."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from survey.arrays import FloatArray
from survey.depth_model.trend import Profile
from survey.geometry.water import Locations
from survey.kriging.data import ConditioningData, unshared
from survey.kriging.inequalities import half_line_sites
from survey.kriging.partition import TiledPosterior
from survey.kriging.posterior import Posterior

SITE_LEAST_PRECISION = 1e-6
"""A bound that teaches nothing stays as a pseudo-reading of no weight, so that all members keep
the same places."""
IDLE_Z = 3.0
"""In a survey of many patches a bound that every member keeps by this much is not applied: it would change the
depth there by less than 0.005 of its standard deviation."""


@dataclass(frozen=True)
class Bounds:
    """One-sided evidence: the bed is at least, or at most, so deep.

    Parameters
    ----------
    places : Locations
    limit_m, own_var : ndarray, shape (k,)
    side : ndarray, shape (k,)
        +1: at least; -1: at most.
    rows : ndarray of int, shape (k,)
    """

    places: Locations
    limit_m: FloatArray
    own_var: FloatArray
    side: FloatArray
    rows: NDArray[np.intp]

    def __len__(self) -> int:
        return len(self.limit_m)

    def take(self, index: NDArray[np.bool_] | NDArray[np.intp]) -> Bounds:
        """The bounds of an index."""
        return Bounds(
            self.places.take(index), self.limit_m[index], self.own_var[index], self.side[index], self.rows[index]
        )


def with_bounds(found: TiledPosterior, bounds: Bounds, profile: Profile) -> TiledPosterior:
    """The member with the bounds applied in every patch that they touch."""
    if not len(bounds):
        return found
    fits = list(found.fits)
    for patch, some, _ in found.partition.shares(bounds.places.xy):
        active = bounds.take(some)
        fits[patch] = replace(fits[patch], data=fits[patch].data.joined(_sites(fits[patch], active, profile)))
    return replace(found, fits=tuple(fits))


def all_with_bounds(fits: list[Posterior], bounds: Bounds, profile: Profile) -> list[Posterior]:
    """Members of one patch with the bounds applied that at least one of them does not keep anyway."""
    if not len(bounds):
        return fits
    at, active = profile.at(bounds.places.shore_m), np.zeros(len(bounds), bool)
    for fit in fits:
        mean, cov = fit.joint(bounds.places, at)
        noise = bounds.own_var + fit.theta["nugget"]
        active |= bounds.side * (mean - bounds.limit_m) < IDLE_Z * np.sqrt(np.diag(cov) + noise)
    if not active.any():
        return fits
    return [fit.with_pseudo_data(_sites(fit, bounds.take(active), profile)) for fit in fits]


def _sites(fitted: Posterior, bounds: Bounds, profile: Profile) -> ConditioningData:
    at = profile.at(bounds.places.shore_m)
    mean, cov = fitted.joint(bounds.places, at)
    noise = bounds.own_var + fitted.theta["nugget"]
    precision, shift = half_line_sites(mean, cov, bounds.limit_m, bounds.side, noise)
    active = precision > SITE_LEAST_PRECISION
    precision = np.where(active, precision, SITE_LEAST_PRECISION)
    value = np.where(active, shift / precision, mean)
    # As with shore points, no nugget: it is in the site already.
    return ConditioningData(
        bounds.places, value, 1.0 / precision, unshared(len(bounds)), at, np.ones(len(bounds), bool)
    )
