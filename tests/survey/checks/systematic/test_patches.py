"""A bed that changed is told from a wrong level, a wrong float and from nothing at all."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from scripts.benches.changed_beds import NEW_DAYS, Visit, one_visit, patch_pegs, plumbed_again, two_visits
from scripts.benches.club_surveys import WAGGLER, Club, club_survey, setting_by
from scripts.benches.lakes import made_lakes
from survey.checks.crossovers import cross_over
from survey.checks.systematic.diagnose import cause_findings, likely_causes, shared_mistakes
from survey.checks.systematic.messages import ONE_OF_TWO
from survey.checks.systematic.patches import Newer, _patch, _rivals
from survey.findings import Finding, Grade
from survey.records.fieldbook import Fieldbook
from tests.made.one_member import fitted_to
from tests.made.readings import reading

DEEPER_M = 0.5


@pytest.fixture(scope="module")
def club() -> Club:
    club = club_survey(next(made_lakes()), 900, dense=False)
    return replace(club, book=replace(club.book, venue=replace(club.book.venue, shows="metres")))


@pytest.fixture(scope="module")
def pegs(club) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return patch_pegs(club, 0)


@pytest.fixture(scope="module")
def changed(club, pegs) -> Fieldbook:
    return plumbed_again(club, pegs[0], two_visits(*pegs), DEEPER_M, 5).book


def causes(book: Fieldbook) -> tuple[Finding, ...]:
    return likely_causes(book, *fitted_to(book))


def test_a_changed_bed_is_named_with_its_pegs_days_amount_and_what_to_write(changed, pegs):
    (told,) = causes(changed)
    assert (told.code, told.grade) == ("likely-change", Grade.WARNING)
    amount = re.search(r"the bed there became ([\d.]+) m ± ([\d.]+) m deeper between", told.problem)
    by_m, sd_m = map(float, amount.groups())
    # 95 % of such ranges hold the truth; the survey is one that does.
    assert abs(by_m - DEEPER_M) < 2 * sd_m < 0.2
    assert "between 9 September 2026 and 10 April 2027" in told.problem
    named = set(re.search(r"pegs ([\d, ]+) from 10 April 2027", told.problem)[1].split(", "))
    assert set(pegs[0]) <= named
    assert 'date = "2027-04-10"' in told.remedy
    assert 'since = "2027-04-10"' in told.remedy


def test_of_a_changed_bed_nobody_is_said_to_read_too_deep(changed):
    soundings, model = fitted_to(changed)
    (named,) = shared_mistakes(changed, soundings, model)
    assert named.is_change
    days = {b.name: abs(b.bias_m) for b in cross_over(changed, soundings, model).biases if b.kind == "day"}
    left = cross_over(changed, soundings, model, named.group.rows)
    without = {b.name: abs(b.bias_m) for b in left.biases if b.kind == "day"}
    new = [day.date().isoformat() for day in NEW_DAYS]
    assert all(days[day] > 0.15 for day in new)
    assert all(without.get(day, 0.0) < 0.08 for day in new)


def test_the_order_of_readings_changes_nothing(changed):
    turned = replace(changed, readings=changed.readings[::-1])
    assert causes(turned) == causes(changed)


def test_one_person_on_one_day_over_one_patch_may_be_either(club, pegs):
    (told,) = causes(plumbed_again(club, pegs[0], one_visit(pegs[0]), DEEPER_M, 5).book)
    assert told.code == ONE_OF_TWO
    assert "the bed there became" in told.problem
    assert "the water stood" in told.problem
    assert "These readings cannot show which" in told.problem


def test_plumbed_again_over_the_same_bed_names_nothing(club, pegs):
    assert causes(plumbed_again(club, pegs[0], two_visits(*pegs), 0.0, 5).book) == ()


def test_a_wrong_level_of_a_later_day_is_no_changed_bed(club, pegs):
    book = plumbed_again(club, pegs[0], two_visits(*pegs), 0.0, 5).book
    levels = (replace(one, shown_m=one.shown_m + 0.3 * (one.when.instant == NEW_DAYS[0])) for one in book.levels)
    told = causes(replace(book, levels=tuple(levels)))
    assert any("the water stood" in f.problem for f in told)
    assert not any("the bed there" in f.problem for f in told)


def test_a_wrong_float_of_a_later_hand_is_no_changed_bed(club, pegs):
    visits = (*two_visits(*pegs), Visit(1, "Reeve", (*pegs[0], *pegs[1])))
    book = plumbed_again(club, pegs[0], visits, 0.0, 5).book
    to_tip = setting_by(WAGGLER.length_m)
    readings = tuple(to_tip(r) if r.observer == "Reeve" else r for r in book.readings)
    (told,) = causes(replace(book, readings=readings))
    assert told.code == "likely-float-length"


def test_a_change_that_was_written_down_is_not_looked_for_again(changed):
    past = tuple(replace(r, use=r.when.instant >= NEW_DAYS[0]) for r in changed.readings)
    book = replace(changed, readings=past)
    assert not any(f.code == "likely-change" for f in cause_findings(shared_mistakes(book, *fitted_to(book)), "metres"))


@pytest.mark.parametrize(("sign", "held"), [(-1.0, [0, 1, 2]), (1.0, [])])
def test_readings_without_an_older_one_beside_them_start_no_patch(sign, held):
    """Three shallower than before, and one deeper by a metre far off where nobody had plumbed."""
    xy = np.array([[0.0, 0.0], [5.0, 0.0], [10.0, 0.0], [100.0, 0.0]])
    miss, repeats = np.array([-0.5, -0.5, -0.5, 1.0]), np.array([True, True, True, False])
    newer = Newer(tuple(reading(row) for row in range(2, 6)), xy, miss, np.full(4, 0.1), repeats, "", "", 1)
    assert np.flatnonzero(_patch(newer, sign)).tolist() == held


def test_what_is_moved_alike_beside_a_patch_lies_in_it():
    """Ten metres on, where nobody had plumbed before: deeper by as much, and not."""
    xy = np.array([[0.0, 0.0], [5.0, 0.0], [10.0, 0.0], [20.0, 0.0], [20.0, 1.0], [40.0, 0.0]])
    miss, repeats = np.array([0.5, 0.5, 0.5, 0.5, 0.0, 0.5]), np.array([True, True, True, False, False, False])
    newer = Newer(tuple(reading(row) for row in range(2, 8)), xy, miss, np.full(6, 0.1), repeats, "", "", 1)
    assert np.flatnonzero(_patch(newer, 1.0)).tolist() == [0, 1, 2, 3]


@pytest.mark.parametrize(("pegs", "told"), [(20, None), (4, True)])
def test_who_plumbed_one_part_of_the_water_alone_took_nothing_else_beside_the_patch(pegs, told):
    """Twelve readings of a patch and twelve close to it, all deeper: of a day that saw 2 pegs of 20, or of 4."""
    xy = np.array([(2.0 * k, 8.0 * side) for side in (0, 1) for k in range(12)])
    readings = tuple(reading(row, peg=str(row % 2)) for row in range(2, 26))
    newer = Newer(readings, xy, np.full(24, 0.5), np.full(24, 0.1), np.ones(24, bool), "", "", pegs)
    rivals = dict(_rivals(newer, np.arange(24) < 12, 0.5))
    (day,) = (moved for (kind, _), moved in rivals.items() if kind == "day")
    assert day is told
