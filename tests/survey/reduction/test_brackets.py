"""Bounds of one cast become one depth; bounds that are not of one cast, or that cross, do not."""

import math
from dataclasses import replace
from datetime import timedelta

import pytest

from survey.errors import SourceRow
from survey.findings import Grade
from survey.records.readings import Cast, Direction, FloatSeen
from survey.reduction.reduce import reduce_soundings
from tests.made.readings import DAY, book, bracket, cast, level, moment, plumb


def test_a_bracket_is_its_middle_with_a_rectangular_variance():
    """Half-width a gives a²/3 (GUM, JCGM 100:2008, 4.3.7); the plummet's own 0.06 m is added in quadrature (5.1.2)."""
    soundings, findings = reduce_soundings(book(*bracket(1.4, 1.6)))
    row = soundings.table.iloc[0]
    assert len(soundings) == 1
    assert (row.kind, row.row) == ("depth", 2)
    assert row.depth_m == pytest.approx(1.5)
    assert row.sd_m == pytest.approx(math.sqrt(0.1**2 / 3 + 0.06**2))
    assert [(f.code, f.place.row) for f in findings] == [("bracketed", 3)]


def test_the_tightest_of_several_bounds_make_the_bracket():
    sunk, flat = bracket(1.4, 1.6)
    looser = plumb(4, 1.0, FloatSeen.SUNK), plumb(5, 1.9, FloatSeen.FLAT)
    soundings, findings = reduce_soundings(book(*looser, flat, sunk))
    assert soundings.table.depth_m.tolist() == [pytest.approx(1.5)]
    assert [f.place.row for f in findings] == [3, 4, 5]


def test_a_bracket_keeps_the_less_certain_level_and_the_hard_bed_of_either():
    sunk, flat = bracket(1.4, 1.6)
    week = (level(0.0), level(0.0, DAY + timedelta(days=10)))
    later = replace(flat, when=moment(DAY + timedelta(hours=9)), hard_depth_m=1.9)
    soundings, _ = reduce_soundings(book(sunk, later, levels=week))
    row = soundings.table.iloc[0]
    # The first row was plumbed as the mark was read (0.01 m), the second on the way to the next look.
    assert row.level_sd_m == pytest.approx(0.01)
    assert row.hard_depth_m == pytest.approx(1.9)


def test_undated_bounds_do_not_meet():
    soundings, _ = reduce_soundings(book(*bracket(1.4, 1.6, when=None)))
    assert soundings.table.kind.tolist() == ["at_least", "at_most"]


@pytest.mark.parametrize(("observer", "meets"), [("", False), ("Ann", True)])
def test_a_named_observer_is_one_person_across_sheets_and_a_blank_one_is_not(observer, meets):
    sunk, flat = bracket(1.4, 1.6, observer=observer)
    elsewhere = replace(flat, place=SourceRow("other.csv", 3), observer=observer.upper())
    soundings, findings = reduce_soundings(book(sunk, elsewhere))
    assert (soundings.table.kind.tolist() == ["depth"]) is meets
    assert [f.code for f in findings] == (["bracketed"] if meets else [])


def test_bounds_that_cross_by_little_still_meet_in_the_middle():
    soundings, _ = reduce_soundings(book(*bracket(1.55, 1.5)))
    assert soundings.table.depth_m.tolist() == [pytest.approx(1.525)]


def test_bounds_that_cross_by_more_than_three_sd_are_named_and_kept():
    # 3 * sqrt(2) * 0.06 m = 0.2546 m
    soundings, findings = reduce_soundings(book(*bracket(1.76, 1.5)))
    assert soundings.table.kind.tolist() == ["at_least", "at_most"]
    assert [(f.code, f.grade) for f in findings] == [("bracket-crossed", Grade.WARNING)]
    assert "deeper than 5 ft 9½ in" in findings[0].problem
    soundings, _ = reduce_soundings(book(*bracket(1.75, 1.5)))
    assert soundings.table.kind.tolist() == ["depth"]


@pytest.mark.parametrize(
    "other",
    [
        {"observer": "Ann"},
        {"when": moment(DAY + timedelta(hours=20))},
        {"where": cast(1.0)},
        {"where": cast(0, 15.5)},
        {"peg": "1"},
        {"use": False},
        {"when": None},
    ],
)
def test_bounds_of_another_cast_day_or_observer_do_not_meet(other):
    sunk, flat = bracket(1.4, 1.6)
    soundings, _ = reduce_soundings(book(sunk, replace(flat, **other)))
    assert soundings.table.kind.tolist() == ["at_least", "at_most"]


@pytest.mark.parametrize(("north", "meets"), [("true", True), ("grid", False)])
def test_bearings_from_different_norths_are_different_casts(north, meets):
    sunk, flat = bracket(1.4, 1.6, where=Cast(Direction("bearing", 10.0, "compass", "true"), 15.0, "tape"))
    other = Cast(Direction("bearing", 10.0, "compass", north), 15.0, "tape")
    soundings, _ = reduce_soundings(book(sunk, replace(flat, where=other)))
    assert (soundings.table.kind.tolist() == ["depth"]) is meets


def test_a_bearing_and_an_angle_of_as_many_degrees_are_different_casts():
    sunk, flat = bracket(1.4, 1.6)
    bearing = Cast(Direction("bearing", 0.0, "compass", "true"), 15.0, "tape")
    soundings, _ = reduce_soundings(book(sunk, replace(flat, where=bearing)))
    assert soundings.table.kind.tolist() == ["at_least", "at_most"]


def test_a_cast_said_by_clock_or_by_angle_is_the_same_cast():
    sunk, flat = bracket(1.4, 1.6)
    by_clock = Cast(Direction("clock", 360.0, "half hours"), 15.0, "tape")
    soundings, _ = reduce_soundings(book(sunk, replace(flat, where=by_clock)))
    assert soundings.table.kind.tolist() == ["depth"]
