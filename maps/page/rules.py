"""The numbers the page's program works by: the survey's own constants, so that they stand in one place.

Knows nothing of any one lake but its spreads and level records.
"""

from __future__ import annotations

from typing import Any

from maps.content.breakdown import FINE_M, SET_M
from maps.drawing.description import description
from maps.replies import levels, shot_text, spot_reply
from survey.bed import grid, margins
from survey.checks import residuals
from survey.geometry import fetch, sight
from survey.records.fieldbook import Fieldbook
from survey.records.floats import LONGEST_FLOAT_M
from survey.records.uncertainty import StandardErrors
from survey.records.venue import Venue
from survey.reduction import water_levels
from survey.reduction.depths import FAR_M, NEAR_M
from survey.spots import cast, float_setting, level_by_plumbing, next_settings, questions
from survey.tackle import feed, shotting, sinking, wind
from survey.tackle.advice import MOST_BAIT_M, SHALLOW_M
from survey.tackle.balance import USUAL_SHOT
from survey.units import FOOT_M, INCH_M, Z_95, club_units, lengths, numbers, shot_sizes, wind_speeds

Json = dict[str, Any]
WAYS: tuple[str, ...] = ("wraps", "tape", "pole", "rod lengths")
SPEED_UNITS = ("mph", "m/s", "km/h", "kn")
"""Units of wind that a form offers, the commonest first."""


def rules(venue: Venue) -> Json:
    """What holds at every spot of a venue."""
    return {
        **_settings(),
        **_casts(venue.standard_errors),
        "typed": _typed(),
        "shown": _shown(),
        "least_weight": grid.LEAST_WEIGHT,
        "longest_float_m": LONGEST_FLOAT_M,
        "steep_m": margins.STEEP_M,
        "most_rise_m": water_levels.MOST_RISE_M,
        "sight": {
            "bank_m": sight.BANK_M,
            "traced_m": sight.TRACED_M,
            "touch_m": sight.TOUCH_M,
            "aside": sight.ASIDE,
            "nothing_m": sight.NOTHING_M,
        },
        "shot": _shot(),
        "fall": _fall(),
        "wind": _wind(),
        "plumb": _plumb(venue.standard_errors),
        "next": _next(),
    }


def drawings(*names: str) -> Json:
    """What live drawings consist of: the still ones are made of the same descriptions."""
    return {name: description(name, "live") for name in names}


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
        "micron_m": float_setting.MICRON_M,
        "least_setting_m": float_setting.LEAST_SETTING_M,
        "most_over_depth_m": float_setting.MOST_OVER_DEPTH_M,
        "consider_sliding": float_setting.CONSIDER_SLIDING,
        "use_sliding": float_setting.USE_SLIDING,
    }


def _typed() -> Json:
    """What readers of typed lengths know: signs, words of units, what may follow what."""
    return {
        "look_alikes": {chr(sign): plain for sign, plain in numbers.LOOK_ALIKES.items()},
        "amount": numbers.AMOUNT,
        "units_m": lengths.UNIT_METRES,
        "unit_words": lengths.UNIT_WORDS,
        "compounds": sorted(" ".join(pair) for pair in lengths.COMPOUNDS),
        "next_unit": lengths.NEXT_UNIT,
        "two_figures": [lengths.TWO_FIGURES, lengths.TWO_FIGURES**2],
        "most_bait_m": MOST_BAIT_M,
    }


def _shown() -> Json:
    """How lengths and chances are rounded and shown."""
    return {
        "inch_m": INCH_M,
        "foot_m": FOOT_M,
        "quarters": [*lengths.QUARTERS.values()],
        "level_places": club_units.LEVEL_PLACES,
        "far_records_m": water_levels.FAR_FROM_RECORDS_M,
        "nothing_m": lengths.SHOWN_AS_NOTHING_M,
        "fine_m": FINE_M,
        "set_m": SET_M,
        "far_level_m": levels.FAR_FROM_DATUM_M,
        "ways": shot_text.WAYS_SHOWN,
        "tries": spot_reply.TRIES_SHOWN,
        "all_but_sure": residuals.ALL_BUT_SURE,
        "tenths": residuals.TENTHS,
    }


def _casts(spread: StandardErrors) -> Json:
    return {
        "range_z": Z_95,
        "cast_nodes": cast.cast_nodes().tolist(),
        "least_sd_m": cast.LEAST_SD_M,
        "quantile": {"sds": cast.QUANTILE_SDS, "halvings": cast.QUANTILE_HALVINGS},
        "most_cast_m": questions.MOST_CAST_M,
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
        "fastest_ms": sinking.FASTEST_MS,
        "drag": sinking.DRAG,
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
        "minute_s": wind.MINUTE_S,
        "speeds_ms": {unit: wind_speeds.SPEEDS_MS[unit] for unit in SPEED_UNITS},
        "most_ms": wind_speeds.MOST_WIND,
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
