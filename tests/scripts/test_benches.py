"""The benchmarks' own sums: lakes as they were, errors, best peers, costs. Nothing is compared or timed here."""

import time
from dataclasses import replace

import numpy as np
import pytest

from scripts.benches.cost import CostRow, slope
from scripts.benches.lakes import HELD_OUT, all_lakes, sounded_227, surveys
from scripts.benches.measure import measured
from scripts.benches.peers import linear, merged
from scripts.benches.real import lake_227
from scripts.benches.report import Results, report
from scripts.benches.scores import BED, Row, better_case, compared, geometric, measure
from scripts.benches.sheets import make_folder, worked

forking = pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")

# Constants of the bed were chosen on these, so they may never be reported, nor a reported one chosen on.
CHOOSING = {"made bowl", "made trough", "made pit", "made spits", "pfl x0.3", "long x0.5", "jacksboro 0"}


def row(lake="Tarn", method=BED, whole=1.0, **more):
    fixed = {"kind": "made", "choosing": False, "dense": True, "sure": True, "readings": 9, "within": whole}
    return Row(lake, method=method, whole=whole, **(fixed | more))


def test_lakes_for_choosing_stay_the_ones_constants_were_chosen_on():
    lakes = all_lakes()
    assert {lake.name for lake in lakes if lake.choosing} == CHOOSING & {lake.name for lake in lakes}
    assert {lake.name for lake in lakes if not lake.choosing} >= {"made wide plain", "pfl x0.5", "long x0.3"}


def test_lake_227_leaves_its_strays_out_and_hides_a_third():
    water, _, depth = lake_227()
    assert len(depth) == 1039 - 6
    assert water.area == pytest.approx(50_000, rel=0.02)
    dense, sparse = (sounded_227(1, dense) for dense in (True, False))
    assert len(dense.at) == len(depth) // HELD_OUT
    assert len(dense.at) + len(dense.soundings) == len(depth)
    np.testing.assert_array_equal(dense.at, sparse.at)
    assert len(sparse.soundings) == pytest.approx(len(dense.soundings) / 4, abs=1)


def test_the_wide_plain_lies_mostly_beyond_reach_and_is_flat_there():
    survey = next(surveys(few=True, only="wide plain"))
    assert np.mean(~survey.near) > 0.5
    assert np.std(survey.truth[~survey.near]) < 0.2


@forking
def test_scores_are_those_of_the_error_and_its_range():
    survey = replace(sounded_227(1, dense=False), truth_sd=0.0)
    off = np.where(np.arange(len(survey.truth)) % 2, 0.3, -0.1)

    def peer(_, __, ___):
        return survey.truth + off, np.full(len(off), 0.1)

    found = next(r for r in measure(survey, {"made up": peer}) if r.method == "made up")
    assert found.whole == pytest.approx(np.sqrt(np.mean(off**2)))
    assert found.hold95 == pytest.approx(np.mean(off < 0))
    expected = np.mean(-0.5 * (off / 0.1) ** 2) - np.log(0.1) - 0.5 * np.log(2 * np.pi)
    assert found.log_score == pytest.approx(expected)
    assert np.isnan(found.far)


@forking
def test_memory_of_a_call_is_seen_and_a_fault_or_delay_is_told():
    grown = measured(lambda: float(np.ones(30_000_000).sum()), 20.0)
    assert grown.result == 30_000_000
    assert 200 < grown.memory_mb < 300
    assert measured(lambda: 1 / 0, 20.0).fault == "ZeroDivisionError: division by zero"
    assert measured(lambda: time.sleep(20), 0.2).fault == "not done after 0 s"


def test_the_best_peer_is_the_best_of_all_cases_and_a_failed_one_counts_for_nothing():
    rows = [
        row(), row(method="linear", whole=2.0), row(method="linear + shore", whole=1.25),
        row(method="verde", whole=float("nan"), fault="not done after 9 s"),
    ]  # fmt: skip
    (only,) = compared(rows, "whole")
    assert (only.peer, only.ratio) == ("linear + shore", pytest.approx(0.8))
    assert [r.method for r in better_case(rows)] == [BED, "linear + shore"]
    assert compared([row()], "whole") == []


def test_the_report_names_what_is_behind_and_what_failed():
    rows = [row(), row(method="linear", whole=0.5), row(method="verde", whole=float("nan"), fault="not done after 9 s")]
    text = report(Results(rows), "python bench")
    assert "- Tarn, dense, whole lake: 1.000 m, linear 0.500 m (2.00)" in text
    assert "- Tarn, dense, verde: not done after 9 s" in text
    assert "more than 5 % behind the best peer." in report(Results([row(), row(method="linear")]), "python bench")


def test_slope_is_the_power_and_the_mean_of_ratios_is_geometric():
    rows = [CostRow("cells", BED, 300, n, fit_s=1.0, ask_s=1e-6 * n**1.5) for n in (1000, 4000, 16000)]
    assert slope(rows, "cells", BED, "ask_s") == pytest.approx(1.5)
    assert slope(rows, "cells", BED, "fit_s") == pytest.approx(0.0, abs=1e-12)
    assert geometric([0.5, 2.0]) == pytest.approx(1.0)


def test_readings_on_one_spot_reach_peers_as_their_mean_and_linear_answers_outside_its_triangles():
    xy, depth = merged(np.array([[0.0, 0.0], [0.0, 0.001], [4.0, 0.0], [0.0, 4.0]]), np.array([1.0, 3.0, 2.0, 2.0]))
    assert depth.tolist() == [2.0, 2.0, 2.0]
    assert linear(xy, depth, np.array([[9.0, 9.0]]))[0].tolist() == [2.0]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_large_survey_is_read_whole_whatever_it_is_kept_in(tmp_path, kind):
    make_folder(tmp_path, 400, kind)
    _, _, came = worked(tmp_path)
    assert came.startswith("400 rows: ")
    assert "LOST" not in came
    depths, bounds, told = (int(word) for word in came.replace(",", "").split() if word.isdigit() and word != "400")
    assert depths + bounds + told == 400
    assert min(depths, bounds) > 30
