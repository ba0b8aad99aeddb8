"""The page and the survey's own program give one answer: to the millimetre, to the last figure shown."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from maps.page.map_page import page_html
from maps.replies.question import TypedOptions, question_from
from maps.replies.spot_reply import TRIES_SHOWN
from survey.geometry.geodesy import Geodesy
from survey.records.floats import BARE_LINE, Float
from survey.records.readings import DistanceBy
from survey.spots.answer import DRY, OFF_WATER, UNSURVEYED, Answer, Today, answer
from survey.spots.cast import Spot, scatter_for
from survey.spots.float_setting import RigStyle, rounded
from survey.spots.next_settings import what_to_try
from survey.spots.questions import cast_spot
from survey.units import INCH_M, clock_text, feet_inches, format_metres
from tests.made.browser import PHONE
from tests.made.survey import EAST, NORTH, made_survey, moved_to

MM = 1e-3
SHARE = 1e-12
"""No unit. Browsers' exponentials differ in the last figure; a share is held to 1e-16."""
STATES = {OFF_WATER: "off water", UNSURVEYED: "unsurveyed", DRY: "dry", "": ""}


def python_answer(worked, asked: dict) -> Answer:
    """The survey's answer to what the page was asked."""
    venue, spread = worked.venue, worked.venue.standard_errors
    peg = venue.peg(asked["peg"])
    if "clock" in asked:
        hours, minutes = asked["clock"].split(":")
        angle, sd = (int(hours) % 12 + int(minutes) / 60) * 30.0, spread.half_hour_deg
    elif "angle_deg" in asked:
        angle, sd = asked["angle_deg"], spread.compass_deg
    else:
        angle, sd = asked["bearing_deg"] - peg.facing_deg, spread.compass_deg
    by: DistanceBy = asked.get("by", "estimated")
    spot = cast_spot(venue, peg, angle, asked["distance_m"])
    return answer(
        venue, worked.bed, spot, (peg.facing_deg + angle) % 360.0, scatter_for(spot.distance_m, by, sd, spread),
        Today(venue.mark.rise_m(asked["level"]), python_float(worked, asked["float"])),
    )  # fmt: skip


def python_float(worked, named) -> Float:
    if isinstance(named, dict):
        return Float("own", named["length_m"], named["tip_m"])
    return BARE_LINE if named is None else worked.venue.float_named(named)


def assert_same(page: dict, ours: Answer) -> None:
    assert page["state"] == STATES[ours.state]
    assert page["surveyed"] is ours.surveyed
    for key in ("depth_m", "sd_m", "lower_m", "upper_m", "datum_depth_m"):
        wanted = getattr(ours, key)
        assert page[key] == (None if wanted is None else pytest.approx(wanted, abs=MM)), key
    assert len(page["settings"]) == len(ours.settings)
    for one, other in zip(page["settings"], ours.settings, strict=True):
        assert one["rig"] == other.rig.value
        for key in ("setting_m", "lower_m", "upper_m"):
            wanted = getattr(other, key)
            assert one[key] == (None if wanted is None else pytest.approx(wanted, abs=MM)), key
        assert one["off_bottom_m"] == pytest.approx(other.off_bottom_m)
    assert abs(page["lon"] - ours.lon) < 1e-8
    assert abs(page["lat"] - ours.lat) < 1e-8


def random_questions(worked, count: int, seed: int) -> list[dict]:
    rng = np.random.default_rng(seed)
    names = [peg.name for peg in worked.venue.pegs]
    floats = [*(f.name for f in worked.venue.floats), None, {"length_m": 0.4, "tip_m": 0.03}]
    asked = []
    for k in range(count):
        direction = [
            # Not 3:00 or 9:00: along a straight bank such a cast lies on the outline, where rounding decides.
            {"clock": f"{rng.choice([10, 11, 12, 1, 2, 4, 6])}:{rng.choice(['00', '30'])}"},
            {"angle_deg": float(rng.uniform(-100, 100))},
            {"bearing_deg": float(rng.uniform(0, 360))},
        ][k % 3]
        asked.append({
            "peg": names[rng.integers(len(names))], **direction, "distance_m": float(rng.uniform(0.5, 70)),
            "by": str(rng.choice(["estimated", "wraps", "tape", "pole", "rod lengths"])),
            "level": float(rng.uniform(-0.3, 1.4)), "float": floats[rng.integers(len(floats))],
            "rig": str(rng.choice([rig.value for rig in RigStyle])),
        })  # fmt: skip
    return asked


ASK_ALL = "asked => asked.map(one => JSON.parse(JSON.stringify(window.lakeplumb.ask(one))))"


def test_questions_of_every_kind_get_the_survey_s_answer(worked, opened):
    asked = random_questions(worked, 240, seed=3)
    answers = opened().evaluate(ASK_ALL, asked)
    met = set()
    for one, page in zip(asked, answers, strict=True):
        ours = python_answer(worked, one)
        assert_same(page, ours)
        chosen = next((s for s in ours.settings if s.rig.value == one["rig"]), None)
        assert page["setting_m"] == (pytest.approx(chosen.setting_m, abs=MM) if chosen and chosen.setting_m else None)
        met |= {page["state"], *(s["why_not"] for s in page["settings"])}
    assert {"", "off water", "unsurveyed", "dry", "not_float", "not_here", "not_rig"} <= met


def test_settings_are_rounded_and_shown_as_the_survey_shows_them(worked, opened):
    asked = [one for one in random_questions(worked, 90, seed=11) if python_answer(worked, one).settings]
    page = opened()
    assert len(asked) > 20
    for one in asked:
        chosen = next(s for s in python_answer(worked, one).settings if s.rig.value == one["rig"])
        page.evaluate(ASK_ALL, [one])
        if chosen.setting_m is None:
            assert page.locator("#lead .state").inner_text() == "No setting here"
            continue
        shown = " ".join(page.locator(".set .first").inner_text().split())
        assert shown == feet_inches(rounded(chosen.setting_m, chosen.rig, INCH_M / 2))
        assert page.locator(".set .second").inner_text() == format_metres(rounded(chosen.setting_m, chosen.rig, 0.01))
        expect = f"Expect {feet_inches(chosen.lower_m)} to {feet_inches(chosen.upper_m)}"
        assert page.locator(".expect").inner_text().startswith(expect)


def test_what_to_try_next_is_the_survey_s_list(worked, opened):
    asked = {"peg": "12", "clock": "12:00", "distance_m": 15, "level": 0.37, "float": "Reed & Rush", "rig": "held"}
    ours = python_answer(worked, asked)
    setting = next(s for s in ours.settings if s.rig is RigStyle.HELD)
    page = opened()
    page.evaluate(ASK_ALL, [asked])
    page.evaluate("document.getElementById('others-fold').open = true")
    shown = [text.split("\n")[0] for text in page.locator(".tries li").all_inner_texts()]
    tries = what_to_try(setting, ours.depth, ours.held_by)
    assert shown == [feet_inches(rounded(t, setting.rig, INCH_M / 2)) for t in tries[:TRIES_SHOWN]]


def test_the_command_line_s_question_is_the_same_question(worked, opened):
    asked = TypedOptions("The point", "9.5", clock="1:30", level="0.5", float_name="long 'tom'")
    ours = question_from(worked.venue, asked).answered(worked.venue, worked.bed)
    page = {"peg": "The point", "clock": "1:30", "distance_m": 9.5, "level": 0.5, "float": "Long 'tom'"}
    assert_same(opened().evaluate(ASK_ALL, [page])[0], ours)


@pytest.mark.parametrize(("east", "north"), [(-20, 25), (10, -40), (32.2, 48), (30.2, 48), (5, 5)])
def test_a_tap_gets_the_survey_s_answer(worked, opened, east, north):
    geometry, venue = Geodesy(worked.venue.crs), worked.venue
    page = opened(PHONE)
    lon, lat = geometry.lonlat(EAST + east, NORTH + north)
    page.evaluate("at => map_1.setView(at, 21, { animate: false })", [float(lat), float(lon)])
    x, y = page.evaluate(
        "([lat, lon]) => { const m = document.querySelector('.map').getBoundingClientRect();"
        "const p = map_1.latLngToContainerPoint([lat, lon]); return [m.x + p.x, m.y + p.y] }",
        [float(lat), float(lon)],
    )
    page.touchscreen.tap(x, y)
    page.wait_for_timeout(100)
    told = page.evaluate("window.lakeplumb.answer")
    e, n = geometry.xy(told["lon"], told["lat"])
    assert math.hypot(e - EAST - east, n - NORTH - north) < 0.1, "the tap fell where the finger was"
    peg = venue.peg(told["peg"])
    bearing, distance = geometry.bearing_distance(peg.lon, peg.lat, e, n)
    assert told["distance_m"] == pytest.approx(distance, abs=MM)
    assert told["bearing_deg"] == pytest.approx(bearing, abs=1e-3)
    spot = Spot(peg.name, "tapped", (bearing - peg.facing_deg + 180) % 360 - 180, distance, float(e), float(n))
    scatter = scatter_for(distance, "estimated", venue.standard_errors.half_hour_deg, venue.standard_errors)
    today = Today(venue.mark.rise_m(0.37), venue.floats[0])
    ours = answer(venue, worked.bed, spot, bearing, scatter, today)
    assert_same(told, ours)
    assert told["angle_deg"] == pytest.approx(spot.angle_deg, abs=1e-3)
    assert clock_text(spot.angle_deg) in page.locator(".where").inner_text()


def test_spots_beside_a_wall_of_land_are_read_from_their_own_side(worked, opened):
    grid = worked.bed.grid
    rng = np.random.default_rng(5)
    split = np.argwhere(worked.bed.split)
    assert len(split) > 20
    spots = [
        (grid.eastings[j] + a * grid.cell_m, grid.northings[i] + b * grid.cell_m)
        for i, j in split for a, b in rng.uniform(0, 1, (4, 2))
    ]  # fmt: skip
    geometry = Geodesy(worked.venue.crs)
    peg = worked.venue.peg("12")
    asked = []
    for e, n in spots:
        bearing, distance = geometry.bearing_distance(peg.lon, peg.lat, e, n)
        asked.append({"peg": "12", "bearing_deg": bearing, "distance_m": distance, "level": 0.42, "float": None})
    answers = opened().evaluate(ASK_ALL, asked)
    for one, page in zip(asked, answers, strict=True):
        assert_same(page, python_answer(worked, one))
    assert {page["state"] for page in answers} >= {"", "off water"}


def test_the_page_s_normal_distribution_is_scipy_s(formulas):
    z = np.linspace(-6, 6, 49)
    shares = formulas.ask("z => z.map(normalShare)", z.tolist())
    assert np.abs(np.array(shares) - ndtr(z)).max() < SHARE


def test_lengths_and_clocks_are_written_as_the_survey_writes_them(formulas):
    lengths = [k / 1000 for k in range(-2000, 6000, 7)] + [0.125, 1.125, 2.375, 0.0127, 0.00635]
    angles = [k * 1.25 for k in range(-200, 300)]
    told = formulas.ask(
        "([lengths, angles]) => [lengths.map(l => feetInches(l)), lengths.map(l => feetInches(l, 1)),"
        "lengths.map(l => formatMetres(l)), angles.map(clockText)]",
        [lengths, angles],
    )
    assert told[0] == [feet_inches(length) for length in lengths]
    assert told[1] == [feet_inches(length, 1) for length in lengths]
    assert told[2] == [format_metres(length) for length in lengths]
    assert told[3] == [clock_text(angle) for angle in angles]


def test_a_venue_in_another_grid_and_far_from_its_meridian_answers_the_same(tmp_path, opened):
    # The same lake declared in a grid 5 degrees from its own meridian, where scale and convergence are large.
    worked = moved_to(made_survey(), "EPSG:32629")
    path = tmp_path / "moved.html"
    path.write_text(page_html(worked), encoding="utf-8")
    asked = [replace_level(one, 0.42) for one in random_questions(worked, 60, seed=8)]
    for one, page in zip(asked, opened(path=path).evaluate(ASK_ALL, asked), strict=True):
        assert_same(page, python_answer(worked, one))


def replace_level(asked: dict, level: float) -> dict:
    return {**asked, "level": level}


def test_a_deep_lake_keeps_its_depths(worked, tmp_path, opened):
    # 16 bits end at 32.767 m.
    bed = replace(worked.bed, depth_mm=np.where(worked.bed.on_water, worked.bed.depth_mm + 40_000, -1).astype(np.int32))
    deep = replace(worked, bed=bed)
    path = tmp_path / "deep.html"
    path.write_text(page_html(deep), encoding="utf-8")
    asked = {"peg": "12", "clock": "12:00", "distance_m": 15, "level": 0.42, "float": None}
    told = opened(path=path).evaluate(ASK_ALL, [asked])[0]
    assert told["depth_m"] > 40
    assert_same(told, python_answer(deep, asked))
