"""Spots: the one answer everybody gets for a spot.

The page repeats :func:`cast_range` and the sight rule of :class:`survey.bed.grid.Bed`; a change here
is a change there.
"""

from __future__ import annotations

from dataclasses import dataclass

from survey.bed.grid import Bed
from survey.geometry.geodesy import Geodesy
from survey.records.floats import Float
from survey.records.venue import Limits, Venue
from survey.spots.cast import CastScatter, Spot, cast_range
from survey.spots.float_setting import BARE_HOOK, DepthRange, FloatSetting, HookEnd, RigStyle, setting_for

CAUTION = "A starting point, not a promise. Plumb before you fish."
UNSURVEYED = "Unsurveyed water: plumb here."
DRY = "Dry at this level."
OFF_WATER = "Not on the water."


@dataclass(frozen=True)
class Today:
    """What is the same for every spot today.

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
    """The answer for one spot at one level.

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
    settings : tuple of FloatSetting
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
    settings: tuple[FloatSetting, ...]
    rise_sd_m: float = 0.0

    @property
    def depth(self) -> DepthRange | None:
        """Depth today with its range."""
        if self.depth_m is None or self.sd_m is None or self.lower_m is None or self.upper_m is None:
            return None
        return DepthRange(self.depth_m, self.sd_m, self.lower_m, self.upper_m)


def answer(venue: Venue, bed: Bed, spot: Spot, bearing_deg: float, scatter: CastScatter, today: Today) -> Answer:
    """The answer for one spot: depth today with its range, and a setting for each rig."""
    geometry = Geodesy(venue.crs)
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
        settings=tuple(setting_for(depth, held_by, rig, today.end) for rig in RigStyle) if offered and depth else (),
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
