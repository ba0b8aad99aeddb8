"""The markup of the page: headings, forms, the table for where no program runs.

Whatever the sources say is escaped here; the page's program gets its data as JSON that holds no markup.
"""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from maps.content.level_words import _holdout_words, _no_script_words, level_words
from maps.content.spot_rows import _spot_rows
from maps.drawing.description import description, hatch
from maps.language.catalogue import catalogue_of
from maps.page.shell import embedded, filled, frame_values
from survey.spots.float_setting import RigStyle
from survey.workup import WorkedSurvey

MAP_ID = "venue-map"


def _hatch() -> str:
    described = description("map", "live")
    return hatch("hatch", described["hatch"], described["unit"])


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
    venue, said = worked.venue, catalogue_of(worked.venue)
    level = level_words(venue, shown_m)
    values = {
        **frame_values(venue, worked.days), "map_id": MAP_ID, "days": said.days(worked.days),
        "datum": said.datum(venue.mark), "stated": [said.again(line) for line in venue.stated],
        "level": level, "holdout": _holdout_words(worked), "no_script": _no_script_words(venue, level),
        "rigs": [said.rig(rig) for rig in RigStyle], "spots": _spot_rows(worked, shown_m),
        "hatch": Markup(_hatch()),  # noqa: S704 - the page's own
        "drawing": Markup(still), "data": Markup(embedded(data)),  # noqa: S704 - see the parameters
    }  # fmt: skip
    return filled("page.html", values)
