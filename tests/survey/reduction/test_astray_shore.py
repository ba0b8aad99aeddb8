"""An outline on the wrong side of a road, or an island that is none: told once, for all readings that found water."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

from survey.checks.row_account import account
from survey.errors import SourceRow
from survey.findings import Grade
from survey.records.fieldbook import Decision
from survey.reduction.reduce import reduce_soundings
from tests.made.readings import ISLAND, SOUTH, VENUE, WEST, book, cast, peg, reading

PEGS = tuple(peg(name, x, -6.0, 0) for name, x in (("1", 20.0), ("2", 40.0), ("3", 60.0), ("9", 110.0)))
"""At the true edge of water that reaches 6 m further south than the outline has it."""
LAKE = replace(VENUE, pegs=PEGS, water=MultiPolygon([box(WEST, SOUTH, WEST + 120, SOUTH + 80)]))
NEAR = tuple((name, far) for name in "123" for far in (1.0, 3.0))


def survey(spots, venue=LAKE, **more):
    rows = tuple(
        reading(k, peg=name, where=cast(0, far), depth_m=0.6, **more) for k, (name, far) in enumerate(spots, start=2)
    )
    return replace(book(*rows), venue=venue)


def codes(given):
    return [finding.code for finding in reduce_soundings(given)[1]]


def test_one_finding_names_the_stretch_of_shore_for_all_rows():
    soundings, findings = reduce_soundings(survey([*NEAR, ("1", 20.0)]))
    (told,) = findings
    assert (told.code, told.grade) == ("shore-astray", Grade.ERROR)
    assert told.rows == tuple(SourceRow("readings.csv", row) for row in range(2, 8))
    assert "6 readings of pegs 1, 2, 3 found water where the outline has land: along 40 m of the south" in told.problem
    assert "half of them 4 m ashore or more, at most 5 m" in told.problem
    assert "road" in told.remedy
    assert len(soundings) == 1


def test_every_row_is_accounted_for():
    given = survey(NEAR)
    given = replace(given, row_places=tuple(r.place for r in given.readings), rows=len(NEAR))
    counted = account(given, *reduce_soundings(given))
    assert counted.adds_up
    assert counted.in_findings == len(NEAR)


@pytest.mark.parametrize("spots", [NEAR[:4], [("1", far) for far in (1.0, 1.5, 2.0, 2.5, 3.0, 3.5)]])
def test_few_readings_or_one_peg_s_are_told_row_by_row(spots):
    assert codes(survey(spots)) == ["on-land"] * len(spots)


def test_far_along_the_shore_is_another_stretch():
    given = survey([*NEAR, ("9", 1.0)])
    assert codes(given) == ["shore-astray", "on-land"]
    assert {f.code: len(f.rows) for f in reduce_soundings(given)[1]} == {"shore-astray": 6, "on-land": 1}


def test_rows_set_aside_or_decided_about_keep_a_finding_of_their_own():
    given = survey([*NEAR, ("2", 2.0), ("2", 2.5)])
    readings = (replace(given.readings[0], use=False), *given.readings[1:])
    about = given.readings[1].place
    decided = Decision(SourceRow("decisions.csv", 2), "", about, "noted")
    findings = reduce_soundings(replace(given, readings=readings, decisions=(decided,)))[1]
    assert [(f.code, f.place.row) for f in findings] == [("on-land", 3), ("shore-astray", 4), ("on-land", 2)]


def test_a_stretch_over_the_start_of_the_ring_is_one():
    corner = tuple(peg(name, x, y, face) for name, x, y, face in (("1", 5.0, -6.0, 0), ("2", -6.0, 5.0, 90)))
    given = survey([(name, far) for name in "12" for far in (1.0, 2.0, 3.0)], replace(LAKE, pegs=corner))
    (told,) = reduce_soundings(given)[1]
    assert "along 10 m of the south-west shore" in told.problem


def test_an_island_that_many_plumbed_is_told_once():
    pegs = (peg("1", 20, -0.5, 0), peg("2", 0, 40, 90))
    given = replace(
        survey([]), readings=tuple(
            reading(k, peg=name, where=cast(angle, far))
            for k, (name, angle, far) in enumerate(
                [("1", 41.0, 53.0), ("1", 40.0, 54.0), ("1", 42.0, 52.0), ("2", 0.0, 55.0), ("2", 2.0, 54.0),
                 ("2", -2.0, 56.0)], start=2,
            )
        ), venue=replace(VENUE, pegs=pegs),
    )  # fmt: skip
    (told,) = reduce_soundings(given)[1]
    assert told.code == "island-astray"
    assert (
        f"6 readings of pegs 1, 2 found water where the outline has an island of {ISLAND.area:.0f} m²" in told.problem
    )


@given(st.permutations(NEAR))
@settings(max_examples=20, deadline=None)
def test_order_changes_nothing(spots):
    given = survey(NEAR)
    order = [NEAR.index(spot) for spot in spots]
    turned = replace(given, readings=tuple(given.readings[k] for k in order))
    assert reduce_soundings(turned)[1] == reduce_soundings(given)[1]
