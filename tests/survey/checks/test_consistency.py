"""Findings on a survey whose mistakes are known, and the holdout that judges the ±."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.geometry import MultiPolygon

from survey.bed.grid import Bed
from survey.bed.gridding import make_bed, narrow_water_m2
from survey.checks import consistency as checks
from survey.checks import validation as holdout
from survey.checks.consistency import check
from survey.checks.residuals import misfit_findings, residuals
from survey.checks.standards import Order, share_within_club_grade, share_within_order, tvu_m
from survey.checks.validation import hold_out
from survey.depth_model.fitting import fit_lake
from survey.depth_model.model import LakeModel
from survey.depth_model.observations import observations_from
from survey.findings import Finding, Grade
from survey.geometry.water import WaterGeometry
from survey.kriging import partition as patches
from survey.records.soundings import Soundings
from survey.records.venue import Venue
from survey.units import feet_inches
from tests.made.soundings import bowl, rectangle, scattered, soundings_at, venue_of
from tests.survey.bed.test_grid import bed_of

# IHO S-44, edition 6.1.0 (2022), section 3.2.3 and table 1: largest total vertical uncertainty
# (95 %) in metres, worked from the published constants.
S44 = [
    (0, "2", 1.0),
    (0, "1a", 0.5),
    (0, "special", 0.25),
    (0, "exclusive", 0.15),
    (5, "2", 1.0066),
    (5, "1b", 0.5042),
    (5, "special", 0.2528),
    (5, "exclusive", 0.1546),
    (20, "2", 1.1007),
    (20, "1a", 0.5636),
    (20, "special", 0.2915),
    (20, "exclusive", 0.2121),
    (100, "2", 2.508),
    (100, "1b", 1.3928),
    (100, "special", 0.7906),
    (100, "exclusive", 0.7649),
]


@pytest.mark.parametrize(("depth", "order", "expected"), S44)
def test_uncertainty_limits_are_those_of_the_standard(depth: float, order: Order, expected: float) -> None:
    assert tvu_m(depth, order) == pytest.approx(expected, abs=5e-5)


def worked(venue: Venue, soundings: Soundings) -> tuple[LakeModel, Bed, tuple[Finding, ...]]:
    frame = WaterGeometry(venue.water)
    model = fit_lake(frame, observations_from(venue, soundings, frame))
    bed = make_bed(venue, model, 2.0)
    return model, bed, check(venue, soundings, model, bed, residuals(soundings, model, bed))


@pytest.fixture(scope="module")
def casts() -> tuple[Venue, np.ndarray, np.ndarray, list[str]]:
    water = rectangle()
    pegs = np.array([[x, 0.0] for x in range(10, 120, 20)])
    venue = venue_of(water, np.vstack([pegs, [[60.0, 80.0]]]))
    xy = scattered(water, 150, clear=3.0)
    xy = xy[xy[:, 1] < 60]
    nearest = np.abs(xy[:, :1] - pegs[:, 0]).argmin(axis=1)
    return venue, xy, bowl(water)(xy) + np.random.default_rng(1).normal(0, 0.05, len(xy)), [str(k + 1) for k in nearest]


def test_a_wrong_reading_is_named_by_row_with_both_depths(
    casts: tuple[Venue, np.ndarray, np.ndarray, list[str]],
) -> None:
    venue, xy, depth, peg = casts
    deep = int(np.argmax(depth))
    spoilt = depth.copy()
    spoilt[deep] *= 0.3048
    _, _, findings = worked(venue, soundings_at(xy, spoilt, peg=peg))
    found = [f for f in findings if f.code == "misfit"]
    assert [f.place.row for f in found if f.grade is Grade.ERROR] == [deep + 2]
    assert f"{feet_inches(spoilt[deep])} deep, but its neighbours predict " in str(found[0])
    assert "set aside" in str(found[0])


def test_clean_readings_raise_no_error(casts: tuple[Venue, np.ndarray, np.ndarray, list[str]]) -> None:
    venue, xy, depth, peg = casts
    _, _, findings = worked(venue, soundings_at(xy, depth, peg=peg))
    assert not [f for f in findings if f.grade is Grade.ERROR]


def test_pegs_without_readings_are_noted(casts: tuple[Venue, np.ndarray, np.ndarray, list[str]]) -> None:
    venue, xy, depth, peg = casts
    _, _, findings = worked(venue, soundings_at(xy, depth, peg=peg))
    assert [f.problem for f in findings if f.code == "peg-unplumbed"] == ["peg 7 has no reading in use"]


def test_a_broken_bound_is_a_warning(casts: tuple[Venue, np.ndarray, np.ndarray, list[str]]) -> None:
    venue, xy, depth, peg = casts
    at = np.vstack([xy, xy[:1] + 0.5])
    kind = np.array(["depth"] * len(xy) + ["at_least"], object)
    everything = soundings_at(at, np.append(depth, 6.0), kind=kind, peg=[*peg, peg[0]])
    everything.table.loc[len(xy), "sd_m"] = 0.5
    _, _, findings = worked(venue, everything)
    broken = [f for f in findings if f.code == "bound-broken"]
    assert [f.place.row for f in broken] == [len(xy) + 2]
    assert "what was seen says over 19 ft 8 in of water" in broken[0].problem


def test_two_depths_for_one_spot_are_named_together(casts: tuple[Venue, np.ndarray, np.ndarray, list[str]]) -> None:
    venue, xy, depth, peg = casts
    at, twice = np.vstack([xy, xy[:1]]), np.append(depth, depth[0] + 0.6)
    _, _, findings = worked(venue, soundings_at(at, twice, peg=[*peg, peg[0]]))
    found = [f for f in findings if f.code == "spot-disagrees"]
    assert [f.place.row for f in found] == [2]
    assert "differ by 1 ft 11½ in" in found[0].problem
    assert f"row {len(xy) + 2}" in found[0].problem


def test_two_depths_for_one_spot_may_differ_by_three_standard_deviations() -> None:
    """Over a level bed, readings of 5 cm each: 7 cm for their difference, so 21 cm; half a metre off is one spot."""
    water = rectangle()
    xy = scattered(water, 60, clear=6.0)
    depth = np.full(60, 2.0) + np.random.default_rng(1).normal(0, 0.02, 60)
    again = xy[[5, 15, 25, 35]] + [[0.5, 0.0], [0.5, 0.0], [0.5, 0.0], [1.2, 0.0]]
    off = depth[[5, 15, 25, 35]] + [0.18, 0.26, -0.26, 0.26]
    _, _, findings = worked(venue_of(water), soundings_at(np.vstack([xy, again]), np.append(depth, off), 0.05))
    assert {f.place.row for f in findings if f.code == "spot-disagrees"} == {17, 27}


def test_club_grades_are_a_tenth_two_tenths_and_two_fifths_of_a_metre_either_way() -> None:
    """Three cells to each grade; 1.96 x 0.051 m is just within 0.10 m and 1.96 x 0.052 m is not."""
    bed = bed_of(np.array([[51, 52, 102, 103, 204, 205]]) * 10)
    shares = [share_within_club_grade(bed, grade) for grade in "ABC"]
    assert shares == pytest.approx([1 / 6, 3 / 6, 5 / 6])


def test_in_a_crowd_a_mistake_is_named_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Thirty readings at each of ten spots, one of them a metre too deep at two spots."""
    monkeypatch.setattr(checks, "MOST_PAIRS", 1000)
    water, rng = rectangle(), np.random.default_rng(4)
    xy = np.repeat(scattered(water, 10), 30, axis=0)
    depth = bowl(water)(xy) + rng.normal(0, 0.02, len(xy))
    depth[[45, 200]] += 1.0
    _, _, findings = worked(venue_of(water), soundings_at(xy, depth))
    found = [str(f) for f in findings if f.code == "spot-disagrees"]
    assert len(found) == 2
    assert all(any(f"row {row}" in words for words in found) for row in (47, 202))


def test_few_readings_and_no_variation_are_said() -> None:
    water = rectangle(200, 120)
    xy = np.array([[x, y] for x in (30, 80, 120, 170) for y in (40, 80)], float)
    _, _, findings = worked(venue_of(water), soundings_at(xy, np.full(8, 2.0), 0.01))
    assert {"few-readings", "no-variation"} <= {f.code for f in findings}


@pytest.mark.parametrize(("n", "words"), [(1, "only 1 reading shapes the bed"), (2, "only 2 readings shape the bed")])
def test_few_readings_are_counted_in_good_grammar(n: int, words: str) -> None:
    water = rectangle(200, 120)
    _, _, findings = worked(venue_of(water), soundings_at(np.array([[80.0, 40], [120, 80]])[:n], np.full(n, 2.0)))
    assert words in next(f.problem for f in findings if f.code == "few-readings")


@pytest.mark.parametrize("depth_m", [0.3, 2.0, 9.0])
def test_nothing_is_held_against_a_lone_reading(depth_m: float) -> None:
    _, _, findings = worked(venue_of(rectangle(200, 120)), soundings_at(np.array([[4.0, 40]]), np.array([depth_m])))
    assert not [f for f in findings if f.code == "misfit"]


def test_a_reading_above_datum_is_said_to_be_above_it(
    casts: tuple[Venue, np.ndarray, np.ndarray, list[str]],
) -> None:
    venue, xy, depth, peg = casts
    spoilt = depth.copy()
    deep = int(np.argmax(depth))
    spoilt[deep] = -0.74
    _, _, findings = worked(venue, soundings_at(xy, spoilt, peg=peg))
    found = next(f for f in findings if f.code == "misfit" and f.place.row == deep + 2)
    assert "2 ft 5 in above datum" in found.problem


def test_a_reading_out_of_use_is_compared_but_never_flagged(
    casts: tuple[Venue, np.ndarray, np.ndarray, list[str]],
) -> None:
    venue, xy, depth, peg = casts
    use = np.ones(len(xy), bool)
    use[0] = False
    off = depth.copy()
    off[0] = 9.0
    soundings = soundings_at(xy, off, peg=peg, use=use)
    model, bed, findings = worked(venue, soundings)
    left = residuals(soundings, model, bed)
    assert left["residual_m"].iloc[0] > 5
    assert not left["doubtful"].iloc[0]
    assert not [f for f in findings if f.place.row == 2]


def test_hidden_readings_fall_within_the_stated_range(casts: tuple[Venue, np.ndarray, np.ndarray, list[str]]) -> None:
    venue, xy, depth, peg = casts
    model, bed, _ = worked(venue, soundings_at(xy, depth, peg=peg))
    held = hold_out(model)
    assert held is not None
    assert held.pegs == 6
    assert held.readings == int(model.kept.sum())
    assert held.within[0.5] < held.within[0.8] <= held.within[0.95]
    assert held.within[0.95] >= 0.85
    assert held.single_rmse_m < 1.1 * held.rmse_m
    assert sum(held.pit) == held.readings
    assert 0 < share_within_order(bed, "exclusive") <= share_within_order(bed, "2") == 1.0


def test_of_a_large_survey_every_so_many_patches_are_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in {"EXACT": 150, "OWN": 60, "ROUND_ABOUT": 80}.items():
        monkeypatch.setattr(patches, name, value)
    water, rng = rectangle(), np.random.default_rng(4)
    xy = scattered(water, 400)
    pegs = np.array([[15.0 * k, 0.0] for k in range(9)])
    nearest = np.abs(xy[:, :1] - pegs[None, :, 0]).argmin(axis=1)
    soundings = soundings_at(xy, bowl(water)(xy) + rng.normal(0, 0.05, 400), peg=(nearest + 1).astype(str))
    model, _, _ = worked(venue_of(water, pegs), soundings)
    every = hold_out(model)
    monkeypatch.setattr(holdout, "MOST_HIDDEN", 200)
    some = hold_out(model)
    assert every is not None
    assert some is not None
    assert 100 < some.readings < 300 < every.readings
    assert some.pegs == every.pegs
    assert some.within[0.8] == pytest.approx(every.within[0.8], abs=0.1)


@pytest.mark.parametrize(("pegs", "is_enough"), [(1, False), (3, False), (4, True)])
def test_with_fewer_than_four_pegs_none_is_hidden(pegs: int, is_enough: bool) -> None:
    water = rectangle()
    xy = scattered(water, 20)
    soundings = soundings_at(xy, np.full(20, 1.0), peg=[str(k % pegs + 1) for k in range(20)])
    model, _, _ = worked(venue_of(water, np.array([[10.0 * k, 0.0] for k in range(4)])), soundings)
    assert (hold_out(model) is not None) is is_enough


def test_a_cast_longer_than_anybodys_is_asked_about(casts: tuple[Venue, np.ndarray, np.ndarray, list[str]]) -> None:
    venue, xy, depth, peg = casts
    long = soundings_at(xy, depth, peg=peg)
    long.table["distance_m"] = 30.0
    long.table.loc[4, "distance_m"] = 300.0
    long.table.loc[5, "distance_m"] = 2.0 * venue.limits.reach_m
    _, _, findings = worked(venue, long)
    (found,) = [f for f in findings if f.code == "out-of-reach"]
    assert found.place.row == 6
    assert "300 m from the peg is more than 2 times the reach of 45 m" in found.problem


@pytest.mark.parametrize(("unit", "said"), [(0, "; in feet, not metres, it would be 3 ft"), (-1, "")])
def test_the_unit_that_would_mend_a_reading_is_named_where_there_is_one(unit, said):
    soundings = soundings_at(np.array([[20.0, 20.0], [40.0, 40.0]]), [3.0, 1.0])
    table = {"fitted_m": 1.0, "residual_m": 2.0, "predicted_sd_m": 0.1, "z": 20.0, "mistaken": 0.9}
    left = pd.DataFrame([{**table, "unit": unit, "mended_m": 0.9144, "doubtful": k == 0} for k in range(2)])
    left.loc[1, "mistaken"] = 0.0
    model = SimpleNamespace(observations=SimpleNamespace(rows=np.arange(2)), kept=np.ones(2, bool))
    (told,) = misfit_findings(soundings, model, left, "feet")
    assert f"95 %){said}; still used, though" in told.problem


@pytest.mark.parametrize(("cell_m", "narrow_m2"), [(0.7, 100.0), (0.6, 0.0)])
def test_water_narrower_than_three_cells_is_measured(cell_m, narrow_m2):
    """An arm 2 m wide and 50 m long: narrower than three cells of 0.7 m, wider than three of 0.6 m."""
    water = shapely.union(rectangle(40.0, 40.0), shapely.box(40.0, 19.0, 90.0, 21.0))
    venue = replace(venue_of(rectangle()), water=MultiPolygon([water]))
    assert narrow_water_m2(venue, cell_m) == pytest.approx(narrow_m2, abs=8.0)
