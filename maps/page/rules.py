"""The numbers the page's program works by: the survey's own constants, so that they stand in one place.

Knows nothing of any one lake but its spreads and level records.
"""

from __future__ import annotations

from typing import Any

from survey.bed import margins
from survey.geometry import fetch, sight
from survey.records.fieldbook import Fieldbook
from survey.records.floats import LONGEST_FLOAT_M
from survey.records.uncertainty import StandardErrors
from survey.records.venue import Venue
from survey.reduction import water_levels
from survey.reduction.depths import FAR_M, NEAR_M
from survey.spots import cast, float_setting, level_by_plumbing, next_settings
from survey.tackle import feed, shotting, sinking, wind
from survey.tackle.advice import SHALLOW_M
from survey.tackle.balance import USUAL_SHOT
from survey.units import INCH_M, Z_95, shot_sizes

Json = dict[str, Any]
WAYS: tuple[str, ...] = ("wraps", "tape", "pole", "rod lengths")


def rules(venue: Venue) -> Json:
    """What holds at every spot of a venue."""
    return {
        **_settings(),
        **_casts(venue.standard_errors),
        "longest_float_m": LONGEST_FLOAT_M,
        "steep_m": margins.STEEP_M,
        "most_rise_m": water_levels.MOST_RISE_M,
        "sight": {"bank_m": sight.BANK_M, "traced_m": sight.TRACED_M, "touch_m": sight.TOUCH_M, "aside": sight.ASIDE},
        "shot": _shot(),
        "fall": _fall(),
        "wind": _wind(),
        "plumb": _plumb(venue.standard_errors),
        "next": _next(),
    }


def priors(book: Fieldbook) -> list[list[float]]:
    """For each month the level to be expected before a plumb: rise and standard deviation, metres."""
    months = (
        level_by_plumbing.level_prior(book.levels, book.venue.mark, book.venue.standard_errors, month)
        for month in range(1, 13)
    )
    return [[prior.rise_m, prior.sd_m] for prior in months]


def _settings() -> Json:
    return {
        "rigs": [
            {
                "name": rig.value,
                "clearance_m": rule.clearance_m,
                "rounds_deeper": rule.rounds_deeper,
                "least_depth_m": rule.least_depth_m,
                "shallower_first": rig is float_setting.RigStyle.SLOW,
            }
            for rig, rule in float_setting.RIG_RULES.items()
        ],
        "inch_m": INCH_M,
        "least_setting_m": float_setting.LEAST_SETTING_M,
        "most_over_depth_m": float_setting.MOST_OVER_DEPTH_M,
        "consider_sliding": float_setting.CONSIDER_SLIDING,
        "use_sliding": float_setting.USE_SLIDING,
    }


def _casts(spread: StandardErrors) -> Json:
    return {
        "range_z": Z_95,
        "cast_nodes": cast.cast_nodes().tolist(),
        "least_sd_m": cast.LEAST_SD_M,
        "direction_sd_deg": {
            "clock": spread.half_hour_deg,
            "angle": spread.compass_deg,
            "bearing": spread.compass_deg,
        },
        "distance_sd_m": {by: cast.scatter_for(0.0, by, 0.0, spread).distance_m for by in WAYS},
        "estimated_distance": spread.estimated_distance,
    }


def _next() -> Json:
    return {
        "steps_m": next_settings.TRY_STEPS_M,
        "further_m": next_settings.FURTHER_M,
        "same_m": next_settings.SAME_M,
        "fish": {name: sought.value for name, sought in next_settings.FISH.items()},
    }


def _shot() -> Json:
    return {
        "sizes": [[name, shot_sizes.in_grains(grams)] for name, grams in shot_sizes.SIZES_G.items()],
        "grain_mg": shot_sizes.GRAIN_MG,
        "most": shot_sizes.MOST_SHOT,
        "most_g": shot_sizes.MOST_WEIGHT_G,
        "usual": USUAL_SHOT,
        "looked_at": shotting.WAYS_LOOKED_AT,
        "spread": [shotting.SPREAD_LEAST, shotting.SPREAD_MOST],
        "dropper_most_g": shotting.DROPPER_MOST_G,
        "lowest": shotting.LOWEST_SHARE,
        "highest": shotting.HIGHEST_SHARE,
        "droppers_m": shotting.DROPPERS_M,
        "dropper_shares": shotting.DROPPER_SHARES,
        "bulk": [shotting.BULK_SHARE, shotting.BULK_MOST_SHARE],
        "apart_m": shotting.APART_M,
    }


def _fall() -> Json:
    return {
        "gravity": sinking.GRAVITY,
        "density": sinking.WATER_DENSITY,
        "viscosity": sinking.WATER_VISCOSITY,
        "shot_density": sinking.SHOT_DENSITY,
        "bait_density": sinking.BAIT_DENSITY,
        "bait_m": sinking.BAIT_M,
        "halvings": sinking.HALVINGS,
        "feed": [[sphere.diameter_m, sphere.density] for sphere in (feed.HEAVY, feed.LIGHT)],
    }


def _wind() -> Json:
    return {
        "radials_deg": fetch.RADIALS_DEG,
        "drift": wind.DRIFT_SHARES,
        "head_deg": wind.HEAD_DEG,
        "tail_deg": wind.TAIL_DEG,
        "steps_ms": [wind.LIGHT_MS, wind.STIFF_MS],
        "over_depth_m": wind.OVER_DEPTH_M,
        "peg_water_m": wind.PEG_WATER_M,
        "shallow_m": SHALLOW_M,
    }


def _plumb(spread: StandardErrors) -> Json:
    return {
        "alike_m": level_by_plumbing.ALIKE_M,
        "wrong_z": level_by_plumbing.WRONG_Z,
        "enough": level_by_plumbing.ENOUGH_TO_TELL,
        "near_m": NEAR_M,
        "far_m": FAR_M,
        "near_sd_m": spread.float_depth_near_m,
        "far_sd_m": spread.float_depth_far_m,
    }
