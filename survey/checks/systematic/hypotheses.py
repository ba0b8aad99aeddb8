"""What a group of readings may have got wrong as a whole: which mistakes are tried, and how each is put into words.

How a fieldbook reads without one is for :mod:`survey.checks.systematic.rewrites`; whether that fits, for
:mod:`survey.checks.systematic.testing`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from survey.checks.systematic.rewrites import (
    Rewrite,
    deeper,
    deeper_by,
    each,
    float_length,
    from_peg,
    further,
    level_off,
    mark_turned,
    mirrored_from,
    of_setting,
    other_north,
    peg_facing_shore,
    turned_round,
    turning,
)
from survey.findings import LEVEL_SIGN
from survey.records.floats import Float
from survey.records.venue import Peg, Venue
from survey.units import FOOT_M, YARD_M
from survey.units.dates import written_day
from survey.units.lengths import shown_length

MIRRORED = "likely-mirrored"
LIKELY_CHANGE = "likely-change"
PEGS_TRIED = 8
LEAST_SHIFT_M = 0.08
"""A smaller error of level cannot be separated from other errors that a day's readings share."""


@dataclass(frozen=True)
class Hypothesis:
    """One mistake.

    Parameters
    ----------
    code : str
        Code of the finding that names it.
    words : str
        Follows "they would fit if".
    remedy : str
    rewrite : callable
    gives_way : bool
        Says by how much, not why: not named beside a mistake that explains as much.
    is_fitted : bool
        Holds a figure taken from the readings themselves: does not silence one that explains them without.
    is_expected : bool
        Something else points to it as well.
    """

    code: str
    words: str
    remedy: str
    rewrite: Rewrite
    gives_way: bool = False
    is_fitted: bool = False
    is_expected: bool = False


def left_for_right(written: Venue) -> Hypothesis:
    """Angles or clock hours with the wrong sign; ``written`` has its pegs as before the adjustment."""
    return Hypothesis(
        MIRRORED,
        "left and right were swapped",
        "Reverse the signs of the angles, or the clock hours (11 for 1).",
        mirrored_from(written),
        is_expected=True,
    )


def of_sheets(venue: Venue, written: Venue) -> tuple[Hypothesis, ...]:
    """Mistakes that a sheet, an observer or a day makes as a whole.

    Parameters
    ----------
    venue, written : Venue
        With its pegs as adjusted, and as before.
    """
    sheet = "Correct the sheet: write the unit or direction that was meant."
    return (
        left_for_right(written),
        Hypothesis(
            "likely-turned-round",
            "the bearings were taken towards the peg",
            "Add or subtract 180° in this column.",
            each(turning(turned_round)),
        ),
        Hypothesis(
            "likely-north",
            "the bearings were from the other north (true for magnetic)",
            'Write the right word under "north".',
            each(turning(other_north(venue))),
        ),
        Hypothesis("likely-distance-unit", "the distances were yards", sheet, each(further(YARD_M))),
        Hypothesis("likely-distance-unit", "the distances were metres, not yards", sheet, each(further(1 / YARD_M))),
        Hypothesis("likely-distance-unit", "the distances were feet", sheet, each(further(FOOT_M))),
        Hypothesis("likely-distance-unit", "the distances were metres, not feet", sheet, each(further(1 / FOOT_M))),
        Hypothesis("likely-depth-unit", "the depths were feet, not metres", sheet, each(deeper(FOOT_M))),
        Hypothesis("likely-depth-unit", "the depths were metres, not feet", sheet, each(deeper(1 / FOOT_M))),
        Hypothesis("likely-depth-unit", "the depths were centimetres, not metres", sheet, each(deeper(0.01))),
        Hypothesis("likely-depth-unit", "the depths were metres, not centimetres", sheet, each(deeper(100.0))),
        Hypothesis(
            "likely-float-length",
            "the settings were measured to the float's tip",
            'Write setting_to = "tip" for that float in venue.toml.',
            each(float_length(venue, -1.0)),
        ),
        Hypothesis(
            "likely-float-length",
            "the settings leave the float's length out",
            'Check setting_to and length of that float in venue.toml; "hold" is the bottom eye or stop knot.',
            each(float_length(venue, 1.0)),
        ),
        *(
            Hypothesis(
                "likely-float-length",
                f'they were settings, not depths, for a float like "{held_by.name}"',
                'Write them in a column "setting", and the float\'s name beside them.',
                each(of_setting(held_by)),
            )
            for held_by in _floats_apart(venue)
        ),
    )


def _floats_apart(venue: Venue) -> list[Float]:
    """Floats of which no two are about as long."""
    found: list[Float] = []
    for one in sorted(venue.floats, key=lambda one: (one.below_surface_m, one.name)):
        if one.setting_to == "hold" and (not found or one.below_surface_m > found[-1].below_surface_m + LEAST_SHIFT_M):
            found.append(one)
    return found


def of_day(deeper_m: float, shows: str) -> tuple[Hypothesis, ...]:
    """A wrong record of the level, which moves all depths of a day alike: by what they are too deep, metres."""
    if abs(deeper_m) < LEAST_SHIFT_M:
        return ()
    by, side = shown_length(abs(deeper_m), shows), "higher" if deeper_m > 0 else "lower"
    return (
        Hypothesis(
            "likely-level",
            f"the water stood {by} {side} that day than the levels sheet shows",
            "Look up the level that day, and correct the levels sheet.",
            level_off(deeper_m),
            is_fitted=True,
        ),
        Hypothesis(
            LEVEL_SIGN,
            "the level mark were read the other way round (a dip for a board, or a board for a dip)",
            "Check [level] kind in venue.toml.",
            mark_turned,
        ),
    )


def of_hand(deeper_m: float, shows: str, *, gives_way: bool = True) -> tuple[Hypothesis, ...]:
    """A way of measuring that reads all depths too deep, or too shallow, by the same: so many metres."""
    if abs(deeper_m) < LEAST_SHIFT_M:
        return ()
    return (
        Hypothesis(
            "likely-bias",
            f"every depth were {shown_length(abs(deeper_m), shows)} {'less' if deeper_m > 0 else 'more'}",
            "Compare how they measure: slack line, hook height, where on the float or pole they read.",
            each(deeper_by(-deeper_m)),
            gives_way=gives_way,
            is_fitted=not gives_way,
        ),
    )


def of_change(deeper_m: float, sd_m: float, between: tuple[str, str], shows: str) -> Hypothesis:
    """A bed that became deeper by so much, between the last day of the older readings and the first of the newer.

    No mistake at all: the newer readings are compared as they would have been over the older bed.
    """
    by, give = shown_length(abs(deeper_m), shows), shown_length(sd_m, shows)
    side = "deeper" if deeper_m > 0 else "shallower"
    before, first = (written_day(day) for day in between)
    return Hypothesis(
        LIKELY_CHANGE,
        f"the bed there became {by} ± {give} {side} between {before} and {first}",
        f'If the bed was changed, draw that water in changes.geojson with date = "{between[1]}" (or write '
        f'[survey] since = "{between[1]}" in venue.toml, for the whole water): older readings there are then past.',
        each(deeper_by(-deeper_m)),
        is_fitted=True,
    )


def of_peg(venue: Venue, written: Venue, name: str, unplumbed: frozenset[str] = frozenset()) -> Iterator[Hypothesis]:
    """Mistakes that the readings of one peg share: left for right, another peg's, or its straight out is wrong.

    Parameters
    ----------
    venue, written : Venue
        With its pegs as adjusted, and as before.
    name : str
        Of the peg.
    unplumbed : frozenset of str
        Pegs without a reading: one of them is the likelier to have lost its own.
    """
    own = venue.peg(name)
    if own is None:
        return
    yield left_for_right(written)
    yield Hypothesis(
        "likely-facing",
        f"peg {name} faced square to the bank",
        'Check "facing" of this peg: the true bearing of 12 o\'clock.',
        peg_facing_shore(name),
    )

    def away(peg: Peg) -> float:
        return math.hypot(peg.easting - own.easting, peg.northing - own.northing)

    for peg in sorted(venue.pegs, key=lambda peg: (away(peg), peg.name))[1 : PEGS_TRIED + 1]:
        yield Hypothesis(
            "likely-peg",
            f"they were taken from peg {peg.name}",
            "Was the peg renumbered, or the name misread? Correct the rows, or add the alias in pegs.",
            each(from_peg(peg)),
            is_expected=peg.name in unplumbed,
        )
