"""Pegs whose left and right were swapped are named, those that were not are not, and several are one finding."""

from dataclasses import replace

import numpy as np
import pytest

from scripts.benches.club_surveys import Club, club_survey, mirrored
from scripts.benches.lakes import made_lakes
from survey.checks.systematic import diagnose
from survey.checks.systematic.diagnose import likely_causes
from survey.checks.systematic.groups import Group, suspect_groups
from survey.checks.systematic.hypotheses import MIRRORED, Hypothesis, left_for_right
from survey.checks.systematic.messages import finding
from survey.checks.systematic.testing import Diagnosis, FitCost, together
from survey.records.fieldbook import Fieldbook
from survey.workup import fit_survey
from tests.made.readings import VENUE, book, cast, reading

UNEVEN = ("0", "48")
"""Pegs of this survey beside which the bed differs by half a metre and more between left and right."""


@pytest.fixture(scope="module")
def club() -> Club:
    return club_survey(next(made_lakes()), 900, dense=False)


def causes(given: Fieldbook):
    fitted = fit_survey(given)
    return likely_causes(fitted.fieldbook, fitted.soundings, fitted.model)


def turned(club: Club, *pegs: str) -> Fieldbook:
    return replace(club.book, readings=tuple(mirrored(r) if r.peg in pegs else r for r in club.book.readings))


def test_pegs_that_were_mirrored_are_named_together_and_no_other(club):
    (told,) = causes(turned(club, *UNEVEN))
    assert told.code == MIRRORED
    assert told.problem.startswith("the readings of pegs 0, 48 (readings-hollin.csv rows ")
    assert "would agree if left and right were swapped" in told.problem
    assert "Reverse the signs" in told.remedy


def test_the_order_of_readings_changes_nothing(club):
    given = turned(club, *UNEVEN)
    assert causes(replace(given, readings=given.readings[::-1])) == causes(given)


def test_the_mirror_is_about_straight_out_as_written_not_as_adjusted():
    """An adjustment turns straight out to suit the mirrored readings; the mistake was made before it."""
    adjusted = replace(VENUE, pegs=tuple(replace(peg, facing_deg=peg.facing_deg + 25) for peg in VENUE.pegs))
    given = replace(book(reading(where=cast(30.0, 15.0)), reading(3, where=cast(-20.0, 12.0))), venue=adjusted)
    made = left_for_right(VENUE).rewrite(given)
    assert made.venue == VENUE
    assert [r.where.direction.value_deg for r in made.readings] == [-30.0, 20.0]


def _of_peg(peg: str, row: int, cost: float, code: str = MIRRORED) -> Diagnosis:
    readings = tuple(reading(row + k, peg=peg) for k in range(4))
    fits = (FitCost(np.full(4, at), np.full(4, 0.1 * at)) for at in (cost, 1.0))
    return Diagnosis(Group("peg", peg, readings), (Hypothesis(code, "they were swapped", "", lambda _: None),), *fits)


def test_mirrored_pegs_are_one_diagnosis_where_the_first_stood_and_others_stay():
    found = [_of_peg("7", 2, 9.0, "likely-peg"), _of_peg("3", 6, 8.0), _of_peg("5", 10, 7.0)]
    first, whole = together(found)
    assert first is found[0]
    assert [r.peg for r in whole.group.readings] == ["3"] * 4 + ["5"] * 4
    assert whole.gain == pytest.approx(4 * (8 - 1) + 4 * (7 - 1))
    assert finding(whole, "metres").problem.startswith("the readings of pegs 3, 5 (readings.csv rows 6 to 13)")


def test_many_mirrored_pegs_do_not_use_up_what_may_be_named(monkeypatch, club):
    found = [_of_peg(str(k), 4 * k + 2, 8.0) for k in range(9)]
    monkeypatch.setattr(diagnose, "_named", lambda *_: iter([*found, _of_peg("99", 90, 8.0, "likely-peg")]))
    told = likely_causes(club.book, *_unfitted(club))
    assert [f.code for f in told] == [MIRRORED, "likely-peg"]


def _unfitted(club: Club):
    fitted = fit_survey(replace(club.book, readings=club.book.readings[::4]))
    return fitted.soundings, fitted.model


def test_a_peg_that_hardly_misfits_is_tried_for_left_and_right_alone(club, monkeypatch):
    fitted = fit_survey(club.book)
    reference = diagnose.ReferenceBed.by(fitted.model, fitted.soundings)
    monkeypatch.setattr("survey.checks.systematic.groups.HARDLY", 2.0)
    hardly = [one for one in suspect_groups(diagnose.PEGS, fitted.fieldbook, reference) if one.hardly]
    assert hardly
    assert {h.code for one in hardly for h in diagnose._possible(one, fitted.fieldbook, VENUE)} == {MIRRORED}
