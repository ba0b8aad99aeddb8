"""The numbers the page's program works by: the survey's own constants, so that they stand in one place.

Knows nothing of any one lake but its spreads and level records.
"""

from __future__ import annotations

from typing import Any

from survey import (
    fall,
    feed,
    floats,
    levelplumb,
    margins,
    shot,
    shotting,
    sight,
    spots,
    waterlevel,
    whatnext,
    wind,
)
from survey.readings import Fieldbook
from survey.rigging import SHALLOW_M, USUAL_SHOT
from survey.ruler import FAR_M, NEAR_M
from survey.truncation import RANGE_Z
from survey.units import INCH_M
from survey.venue import LONGEST_FLOAT_M, Spreads, Venue

Json = dict[str, Any]
WAYS: tuple[str, ...] = ("wraps", "tape", "pole", "rod lengths")


def rules(venue: Venue) -> Json:
    """What holds at every spot of a venue."""
    return {
        **_settings(), **_casts(venue.spreads),
        "longest_float_m": LONGEST_FLOAT_M, "steep_m": margins.STEEP_M, "most_rise_m": waterlevel.MOST_RISE_M,
        "sight": {"bank_m": sight.BANK_M, "traced_m": sight.TRACED_M, "touch_m": sight.TOUCH_M, "aside": sight.ASIDE},
        "shot": _shot(), "fall": _fall(), "wind": _wind(), "plumb": _plumb(venue.spreads), "next": _next(),
    }  # fmt: skip


def priors(book: Fieldbook) -> list[list[float]]:
    """For each month the level to be expected before a plumb: rise and standard deviation, metres."""
    months = (levelplumb.level_prior(book.levels, book.venue.mark, book.venue.spreads, month) for month in range(1, 13))
    return [[prior.rise_m, prior.sd_m] for prior in months]


def _settings() -> Json:
    return {
        "rigs": [
            {"name": rig.value, "clearance_m": rule.clearance_m, "rounds_deeper": rule.rounds_deeper,
             "least_depth_m": rule.least_depth_m, "shallower_first": rig is floats.Rig.SLOW}
            for rig, rule in floats.RIG_RULES.items()
        ],
        "inch_m": INCH_M, "least_setting_m": floats.LEAST_SETTING_M, "most_over_depth_m": floats.MOST_OVER_DEPTH_M,
        "consider_sliding": floats.CONSIDER_SLIDING, "use_sliding": floats.USE_SLIDING,
    }  # fmt: skip


def _casts(spread: Spreads) -> Json:
    return {
        "range_z": RANGE_Z, "cast_nodes": spots.cast_nodes().tolist(), "least_sd_m": spots.LEAST_SD_M,
        "direction_sd_deg": {
            "clock": spread.half_hour_deg, "angle": spread.compass_deg, "bearing": spread.compass_deg,
        },
        "distance_sd_m": {by: spots.scatter_for(0.0, by, 0.0, spread).distance_m for by in WAYS},
        "estimated_distance": spread.estimated_distance,
    }  # fmt: skip


def _next() -> Json:
    return {
        "steps_m": whatnext.TRY_STEPS_M, "further_m": whatnext.FURTHER_M, "same_m": whatnext.SAME_M,
        "fish": {name: sought.value for name, sought in whatnext.FISH.items()},
    }  # fmt: skip


def _shot() -> Json:
    return {
        "sizes": [[name, shot.in_grains(grams)] for name, grams in shot.SIZES_G.items()],
        "grain_mg": shot.GRAIN_MG, "most": shot.MOST_SHOT, "most_g": shot.MOST_WEIGHT_G, "usual": USUAL_SHOT,
        "looked_at": shotting.WAYS_LOOKED_AT, "spread": [shotting.SPREAD_LEAST, shotting.SPREAD_MOST],
        "dropper_most_g": shotting.DROPPER_MOST_G, "lowest": shotting.LOWEST_SHARE, "highest": shotting.HIGHEST_SHARE,
        "droppers_m": shotting.DROPPERS_M, "dropper_shares": shotting.DROPPER_SHARES,
        "bulk": [shotting.BULK_SHARE, shotting.BULK_MOST_SHARE], "apart_m": shotting.APART_M,
    }  # fmt: skip


def _fall() -> Json:
    return {
        "gravity": fall.GRAVITY, "density": fall.WATER_DENSITY, "viscosity": fall.WATER_VISCOSITY,
        "shot_density": fall.SHOT_DENSITY, "bait_density": fall.BAIT_DENSITY, "bait_m": fall.BAIT_M,
        "halvings": fall.HALVINGS,
        "feed": [[sphere.diameter_m, sphere.density] for sphere in (feed.HEAVY, feed.LIGHT)],
    }  # fmt: skip


def _wind() -> Json:
    return {
        "radials_deg": wind.RADIALS_DEG, "drift": wind.DRIFT_SHARES, "head_deg": wind.HEAD_DEG,
        "tail_deg": wind.TAIL_DEG, "steps_ms": [wind.LIGHT_MS, wind.STIFF_MS], "over_depth_m": wind.OVER_DEPTH_M,
        "peg_water_m": wind.PEG_WATER_M, "shallow_m": SHALLOW_M,
    }  # fmt: skip


def _plumb(spread: Spreads) -> Json:
    return {
        "alike_m": levelplumb.ALIKE_M, "wrong_z": levelplumb.WRONG_Z, "enough": levelplumb.ENOUGH_TO_TELL,
        "near_m": NEAR_M, "far_m": FAR_M, "near_sd_m": spread.float_depth_near_m, "far_sd_m": spread.float_depth_far_m,
    }  # fmt: skip
