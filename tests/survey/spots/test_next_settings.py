"""What to try next: nearest first, by rig and fish, none twice and none impossible."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.records.floats import Float
from survey.spots.float_setting import LEAST_SETTING_M, MOST_OVER_DEPTH_M, RigStyle, rounded, setting_for
from survey.spots.next_settings import FISH, Sought, what_to_try
from survey.units import INCH_M
from tests.survey.spots.test_float_setting import WAGGLER, bait_depth_m, deep, floats, rigs


def offsets_in(rig: RigStyle, sought: Sought | None, depth_m: float = 2.5) -> list[float]:
    depth = deep(depth_m)
    setting = setting_for(depth, WAGGLER, rig)
    return [round((t - setting.setting_m) / INCH_M, 6) for t in what_to_try(setting, depth, WAGGLER, sought)]


@pytest.mark.parametrize(
    ("rig", "sought", "first_in"),
    [
        (RigStyle.SLOW, None, [-3, 3, -6, 6]), (RigStyle.FAST, None, [3, -3, 6, -6]),
        (RigStyle.FAST, Sought.MIDWATER, [-3, 3, -6, 6]),
        (RigStyle.SLOW, Sought.SURFACE, [-3, -6, -9, -12, -18, -24, -36, -48]),
        (RigStyle.FAST, Sought.BOTTOM, [3, 6, 9, 12, 18, -3, -6]),
    ],
)  # fmt: skip
def test_the_order_follows_rig_and_fish(rig, sought, first_in):
    assert offsets_in(rig, sought)[: len(first_in)] == pytest.approx(first_in)


def test_fish_are_looked_for_where_the_trade_looks():
    """Common practice: rudd near the surface, roach anywhere, bream, tench and carp on the bottom."""
    assert {name for name, sought in FISH.items() if sought is Sought.BOTTOM} == {"bream", "tench", "carp"}
    assert (FISH["rudd"], FISH["roach"]) == (Sought.SURFACE, Sought.MIDWATER)


wanted = st.sampled_from([None, *Sought])


@given(st.floats(0.3, 8), floats(), rigs, wanted)
def test_every_try_can_be_fished_and_none_comes_twice(depth, held_by, rig, sought):
    setting = setting_for(deep(depth), held_by, rig)
    tries = what_to_try(setting, deep(depth), held_by, sought)
    for tried in tries:
        line = tried - (held_by.length_m if held_by.setting_to == "tip" else 0.0)
        assert line >= LEAST_SETTING_M - 0.0011
        assert bait_depth_m(tried, held_by) <= depth + MOST_OVER_DEPTH_M + 0.0011
    shown = [round(rounded(t, rig, INCH_M / 2) / INCH_M * 2) for t in (*tries, *([setting.setting_m] if tries else []))]
    assert len(shown) == len(set(shown))


@given(st.floats(1.0, 8), floats(), rigs)
def test_the_list_reaches_from_near_the_surface_to_eighteen_inches_down(depth, held_by, rig):
    setting = setting_for(deep(depth), held_by, rig)
    tries = [*what_to_try(setting, deep(depth), held_by), setting.setting_m]
    least = LEAST_SETTING_M + (held_by.length_m if held_by.setting_to == "tip" else 0.0)
    assert min(tries) < least + 12 * INCH_M + 0.002
    assert max(bait_depth_m(t, held_by) for t in tries) > depth + MOST_OVER_DEPTH_M - 7 * INCH_M


def test_a_fixed_float_tries_nothing_longer_than_can_be_cast_and_a_sliding_one_may():
    depth = deep(3.0)
    fixed, sliding = (Float("f", 0.25, 0.02, kind=kind) for kind in ("fixed", "sliding"))
    limit = 2.9
    setting = setting_for(depth, fixed, RigStyle.FAST)
    assert max(what_to_try(setting, depth, fixed, most_m=limit)) <= limit + 0.001
    assert max(what_to_try(setting, depth, sliding, most_m=limit)) > limit
