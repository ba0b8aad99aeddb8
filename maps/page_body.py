"""The markup of the page: headings, forms, the table for where no program runs.

Whatever the sources say is escaped here; the page's program gets its data as JSON that holds no markup.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader
from markupsafe import Markup

from maps.drawnmap import FORBIDDEN
from maps.enquiry import spot_answers, usual_float
from maps.words import Words, words_of
from survey.floats import Rig, Setting, rounded
from survey.spots import DRY, OFF_WATER, UNSURVEYED, Answer
from survey.units import INCH_M, clock_text, feet_inches
from survey.venue import BARE_LINE, Venue
from survey.workup import WorkedSurvey

MAP_ID = "venue-map"
NO_RISE_M = 0.0005
STATE_KEYS = {UNSURVEYED: "unsurveyed", DRY: "dry", OFF_WATER: "off water"}


def own_text(name: str) -> str:
    """A file of the page's own, as text."""
    return (files("maps") / "page" / name).read_text(encoding="utf-8")


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
    venue, said = worked.venue, words_of(worked.venue)
    level = level_words(venue, shown_m)
    values = {
        **frame_values(venue, worked.days), "map_id": MAP_ID, "days": said.days(worked.days),
        "datum": said.datum(venue.mark), "stated": [said.again(line) for line in venue.stated],
        "level": level, "holdout": _holdout_words(worked), "no_script": _no_script_words(venue, level),
        "rigs": [said.rig(rig) for rig in Rig], "spots": _spot_rows(worked, shown_m),
        "drawing": Markup(still), "data": Markup(embedded(data)),  # noqa: S704 - see the parameters
    }  # fmt: skip
    return filled("page.html", values)


def frame_values(venue: Venue, days: tuple[str, str] | None) -> dict[str, Any]:
    """What the templates of every page need: words, the venue, its stamp and what to mind there."""
    said = words_of(venue)
    return {
        "w": said.texts,
        "venue": venue,
        "stamp": said.stamp(venue.mark, days),
        "cautions": [*(said.again(line) for line in venue.cautions), *said["cautions"]],
    }


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
    said = words_of(venue)
    if venue.mark.kind is None:
        return said["level_none"]
    rise = venue.mark.rise_m(shown_m)
    key = "level_at" if abs(rise) < NO_RISE_M else "level_up" if rise > 0 else "level_down"
    return said.say("level_shown", shown=said.metres(shown_m), level=said.say(key, rise=said.metres(abs(rise))))


def _no_script_words(venue: Venue, level: str) -> str:
    held_by, said = usual_float(venue), words_of(venue)
    bare = held_by == BARE_LINE
    named = said["no_script_bare"] if bare else said.say("no_script_float", name=held_by.name)
    return said.say("no_script", float=named, level=level.rstrip("."))


def _holdout_words(worked: WorkedSurvey) -> str:
    held, said = worked.holdout, words_of(worked.venue)
    if held is None:
        return said["holdout_none"]
    inside, half = (round(held.readings * held.within[share]) for share in (0.95, 0.5))
    missed = said.both(held.rmse_m, worked.venue.shows)
    return said.say("holdout", pegs=held.pegs, readings=held.readings, inside=inside, half=half, rmse=missed)


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
    said = words_of(venue)
    return [(said.say("peg_title", peg=name), of_peg) for name, of_peg in pegs if of_peg]


def spot_row(venue: Venue, answer: Answer) -> list[Cell]:
    """Spot, water and the setting of each rig, as they stand where no program runs."""
    spot, said = answer.spot, words_of(venue)
    where = said.spot(spot.name), f"{clock_text(spot.angle_deg)}, {said.metres(spot.distance_m, 1)}"
    if not answer.settings or answer.depth_m is None:
        return [where, (said[f"state_{STATE_KEYS[answer.state]}_short"], ""), *(("–", "") for _ in Rig)]
    depth = said.in_order(feet_inches(answer.depth_m), said.metres(answer.depth_m), venue.shows)
    return [where, depth, *(_set_words(said, setting, venue.shows) for setting in answer.settings)]


def _set_words(said: Words, setting: Setting, shows: str) -> Cell:
    if setting.setting_m is None:
        return said[WHY_NOT[setting.why_not]], ""
    feet = feet_inches(rounded(setting.setting_m, setting.rig, INCH_M / 2))
    return said.in_order(feet, said.metres(rounded(setting.setting_m, setting.rig, 0.01)), shows)
