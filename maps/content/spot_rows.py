"""Suggested spots with their settings as rows of a table."""

from __future__ import annotations

from functools import lru_cache

from maps.language.catalogue import Words, catalogue_of
from survey.records.venue import Venue
from survey.spots.answer import DRY, OFF_WATER, UNSURVEYED, Answer
from survey.spots.float_setting import FloatSetting, RigStyle, rounded
from survey.spots.questions import question_of_spot, usual_float
from survey.units import (
    INCH_M,
    clock_text,
    feet_inches,
)
from survey.workup import WorkedSurvey


@lru_cache(maxsize=2)
def spot_answers(worked: WorkedSurvey, shown_m: float) -> tuple[Answer, ...]:
    """The answer for each suggested spot, with the venue's usual float: the same for page and sheets."""
    held_by = usual_float(worked.venue)
    questions = (question_of_spot(worked.venue, spot, shown_m, held_by) for spot in worked.spots)
    return tuple(question.answered(worked.venue, worked.bed) for question in questions)


STATE_KEYS = {UNSURVEYED: "unsurveyed", DRY: "dry", OFF_WATER: "off water"}

WHY_NOT = {
    "dry at this level": "not_dry_short",
    "too shallow for this float": "not_float_short",
    "not here: three feet of water or less": "not_here_short",
    "too shallow for this rig": "not_rig_short",
}
"""The survey's reasons for no setting, and the page's short words for them."""

Cell = tuple[str, str]
"""The first line, and what stands under it."""


def _spot_rows(worked: WorkedSurvey, shown_m: float) -> list[tuple[str, list[list[Cell]]]]:
    """The table for where no program runs: for each peg its spots, a row each."""
    venue = worked.venue
    rows = [(answer.spot.peg, spot_row(venue, answer)) for answer in spot_answers(worked, shown_m)]
    pegs = [(peg.name, [row for name, row in rows if name == peg.name]) for peg in venue.pegs]
    said = catalogue_of(venue)
    return [(said.say("peg_title", peg=name), of_peg) for name, of_peg in pegs if of_peg]


def spot_row(venue: Venue, answer: Answer) -> list[Cell]:
    """Spot, water and the setting of each rig, as they stand where no program runs."""
    spot, said = answer.spot, catalogue_of(venue)
    where = said.spot(spot.name), f"{clock_text(spot.angle_deg)}, {said.distance(spot.distance_m, venue.distances)}"
    if not answer.settings or answer.depth_m is None:
        return [where, (said[f"state_{STATE_KEYS[answer.state]}_short"], ""), *(("–", "") for _ in RigStyle)]
    depth = said.in_order(feet_inches(answer.depth_m), said.metres(answer.depth_m), venue.shows)
    return [where, depth, *(_set_words(said, setting, venue.shows) for setting in answer.settings)]


def _set_words(said: Words, setting: FloatSetting, shows: str) -> Cell:
    if setting.setting_m is None:
        return said[WHY_NOT[setting.why_not]], ""
    feet = feet_inches(rounded(setting.setting_m, setting.rig, INCH_M / 2))
    return said.in_order(feet, said.metres(rounded(setting.setting_m, setting.rig, 0.01)), shows)
