"""Readings from before the bed was changed are past: kept and shown, not used, and no mistakes."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

from survey.checks.row_account import account
from survey.errors import SourceRow
from survey.findings import Grade
from survey.records.fieldbook import Change, Edge, Fieldbook
from survey.records.readings import FloatSeen
from survey.reduction.past_readings import new_from, softened, without_past
from survey.reduction.reduce import reduce_soundings
from tests.made.readings import BOARD, DAY, SOUTH, VENUE, WEST, book, cast, level, moment, plumb, reading

PLACE = SourceRow("changes.geojson", 1)
LATER = DAY + timedelta(days=60)
CHANGED_ON = (DAY + timedelta(days=30)).date().isoformat()
EVERYWHERE = Change(PLACE, CHANGED_ON)
NORTH_HALF = Change(PLACE, CHANGED_ON, MultiPolygon([box(WEST, SOUTH + 20, WEST + 120, SOUTH + 80)]), "desilted")
BOTH_DAYS = (level(0.0), level(0.0, LATER, 3))


def told(*readings, changes=(EVERYWHERE,), **more) -> tuple[Fieldbook, tuple]:
    return without_past(replace(book(*readings, levels=BOTH_DAYS, **more), changes=tuple(changes)))


def test_with_nothing_changed_the_fieldbook_is_the_same():
    given = book(reading())
    assert without_past(given) == (given, ())


def test_a_day_retires_all_that_is_older_and_nothing_of_that_day_or_later():
    days = [DAY, DAY + timedelta(days=30), LATER]
    left, findings = told(*(reading(row, when=moment(day)) for row, day in enumerate(days, start=2)))
    assert [(r.use, r.new_from) for r in left.readings] == [(False, CHANGED_ON), (True, ""), (True, "")]
    (note,) = findings
    assert (note.grade, note.code, note.place) == (Grade.NOTE, "past-readings", PLACE)
    assert "1 reading from before is shown as past, not used; 2 readings are from that day or later" in note.problem


def test_a_polygon_retires_only_what_lies_inside():
    # Peg 2 faces north from the south bank: 15 m out lies outside, 25 m out inside.
    left, (note,) = told(reading(2), reading(3, where=cast(0, 25)), changes=[NORTH_HALF])
    assert [r.use for r in left.readings] == [True, False]
    assert "in this polygon is new from 2 June 2026 (desilted)" in note.problem
    assert "Plumb it again" in note.remedy


def test_a_past_bound_is_past_and_joins_no_bracket():
    rows = [plumb(2, 1.2, FloatSeen.SUNK), plumb(3, 1.6, FloatSeen.FLAT), plumb(4, 1.3, when=moment(LATER))]
    left, _ = told(*rows)
    soundings, findings = reduce_soundings(left)
    assert soundings.table["kind"].tolist() == ["at_least", "at_most", "depth"]
    assert soundings.table["use"].tolist() == [False, False, True]
    assert soundings.table["new_from"].tolist() == [CHANGED_ON, CHANGED_ON, ""]
    assert account(left, soundings, findings).adds_up


def test_an_undated_reading_counts_as_past_and_is_told_of():
    left, findings = told(reading(2, when=None), reading(3, when=moment(LATER)))
    assert [r.use for r in left.readings] == [False, True]
    (undated,) = [f for f in findings if f.code == "past-undated"]
    assert (undated.grade, undated.place.row, undated.remedy) == (Grade.WARNING, 2, "Write their dates.")


def test_a_past_reading_that_lands_ashore_is_no_mistake():
    rows = [reading(2, where=cast(0, 200)), reading(3, where=cast(0, 200), when=moment(LATER))]
    left, _ = told(*rows)
    grades = {f.place.row: f.grade for f in softened(reduce_soundings(left)[1], left) if f.code == "on-land"}
    assert grades == {2: Grade.NOTE, 3: Grade.ERROR}


def test_a_level_that_only_past_readings_miss_is_a_note():
    left, _ = told(reading(2), reading(3, when=moment(LATER)))
    for kept, grade in (((BOTH_DAYS[1],), Grade.NOTE), ((BOTH_DAYS[0],), Grade.WARNING)):
        (unknown,) = [f for f in reduce_soundings(replace(left, levels=kept))[1] if f.code == "level-unknown"]
        assert unknown.grade is grade


def test_of_two_changes_of_one_spot_the_later_counts():
    later = replace(NORTH_HALF, new_from=LATER.date().isoformat())
    inside = np.array([[WEST + 5, SOUTH + 50]])
    for changes in ([EVERYWHERE, later], [later, EVERYWHERE]):
        assert new_from(changes, np.array(["2026-05-03"]), inside) == [later.new_from]


def test_an_edge_of_before_is_past_where_it_lies_inside():
    edge = Edge(SourceRow("edges.gpx", 1), "", moment(DAY), ((WEST + 10, SOUTH + 1), (WEST + 10, SOUTH + 41)), 1.0)
    given = replace(book(reading(), levels=(level(-0.6),)), edges=(edge,), changes=(NORTH_HALF,))
    table = reduce_soundings(given)[0].table
    walked = table.loc[table["method"] == "edge"]
    assert (walked["use"] == (walked.geometry.y < SOUTH + 20)).all()
    assert 0 < walked["use"].sum() < len(walked)


def test_a_margin_depth_that_nobody_dated_is_named():
    pegs = tuple(replace(peg, margin_depth_m=0.4) if peg.name == "1" else peg for peg in VENUE.pegs)
    _, findings = told(reading(), venue=replace(VENUE, pegs=pegs, mark=BOARD))
    (note,) = [f for f in findings if f.code == "past-margins"]
    assert note.problem.endswith("peg 1")


@given(
    st.lists(st.tuples(st.sampled_from(["", "2025-12-31", "2026-03-01", "2026-07-09"]), st.floats(0, 80)), max_size=12),
    st.randoms(use_true_random=False),
)
def test_what_is_past_does_not_depend_on_the_order_of_readings_or_changes(spots, random):
    changes = [NORTH_HALF, Change(PLACE, "2026-03-01"), Change(PLACE, "2026-07-10", NORTH_HALF.area)]
    days = np.array([day for day, _ in spots], "U10")
    xy = np.array([[WEST + 5.0, SOUTH + north] for _, north in spots], float).reshape(-1, 2)
    found = new_from(changes, days, xy)
    turn = list(range(len(spots)))
    random.shuffle(turn)
    random.shuffle(changes)
    assert new_from(changes, days[turn], xy[turn]) == [found[k] for k in turn]
    assert all(
        (day == "" or day < since) if since else day >= "2026-03-01"
        for (day, _), since in zip(spots, found, strict=True)
    )
