"""Mistakes put into whole sheets of a simulated club's survey are named, and nothing is named on clean ones."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from scripts.benches.club_surveys import (
    Club,
    club_survey,
    feet_for_metres,
    from_peg,
    mirrored,
    other_north,
    scaled_depth,
    shifted,
    without_float,
)
from scripts.benches.lakes import made_lakes
from survey.checks.crossovers import bias_findings, cross_over
from survey.checks.systematic import diagnose
from survey.checks.systematic.diagnose import likely_causes
from survey.checks.systematic.groups import Group, SuspectGroup
from survey.checks.systematic.hypotheses import Hypothesis, of_sheets
from survey.checks.systematic.messages import ONE_OF_TWO, finding
from survey.checks.systematic.reference import ReferenceBed
from survey.checks.systematic.testing import Diagnosis, FitCost, costs_under, diagnosis
from survey.findings import Finding, Grade
from survey.records.fieldbook import Fieldbook
from survey.records.readings import FloatSeen
from survey.units.dates import written_day
from tests.made.one_member import fitted_to
from tests.made.readings import VENUE, book, plumb, reading
from tests.made.tolerances import TENTH_MM


@pytest.fixture(scope="module")
def club() -> Club:
    return club_survey(next(made_lakes()), 900, dense=False)


def causes(book: Fieldbook) -> tuple[Finding, ...]:
    return likely_causes(book, *fitted_to(book))


def spoilt(club: Club, mistake, observer: str) -> Fieldbook:
    return replace(club.book, readings=tuple(mistake(r) if r.observer == observer else r for r in club.book.readings))


def test_clean_sheets_name_no_cause(club):
    assert causes(club.book) == ()


@pytest.mark.parametrize(
    ("mistake", "observer", "code", "words"),
    [
        (mirrored, "Wray", "likely-mirrored", "left and right were swapped"),
        (feet_for_metres, "Tansy", "likely-depth-unit", "the depths were feet, not metres"),
    ],
)
def test_a_mistake_of_a_whole_sheet_is_named_for_that_sheet_alone(club, mistake, observer, code, words):
    (told,) = causes(spoilt(club, mistake, observer))
    assert (told.code, told.grade, str(told.place)) == (code, Grade.WARNING, f"readings-{observer.lower()}.csv")
    assert words in told.problem
    assert told.remedy


def test_a_bearing_from_the_other_north_is_named(club):
    # A few degrees hide in how a bearing is read; forty do not.
    wide = replace(club.book.venue, declination_deg=-40.0)
    turned = replace(spoilt(club, other_north, "Marl"), venue=wide)
    readings = tuple(
        replace(
            r,
            where=replace(
                r.where, direction=replace(r.where.direction, value_deg=(r.where.direction.value_deg + 28.0) % 360)
            ),
        )
        if r.observer == "Marl"
        else r
        for r in turned.readings
    )
    assert [f.code for f in causes(replace(turned, readings=readings))] == ["likely-north"]


def test_readings_of_a_peg_written_down_for_another(club):
    counts = {p.name: sum(r.peg == p.name for r in club.book.readings) for p in club.book.venue.pegs}
    peg = max(counts, key=counts.__getitem__)
    readings = tuple(from_peg(3, 50)(r) if r.peg == peg else r for r in club.book.readings)
    (told,) = causes(replace(club.book, readings=readings))
    assert told.code == "likely-peg"
    assert f"if they were taken from peg {peg}" in told.problem


def test_a_board_read_as_a_dip_is_named(club):
    venue = replace(club.book.venue, mark=replace(club.book.venue.mark, kind="dip"))
    book = replace(club.book, venue=venue)
    soundings, model = fitted_to(book)
    told = list(bias_findings(cross_over(book, soundings, model), soundings, book))
    named = [f for f in told if f.code == "level-sign"]
    assert len(named) == 1
    assert "agree if the mark is a board, not a dip" in named[0].problem


def test_the_order_of_readings_changes_nothing(club):
    book = spoilt(club, mirrored, "Wray")
    turned = replace(book, readings=book.readings[::-1])
    assert causes(turned) == causes(book)


def test_a_wrong_level_of_one_day_is_named_for_that_day(club):
    second = club.book.levels[1]
    off = tuple(replace(r, shown_m=r.shown_m + 0.5) if r is second else r for r in club.book.levels)
    (told,) = causes(replace(club.book, levels=off))
    assert told.code in {"likely-level", "likely-one-of-two"}
    assert f"the readings of {written_day(second.when.day)}" in told.problem
    assert "lower that day than the levels sheet shows" in told.problem


def test_settings_written_as_depths_are_told_from_an_even_bias(club):
    (told,) = causes(spoilt(club, without_float, "Wray"))
    assert told.code == "likely-float-length"
    assert 'they were settings, not depths, for a float like "wag"' in told.problem
    (told,) = causes(spoilt(club, shifted(0.5), "Tansy"))
    assert told.code == "likely-bias"
    assert "less" in told.problem


def test_rows_that_join_as_written_may_stand_apart_when_written_anew():
    bounds = (plumb(2, 1.2, FloatSeen.SUNK, sd_m=0.02), plumb(3, 1.6, FloatSeen.FLAT, sd_m=0.02))
    hypotheses = [h for h in of_sheets(VENUE, VENUE) if h.code == "likely-depth-unit"]
    group = Group("sheet", "s", bounds)
    before, trials = costs_under(group, book(*bounds), hypotheses, lambda s: (np.ones(len(s)),) * 2)
    assert before.cost.tolist() == [1.0, 0.0]
    assert [1.0, 1.0] in [paid.cost.tolist() for _, paid in trials]


def test_what_explains_alike_is_said_together_and_too_much_of_it_not_at_all():
    readings = tuple(reading(row, peg=str(row)) for row in range(2, 22))
    group, before = Group("sheet", "s", readings), FitCost(np.full(20, 9.0), np.full(20, 1.0))
    good = FitCost(np.full(20, 1.0), np.full(20, 0.1))
    kinds = [Hypothesis(code, code, "", lambda _: None) for code in ("a", "b", "c")]
    assert [h.code for h in diagnosis(group, before, [(kinds[0], good)]).hypotheses] == ["a"]
    two = diagnosis(group, before, [(kind, good) for kind in kinds[:2]])
    assert "would agree if a, or if b. These readings cannot show which" in finding(two, "metres").problem
    assert finding(two, "metres").code == ONE_OF_TWO
    assert diagnosis(group, before, [(kind, good) for kind in kinds]) is None


def test_of_groups_that_fit_about_as_badly_the_one_most_is_gained_by_is_named(monkeypatch):
    readings = tuple(reading(row) for row in range(2, 6))
    left = [
        SuspectGroup(Group("sheet", name, readings), cost, 0.0) for name, cost in (("a", 9.0), ("b", 8.9), ("c", 0.5))
    ]
    gains = {"a": 10.0, "b": 30.0, "c": 90.0}

    def explained(suspect: SuspectGroup, *_: object) -> Diagnosis:
        before, after = (FitCost(np.full(1, cost), np.ones(1)) for cost in (100.0, 100.0 - gains[suspect.group.name]))
        return Diagnosis(suspect.group, (), before, after)

    monkeypatch.setattr(diagnose, "_diagnosed", explained)
    reference = SimpleNamespace(without=lambda _: None)
    assert diagnose._clearest(left, book(*readings), reference).group.name == "b"


def test_only_the_few_explanations_that_gain_most_are_gone_into(monkeypatch):
    """Gains of 5 to 100: four are gone into at most, the best first, and none that gains less than 0.3 of the best."""
    readings = tuple(reading(row) for row in range(2, 42))
    group = Group("sheet", "s", readings)
    reference = SimpleNamespace(any_lake=None, predictor=lambda _: SimpleNamespace(cost_of=None))

    def contenders(*gains: float) -> list[str]:
        kinds = [Hypothesis(f"{gain:g}", "", "", lambda _: None) for gain in gains]
        trials = [
            (kind, FitCost(np.full(1, 100.0 - gain), np.ones(1))) for kind, gain in zip(kinds, gains, strict=True)
        ]
        monkeypatch.setattr(diagnose, "costs_under", lambda *_: (FitCost(np.full(1, 100.0), np.ones(1)), trials))
        return [found.code for found in diagnose._contenders(group, book(*readings), kinds, reference)]

    assert contenders(40.0, 90.0, 5.0, 100.0, 60.0, 80.0) == ["100", "90", "80", "60"]
    assert contenders(31.0, 100.0, 29.0) == ["100", "31"]
    assert contenders(4.0, 3.0) == []


def test_every_group_is_judged_without_itself_whichever_stands_first(club):
    soundings, model = fitted_to(club.book)
    reference = ReferenceBed.by(model, soundings)
    groups = [frozenset(r.place for r in club.book.readings if r.observer == name) for name in ("Wray", "Tansy")]
    first, second = reference.cross_validate(groups), reference.cross_validate(groups[::-1])
    assert first.keys() == second.keys() == {place for place in reference.places if place in groups[0] | groups[1]}
    for place, misfit in first.items():
        assert (misfit.miss_m, misfit.sd_m) == pytest.approx((second[place].miss_m, second[place].sd_m), abs=TENTH_MM)


def test_a_gain_that_half_the_pegs_gainsay_is_not_believed():
    readings = tuple(reading(row, peg=str(row)) for row in range(2, 42))
    kind, before = Hypothesis("a", "a", "", lambda _: None), FitCost(np.full(40, 4.0), np.full(40, 1.0))
    unsure = FitCost(np.where(np.arange(40) % 2, 0.0, 4.0 + 2.5), np.full(40, 0.1))
    even = FitCost(np.full(40, 3.25 - 1.0), np.full(40, 0.1))
    group = Group("sheet", "s", readings)
    assert before.cost.sum() - unsure.cost.sum() > 20
    assert diagnosis(group, before, [(kind, unsure)]) is None
    assert diagnosis(group, FitCost(np.full(40, 4.0), np.full(40, 1.0)), [(kind, replace(even, cost=even.cost - 0.5))])


def test_a_sheet_in_another_unit_does_not_take_the_sound_readings_with_it(club):
    """A quarter of the readings a hundredfold, in clusters that bear each other out."""
    book = spoilt(club, scaled_depth(100.0), "Tansy")
    soundings, model = fitted_to(book)
    observer = soundings.table["observer"].to_numpy()[model.observations.rows]
    assert model.kept[observer != "Tansy"].mean() > 0.8


def test_no_more_than_a_few_shared_mistakes_are_looked_for_at_once(club, monkeypatch):
    monkeypatch.setattr(diagnose, "MOST_NAMED", 1)
    soundings, model = fitted_to(spoilt(club, mirrored, "Wray"))
    told = likely_causes(spoilt(club, mirrored, "Wray"), soundings, model)
    assert [f.code for f in told] == ["likely-mirrored", "more-causes"]
    assert told[-1].grade is Grade.NOTE
