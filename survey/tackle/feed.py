"""Loose feed: how much and how often with each rig, how long it sinks and where it lands.

Amounts are common practice. Knows nothing of beds or pegs.
"""

from __future__ import annotations

from dataclasses import dataclass

from survey.spots.float_setting import RigStyle
from survey.tackle.sinking import Sphere, sinking_speed
from survey.tackle.wind import surface_drift

FEED: dict[RigStyle, str] = {
    RigStyle.SLOW: "little and often, so that something is always falling",
    RigStyle.FAST: "on the bottom, more at a time and less often",
    RigStyle.HELD: "on the bottom beside the bait, more at a time and less often",
}
"""Common practice; enough to hold fish, not to fill them."""
LIGHT, HEAVY = Sphere(0.004, 1040.0), Sphere(0.006, 1200.0)
"""From a small grub to a pellet, as spheres (ours)."""


@dataclass(frozen=True)
class Landing:
    """Where loose feed reaches the bed.

    Parameters
    ----------
    least_s, most_s : float
        Time to sink, heavy and light feed, seconds.
    most_m : float
        How far downwind of where it was thrown it may land, metres; the least is nothing.
    """

    least_s: float
    most_s: float
    most_m: float


def landing(depth_m: float, wind_ms: float) -> Landing:
    """Where loose feed lands in still or blown water.

    Parameters
    ----------
    depth_m : float
    wind_ms : float
        Metres per second.

    Notes
    -----
    As if the whole depth moved as the surface does: an upper limit, for water deeper down moves less, or back.
    """
    least, most = (depth_m / sinking_speed([feed]) for feed in (HEAVY, LIGHT))
    return Landing(least, most, most * surface_drift(wind_ms)[1])
