"""One-sided evidence heard by a member: bounds become pseudo-readings, patch by patch."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from survey.depth_model.observations import Bounds
from survey.depth_model.trend import Profile
from survey.kriging.data import Data, unshared
from survey.kriging.inequalities import half_line_sites
from survey.kriging.partition import Conditioned
from survey.kriging.posterior import Fitted

Floats = NDArray[np.float64]

SITE_LEAST_PRECISION = 1e-6
"""A bound that teaches nothing stays as a pseudo-reading of no weight, so that all members keep
the same places."""
IDLE_Z = 3.0
"""In a survey of many patches a bound that every member holds to be kept by so much is not heard: it would change the
depth there by less than 0.005 of its standard deviation."""


def with_bounds(found: Conditioned, bounds: Bounds, profile: Profile) -> Conditioned:
    """The member having heard the bounds in every patch that they touch."""
    if not len(bounds):
        return found
    fits = list(found.fits)
    for patch, some, _ in found.patchwork.shares(bounds.places.xy):
        heard = bounds.take(some)
        fits[patch] = replace(fits[patch], data=fits[patch].data.joined(_sites(fits[patch], heard, profile)))
    return replace(found, fits=tuple(fits))


def all_hearing(fits: list[Fitted], bounds: Bounds, profile: Profile) -> list[Fitted]:
    """Members of one patch having heard those bounds that one of them at least does not hold to be kept anyway."""
    if not len(bounds):
        return fits
    at, told = profile.at(bounds.places.shore_m), np.zeros(len(bounds), bool)
    for fit in fits:
        mean, cov = fit.joint(bounds.places, at)
        noise = bounds.own_var + fit.theta["nugget"]
        told |= bounds.side * (mean - bounds.limit_m) < IDLE_Z * np.sqrt(np.diag(cov) + noise)
    heard = bounds.take(told)
    return [fit.hearing(_sites(fit, heard, profile)) for fit in fits] if len(heard) else fits


def _sites(fitted: Fitted, bounds: Bounds, profile: Profile) -> Data:
    at = profile.at(bounds.places.shore_m)
    mean, cov = fitted.joint(bounds.places, at)
    noise = bounds.own_var + fitted.theta["nugget"]
    precision, shift = half_line_sites(mean, cov, bounds.limit_m, bounds.side, noise)
    heard = precision > SITE_LEAST_PRECISION
    precision = np.where(heard, precision, SITE_LEAST_PRECISION)
    value = np.where(heard, shift / precision, mean)
    # As with shore points, no nugget: it is in the site already.
    return Data(bounds.places, value, 1.0 / precision, unshared(len(bounds)), at, np.ones(len(bounds), bool))
