"""Casts of one hand that all go to one side are said, where there is water to the other."""

from dataclasses import replace

import pytest

from survey.checks.one_way import casts_one_way
from survey.findings import Finding, Grade
from survey.records.readings import Cast, Direction
from tests.made.readings import VENUE, book, cast, peg, reading

PEGS = tuple(peg(name, x, 1.0, 0) for name, x in (("1", 20), ("2", 40), ("3", 70), ("4", 90)))
ROUND = replace(VENUE, pegs=PEGS)


def told(angles, venue=ROUND, **more) -> list[Finding]:
    """What is said of casts at these angles, one after the other from each peg in turn."""
    rows = [
        reading(row, peg=venue.pegs[row % len(venue.pegs)].name, where=cast(angle), **more)
        for row, angle in enumerate(angles, start=2)
    ]
    return list(casts_one_way(book(*rows, venue=venue)))


def test_angles_that_have_lost_their_sign_are_noted_by_their_rows():
    (note,) = told([5, 20, 40, 0, 15, 30, 8, 50, 25, 0, 35, 10], observer="Ann")
    assert (note.grade, note.code, note.place.row) == (Grade.NOTE, "casts-one-way", 2)
    assert note.problem == (
        "all 10 casts by Ann that are not straight out go to the right (readings.csv rows 2 to 4, 6 to 10, 12 to 13), "
        "though there is water to the left at 4 pegs"
    )
    assert "write those to the left with a minus sign or with left, like -30" in note.remedy


def test_casts_to_the_left_alone_are_noted_too():
    (note,) = told([-5, -20, -40, 355, -15, -30, -8, -50, -25, -12])
    assert "casts that are not straight out go to the left" in note.problem
    assert "water to the right" in note.problem


@pytest.mark.parametrize("angles", [[20] * 9, [20] * 30 + [-3], [0, 2, -2] * 10])
def test_few_casts_or_one_to_the_other_side_are_left_alone(angles):
    assert told(angles) == []


def test_two_observers_are_not_taken_together():
    rows = [
        reading(k, peg=str(k // 2 % 4 + 1), where=cast(20 if k % 2 else -20), observer="Ann" if k % 2 else "Bo")
        for k in range(2, 26)
    ]
    assert ["by Ann" in f.problem for f in casts_one_way(book(*rows, venue=ROUND))] == [True, False]


def test_where_there_is_water_on_one_side_only_nothing_is_lost():
    """Pegs at the west end of the south bank, looking along it: land lies to their right."""
    along = tuple(peg(name, x, 1.0, 90 - 35) for name, x in (("1", 20), ("2", 40), ("3", 60), ("4", 80)))
    assert told([-20] * 20, replace(VENUE, pegs=along)) == []
    assert len(told([20] * 20, replace(VENUE, pegs=along))) == 1


def test_two_pegs_alone_may_have_their_reason():
    assert told([20] * 20, replace(VENUE, pegs=PEGS[:2])) == []


def test_the_clock_says_how_left_is_written():
    rows = [
        reading(k, peg=str(k % 4 + 1), where=Cast(Direction("clock", 30.0, "hours"), 15.0, "tape"))
        for k in range(2, 14)
    ]
    (note,) = casts_one_way(book(*rows, venue=ROUND))
    assert "as 11, 10 or 9" in note.remedy
    bearings = [replace(r, where=Cast(Direction("bearing", 30.0, "compass"), 15.0, "tape")) for r in rows]
    assert list(casts_one_way(book(*bearings, venue=ROUND))) == []
