"""A line of spots along one cast: depth, range and setting at even steps from the bank outward."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from maps.content.breakdown import SET_M
from maps.content.rounding import to_mm
from maps.replies.rig_text import fine, table_lines
from maps.replies.spot_reply import Reply
from survey.bed.grid import Bed
from survey.errors import QueryError
from survey.spots.answer import OFF_WATER, Answer
from survey.spots.float_setting import RigStyle, rounded
from survey.spots.questions import cast_spot
from survey.units import shown_length

MOST_SPOTS = 60


def answers_along(reply: Reply, bed: Bed, step_m: float) -> Iterator[Answer]:
    """Answers at even steps out to the chosen spot, where there is water.

    Raises
    ------
    QueryError
        A step that is none, or makes too many spots.
    """
    question = reply.question
    far, counted = question.spot.distance_m, reply.venue.distances
    if not 0 < step_m <= far or far / step_m > MOST_SPOTS:
        raise QueryError(
            f"--every: {counted.shown(step_m)} does not divide {counted.shown(far)} into 1 to {MOST_SPOTS} steps."
        )
    for k in range(1, int(far / step_m + 1e-9) + 1):
        spot = cast_spot(reply.venue, question.peg, question.spot.angle_deg, k * step_m)
        answer = replace(question, spot=spot).answered(reply.venue, bed)
        if answer.state != OFF_WATER:
            yield answer


def line_lines(reply: Reply, bed: Bed, step_m: float) -> list[str]:
    """The line of spots as a table."""
    rig = reply.rig or next(iter(RigStyle))
    rows = [("Out", "Water", "Set", "Expect"), *(_row(reply, a, rig) for a in answers_along(reply, bed, step_m))]
    return [f"Along this cast, {rig.value}", *table_lines(rows)]


def _row(reply: Reply, answer: Answer, rig: RigStyle) -> tuple[str, str, str, str]:
    shows, out = reply.venue.shows, reply.venue.distances.shown(answer.spot.distance_m)
    setting = next((s for s in answer.settings if s.rig is rig), None)
    if answer.state or setting is None:
        return out, answer.state.rstrip(".").lower(), "", ""
    water = shown_length(answer.depth_m or 0.0, shows)
    if setting.setting_m is None or setting.lower_m is None or setting.upper_m is None:
        return out, water, "none", setting.why_not
    to_set = fine(rounded(setting.setting_m, rig, SET_M[shows]), shows)
    return out, water, to_set, f"{shown_length(setting.lower_m, shows)} to {shown_length(setting.upper_m, shows)}"


def line_json(reply: Reply, bed: Bed, step_m: float) -> list[dict[str, Any]]:
    """The line of spots for a program."""
    rig = reply.rig or next(iter(RigStyle))
    return [_spot_json(answer, rig) for answer in answers_along(reply, bed, step_m)]


def _spot_json(answer: Answer, rig: RigStyle) -> dict[str, Any]:
    setting = next((s for s in answer.settings if s.rig is rig), None)
    return {
        "distance_m": to_mm(answer.spot.distance_m),
        "depth_m": to_mm(answer.depth_m),
        "lower_m": to_mm(answer.lower_m),
        "upper_m": to_mm(answer.upper_m),
        "state": answer.state,
        "setting_m": None if setting is None else to_mm(setting.setting_m),
    }
