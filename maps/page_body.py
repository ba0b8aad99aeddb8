"""The markup of the page: headings, forms, the words, the table for where no program runs.

Whatever the sources say is escaped here; the page's program gets its data as JSON that holds no markup.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader
from markupsafe import Markup

from maps.drawnmap import FORBIDDEN
from maps.enquiry import spot_answers, usual_float
from maps.summary import datum_words, days_words
from survey.floats import Rig, Setting, rounded
from survey.spots import DRY, OFF_WATER, UNSURVEYED, Answer
from survey.units import INCH_M, clock_text, feet_inches, metres
from survey.venue import BARE_LINE, Venue
from survey.workup import WorkedSurvey

MAP_ID = "venue-map"
NO_RISE_M = 0.0005
STATE_KEYS = {UNSURVEYED: "unsurveyed", DRY: "dry", OFF_WATER: "off water"}


def own_text(name: str) -> str:
    """A file of the page's own, as text."""
    return (files("maps") / "page" / name).read_text(encoding="utf-8")


@cache
def words() -> dict[str, Any]:
    """The page's words, all of them in one file."""
    return json.loads(own_text("words.json"))


def page_body(worked: WorkedSurvey, shown_m: float, still: str, data: dict[str, Any]) -> str:
    """Everything inside the page's body but its scripts.

    Parameters
    ----------
    worked : WorkedSurvey
    shown_m : float
        What the level mark shows, metres.
    still : str
        The still drawing, SVG markup with its texts escaped.
    data : dict
        JSON values for the page's program.
    """
    venue, said = worked.venue, words()
    level = level_words(venue, shown_m)
    values = {
        "w": said, "venue": venue, "map_id": MAP_ID, "days": days_words(worked.days), "datum": datum_words(venue.mark),
        "level": level, "holdout": _holdout_words(worked), "no_script": _no_script_words(venue, level),
        "rigs": [said[f"rig_{rig.value}"] for rig in Rig], "spots": _spot_rows(worked, shown_m),
        "drawing": Markup(still), "data": Markup(embedded({**data, "words": said})),  # noqa: S704 - see the parameters
    }  # fmt: skip
    return filled("page.html", values)


def filled(template: str, values: dict[str, Any]) -> str:
    """A template of the page's own with values put in, every text escaped."""
    own = Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True, loader=FunctionLoader(own_text))
    return FORBIDDEN.sub("", own.get_template(template).render(values))


def embedded(data: dict[str, Any]) -> str:
    """JSON that may stand inside a script element: strict, and without a sign that markup is made of."""
    written = json.dumps(data, allow_nan=False, ensure_ascii=True, separators=(",", ":"))
    return written.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def level_words(venue: Venue, shown_m: float) -> str:
    """What the level mark shows and what that means against the map."""
    if venue.mark.kind is None:
        return words()["level_none"]
    rise = venue.mark.rise_m(shown_m)
    key = "level_at" if abs(rise) < NO_RISE_M else "level_up" if rise > 0 else "level_down"
    return f"{metres(shown_m)}: {words()[key].format(rise=metres(abs(rise)))}."


def _no_script_words(venue: Venue, level: str) -> str:
    held_by, said = usual_float(venue), words()
    named = said["no_script_bare"] if held_by == BARE_LINE else said["no_script_float"].format(name=held_by.name)
    return said["no_script"].format(float=named, level=level.rstrip("."))


def _holdout_words(worked: WorkedSurvey) -> str:
    held = worked.holdout
    if held is None:
        return words()["holdout_none"]
    inside, half = (round(held.readings * held.within[share]) for share in (0.95, 0.5))
    values = {"pegs": held.pegs, "readings": held.readings, "inside": inside, "half": half}
    return words()["holdout"].format(**values, rmse=_both(worked.venue, held.rmse_m))


def _both(venue: Venue, length_m: float) -> str:
    first, second = _in_order(venue, feet_inches(length_m), metres(length_m))
    return f"{first} ({second})"


WHY_NOT = {
    "dry at this level": "not_dry_short",
    "too shallow for this float": "not_float_short",
    "not here: three feet of water or less": "not_here_short",
    "too shallow for this rig": "not_rig_short",
}
"""The survey's reasons for no setting, and the page's short words for them."""

Cell = tuple[str, str]
"""What is said first, and what stands under it."""


def _spot_rows(worked: WorkedSurvey, shown_m: float) -> list[tuple[str, list[list[Cell]]]]:
    """The table for where no program runs: for each peg its spots, a row each."""
    venue = worked.venue
    rows = [(answer.spot.peg, spot_row(venue, answer)) for answer in spot_answers(worked, shown_m)]
    pegs = [(peg.name, [row for name, row in rows if name == peg.name]) for peg in venue.pegs]
    return [(words()["peg_title"].format(peg=name), of_peg) for name, of_peg in pegs if of_peg]


def spot_row(venue: Venue, answer: Answer) -> list[Cell]:
    """Spot, water and the setting of each rig, as they stand where no program runs."""
    spot = answer.spot
    where = spot.name, f"{clock_text(spot.angle_deg)}, {metres(spot.distance_m, 1)}"
    if not answer.settings or answer.depth_m is None:
        return [where, (words()[f"state_{STATE_KEYS[answer.state]}_short"], ""), *(("–", "") for _ in Rig)]
    depth = _in_order(venue, feet_inches(answer.depth_m), metres(answer.depth_m))
    return [where, depth, *(_set_words(venue, setting) for setting in answer.settings)]


def _set_words(venue: Venue, setting: Setting) -> Cell:
    if setting.setting_m is None:
        return words()[WHY_NOT[setting.why_not]], ""
    feet = feet_inches(rounded(setting.setting_m, setting.rig, INCH_M / 2))
    return _in_order(venue, feet, metres(rounded(setting.setting_m, setting.rig, 0.01)))


def _in_order(venue: Venue, feet: str, metric: str) -> Cell:
    return (feet, metric) if venue.shows == "feet" else (metric, feet)
