"""Shot on the line: what goes where for each rig, and what holding the float takes away."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.errors import QueryError
from survey.spots.float_setting import RigStyle
from survey.tackle.shotting import Line, placed, shotted, without
from survey.units.shot_sizes import read_shot, weight_g

TIN = read_shot("SSG, AAA, BB, No 4, No 6, No 8, No 10")
LINE = Line(2.0)


def test_one_number_four_alone_goes_a_quarter_of_the_way_up():
    """Common practice."""
    (one,) = placed({"No 4": 1}, RigStyle.SLOW, LINE)
    assert one.from_hook_m == pytest.approx(0.5)


def test_two_of_three_number_fours_hold_the_float_and_one_is_left():
    """Common practice: a balance of three No 4, two of them locking."""
    found = shotted(0.6, read_shot("3 No 4"), RigStyle.SLOW, LINE, {"No 4": 2})
    assert found.way == {"No 4": 1}
    assert found.difference_g == 0


def test_slow_shot_is_small_and_spread_with_the_heaviest_uppermost():
    found = shotted(0.8, TIN, RigStyle.SLOW, LINE)
    places = [p.from_hook_m for p in found.placed]
    assert sum(found.way.values()) >= 4
    assert places == sorted(places, reverse=True)
    assert places[-1] == pytest.approx(0.5)
    weights = [p.weight_g / p.count for p in found.placed]
    assert weights == sorted(weights, reverse=True)


def test_fast_shot_is_together_in_the_lower_half_with_one_or_two_small_below():
    found = shotted(2.0, TIN, RigStyle.FAST, LINE)
    *bulk, last = found.placed
    assert sum(p.weight_g for p in bulk) > 0.8 * weight_g(found.way)
    assert all(0.7 <= p.from_hook_m <= 1.0 for p in found.placed if p.weight_g > 0.4)
    assert 0.3 <= last.from_hook_m <= 0.61
    assert last.weight_g / last.count <= 0.2


@pytest.mark.parametrize(
    ("length_m", "from_hook_m"),
    [
        (4.0, (1.6, 0.6096, 0.3048)),  # two fifths up, and two and one feet from the hook
        (1.0, (0.45, 0.35, 0.20)),  # on a short line the droppers come down, the bulk stays 10 cm above them
        (0.5, (0.25, 0.175, 0.10)),  # and never above the middle
    ],
)
def test_the_bulk_is_two_fifths_up_the_line_with_droppers_one_and_two_feet_from_the_hook(length_m, from_hook_m):
    """Common practice."""
    shot = placed({"BB": 4, "No 8": 2}, RigStyle.FAST, Line(length_m))
    assert [(p.size, p.count) for p in shot] == [("BB", 4), ("No 8", 1), ("No 8", 1)]
    assert [p.from_hook_m for p in shot] == pytest.approx(from_hook_m)


def test_held_shot_lies_where_the_line_leaves_the_bed():
    found = shotted(2.0, TIN, RigStyle.HELD, Line(2.0, 0.0, 0.1143))
    assert found.placed[-1].from_hook_m == pytest.approx(0.1143)


balances = st.floats(0.1, 4.0)


@given(balances, st.sampled_from(list(RigStyle)), st.floats(0.16, 6), st.floats(0, 0.5), st.floats(0, 0.45))
def test_shot_stays_on_the_line_off_the_hook_length_in_order_and_weighs_what_is_said(balance, rig, long, hook, over):
    line = Line(long, min(hook, long), over)
    found = shotted(balance, TIN, rig, line)
    places = [p.from_hook_m for p in found.placed]
    assert places == sorted(places, reverse=True)
    assert all(line.hook_length_m - 1e-9 <= at <= long + 1e-9 for at in places)
    down = sum(p.weight_g for p in found.placed)
    assert down == pytest.approx(weight_g(found.way))
    assert down - found.balance_g == pytest.approx(found.difference_g, abs=1e-6)
    assert abs(found.difference_g) <= 0.02 + 1e-9


def test_locking_that_takes_all_or_is_not_there_is_refused():
    with pytest.raises(QueryError, match="none is left for the line"):
        shotted(0.4, TIN, RigStyle.SLOW, LINE, {"BB": 1})
    with pytest.raises(QueryError, match="2 BB are to hold the float, but you have 1"):
        without({"BB": 1}, {"BB": 2})
    with pytest.raises(QueryError, match="1 AAA are to hold the float, but you have 0"):
        without({"BB": 2}, {"AAA": 1})
    with pytest.raises(QueryError, match="All the shot you have is holding the float"):
        without({"BB": 2}, {"BB": 2})
