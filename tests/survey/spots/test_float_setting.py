"""From depth to setting: where the bait hangs, which way rounding errs, and when nothing is offered."""

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

from survey.errors import SourceRow
from survey.records.floats import BARE_LINE, Float
from survey.records.readings import Fix, FloatSeen, Reading
from survey.records.venue import Venue
from survey.reduction.depths import plumbed
from survey.spots.float_setting import (
    LEAST_SETTING_M,
    MOST_OVER_DEPTH_M,
    RIG_RULES,
    DepthRange,
    HookEnd,
    RigStyle,
    fixed_or_sliding,
    rounded,
    setting_for,
)
from survey.spots.level_by_plumbing import found_depth_m
from survey.units import FOOT_M, INCH_M

HALF_INCH, CENTIMETRE = 0.5 * INCH_M, 0.01


def deep(depth_m: float, half_range_m: float = 0.2) -> DepthRange:
    return DepthRange(depth_m, half_range_m / 2, depth_m - half_range_m, depth_m + half_range_m)


MEASURED = st.sampled_from(["hold", "tip"])


@st.composite
def floats(draw, setting_to=MEASURED) -> Float:
    length = draw(st.floats(0, 0.4))
    return Float("some float", length, length * draw(st.floats(0, 1)), draw(setting_to))


rigs = st.sampled_from(list(RigStyle))
depths = st.floats(1.2, 8.0)
steps = st.sampled_from([HALF_INCH, CENTIMETRE])
WAGGLER = Float("waggler", 10 * INCH_M, 1 * INCH_M)


# --- the sum ---


@pytest.mark.parametrize(("rig", "setting_in"), [(RigStyle.SLOW, 57), (RigStyle.FAST, 63), (RigStyle.HELD, 67.5)])
def test_a_ten_inch_float_in_six_feet_of_water(rig, setting_in):
    """Common practice: 72 in of water, 9 in of float under the surface, bait 6 in off, on, or 4½ in of line down."""
    setting = setting_for(deep(72 * INCH_M), WAGGLER, rig)
    assert setting.setting_m / INCH_M == pytest.approx(setting_in)
    assert setting.off_bottom_m == RIG_RULES[rig].clearance_m


def bait_depth_m(setting_m: float, held_by: Float) -> float:
    """Where the bait hangs when the float stands at its usual tip, below the surface."""
    line_below_hold = setting_m - (held_by.length_m if held_by.setting_to == "tip" else 0.0)
    return line_below_hold + held_by.length_m - held_by.tip_m


@given(depths, floats(), floats(), rigs, st.floats(0, 1), st.floats(0, 0.1))
def test_plumbed_with_one_float_and_fished_with_another_the_bait_hangs_where_asked(
    depth, by, with_, rig, tip_share, hook_height
):
    """The ruler and the setting are each other's inverse, whatever the lengths and however each is measured."""
    tip = by.length_m * tip_share
    written = depth - hook_height - by.length_m + tip + (by.length_m if by.setting_to == "tip" else 0.0)
    reading = Reading(
        SourceRow("readings.csv", 2), "1", Fix(0, 0, "venue", 1), setting_m=written, float_name=by.name,
        seen=FloatSeen.STANDS, tip_m=tip, hook_height_m=hook_height,
    )  # fmt: skip
    found = plumbed(reading, _venue(by)).depth_m
    assert found == pytest.approx(depth)
    setting = setting_for(deep(found), with_, rig)
    assert depth - bait_depth_m(setting.setting_m, with_) == pytest.approx(RIG_RULES[rig].clearance_m)


def _venue(held_by: Float) -> Venue:
    return Venue("Quillmere", "EPSG:32630", MultiPolygon([box(0, 0, 1, 1)]), (), floats=(held_by,))


@given(depths, floats(), rigs, st.floats(-0.5, 0.5))
def test_a_level_up_by_h_puts_every_setting_up_by_h(depth, held_by, rig, h):
    assume(depth + h > 1.2)
    before, after = (setting_for(deep(d), held_by, rig) for d in (depth, depth + h))
    for name in ("setting_m", "lower_m", "upper_m"):
        assert getattr(after, name) - getattr(before, name) == pytest.approx(h, abs=1e-9)


@given(depths, floats(), rigs)
def test_the_range_of_the_setting_is_the_range_of_the_depth(depth, held_by, rig):
    setting = setting_for(deep(depth, 0.3), held_by, rig)
    assert setting.upper_m - setting.setting_m == pytest.approx(0.3)
    assert setting.setting_m - setting.lower_m == pytest.approx(0.3)


@given(depths, rigs, floats(st.just("hold")))
def test_measured_to_the_tip_a_setting_is_longer_by_the_float(depth, rig, held_by):
    to_hold, to_tip = (setting_for(deep(depth), replace(held_by, setting_to=t), rig) for t in ("hold", "tip"))
    assert to_tip.setting_m - to_hold.setting_m == pytest.approx(held_by.length_m)


@given(depths, rigs)
def test_without_a_float_the_setting_is_hook_to_surface(depth, rig):
    assert setting_for(deep(depth), BARE_LINE, rig).setting_m == pytest.approx(depth - RIG_RULES[rig].clearance_m)


# --- nothing offered ---


@pytest.mark.parametrize(
    ("depth_m", "rig", "why"),
    [
        (0.0, RigStyle.FAST, "dry at this level"),
        (-0.2, RigStyle.SLOW, "dry at this level"),
        (9.9 * INCH_M, RigStyle.FAST, "too shallow for this float"),
        (16 * INCH_M, RigStyle.SLOW, "too shallow for this rig"),
        (3 * FOOT_M, RigStyle.HELD, "not here: three feet of water or less"),
    ],
)
def test_no_setting_where_the_rig_has_no_place(depth_m, rig, why):
    setting = setting_for(deep(depth_m), WAGGLER, rig)
    assert (setting.setting_m, setting.lower_m, setting.upper_m) == (None, None, None)
    assert setting.why_not == why


@given(st.floats(-1, 8), floats(), rigs)
def test_there_is_a_setting_or_a_reason_and_never_less_than_six_inches_of_line(depth, held_by, rig):
    setting = setting_for(deep(depth), held_by, rig)
    assert (setting.setting_m is None) == bool(setting.why_not)
    if setting.setting_m is not None:
        line = setting.setting_m - (held_by.length_m if held_by.setting_to == "tip" else 0.0)
        assert line >= LEAST_SETTING_M - 1e-9
        assert 0 <= setting.lower_m <= setting.setting_m <= setting.upper_m


# --- rounding ---


@pytest.mark.parametrize(("rig", "inches"), [(RigStyle.SLOW, 60.0), (RigStyle.FAST, 60.5), (RigStyle.HELD, 60.5)])
def test_rounding_errs_off_the_bottom_for_slow_and_toward_the_bed_for_the_others(rig, inches):
    assert rounded(60.2 * INCH_M, rig, HALF_INCH) / INCH_M == pytest.approx(inches)
    assert rounded(60.3 * INCH_M, rig, HALF_INCH) / INCH_M == pytest.approx(inches)


@given(st.floats(0.16, 8), rigs, steps)
def test_a_rounded_setting_is_on_a_step_on_the_rig_s_side_and_within_one_step(setting, rig, step):
    got = rounded(setting, rig, step)
    assert got / step == pytest.approx(round(got / step), abs=1e-6)
    moved = got - setting if RIG_RULES[rig].rounds_deeper else setting - got
    assert -1e-6 <= moved < step


@given(st.integers(1, 400), rigs, steps)
def test_a_setting_on_a_step_stays(count, rig, step):
    assert rounded(count * step, rig, step) == pytest.approx(count * step, abs=1e-9)
    assert rounded(rounded(count * step, rig, step), rig, step) == rounded(count * step, rig, step)


# --- fixed or sliding (common practice) ---


@pytest.mark.parametrize(
    ("setting_m", "says"),
    [(2.9, ""), (3.0, "consider a sliding float"), (3.39, "consider a sliding float"), (3.4, "use a sliding float")],
)
def test_a_four_metre_rod_limits_a_fixed_float(setting_m, says):
    advice = fixed_or_sliding(setting_m, 4.0)
    assert advice.startswith(says)
    assert bool(advice) == bool(says)


def test_a_sliding_float_and_a_pole_s_have_no_such_limit():
    assert fixed_or_sliding(3.9, 4.0, "sliding") == fixed_or_sliding(3.9, 4.0, "pole") == ""


# --- hook and bait ---


@given(depths, floats(), rigs, st.floats(0, 0.05))
def test_the_bait_not_the_hook_ends_where_the_rig_wants_it(depth, held_by, rig, bait):
    setting = setting_for(deep(depth), held_by, rig, HookEnd(bait))
    clearance = RIG_RULES[rig].clearance_m
    hook = bait_depth_m(setting.setting_m, held_by)
    assert hook == pytest.approx(depth - clearance - (bait if clearance >= 0 else 0.0))
    assert setting.bait_m == (bait if clearance >= 0 else 0.0)


@given(depths, floats(), floats(), rigs)
def test_plumb_with_one_float_and_fish_with_another_and_the_bait_hangs_where_asked(depth, plumbing, fishing, rig):
    """The float as a ruler: the depth found with one float gives the setting of any other."""
    set_at = depth - (0.0 if plumbing.setting_to == "tip" else plumbing.length_m) + plumbing.tip_m
    assume(set_at > 0.01)
    found = found_depth_m(set_at, plumbing)
    setting = setting_for(deep(found), fishing, rig)
    assert bait_depth_m(setting.setting_m, fishing) == pytest.approx(depth - RIG_RULES[rig].clearance_m)


@given(depths, floats(), st.floats(0.05, MOST_OVER_DEPTH_M))
def test_only_a_held_rig_lays_down_as_much_line_as_the_wind_asks_for(depth, held_by, over):
    end = HookEnd(over_depth_m=over)
    held = setting_for(deep(depth), held_by, RigStyle.HELD, end)
    assert held.off_bottom_m == -over
    assert bait_depth_m(held.setting_m, held_by) == pytest.approx(depth + over)
    for rig in (RigStyle.SLOW, RigStyle.FAST):
        assert setting_for(deep(depth), held_by, rig, end) == setting_for(deep(depth), held_by, rig)
