"""What a survey leaves out is said: thin swims, sides never cast to, levels that are stale or jump."""

import math
from dataclasses import replace
from datetime import timedelta

import pytest
import shapely

from survey.checks.coverage import gaps_in_coverage
from survey.findings import Grade
from survey.records.fieldbook import Fieldbook
from survey.reduction.reduce import reduce_soundings
from tests.made.readings import DAY, book, cast, level, moment, reading


def told(given: Fieldbook, code: str):
    soundings, _ = reduce_soundings(given)
    return [f for f in gaps_in_coverage(given, soundings) if f.code == code]


def fan(*angles, peg="1"):
    return [reading(row, peg=peg, where=cast(angle, 15)) for row, angle in enumerate(angles, start=2)]


def test_a_swim_with_few_casts_is_named():
    (thin,) = told(book(*fan(-30, 0, 30)), "swim-thin")
    assert "peg 1 has only 3 casts in use" in thin.problem
    assert told(book(*fan(-30, 0, 0, 30)), "swim-thin") == []


def test_a_side_that_no_cast_went_to_is_named():
    (side,) = told(book(*fan(0, 5, 40, 45)), "side-unplumbed")
    assert "no cast left, where there is water" in side.problem
    assert told(book(*fan(-40, -30, 0, 40)), "side-unplumbed") == []


@pytest.mark.parametrize(
    ("angles", "said"),
    [
        ([30, 0, 40, 45, 25, 20, 50, 35, 5], "All go straight out or to the right: check"),
        ([-30, 0, -40, -45, -25, -20, -50, -35, -5], "All go straight out or to the left: check"),
        ([30, 0, 40, 45, 25, 20, 50, 35], ""),
        ([30, -5, 40, 45, 25, 20, 50, 35, 5], ""),
    ],
)
def test_a_peg_whose_casts_all_go_one_way_may_lack_a_sign(angles, said):
    (side,) = told(book(*fan(*angles)), "side-unplumbed")
    assert ("minus sign" in side.remedy) == bool(said)
    assert said in side.remedy


@pytest.mark.parametrize(
    ("angles", "missing"),
    [
        ((-40, -19.5, 40, 41), ""), ((-40, -20.5, 40, 41), "straight out"), ((-40, 19.5, 40, 41), ""),
        ((-40, 20.5, 40, 41), "straight out"), ((-20.5, 0, 40, 41), ""), ((-19.5, 0, 40, 41), "left"),
        ((-59.5, 0, 40, 41), ""), ((-60.5, 0, 40, 41), "left"), ((-40, 0, 5, 20.5), ""), ((-40, 0, 5, 19.5), "right"),
        ((-40, 0, 5, 59.5), ""), ((-40, 0, 5, 60.5), "right"),
    ],
)  # fmt: skip
def test_a_side_is_forty_degrees_wide_and_its_middle_forty_to_the_left_ahead_or_forty_to_the_right(angles, missing):
    told_of = [f.problem for f in told(book(*fan(*angles)), "side-unplumbed")]
    assert told_of == [f"peg 1 has no cast {missing}, where there is water in sight"] * bool(missing)


def test_a_side_without_water_is_not_asked_for():
    venue = book().venue
    corner = replace(venue.pegs[0], northing=venue.pegs[0].northing - 39.5)
    given = book(*fan(-40, -30, 0, -5), venue=replace(venue, pegs=(corner, venue.pegs[1])))
    assert told(given, "side-unplumbed") == []


def test_a_level_between_records_far_apart_is_stale():
    levels = (level(0.0, DAY - timedelta(days=20), 2), level(0.3, DAY + timedelta(days=20), 3))
    (stale,) = told(book(*fan(0), levels=levels), "level-stale")
    assert stale.problem == (
        "the level of 3 May 2026 (readings.csv row 2) is interpolated between records 40 days apart "
        "(levels.csv rows 2 to 3)"
    )


@pytest.mark.parametrize(("days", "stale"), [(7.5, 1), (7.0, 0)])
def test_a_level_is_stale_from_a_fortnight_on(days, stale):
    levels = (level(0.0, DAY - timedelta(days=days), 2), level(0.3, DAY + timedelta(days=days), 3))
    assert len(told(book(*fan(0), levels=levels), "level-stale")) == stale


def test_a_level_that_leaves_its_neighbours_and_comes_back_is_a_jump():
    shown = (0.40, 0.41, 1.40, 0.42, 0.80)
    levels = [level(s, DAY + timedelta(days=k), k + 2) for k, s in enumerate(shown)]
    (jump,) = told(book(*fan(0), levels=levels), "level-jump")
    assert (jump.grade, jump.place.row) == (Grade.WARNING, 4)
    assert (
        "1.40 m (4 ft 7 in) stands out between 0.41 m (1 ft 4 in) and 0.42 m (1 ft 4½ in) within 2 days" in jump.problem
    )
    rising = [level(s, DAY + timedelta(days=k), k + 2) for k, s in enumerate((0.1, 0.3, 0.6, 0.9))]
    assert told(book(*fan(0), levels=rising), "level-jump") == []


@pytest.mark.parametrize(
    ("days", "shown", "jumps"),
    [
        (5, (0.40, 0.60, 0.44), 1),  # 18 cm up and back within ten days
        (5, (0.40, 0.56, 0.44), 0),  # 14 cm may be rain
        (6, (0.40, 0.60, 0.44), 0),  # within twelve days it may be a flood
        (5, (0.40, 0.60, 0.48), 0),  # it did not come back
    ],
)
def test_a_jump_is_more_than_fifteen_centimetres_and_back_within_ten_days(days, shown, jumps):
    levels = [level(s, DAY + timedelta(days=days * k), k + 2) for k, s in enumerate(shown)]
    assert len(told(book(*fan(0), levels=levels), "level-jump")) == jumps


@pytest.mark.parametrize(("water_m", "sides"), [(13.0, 1), (11.0, 0)])
def test_a_side_is_asked_for_from_twelve_metres_of_water_on(water_m, sides):
    """Peg 1 looks east from the western bank; how far there is water is counted along a cast 40 degrees to its left."""
    venue = book().venue
    peg = venue.pegs[0]
    up = math.cos(math.radians(50.0)) * water_m
    water = shapely.MultiPolygon([shapely.box(peg.easting, peg.northing - 40, peg.easting + 60, peg.northing + up)])
    given = book(*fan(0, 5, 40, 45), venue=replace(venue, water=water))
    assert len(told(given, "side-unplumbed")) == sides


def test_a_reading_of_no_date_asks_for_no_level():
    assert told(book(reading(when=None)), "level-stale") == []
    assert moment().day == "2026-05-03"
