"""Spots: the one answer everybody gets for a spot.

The page repeats :func:`cast_range` and the sight rule of :class:`survey.bed.Bed`; a change here
is a change there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, xlogy

from survey.bed import Bed
from survey.fixes import Geometry
from survey.floats import BARE_HOOK, DepthRange, HookEnd, Rig, Setting, setting_for
from survey.placing import distance_sd_m
from survey.readings import DistanceBy
from survey.truncation import RANGE_Z
from survey.venue import Float, Limits, Spreads, Venue

CAST_RINGS, CAST_SPOKES = 3, 20
CAST_NODES = CAST_RINGS * CAST_SPOKES
"""Equal-weight points of the scatter of one cast."""
LEAST_SD_M = 1e-4

CAUTION = "A starting point, not a promise. Plumb before you fish."
UNSURVEYED = "Unsurveyed water: plumb here."
DRY = "Dry at this level."
OFF_WATER = "Not on the water."


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


@dataclass(frozen=True)
class Today:
    """What holds for every spot asked about today.

    Parameters
    ----------
    rise_m : float
        Level above datum, metres.
    held_by : Float
    rise_sd_m : float
        Standard deviation of the level, metres; 0 where the mark was read.
    end : HookEnd
    """

    rise_m: float
    held_by: Float
    rise_sd_m: float = 0.0
    end: HookEnd = BARE_HOOK


@dataclass(frozen=True)
class Answer:
    """What is said about one spot at one level.

    Parameters
    ----------
    depth_m, lower_m, upper_m : float or None
        Depth today and its 95 % range for one cast; None off the water.
    datum_depth_m, sd_m : float or None
        Depth below datum and the bed's standard deviation.
    rise_m, rise_sd_m : float
        Level today above datum, and its standard deviation.
    surveyed : bool
    state : str
        Empty, or :data:`UNSURVEYED`, :data:`DRY` or :data:`OFF_WATER`.
    settings : tuple of Setting
        One per rig; empty where no setting is offered.
    """

    spot: Spot
    bearing_deg: float
    lon: float
    lat: float
    rise_m: float
    held_by: Float
    depth_m: float | None
    lower_m: float | None
    upper_m: float | None
    datum_depth_m: float | None
    sd_m: float | None
    surveyed: bool
    state: str
    settings: tuple[Setting, ...]
    rise_sd_m: float = 0.0

    @property
    def depth(self) -> DepthRange | None:
        """Depth today with its range."""
        if self.depth_m is None or self.sd_m is None or self.lower_m is None or self.upper_m is None:
            return None
        return DepthRange(self.depth_m, self.sd_m, self.lower_m, self.upper_m)


def scatter_for(distance_m: float, by: DistanceBy, direction_deg: float, spreads: Spreads) -> CastScatter:
    """Scatter of one cast from the way it is said (the table of common practice in ``Spreads``)."""
    return CastScatter(direction_deg, distance_sd_m(by, distance_m, spreads))


def cast_nodes() -> NDArray[np.float64]:
    """Standard normal points, shape (CAST_NODES, 2): along and across the cast.

    Rings of equal probability, each at its root mean square radius, its points spread evenly: down any
    slope both ends of the range meet the normal distribution's within 1 %, 3 % where the bed is certain.
    """
    outside = 1.0 - np.arange(CAST_RINGS + 1) / CAST_RINGS
    # The mean of radius²/2 over a ring: the share outside a radius is exp(-radius²/2).
    below = outside - xlogy(outside, outside)
    radius = np.sqrt(-2.0 * CAST_RINGS * np.diff(below))
    turn = np.arange(CAST_SPOKES) * 2.0 * np.pi / CAST_SPOKES
    return np.column_stack([np.outer(radius, np.cos(turn)).ravel(), np.outer(radius, np.sin(turn)).ravel()])


@dataclass(frozen=True)
class Met:
    """What a cast may meet at datum: the bed at the spot, and at the nodes of the cast's scatter.

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
    """What a cast may meet; None where the spot has no value.

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
    """Depth today at a spot and the 95 % range of what one cast meets.

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
    lower, upper = (_mixture_quantile(means, sds, float(ndtr(z))) for z in (-RANGE_Z, RANGE_Z))
    return DepthRange(today, met.sd_m, max(min(lower, today), 0.0), max(upper, today, 0.0))


def _mixture_quantile(means: NDArray[np.float64], sds: NDArray[np.float64], share: float) -> float:
    low, high = float((means - 6 * sds).min()), float((means + 6 * sds).max())
    for _ in range(40):
        middle = 0.5 * (low + high)
        if ndtr((middle - means) / sds).mean() < share:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def answer(venue: Venue, bed: Bed, spot: Spot, bearing_deg: float, scatter: CastScatter, today: Today) -> Answer:
    """What is said about one spot: depth today with its range, and a setting for each rig."""
    geometry = Geometry(venue.crs)
    azimuth = bearing_deg - geometry.convergence_deg(spot.easting, spot.northing)
    lon, lat = geometry.lonlat(spot.easting, spot.northing)
    depth = cast_range(bed, spot, azimuth, scatter, today.rise_m, today.rise_sd_m)
    datum_depth, sd, beyond = (values[0] for values in bed.at(spot.easting, spot.northing))
    state, surveyed = _state(venue, depth, float(sd), bool(beyond))
    offered = state == "" and depth is not None
    held_by = today.held_by
    return Answer(
        spot=spot,
        bearing_deg=bearing_deg,
        lon=float(lon),
        lat=float(lat),
        rise_m=today.rise_m,
        held_by=held_by,
        depth_m=depth.depth_m if depth else None,
        lower_m=depth.lower_m if depth else None,
        upper_m=depth.upper_m if depth else None,
        datum_depth_m=float(datum_depth) if depth else None,
        sd_m=float(sd) if depth else None,
        surveyed=surveyed,
        state=state,
        settings=tuple(setting_for(depth, held_by, rig, today.end) for rig in Rig) if offered and depth else (),
        rise_sd_m=today.rise_sd_m,
    )


def is_surveyed(limits: Limits, sd_m: float, beyond: bool) -> bool:
    """Whether water of that standard deviation, within or beyond reach, counts as surveyed."""
    return sd_m <= limits.sd_m and not (beyond and sd_m > limits.beyond_sd_m)


def _state(venue: Venue, depth: DepthRange | None, sd_m: float, beyond: bool) -> tuple[str, bool]:
    if depth is None:
        return OFF_WATER, False
    if not is_surveyed(venue.limits, sd_m, beyond):
        return UNSURVEYED, False
    if depth.depth_m <= 0:
        return DRY, True
    return "", True
