"""One rule for what a peg sees: command, page and drawings agree, also for pegs that stand back from the bank."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from maps.drawing.peg_view import PegView, cast_at, in_sight
from maps.page.map_page import page_html
from survey.geometry.geodesy import Geodesy
from survey.geometry.sight import BANK_M, TRACED_M, Sight
from survey.records.venue import Peg
from survey.workup import WorkedSurvey
from tests.made.browser import ask
from tests.made.survey import made_survey

SET_BACK_M = (0.0, 4.0, 8.0)
LAND = "Land lies between"
GRAZES_M = 0.02
"""Sight is undecided this near to its tolerances: a buffer is round only to so much."""


def moved(peg: Peg, back_m: float) -> Peg:
    """The peg so much further from the water."""
    geometry = Geodesy("EPSG:32630")
    east, north = geometry.cast(peg.lon, peg.lat, peg.facing_deg + 180.0, back_m)
    lon, lat = geometry.lonlat(float(east), float(north))
    return replace(peg, easting=float(east), northing=float(north), lon=float(lon), lat=float(lat))


def stepped_back(back_m: float) -> WorkedSurvey:
    """The made survey with every peg so much further from the water."""
    worked = made_survey()
    pegs = tuple(moved(peg, back_m) for peg in worked.venue.pegs)
    venue = replace(worked.venue, pegs=pegs)
    return replace(worked, fieldbook=replace(worked.fieldbook, venue=venue), spots=())


def undecided(water: shapely.Geometry, peg: Peg, spots: np.ndarray) -> np.ndarray:
    """Spots of which a slightly larger or smaller tolerance would say otherwise."""
    stands = np.broadcast_to([peg.easting, peg.northing], spots.shape)
    both = [Sight(water.buffer(by)).from_pegs(stands, spots) for by in (-GRAZES_M, GRAZES_M)]
    return both[0] != both[1]


@pytest.mark.parametrize("back_m", SET_BACK_M)
def test_page_and_command_see_the_same_from_pegs_that_stand_back(back_m, opened, tmp_path):
    worked = stepped_back(back_m)
    path = tmp_path / "map.html"
    path.write_text(page_html(worked, None), encoding="utf-8")
    page, sight, rng = opened(path=path), Sight(worked.venue.water), np.random.default_rng(5)
    west, south, east, north = worked.venue.water.bounds
    seen_some = hidden_some = 0
    for k, peg in enumerate(worked.venue.pegs):
        spots = rng.uniform([west, south], [east, north], (120, 2))
        spots = spots[shapely.contains_xy(worked.venue.water, *spots.T)]
        ours = sight.from_pegs(np.broadcast_to([peg.easting, peg.northing], spots.shape), spots)
        page_says = np.array(page.evaluate("([k, spots]) => window.lakeplumb.sees(k, spots)", [k, spots.tolist()]))
        sure = ~undecided(worked.venue.water, peg, spots)
        np.testing.assert_array_equal(page_says[sure], ours[sure], err_msg=f"peg {peg.name}")
        seen_some, hidden_some = seen_some + int(ours.sum()), hidden_some + int((~ours).sum())
    assert seen_some > 300
    assert hidden_some > 100


@pytest.mark.parametrize("back_m", SET_BACK_M)
def test_a_cast_from_a_peg_set_back_is_answered_without_land_between_and_has_a_fan(back_m, opened, tmp_path):
    path = tmp_path / "map.html"
    path.write_text(page_html(stepped_back(back_m), None), encoding="utf-8")
    page = opened(path=path)
    answer = ask(page, peg="12", clock="12:00", distance_m=14 + back_m)
    assert answer["setting_m"] is not None
    assert LAND not in page.locator("#answer").inner_text()
    assert page.evaluate("map_1.getPane('fan').querySelectorAll('path').length") > 10


@pytest.mark.parametrize("back_m", SET_BACK_M)
def test_the_drawn_fan_sees_water_straight_out_of_a_peg_set_back(back_m):
    venue = stepped_back(back_m).venue
    peg = venue.peg("12")
    frame = PegView.of(peg, venue.crs)
    seen = in_sight(frame, venue.water, 45.0)
    sight = Sight(venue.water)
    for angle, out in seen.items():
        if out > TRACED_M + BANK_M:
            right, ahead = cast_at(angle, 0.98 * out)
            e, n = frame.venue(np.array([right]), np.array([ahead]))
            assert sight.from_peg((peg.easting, peg.northing), (float(e[0]), float(n[0]))), angle
    assert seen[0] > 30
    assert seen[0] == pytest.approx(stepped(venue.water, frame, 0.0, 45.0), abs=0.05)


def stepped(water: shapely.Geometry, frame: PegView, angle_deg: float, reach_m: float) -> float:
    """How far out the first water of a cast goes, walked in steps of two centimetres; gaps of a traced bank passed."""
    out = np.arange(0.0, reach_m + 1e-9, 0.02)
    e, n = frame.venue(out * np.sin(np.radians(angle_deg)), out * np.cos(np.radians(angle_deg)))
    wet = shapely.contains_xy(water, e, n)
    first = int(np.argmax(wet))
    dry = np.flatnonzero(~wet[first:])
    return float(out[first + dry[0] - 1] if dry.size else out[-1])


def test_a_peg_further_back_than_a_bank_sees_nothing():
    venue = stepped_back(BANK_M + TRACED_M + 3.0).venue
    peg = venue.peg("12")
    seen = in_sight(PegView.of(peg, venue.crs), venue.water, 45.0)
    assert seen[0] == 0.0
