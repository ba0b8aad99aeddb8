"""What to try when bites do not come, or stop: settings after the first, in the order to try them.

Common practice put into numbers (ours). Knows nothing of beds or pegs.
"""

from __future__ import annotations

from enum import Enum

from survey.records.floats import Float
from survey.spots.float_setting import LEAST_SETTING_M, MOST_OVER_DEPTH_M, DepthRange, FloatSetting, RigStyle
from survey.units import INCH_M


class Sought(str, Enum):
    """Where the fish sought is looked for first (common practice; any of them may feed anywhere)."""

    SURFACE = "surface"
    MIDWATER = "mid-water"
    BOTTOM = "bottom"


FISH: dict[str, Sought] = {
    "rudd": Sought.SURFACE, "roach": Sought.MIDWATER,
    "bream": Sought.BOTTOM, "tench": Sought.BOTTOM, "carp": Sought.BOTTOM,
}  # fmt: skip

TRY_STEPS_M = tuple(k * INCH_M for k in (3, 6, 9, 12, 18, 24, 36))
"""Offsets from the first setting; larger ones only towards the surface, a foot at a time."""
FURTHER_M = 12 * INCH_M
SAME_M = 0.001


def what_to_try(
    setting: FloatSetting,
    depth: DepthRange,
    held_by: Float,
    sought: Sought | None = None,
    most_m: float | None = None,
) -> tuple[float, ...]:
    """Settings to try after the first.

    Without a fish in mind, and for one of mid-water, both sides take turns, nearest first: a slow-sinking
    rig and a fish of mid-water shallower first, the other rigs deeper. For a fish of the surface all
    that is shallower comes before what is deeper, for one of the bottom the other way round.

    Parameters
    ----------
    setting : FloatSetting
    depth : DepthRange
        Depth today.
    held_by : Float
    sought : Sought, optional
    most_m : float, optional
        Longest setting that can be cast, for a float that does not slide, metres.

    Returns
    -------
    tuple of float
        Metres, measured as the angler measures; none twice, none with less than six inches of line, none more
        than eighteen inches over the depth; empty where there is no first setting.
    """
    if setting.setting_m is None:
        return ()
    first = setting.setting_m
    least, most = _limits(depth, held_by, most_m)
    up = [first - offset for offset in _offsets(first - least)]
    down = [first + step for step in TRY_STEPS_M]
    ordered = _in_order(up, down, setting.rig, sought)
    return tuple(tried for tried in ordered if least - SAME_M < tried <= most + SAME_M)


def _limits(depth: DepthRange, held_by: Float, most_m: float | None) -> tuple[float, float]:
    """Shortest and longest setting worth a try, as the angler measures."""
    to_tip = held_by.setting_to == "tip"
    on_bottom = depth.depth_m - (-held_by.tip_m if to_tip else held_by.below_surface_m)
    least = LEAST_SETTING_M + (held_by.length_m if to_tip else 0.0)
    most = on_bottom + MOST_OVER_DEPTH_M
    return least, most if most_m is None or held_by.kind == "sliding" else min(most, most_m)


def _offsets(room_m: float) -> list[float]:
    """Steps toward the surface: the list, then a foot at a time as far as there is room."""
    further = max(int((room_m - TRY_STEPS_M[-1]) / FURTHER_M + SAME_M), 0)
    return [*TRY_STEPS_M, *(TRY_STEPS_M[-1] + k * FURTHER_M for k in range(1, further + 1))]


def _in_order(up: list[float], down: list[float], rig: RigStyle, sought: Sought | None) -> list[float]:
    if sought is Sought.SURFACE:
        return [*up, *down]
    if sought is Sought.BOTTOM:
        return [*down, *up]
    up_first = sought is Sought.MIDWATER or rig is RigStyle.SLOW
    one, other = (up, down) if up_first else (down, up)
    turns = [tried for pair in zip(one, other, strict=False) for tried in pair]
    return [*turns, *up[len(down) :]]
