"""Decisions answer findings, and say so; what answers nothing is named."""

from dataclasses import replace

import pytest

from survey.checks.decisions import answered, tagged
from survey.checks.row_account import account
from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.records.fieldbook import Decision
from survey.records.readings import FloatSeen
from survey.reduction.reduce import reduce_soundings
from tests.made.readings import book, bracket, cast, plumb, reading

ROW = SourceRow("readings.csv", 7)
MISFIT = Finding(Grade.WARNING, "misfit", SourceRow("readings.csv", 7, "depth"), "it does not fit", "Plumb it again.")
UNREAD = Finding(Grade.ERROR, "depth-unread", ROW, '"deep" is not a length', "Correct the cell.")


def decision(code="misfit", answer="keep", row=ROW) -> Decision:
    return Decision(SourceRow("decisions.csv", 2), code, row, answer, "Maud", "looked again")


@pytest.mark.parametrize("code", ["misfit", ""])
def test_an_answered_finding_is_a_note_that_says_who_and_why(code):
    (told,) = answered([MISFIT], [decision(code)])
    assert told.grade is Grade.NOTE
    assert told.problem == "it does not fit; decided: to be kept by Maud (looked again), decisions.csv, row 2"
    assert told.remedy == ""


def test_other_rows_and_codes_stay_open():
    told = answered([MISFIT, UNREAD], [decision("misfit", row=SourceRow("readings.csv", 8))])
    assert [f.code for f in told] == ["misfit", "depth-unread", "decision-idle"]
    assert told[0] == MISFIT
    assert "readings.csv, row 8 has no finding misfit any more" in told[2].problem


def test_a_finding_about_several_rows_is_answered_once_all_of_them_are():
    also = (SourceRow("readings.csv", 8), SourceRow("readings-b.csv", 2))
    shared = replace(MISFIT, also=also)
    every = [decision(row=row) for row in shared.rows]
    (open_still,) = answered([shared], every[:2])
    assert open_still == shared
    (told,) = answered([shared], every)
    assert told.grade is Grade.NOTE


def test_a_decision_answers_only_what_it_is_about():
    told = answered([UNREAD], [decision("misfit")])
    assert [(f.code, f.grade) for f in told] == [("depth-unread", Grade.ERROR), ("decision-idle", Grade.WARNING)]


def test_what_is_said_of_a_decision_is_not_answered_by_it():
    taken = Finding(Grade.NOTE, "decision-taken", ROW, "left out by Maud", "")
    assert answered([taken], [decision("", "out")]) == (taken,)


def test_no_decision_makes_a_depth_of_what_cannot_be_read():
    (told,) = answered([UNREAD], [decision("depth-unread", "keep")])
    assert (told.grade, told.remedy) == (Grade.ERROR, "Correct the cell.")
    (told,) = answered([UNREAD], [decision("depth-unread", "out")])
    assert told.grade is Grade.NOTE


def test_rows_left_out_need_no_finding():
    assert answered([], [decision("", "out")]) == ()


def test_every_row_ends_as_a_depth_a_bound_or_in_a_finding():
    ashore = reading(9, where=cast(0, 200))
    rows = [reading(5), *bracket(1.0, 1.2), plumb(6, seen=FloatSeen.SUNK, where=cast(10, 12)), ashore]
    given = book(*rows)
    soundings, findings = reduce_soundings(given)
    ended = account(given, soundings, findings)
    assert (ended.rows, ended.as_depths, ended.as_bounds, ended.in_findings) == (5, 2, 1, 2)
    assert ended.adds_up


def test_a_row_that_is_lost_is_named():
    given = book(reading(5))
    soundings, findings = reduce_soundings(book())
    ended = account(given, soundings, findings)
    assert ended.lost == (SourceRow("readings.csv", 5),)
    assert not ended.adds_up


def test_a_finding_has_the_tag_of_the_reading_in_its_row():
    other = Finding(Grade.NOTE, "level-far", SourceRow("levels.csv", 7), "far")
    told = tagged([MISFIT, other], {("readings.csv", 7): "K7MD-4PX4"})
    assert [f.tag for f in told] == ["K7MD-4PX4", ""]
    assert str(told[0]).startswith('readings.csv, row 7, column "depth" [K7MD-4PX4]: it does not fit.')


def test_a_decision_by_tag_that_answers_nothing_is_to_be_deleted():
    (told,) = answered([], [replace(decision(), by_tag=True)])
    assert (told.code, told.remedy) == ("decision-idle", "Delete the decision.")
