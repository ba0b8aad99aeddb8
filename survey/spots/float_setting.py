"""From a depth and its range to a setting on somebody's own float and rig.

Formulas: setting S = depth - L + p - c, with L the float's length above where it is fixed, p the
tip showing and c the height of the bait off the bottom. Knows nothing of beds or pegs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from survey.records.floats import Float, FloatKind
from survey.units import FOOT_M, INCH_M


class RigStyle(str, Enum):
    """How the bait should behave."""

    SLOW = "slow-sinking"
    FAST = "fast-sinking"
    HELD = "held"


@dataclass(frozen=True)
class RigRule:
    """Where a rig wants the bait (common practice), and which side rounding errs to.

    Parameters
    ----------
    clearance_m : float
        Height of the bait off the bottom; negative: line lying on the bed.
    rounds_deeper : bool
        True: a setting is rounded toward the bed, otherwise off it.
    least_depth_m : float
        Water must be deeper than this.
    words : str
        What the bait does.
    """

    clearance_m: float
    rounds_deeper: bool
    least_depth_m: float
    words: str


RIG_RULES: dict[RigStyle, RigRule] = {
    RigStyle.SLOW: RigRule(6 * INCH_M, False, 0.0, "sinks slowly to 6 in off the bottom"),
    RigStyle.FAST: RigRule(0.0, True, 0.0, "sinks straight down, bait just resting on the bottom"),
    # The middle of the usual three to six inches; more in a stiff breeze is the angler's choice.
    RigStyle.HELD: RigRule(-4.5 * INCH_M, True, 3 * FOOT_M, "4½ in of line on the bottom slows the rig"),
}

CONSIDER_SLIDING = 0.75
USE_SLIDING = 0.85
MOST_OVER_DEPTH_M = 18 * INCH_M
LEAST_SETTING_M = 6 * INCH_M
"""Nobody fishes a shorter line under a float (ours)."""
MICRON_M = 1e-6


@dataclass(frozen=True)
class DepthRange:
    """Depth at a spot today for one cast, metres, with its 95 % range."""

    depth_m: float
    sd_m: float
    lower_m: float
    upper_m: float


@dataclass(frozen=True)
class HookEnd:
    """What hangs or lies at the end of the line.

    Parameters
    ----------
    bait_m : float
        How far the bait hangs below the hook's bend, metres: the bait, not the hook, is to be where the rig
        wants it. It does not count where line lies on the bed.
    over_depth_m : float or None
        Line on the bed for a held rig, metres; None: the usual one.
    """

    bait_m: float = 0.0
    over_depth_m: float | None = None


BARE_HOOK = HookEnd()


@dataclass(frozen=True)
class FloatSetting:
    """A starting setting for one rig.

    Parameters
    ----------
    setting_m, lower_m, upper_m : float or None
        Hook to where this angler measures to; None where the rig has no place here.
    off_bottom_m : float
        Height of the bait off the bottom; negative: line on the bed.
    why_not : str
        Empty, or why there is no setting.
    bait_m : float
        How far the bait hangs below the hook; 0 for one that lies on the bed with the line.
    """

    rig: RigStyle
    setting_m: float | None
    lower_m: float | None
    upper_m: float | None
    off_bottom_m: float
    why_not: str = ""
    bait_m: float = 0.0


def setting_for(depth: DepthRange, held_by: Float, rig: RigStyle, end: HookEnd = BARE_HOOK) -> FloatSetting:
    """Starting setting for one rig.

    Parameters
    ----------
    depth : DepthRange
        Depth today.
    held_by : Float
    rig : RigStyle
    end : HookEnd

    Returns
    -------
    FloatSetting
        Not rounded; see :func:`rounded`.

    Examples
    --------
    >>> from survey.records.floats import Float
    >>> s = setting_for(DepthRange(1.60, 0.05, 1.5, 1.7), Float("wag", 0.25, 0.02), RigStyle.FAST)
    >>> round(s.setting_m, 3)
    1.37
    """
    rule = RIG_RULES[rig]
    off_m = rule.clearance_m if rule.clearance_m >= 0 or end.over_depth_m is None else -end.over_depth_m
    hangs_m = end.bait_m if off_m >= 0 else 0.0
    why_not = _why_not(depth.depth_m, held_by, rule, off_m + hangs_m)
    if why_not:
        return FloatSetting(rig, None, None, None, off_m, why_not, hangs_m)
    taken = off_m + hangs_m + (0.0 if held_by.setting_to == "tip" else held_by.length_m) - held_by.tip_m
    return FloatSetting(
        rig,
        depth.depth_m - taken,
        max(depth.lower_m - taken, 0.0),
        depth.upper_m - taken,
        off_m,
        bait_m=hangs_m,
    )


def _why_not(depth_m: float, held_by: Float, rule: RigRule, hook_off_m: float) -> str:
    if depth_m <= 0:
        return "dry at this level"
    if depth_m < held_by.length_m:
        return "too shallow for this float"
    if depth_m <= rule.least_depth_m:
        return "not here: three feet of water or less"
    if depth_m - held_by.below_surface_m - hook_off_m < LEAST_SETTING_M:
        return "too shallow for this rig"
    return ""


def rounded(setting_m: float, rig: RigStyle, step_m: float) -> float:
    """A setting as it can be set: a whole number of steps, erring to the rig's safer side.

    Parameters
    ----------
    setting_m : float
        Metres.
    rig : RigStyle
    step_m : float
        Half an inch or a centimetre, metres.
    """
    steps = setting_m / step_m
    # A value on a step (within a micron) stays there whatever the binary fraction says.
    nearest = round(steps)
    if abs(steps - nearest) * step_m < MICRON_M:
        return nearest * step_m
    return (math.ceil(steps) if RIG_RULES[rig].rounds_deeper else math.floor(steps)) * step_m


def fixed_or_sliding(setting_m: float, rod_length_m: float, kind: FloatKind = "fixed") -> str:
    """Advice on a fixed or a sliding float by the rod's length (common practice).

    Returns
    -------
    str
        Empty where the float is right as it is, or slides, or is a pole's with its own limit.
    """
    share = setting_m / rod_length_m
    if kind != "fixed" or share < CONSIDER_SLIDING:
        return ""
    if share >= USE_SLIDING:
        return "use a sliding float: the setting is too long for this rod"
    return "consider a sliding float"
