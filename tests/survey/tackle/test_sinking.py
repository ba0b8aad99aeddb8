"""Sinking spheres against published drag, and the fall of a rig by its laws."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.errors import SurveyError
from survey.tackle.feed import landing
from survey.tackle.sinking import (
    GRAVITY,
    WATER_DENSITY,
    WATER_VISCOSITY,
    Sphere,
    drag_coefficient,
    fall_s,
    shot_sphere,
    sinking_speed,
)


@pytest.mark.parametrize(
    ("reynolds", "drag"), [(0.1, 245.0), (1, 26.5), (10, 4.26), (100, 1.09), (1e3, 0.47), (1e4, 0.405), (1e5, 0.48)]
)
def test_the_standard_drag_curve(reynolds, drag):
    """Clift, Grace and Weber (1978), Bubbles, Drops and Particles, standard drag curve (from memory); 13 % at 1e5."""
    assert drag_coefficient(reynolds) == pytest.approx(drag, rel=0.13 if reynolds == 1e5 else 0.05)


@pytest.mark.parametrize("drag_times_square", [200.0, 1e3, 1e4, 1e5, 1e6, 1e7, 3e7])
def test_terminal_velocity_is_davies_s(drag_times_square):
    """Davies (1945), Proc. Phys. Soc. 57, 259: Re of a falling sphere from Cd Re², for 3 < Re < 10 000."""
    z = math.log10(drag_times_square)
    davies = 10 ** (-1.29536 + 0.986 * z - 0.046677 * z**2 + 0.0011235 * z**3)
    # Cd Re² = 4/3 g (density ratio - 1) d³ / nu²; any density will do, the diameter follows.
    density = 2650.0
    d = (0.75 * drag_times_square * WATER_VISCOSITY**2 / GRAVITY / (density / WATER_DENSITY - 1)) ** (1 / 3)
    assert sinking_speed([Sphere(d, density)]) * d / WATER_VISCOSITY == pytest.approx(davies, rel=0.04)


def test_a_grain_small_enough_obeys_stokes():
    """Stokes (1851): v = (density - water) g d² / (18 mu); the Schiller and Naumann term is 1 % there."""
    d, density = 20e-6, 1500.0
    stokes = (density - WATER_DENSITY) * GRAVITY * d**2 / (18 * WATER_VISCOSITY * WATER_DENSITY)
    assert sinking_speed([Sphere(d, density)]) == pytest.approx(stokes, rel=0.01)


@given(st.floats(1e-4, 0.01), st.floats(1010, 11000))
def test_at_terminal_velocity_drag_is_weight(diameter, density):
    sphere = Sphere(diameter, density)
    v = sinking_speed([sphere])
    reynolds = v * diameter / WATER_VISCOSITY
    drag = 0.5 * WATER_DENSITY * v**2 * math.pi / 4 * diameter**2 * drag_coefficient(reynolds)
    assert drag == pytest.approx(sphere.weight_n, rel=1e-6)


@given(st.floats(0.01, 1.6), st.floats(0.01, 1.6))
def test_two_that_fall_as_one_go_at_a_speed_between(one_g, other_g):
    one, other = shot_sphere(one_g), shot_sphere(other_g)
    speeds = sorted(sinking_speed([s]) for s in (one, other))
    assert speeds[0] - 1e-9 <= sinking_speed([one, other]) <= speeds[1] + 1e-9


def test_what_floats_or_falls_too_fast_is_refused():
    with pytest.raises(SurveyError, match="This floats"):
        sinking_speed([Sphere(0.005, 900.0)])
    with pytest.raises(SurveyError, match="drag formula"):
        sinking_speed([Sphere(0.2, 8000.0)])


BAIT = Sphere(0.005, 1050.0)


def test_without_shot_the_bait_falls_all_the_way_alone():
    assert fall_s([], 2.0, BAIT) == pytest.approx(2.0 / sinking_speed([BAIT]))


def test_the_last_of_the_line_falls_with_the_bait_alone():
    one = fall_s([(0.5, 0.4)], 2.0, BAIT)
    by_hand = 1.5 / sinking_speed([BAIT, shot_sphere(0.4)]) + 0.5 / sinking_speed([BAIT])
    assert one == pytest.approx(by_hand)


@given(st.floats(0.8, 5.0), st.floats(0.1, 0.7), st.floats(0.05, 0.6))
def test_shot_higher_up_or_lighter_never_makes_the_fall_faster(depth, low, grams):
    near = fall_s([(low * 0.5, grams)], depth, BAIT)
    assert near <= fall_s([(low, grams)], depth, BAIT) + 1e-9
    assert near <= fall_s([(low * 0.5, grams / 2)], depth, BAIT) + 1e-9


@given(st.permutations([(0.3, 0.1), (0.6, 0.2), (1.2, 0.4), (1.2, 0.1)]))
def test_the_order_in_which_shot_is_named_changes_nothing(shot):
    assert fall_s(shot, 2.0, BAIT) == pytest.approx(fall_s(sorted(shot), 2.0, BAIT))


def test_feed_lands_no_further_than_the_surface_drifts_while_it_sinks():
    found = landing(2.0, 5.0)
    assert 0 < found.least_s < found.most_s
    assert found.most_m == pytest.approx(found.most_s * 0.15)
    assert landing(2.0, 0.0).most_m == 0
