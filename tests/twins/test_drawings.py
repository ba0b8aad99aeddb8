"""Still and live drawings of the same things are the same drawing, mark by mark: one description makes both."""

from __future__ import annotations

from itertools import product

import pytest

from maps.drawing.cross_section import Profile, Rigged, section
from maps.drawing.description import description
from maps.language.catalogue import catalogue_of
from survey.spots.float_setting import RigStyle
from tests.made.tolerances import DRAWN_TENTH
from tests.twins.primitives import assert_same_drawing, primitives
from tests.twins.test_answers import python_answer

CASTS = [("12", "12:30", 14.0), ("4", "10:00", 33.0), ("1", "2:00", 3.0), ("NA", "12:00", 60.0)]
FLOATS = ["Reed & Rush", "Tip ruler", None, {"length_m": 0.4, "tip_m": 0.03}]
SECTION_JS = """asked => { window.lakeplumb.ask(asked);
  return document.querySelector("#profile-drawing svg").outerHTML }"""


@pytest.mark.parametrize("shows", ["feet", "metres"])
def test_a_live_section_is_the_still_one_mark_by_mark(worked, opened, shows):
    page, venue, said = opened(), worked.venue, catalogue_of(worked.venue)
    page.locator("#units label", has_text=shows.title()).click()
    met = set()
    for (peg, clock, distance_m), held_by, rig in product(CASTS, FLOATS, RigStyle):
        asked = {
            "peg": peg,
            "clock": clock,
            "distance_m": distance_m,
            "level": 0.45,
            "float": held_by,
            "rig": rig.value,
        }
        live = page.evaluate(SECTION_JS, asked)
        answer = python_answer(worked, asked)
        along = section(venue, worked.bed, venue.peg(peg), answer.spot.angle_deg, distance_m, venue.mark.rise_m(0.45))
        described = description("section", "live") | {"width": float(live.split('viewBox="0 0 ')[1].split()[0])}
        setting = next((one for one in answer.settings if one.rig is rig and one.setting_m is not None), None)
        still = Profile(along, said.say("peg_title", peg=peg), shows, said, described)
        assert_same_drawing(primitives(still.drawn("", Rigged(answer, setting))), primitives(live), DRAWN_TENTH)
        met.add(setting is not None)
    assert met == {True, False}, "with a rig and without"
