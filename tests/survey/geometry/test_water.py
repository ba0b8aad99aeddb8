"""Distance to shore, sight over water and the land between."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.distance import cdist
from shapely.geometry import MultiPolygon, Point

from survey.geometry.barriers import PATH_STRETCH, _detours
from survey.geometry.water import WaterGeometry, levelled_off
from tests.made.soundings import rectangle, scattered, with_spit


def test_distance_to_shore_counts_islands_and_agrees_with_shapely() -> None:
    water = MultiPolygon([rectangle().geoms[0].difference(Point(60, 40).buffer(10))])
    xy = scattered(water, 200, clear=0.0)
    expected = shapely.distance(shapely.points(xy), water.boundary)
    np.testing.assert_allclose(WaterGeometry(water).shore_m(xy), expected, atol=1e-9)


def test_a_convex_lake_has_no_axes() -> None:
    frame = WaterGeometry(rectangle())
    assert not frame.has_land_between
    assert not frame.places(scattered(rectangle(), 50)).axes.any()


def test_a_spit_holds_its_two_sides_apart_and_its_tip_together() -> None:
    frame = WaterGeometry(with_spit())
    west, east, west_tip, east_tip = frame.places(np.array([[50.0, 10], [70, 10], [50, 75], [70, 75]])).axes
    # 102 m of water round 20 m straight across: extra 9 410 m2, of which the cap of 40 m leaves 37 m squared.
    assert np.linalg.norm(west - east) == pytest.approx(37, abs=5)
    assert np.linalg.norm(west_tip - east_tip) < 3


def test_a_wall_thinner_than_the_lattice_holds_its_two_sides_apart_as_well() -> None:
    wall = shapely.box(59.9, -1.0, 60.1, 60.0)
    frame = WaterGeometry(MultiPolygon([rectangle().geoms[0].difference(wall)]))
    west, east = frame.places(np.array([[50.0, 10], [70, 10]])).axes
    assert np.linalg.norm(west - east) == pytest.approx(37, abs=5)


@pytest.mark.parametrize("line", [((20, 70), (100, 70)), ((5, 5), (50, 50)), ((62, 5), (115, 70))])
def test_axes_change_by_little_from_one_spot_to_the_next(line: tuple[tuple[float, float], ...]) -> None:
    """In two thousand steps of 3 or 4 cm the axes move by 7 cm at most; a jump would be a step in the bed."""
    axes = WaterGeometry(with_spit()).places(np.linspace(*np.array(line, float), 2001)).axes
    assert np.linalg.norm(np.diff(axes, axis=0), axis=1).max() < 0.15


def test_what_a_lattice_makes_too_long_is_no_detour() -> None:
    """By hand: of 60 m round 20 m straight the extra is (60/1.0275)² - (1.05 x 20)² = 2 968.9 m², capped to 1 039.7."""
    straight = np.array([5.0, 50.0, 500.0])
    assert not _detours(PATH_STRETCH * straight, straight).any()
    assert _detours(np.array([60.0]), np.array([20.0]))[0] == pytest.approx(1039.7, abs=0.1)


def test_sight_is_blocked_by_land_and_not_by_the_shore_one_stands_on() -> None:
    frame = WaterGeometry(with_spit())
    start = np.array([[50.0, 10], [50, 70], [0, 40]])
    end = np.array([[70.0, 10], [70, 70], [30, 40]])
    assert frame.sight.over_water(start, end).tolist() == [False, True, True]


def test_shore_points_lie_on_every_ring_evenly() -> None:
    water = MultiPolygon([rectangle().geoms[0].difference(Point(60, 40).buffer(10))])
    points = WaterGeometry(water).shore_points(5.0)
    np.testing.assert_allclose(shapely.distance(shapely.points(points), water.boundary), 0, atol=1e-9)
    assert len(points) == pytest.approx(water.length / 5.0, abs=2)


@given(st.floats(0, 500), st.floats(0, 500), st.floats(1, 100))
def test_levelling_off_keeps_order_and_never_passes_a_quarter_more(a: float, b: float, limit: float) -> None:
    low, high = levelled_off(np.array(sorted([a, b])), limit)
    assert low <= high <= 1.25 * limit + 1e-9
    assert min(a, limit) - 1e-9 <= levelled_off(np.array([a]), limit)[0] <= a + 1e-9


def test_axes_move_and_turn_with_the_lake() -> None:
    water, xy = with_spit(), scattered(with_spit(), 40)
    moved = shapely.transform(water, lambda c: c + np.array([500_000.0, 5_900_000.0]))
    first = WaterGeometry(water).places(xy).axes
    second = WaterGeometry(moved).places(xy + np.array([500_000.0, 5_900_000.0])).axes
    np.testing.assert_allclose(cdist(first, first), cdist(second, second), atol=0.01)
