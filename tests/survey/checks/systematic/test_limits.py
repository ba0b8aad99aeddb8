"""How far the search for shared mistakes goes: which pegs are tried, when it stops, what is named beside what."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from survey.checks.systematic import diagnose
from survey.checks.systematic.groups import Group
from survey.checks.systematic.hypotheses import PEGS_TRIED, Hypothesis, of_peg
from survey.checks.systematic.reference import Predictor
from survey.checks.systematic.testing import Diagnosis, FitCost, diagnosis
from survey.records.readings import FloatSeen
from survey.reduction.reduce import reduce_soundings
from tests.made.readings import VENUE, book, cast, peg, plumb, reading


class Counting:
    """A reference of which every group takes its rows away."""

    def __init__(self, left: int) -> None:
        self.counted = np.ones(left, bool)

    def without(self, rows: frozenset) -> Counting:
        return Counting(self.counted.sum() - len(rows))


def test_no_more_is_named_once_fewer_than_six_in_ten_readings_are_left(monkeypatch):
    """Of twenty readings, two a group: with the fifth group ten are left, too few to judge the next by."""
    groups = iter([Group("sheet", str(k), (reading(2 * k), reading(2 * k + 1))) for k in range(10)])
    cost = FitCost(np.ones(1), np.ones(1))
    monkeypatch.setattr(diagnose, "suspect_groups", lambda *_: ())
    monkeypatch.setattr(diagnose, "suspect_patches", lambda *_: [])
    monkeypatch.setattr(diagnose, "_clearest", lambda *_: Diagnosis(next(groups), (), cost, cost))
    named = diagnose._named(book(*(reading(row) for row in range(20))), Counting(20))
    assert [one.group.name for one in named] == ["0", "1", "2", "3", "4"]


def test_a_cast_is_tried_from_the_eight_nearest_pegs_the_nearest_first():
    row = tuple(replace(peg(str(k), 5.0 * k, 0.0, 0.0), name=str(k)) for k in range(1, 13))
    venue = replace(VENUE, pegs=row)
    tried = [h.words for h in of_peg(venue, venue, "1") if h.code == "likely-peg"]
    assert tried == [f"they were taken from peg {k}" for k in range(2, 10)]
    assert len(tried) == PEGS_TRIED


def test_a_figure_fitted_to_the_readings_does_not_silence_a_mistake_that_needs_none():
    """A level that was fitted mends more, but the mark read the other way round mends nearly all as well."""
    group = Group("sheet", "s", tuple(reading(row, peg=str(row)) for row in range(2, 22)))
    before, fitted, plain = (FitCost(np.full(20, cost), np.ones(20)) for cost in (9.0, 1.0, 2.0))
    level = Hypothesis("level", "", "", lambda _: None, is_fitted=True)
    sign = Hypothesis("sign", "", "", lambda _: None)
    found = diagnosis(group, before, [(level, fitted), (sign, plain)])
    assert [h.code for h in found.hypotheses] == ["level", "sign"]
    found = diagnosis(group, before, [(sign, fitted), (level, plain)])
    assert [h.code for h in found.hypotheses] == ["sign"]


@pytest.mark.parametrize(
    ("seen", "bed_m", "broken"),
    [
        (FloatSeen.SUNK, 1.0, True), (FloatSeen.SUNK, 2.5, False),
        (FloatSeen.FLAT, 2.5, True), (FloatSeen.FLAT, 1.0, False),
    ],
)  # fmt: skip
def test_a_bound_costs_only_where_the_bed_breaks_it(seen, bed_m, broken):
    """Sunk at 1.6 m: the water is deeper; flat at 1.6 m: it is not."""
    soundings, _ = reduce_soundings(book(plumb(setting_m=1.6, seen=seen, where=cast(0))))
    depth = soundings.table["depth_m"].to_numpy(float)
    predictor = SimpleNamespace(residuals_of=lambda _: (depth - bed_m, np.full(1, 0.1)))
    cost, _ = Predictor.cost_of(predictor, soundings)
    assert (cost > 0).tolist() == [broken]
