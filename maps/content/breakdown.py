"""The sum behind a setting, in terms that add up as they are printed.

Each term is a whole number of steps; what rounding leaves over is a term of its own. The page does the same.
"""

from __future__ import annotations

from dataclasses import dataclass

from survey.spots.answer import Answer
from survey.spots.float_setting import Setting, rounded
from survey.units import INCH_M
from survey.units.lengths import SHOWN_AS_NOTHING_M

FINE_M = {"feet": INCH_M / 4, "metres": 0.01}
"""Steps in which terms are printed."""
SET_M = {"feet": INCH_M / 2, "metres": 0.01}
"""Steps in which a setting can be set."""


@dataclass(frozen=True)
class Term:
    """One term: signed metres, a whole number of steps, and what it is."""

    value_m: float
    words: str


def terms(answer: Answer, setting: Setting, shows: str) -> tuple[list[Term], float]:
    """The terms of a setting and their sum, the setting as it can be set, metres.

    Parameters
    ----------
    answer : Answer
    setting : Setting
        With a value.
    shows : {"feet", "metres"}
    """
    held_by, step = answer.held_by, FINE_M[shows]
    off, bait = setting.off_bottom_m, setting.bait_m
    parts = [
        (answer.datum_depth_m or 0.0, "at datum", True),
        (answer.rise_m, "level", abs(answer.rise_m) >= SHOWN_AS_NOTHING_M),
        (-held_by.length_m, "float", held_by.setting_to == "hold" and held_by.length_m > 0),
        (held_by.tip_m, "tip", held_by.tip_m > 0),
        (-off, "off the bottom" if off > 0 else "line on the bottom", off != 0),
        (-bait, "bait below the hook", bait > 0),
    ]
    found = [Term(round(value / step) * step, words) for value, words, wanted in parts if wanted]
    total = rounded(setting.setting_m or 0.0, setting.rig, SET_M[shows])
    left = round((total - sum(term.value_m for term in found)) / step)
    if left:
        found.append(Term(left * step, "rounding"))
    return found, total
