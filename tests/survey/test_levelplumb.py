"""One plumb sets the level: the closed form, a simulation of whole lakes, and a wrong plumb exposed."""

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.errors import Place, QueryError
from survey.levelplumb import (
    ALIKE_M,
    LevelPrior,
    Plumb,
    found_depth_m,
    level_found,
    level_prior,
    plumb_at,
)
from survey.readings import LevelRecord, Moment, Seen
from survey.spots import Met
from survey.venue import Float, LevelMark, Spreads
from tests.survey.tolerances import HUNDREDTH_MM

BOARD = LevelMark("board", 0.6)
PRIOR = LevelPrior(0.05, 0.2)


def record(day: str, shown: float) -> LevelRecord:
    return LevelRecord(
        Moment(datetime.fromisoformat(f"{day}T12:00:00").replace(tzinfo=UTC), timedelta(0), day),
        shown,
        Place("levels.csv", 2),
    )


def plumb(rise: float, at=(0.0, 0.0), bed=0.06, own=0.08) -> Plumb:
    return Plumb(*at, found_m=2.0 + rise, datum_m=2.0, bed_sd_m=bed, own_sd_m=own)


# --- what was found ---


@given(st.floats(0.3, 5), st.floats(0.05, 0.4), st.floats(0.0, 1.0))
def test_a_plumb_finds_the_depth_whichever_way_the_setting_is_measured(depth, length, share):
    to_hold, to_tip = (Float("f", length, length * share, t) for t in ("hold", "tip"))
    setting = depth - length + length * share
    if setting > 0:
        assert found_depth_m(setting, to_hold) == pytest.approx(depth)
    assert found_depth_m(depth + length * share, to_tip) == pytest.approx(depth)


@pytest.mark.parametrize(
    ("seen", "says"), [(Seen.SUNK, "Lengthen the setting"), (Seen.FLAT, "Shorten"), (Seen.USUAL, "slack line")]
)
def test_what_is_no_depth_yet_says_what_to_do_next(seen, says):
    with pytest.raises(QueryError, match=says):
        found_depth_m(1.5, Float("f", 0.25, 0.02), seen=seen)


def test_more_tip_than_float_and_no_setting_are_refused():
    with pytest.raises(QueryError, match="of tip"):
        found_depth_m(1.5, Float("f", 0.25, 0.02), tip_m=0.3)
    with pytest.raises(QueryError, match="plumbs no water"):
        found_depth_m(-1.0, Float("f", 0.25, 0.02))


# --- the prior ---


def test_without_records_or_mark_the_datum_and_an_unknown_level_are_assumed():
    for mark, records in ((BOARD, []), (LevelMark(), [record("2026-05-01", 0.9)])):
        prior = level_prior(records, mark, Spreads())
        assert prior.rise_m == 0
        assert prior.sd_m == pytest.approx(0.25 * math.sqrt(2))


def test_many_records_give_their_mean_and_spread():
    rng = np.random.default_rng(4)
    records = [record("2026-05-01", 0.6 + rise) for rise in rng.normal(0.3, 0.1, 400)]
    prior = level_prior(records, BOARD, Spreads(), 5)
    assert prior.rise_m == pytest.approx(0.3, abs=0.02)
    assert prior.sd_m == pytest.approx(0.1, abs=0.02)


def test_a_season_hears_its_own_records_and_the_turn_of_the_year_is_no_gap():
    year = [
        record(f"2025-{m:02d}-10", 0.6 + (0.3 if m in {12, 1, 2} else -0.2)) for m in range(1, 13) for _ in range(4)
    ]
    winter, summer = (level_prior(year, BOARD, Spreads(), m) for m in (1, 7))
    assert winter.rise_m > 0.1
    assert summer.rise_m == pytest.approx(-0.2, abs=0.03)
    assert level_prior(year, BOARD, Spreads(), 12).rise_m > 0.05


def test_a_dip_s_prior_is_the_board_s():
    board = level_prior([record("2026-05-01", 0.9)], BOARD, Spreads())
    dip = level_prior([record("2026-05-01", 0.3)], LevelMark("dip", 0.6), Spreads())
    assert dip.rise_m == pytest.approx(board.rise_m)
    assert dip.sd_m == pytest.approx(board.sd_m)


# --- the update ---


@given(st.floats(-0.5, 0.5), st.floats(0.02, 0.4), st.floats(0.02, 0.4), st.floats(0.05, 0.5))
def test_one_plumb_is_the_closed_form_of_two_normals(rise, bed, own, prior_sd):
    """Bayesian Data Analysis (Gelman and others), 2.5: precisions add, means weigh by precision."""
    found = level_found([plumb(rise, bed=bed, own=own)], LevelPrior(0.1, prior_sd))
    own_precision, prior_precision = 1 / (bed**2 + own**2), 1 / prior_sd**2
    assert found.sd_m == pytest.approx((own_precision + prior_precision) ** -0.5, abs=HUNDREDTH_MM)
    assert found.rise_m == pytest.approx(
        (rise * own_precision + 0.1 * prior_precision) / (own_precision + prior_precision), abs=HUNDREDTH_MM
    )


def test_far_spots_sharpen_the_level_and_the_same_spot_again_only_its_own_error():
    one, twice, two = (
        level_found(plumbs, PRIOR).sd_m
        for plumbs in ([plumb(0.1)], [plumb(0.1), plumb(0.1)], [plumb(0.1), plumb(0.1, at=(500.0, 0.0))])
    )
    assert two < twice < one
    by_hand = 1 / (1 / 0.2**2 + 1 / (0.06**2 + 0.08**2 / 2))
    assert twice == pytest.approx(math.sqrt(by_hand), abs=HUNDREDTH_MM)


@pytest.mark.parametrize(("apart_m", "alike"), [(0.0, 1.0), (15.0, math.exp(-1)), (30.0, math.exp(-2))])
def test_what_the_bed_has_wrong_is_alike_for_spots_within_some_fifteen_metres(apart_m, alike):
    """Two plumbs of one bed error each, by hand: the mean of both has variance (1 + alike) / 2 of the bed's."""
    found = level_found([plumb(0.1), plumb(0.1, at=(0.0, apart_m))], PRIOR)
    of_mean = 0.06**2 * (1 + alike) / 2 + 0.08**2 / 2
    assert found.sd_m == pytest.approx(math.sqrt(1 / (1 / 0.2**2 + 1 / of_mean)), abs=HUNDREDTH_MM)


@given(st.permutations(range(4)))
def test_the_order_of_plumbs_changes_nothing(order):
    plumbs = [plumb(0.1), plumb(0.16, at=(30, 0)), plumb(0.02, at=(0, 60)), plumb(0.9, at=(90, 90))]
    before, after = level_found(plumbs, PRIOR), level_found([plumbs[k] for k in order], PRIOR)
    assert after.rise_m == pytest.approx(before.rise_m, abs=HUNDREDTH_MM)
    assert order[after.wrong] == before.wrong == 3


def test_among_three_the_wrong_plumb_is_named_and_left_out():
    good = [plumb(0.10), plumb(0.13, at=(40, 0)), plumb(0.08, at=(0, 80))]
    wrong = plumb(0.10 - 0.254 * 3, at=(120, 10))
    found = level_found([*good[:2], wrong, good[2]], PRIOR)
    assert found.wrong == 2
    assert not found.disagree
    clean = level_found(good, PRIOR)
    assert (found.rise_m, found.sd_m) == pytest.approx((clean.rise_m, clean.sd_m), abs=HUNDREDTH_MM)


def test_with_two_it_is_only_said_that_they_disagree():
    found = level_found([plumb(0.1), plumb(0.9, at=(50, 0))], PRIOR)
    assert found.disagree
    assert found.wrong is None
    assert level_found([plumb(1.2)], PRIOR).disagree
    assert not level_found([plumb(0.3)], PRIOR).disagree
    with pytest.raises(QueryError, match="at least once"):
        level_found([], PRIOR)


def test_a_plumb_on_a_slope_owns_the_depths_its_cast_may_meet():
    met = Met(2.0, 0.1, np.array([1.8, 2.0, 2.2]), np.array([0.1, 0.1, 0.1]))
    made = plumb_at((0.0, 0.0), met, 2.3, 0.06)
    assert made.rise_m == pytest.approx(0.3)
    assert made.bed_sd_m == pytest.approx(0.1)
    assert made.own_sd_m == pytest.approx(math.hypot(0.06, np.std([1.8, 2.0, 2.2])))


@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_stated_95_percent_range_holds_on_made_lakes(count):
    """Level, bed errors alike near by, scatter of the cast over a slope and plumbing drawn 4 000 times."""
    rng = np.random.default_rng(20 + count)
    places = np.array([(0.0, 0.0), (10.0, 5.0), (60.0, 20.0)])[:count]
    bed_sd, slope, cast_sd, plumbing = np.array([0.08, 0.12, 0.06])[:count], 0.15, 1.0, 0.06
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    chol = np.linalg.cholesky(np.outer(bed_sd, bed_sd) * np.exp(-apart / ALIKE_M))
    own = math.hypot(slope * cast_sd, plumbing)
    held = wrong = 0
    for _ in range(4000):
        rise = rng.normal(PRIOR.rise_m, PRIOR.sd_m)
        depths = 2.0 + chol @ rng.normal(size=count) + slope * rng.normal(0, cast_sd, count)
        seen = depths + rise + rng.normal(0, plumbing, count)
        plumbs = [Plumb(*at, s, 2.0, b, own) for at, s, b in zip(places.tolist(), seen, bed_sd, strict=True)]
        found = level_found(plumbs, PRIOR)
        held += abs(found.rise_m - rise) <= 1.96 * found.sd_m
        wrong += found.wrong is not None or found.disagree
    assert 0.93 <= held / 4000 <= 0.97
    assert wrong / 4000 < 0.01


def test_a_wrong_plumb_among_three_is_nearly_always_the_one_that_is_named():
    """A plumb a metre out, drawn 1 000 times among sound ones."""
    rng, named = np.random.default_rng(7), 0
    for _ in range(1000):
        rise = rng.normal(PRIOR.rise_m, PRIOR.sd_m)
        spoken = rise + rng.normal(0, math.hypot(0.08, 0.16), 3)
        spoken[1] += rng.choice([-1.0, 1.0])
        plumbs = [plumb(r, at=(60.0 * k, 0.0), bed=0.08, own=0.16) for k, r in enumerate(spoken)]
        named += level_found(plumbs, PRIOR).wrong == 1
    assert named / 1000 > 0.9
