"""Advice for one rig at one spot beyond its setting: shot, fall, what to try next, wind and feed.

Brings the small modules together; works nothing out itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from survey.geometry.fetch import effective_fetch
from survey.geometry.geodesy import Geodesy
from survey.records.floats import Float
from survey.records.venue import Venue
from survey.spots.answer import Answer
from survey.spots.float_setting import USE_SLIDING, FloatSetting, fixed_or_sliding
from survey.spots.next_settings import Sought, what_to_try
from survey.tackle.balance import USUAL_SHOT
from survey.tackle.feed import FEED, Landing, landing
from survey.tackle.shotting import Line, Shotting, shotted
from survey.tackle.sinking import BAIT_DENSITY, BAIT_M, Sphere, fall_s
from survey.tackle.wind import Side, Wind, drift_per_minute, over_depth, side_of_wind
from survey.units import FOOT_M
from survey.units.shot_sizes import read_shot

MOST_BAIT_M = 0.1
"""No bait hangs further below its hook (ours)."""
SHALLOW_M = 3 * FOOT_M
"""Line on the bed brakes nothing in less water (ours)."""


@dataclass(frozen=True)
class Tackle:
    """What the angler has beside the float.

    Parameters
    ----------
    at_hand, locking : mapping
        Shot at hand, and shot that holds the float: count by size, None for plenty.
    hook_length_m, bait_m : float
        Metres; a bait of no size falls like a small one.
    rod_length_m : float or None
    sought : Sought or None
        Where the fish is looked for.
    """

    at_hand: Mapping[str, int | None] = field(default_factory=lambda: read_shot(USUAL_SHOT))
    locking: Mapping[str, int] = field(default_factory=dict)
    hook_length_m: float = 0.0
    bait_m: float = 0.0
    rod_length_m: float | None = None
    sought: Sought | None = None

    @property
    def bait(self) -> Sphere:
        """The bait as it sinks."""
        return Sphere(self.bait_m or BAIT_M, BAIT_DENSITY)


@dataclass(frozen=True)
class Blown:
    """What the wind does at a spot.

    Parameters
    ----------
    fetch_m : float or None
        Effective fetch there.
    side : {"head", "tail", "left", "right"}
    drift_m_per_min : (float, float)
        Of the surface, least and most.
    over_depth_m : (float, float) or None
        Line to lay on the bed; None where the water is too shallow for it.
    """

    fetch_m: float | None
    side: Side
    drift_m_per_min: tuple[float, float]
    over_depth_m: tuple[float, float] | None


@dataclass(frozen=True)
class Advice:
    """Advice for one rig beyond its setting.

    Parameters
    ----------
    tries : tuple of float
        Settings to try next, metres as the angler measures.
    shotting : Shotting or None
        None where the float's weight is not known.
    least_fall_s : float or None
        The bait takes no less to reach its depth, seconds.
    sliding : str
        Advice on a sliding float, or empty.
    feed : str
    landing : Landing
    blown : Blown or None
        None where no wind was said.
    """

    tries: tuple[float, ...]
    shotting: Shotting | None
    least_fall_s: float | None
    sliding: str
    feed: str
    landing: Landing
    blown: Blown | None


def advised(venue: Venue, answer: Answer, setting: FloatSetting, tackle: Tackle, wind: Wind | None) -> Advice | None:
    """Advice for a rig; None where there is no setting."""
    depth, held_by = answer.depth, answer.held_by
    if setting.setting_m is None or depth is None:
        return None
    line = line_of(setting, held_by, tackle.hook_length_m)
    shotting = (
        None
        if held_by.mark is None
        else shotted(held_by.mark.balance_g, tackle.at_hand, setting.rig, line, tackle.locking)
    )
    hook_m = min(line.length_m + held_by.below_surface_m, depth.depth_m)
    placed = (
        [] if shotting is None else [(max(p.from_hook_m - line.on_bed_m, 0.0), p.weight_g) for p in shotting.placed]
    )
    rod_m = tackle.rod_length_m
    return Advice(
        tries=what_to_try(setting, depth, held_by, tackle.sought, None if rod_m is None else USE_SLIDING * rod_m),
        shotting=shotting,
        least_fall_s=None if shotting is None else fall_s(placed, hook_m, tackle.bait),
        sliding="" if rod_m is None else fixed_or_sliding(setting.setting_m, rod_m, held_by.kind),
        feed=FEED[setting.rig],
        landing=landing(depth.depth_m, 0.0 if wind is None else wind.speed_ms),
        blown=None if wind is None else blown(venue, answer, wind),
    )


def line_of(setting: FloatSetting, held_by: Float, hook_length_m: float = 0.0) -> Line:
    """The line below the float at a setting."""
    if setting.setting_m is None:
        return Line(0.0)
    length = setting.setting_m - (held_by.length_m if held_by.setting_to == "tip" else 0.0)
    return Line(length, min(hook_length_m, length), max(-setting.off_bottom_m, 0.0))


def blown(venue: Venue, answer: Answer, wind: Wind) -> Blown:
    """What the wind does at the spot of an answer."""
    spot = answer.spot
    azimuth = wind.from_deg - Geodesy(venue.crs).convergence_deg(spot.easting, spot.northing)
    deep = answer.depth_m is not None and answer.depth_m > SHALLOW_M
    return Blown(
        effective_fetch(venue.water, spot.easting, spot.northing, azimuth),
        side_of_wind(answer.bearing_deg, wind.from_deg),
        drift_per_minute(wind.speed_ms),
        over_depth(wind.speed_ms) if deep else None,
    )
