"""How likely readings are mistaken: against simulation, and what must hold whatever the numbers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from survey.average import MISTAKEN_FROM
from survey.doubt import ANYWHERE, NEAR, NEAR_M, OTHER_UNITS, RARE_READINGS, RARE_SHARE, RARE_WIDER, Doubt, doubt
from survey.misfits import DOUBTFUL_FROM
from survey.units import FOOT_M
from tests.survey.tolerances import CHANCE_SETTLED

SD = 0.15
SOUND = SD * stats.norm.ppf((np.arange(200) + 0.5) / 200)
"""Misfits of 200 sound readings, metres, as a normal distribution spreads them."""


def asked(off: np.ndarray, foretold: float = 2.0, figure: np.ndarray | None = None) -> Doubt:
    foretold_m = np.full(len(off), foretold)
    depth = foretold_m + off
    return doubt(depth, foretold_m, np.full(len(off), SD), depth if figure is None else figure)


@pytest.mark.parametrize("share", [0.0, 0.02, 0.05, 0.15])
def test_chances_are_as_often_right_as_they_say(share: float) -> None:
    """Readings drawn from the mixture itself, so that the truth is known; common sense of a calibrated probability."""
    rng, n = np.random.default_rng(5), 40_000
    foretold, sd = rng.uniform(0.5, 4.0, n), rng.uniform(0.05, 0.4, n)
    rare = rng.random(n) < RARE_SHARE
    depth = foretold + rng.normal(0, sd * np.where(rare, RARE_WIDER, 1.0))
    wrong, kind = rng.random(n) < share, rng.random(n)
    units = np.cumsum([ANYWHERE + NEAR, *(other.share for other in OTHER_UNITS)])
    mistaken = np.where(kind < ANYWHERE, rng.uniform(0, 5.0, n), foretold + rng.laplace(0, NEAR_M, n))
    for other, low, high in zip(OTHER_UNITS, units, units[1:], strict=False):
        mistaken = np.where((kind >= low) & (kind < high), depth / other.factor, mistaken)
    depth = np.where(wrong, mistaken, depth)
    found = doubt(depth, foretold, sd, depth)
    assert found.chance.mean() == pytest.approx(share, abs=0.02)
    for low, high in ((0.1, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 1.0)):
        these = (found.chance >= low) & (found.chance < high)
        if share and these.sum() > 100:
            assert wrong[these].mean() == pytest.approx(found.chance[these].mean(), abs=0.12)


def test_the_sharper_the_bed_knows_the_more_the_same_misfit_is_doubted() -> None:
    known = np.array([0.05, 0.1, 0.2, 0.4, 0.8])
    chance = doubt(np.full(5, 2.6), np.full(5, 2.0), known, np.full(5, np.nan)).chance
    assert (np.diff(chance) < 0).all()
    assert chance[0] > 0.99
    assert chance[-1] < 0.05


@given(st.lists(st.floats(-3, 3), min_size=2, max_size=30), st.randoms())
def test_order_changes_nothing(offs: list[float], shuffler: object) -> None:
    off = np.array(offs)
    order = np.arange(len(off))
    shuffler.shuffle(order)
    assert asked(off[order]).chance == pytest.approx(asked(off).chance[order], abs=CHANCE_SETTLED)


@given(st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=20), st.floats(1e-3, 10.0))
def test_any_finite_misfit_has_a_chance_between_nought_and_one(offs: list[float], sd: float) -> None:
    off = np.array(offs)
    chance = doubt(off + 2.0, np.full(len(off), 2.0), np.full(len(off), sd), off + 2.0).chance
    assert ((chance >= 0) & (chance <= 1)).all()


def test_what_was_not_foretold_has_no_chance_and_counts_for_nothing() -> None:
    alone = asked(np.array([0.0, 0.9]))
    beside = doubt(
        np.array([2.0, 2.9, np.nan, 9.0]), np.array([2.0, 2.0, 2.0, np.nan]), np.full(4, SD), np.full(4, np.nan)
    )
    assert beside.chance[:2] == pytest.approx(
        doubt(np.array([2.0, 2.9]), np.full(2, 2.0), np.full(2, SD), np.full(2, np.nan)).chance,
        abs=CHANCE_SETTLED,
    )
    assert np.isnan(beside.chance[2:]).all()
    assert alone.chance[1] > alone.chance[0]


@pytest.mark.parametrize("k", range(len(OTHER_UNITS)))
def test_a_figure_in_another_unit_is_recognised_with_the_depth_it_would_say(k: int) -> None:
    other, true = OTHER_UNITS[k], 2.0
    off = np.append(np.random.default_rng(3).normal(0, SD, 60), true / other.factor - true)
    found = asked(off, true)
    assert found.chance[-1] > 0.95
    assert found.unit[-1] == k
    assert found.mended_m[-1] == pytest.approx(true)
    assert (found.unit[:-1] == -1).all()


def test_a_setting_in_another_unit_is_mended_by_the_setting_alone() -> None:
    # Setting 1.80 m written as 5.9 (feet) in a metre column; float and tip make another 0.20 m of depth.
    setting = 1.80 / 0.3048
    off = np.append(np.zeros(40), setting + 0.20 - 2.0)
    found = asked(off, 2.0, np.append(np.full(40, 1.8), setting))
    assert OTHER_UNITS[found.unit[-1]].words == "feet, not metres"
    assert found.mended_m[-1] == pytest.approx(2.0)


def test_a_depth_that_fits_no_unit_has_none_named() -> None:
    assert asked(np.append(np.zeros(40), 1.1)).unit[-1] == -1


def test_a_reading_four_of_its_standard_deviations_off_is_warned_of_but_kept() -> None:
    """It may stand on a ledge or in a hole that nothing around it shows; eight off it does not."""
    ledge, mistake = asked(np.append(SOUND, [4 * SD, -8 * SD]), figure=np.full(202, np.nan)).chance[-2:]
    assert DOUBTFUL_FROM < ledge < MISTAKEN_FROM
    assert mistake > 0.95


def test_a_unit_is_named_only_where_no_other_mistake_is_as_likely() -> None:
    """Where the bed is known to 0.3 m only, what another unit would bring to 1.5 of those may as well just be wrong."""

    def last(mended_m: float, sd: float) -> tuple[float, int]:
        off = np.append(SOUND / SD * sd, mended_m * FOOT_M - 2.0)
        found = doubt(off + 2.0, np.full(len(off), 2.0), np.full(len(off), sd), off + 2.0)
        return float(found.chance[-1]), int(found.unit[-1])

    chance, unit = last(2.0 + 1.5 * 0.3, 0.3)
    assert chance > DOUBTFUL_FROM
    assert unit == -1
    chance, unit = last(2.0, SD)
    assert OTHER_UNITS[unit].words == "metres, not feet"


def test_half_a_survey_gone_wrong_does_not_condemn_the_other_half() -> None:
    """So many are wrong for one cause that they share; a reading two of its standard deviations off is still sound."""
    off = np.concatenate([SOUND, np.full(200, 1.3), [2 * SD]])
    chance = asked(off, figure=np.full(len(off), np.nan)).chance
    assert chance[-1] < DOUBTFUL_FROM
    assert (chance[200:400] > 0.9).all()


def test_the_share_of_mistakes_is_learnt_from_the_survey() -> None:
    """The same misfit is doubted more where many readings are wild. Posterior odds by hand as a check (scipy)."""
    clean = asked(np.append(np.zeros(300), 0.5)).chance[-1]
    wild = asked(np.concatenate([np.zeros(300), np.full(60, 1.3), [0.5]])).chance[-1]
    assert wild > clean
    # The share of rare ones is learnt as well; 300 readings in the very middle of their range make it smaller.
    plain, wide = stats.norm.pdf(0.0, 0, SD), stats.norm.pdf(0.0, 0, RARE_WIDER * SD)
    rare = RARE_SHARE
    for _ in range(200):
        rare = (300 * rare * wide / (rare * wide + (1 - rare) * plain) + RARE_SHARE * RARE_READINGS) / (
            300 + RARE_READINGS
        )
    sound = (1 - rare) * stats.norm.pdf(0.5, 0, SD) + rare * stats.norm.pdf(0.5, 0, RARE_WIDER * SD)
    near = NEAR * stats.laplace.pdf(0.5, 0, NEAR_M)
    anywhere = ANYWHERE / (1.3 * 2.0)
    share = (3.0 + asked(np.append(np.zeros(300), 0.5)).chance.sum()) / 401
    by_hand = share * (near + anywhere) / (share * (near + anywhere) + (1 - share) * sound)
    assert clean == pytest.approx(by_hand, rel=0.01)
