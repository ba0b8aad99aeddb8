"""Where one cast may fall, and the depths it may find there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from survey.bed.grid import Bed
from survey.records.readings import DistanceBy
from survey.records.uncertainty import StandardErrors
from survey.reduction.cast_errors import distance_sd_m
from survey.spots.float_setting import DepthRange
from survey.units import Z_95

CAST_RINGS, CAST_SPOKES = 3, 20

CAST_NODES = CAST_RINGS * CAST_SPOKES
"""Equal-weight points of the scatter of one cast."""

LEAST_SD_M = 1e-4
QUANTILE_SDS, QUANTILE_HALVINGS = 6, 40
"""A quantile is looked for within so many standard deviations, in so many halvings."""


@dataclass(frozen=True)
class Spot:
    """A named spot of a peg: degrees from straight out (+ right), metres from the peg's point."""

    peg: str
    name: str
    angle_deg: float
    distance_m: float
    easting: float
    northing: float


@dataclass(frozen=True)
class CastScatter:
    """How far one cast may fall from where it was meant: standard deviations.

    Parameters
    ----------
    direction_deg : float
    distance_m : float
    """

    direction_deg: float
    distance_m: float


def scatter_for(
    distance_m: float, by: DistanceBy, direction_deg: float, standard_errors: StandardErrors
) -> CastScatter:
    """Scatter of one cast from the way it is given (the table of common practice in ``StandardErrors``)."""
    return CastScatter(direction_deg, distance_sd_m(by, distance_m, standard_errors))


def cast_nodes() -> NDArray[np.float64]:
    """Standard normal points, shape (CAST_NODES, 2): along and across the cast.

    Rings of equal probability, each at its root mean square radius, its points spread evenly: down any
    slope both ends of the range meet the normal distribution's within 1 %, 3 % where the bed is certain.
    """
    outside = 1.0 - np.arange(CAST_RINGS + 1) / CAST_RINGS
    # The mean of radius²/2 over a ring: the share outside a radius is exp(-radius²/2).
    below = outside - outside * np.log(np.where(outside > 0, outside, 1.0))
    radius = np.sqrt(-2.0 * CAST_RINGS * np.diff(below))
    turn = np.arange(CAST_SPOKES) * 2.0 * np.pi / CAST_SPOKES
    return np.column_stack([np.outer(radius, np.cos(turn)).ravel(), np.outer(radius, np.sin(turn)).ravel()])


@dataclass(frozen=True)
class Met:
    """What a cast may find at datum: the bed at the spot, and at the nodes of the cast's scatter.

    Parameters
    ----------
    depth_m, sd_m : float
        At the spot.
    depths_m, sds_m : ndarray, shape (n,)
        Where the cast may fall, on the water.
    """

    depth_m: float
    sd_m: float
    depths_m: NDArray[np.float64]
    sds_m: NDArray[np.float64]


def met_by_cast(bed: Bed, spot: Spot, azimuth_deg: float, scatter: CastScatter) -> Met | None:
    """What a cast may find; None where the spot has no value.

    Parameters
    ----------
    bed : Bed
    spot : Spot
    azimuth_deg : float
        Grid azimuth of the cast in the venue CRS.
    scatter : CastScatter
    """
    depth, sd, _ = bed.at(spot.easting, spot.northing)
    if np.isnan(depth[0]):
        return None
    along = np.array([np.sin(np.radians(azimuth_deg)), np.cos(np.radians(azimuth_deg))])
    across = np.array([along[1], -along[0]])
    nodes = cast_nodes() * [scatter.distance_m, spot.distance_m * np.radians(scatter.direction_deg)]
    xy = [spot.easting, spot.northing] + nodes[:, :1] * along + nodes[:, 1:] * across
    d, s, _ = bed.at(xy[:, 0], xy[:, 1])
    met = ~np.isnan(d)
    if not met.any():
        d, s, met = depth, sd, np.array([True])
    return Met(float(depth[0]), float(sd[0]), d[met], np.maximum(s[met], LEAST_SD_M))


def cast_range(
    bed: Bed, spot: Spot, azimuth_deg: float, scatter: CastScatter, rise_m: float, rise_sd_m: float = 0.0
) -> DepthRange | None:
    """Depth today at a spot and the 95 % range of what one cast may find.

    The range is that of the mixture, over where the cast may fall, of the normal distributions of
    bed and level there; depth is never below zero.

    Parameters
    ----------
    bed : Bed
    spot : Spot
    azimuth_deg : float
        Grid azimuth of the cast in the venue CRS.
    scatter : CastScatter
    rise_m, rise_sd_m : float
        Level today above datum, and its standard deviation.

    Returns
    -------
    DepthRange or None
        None where the spot has no value.
    """
    met = met_by_cast(bed, spot, azimuth_deg, scatter)
    if met is None:
        return None
    today = met.depth_m + rise_m
    means, sds = met.depths_m + rise_m, np.hypot(met.sds_m, rise_sd_m)
    lower, upper = (_mixture_quantile(means, sds, _normal_share([z])[0]) for z in (-Z_95, Z_95))
    return DepthRange(today, met.sd_m, max(min(lower, today), 0.0), max(upper, today, 0.0))


def _normal_share(z: list[float]) -> list[float]:
    """Shares of the standard normal distribution below; without a library that takes longer to load than to answer."""
    return [0.5 * (1.0 + math.erf(one / math.sqrt(2.0))) for one in z]


def _mixture_quantile(means: NDArray[np.float64], sds: NDArray[np.float64], share: float) -> float:
    low, high = float((means - QUANTILE_SDS * sds).min()), float((means + QUANTILE_SDS * sds).max())
    for _ in range(QUANTILE_HALVINGS):
        middle = 0.5 * (low + high)
        if sum(_normal_share(((middle - means) / sds).tolist())) < share * len(means):
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
