"""What a stored bed says between its cell centres, by hand and by scipy."""

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator
from shapely.geometry import MultiPolygon, box

from survey.bed.grid import NO_VALUE, Bed, Grid
from survey.bed.gridding import _split
from survey.geometry.water import WaterGeometry
from tests.made.tolerances import MICROMETRE

WEST, SOUTH, CELL = 100.0, 200.0, 2.0


def bed_of(depth_mm, water: MultiPolygon | None = None, split=None) -> Bed:
    depth = np.array(depth_mm, np.int32)
    ny, nx = depth.shape
    whole = MultiPolygon([box(WEST, SOUTH, WEST + CELL * nx, SOUTH + CELL * ny)])
    none = np.zeros((max(ny - 1, 0), max(nx - 1, 0)), bool)
    sd, beyond = np.where(depth == NO_VALUE, NO_VALUE, depth // 10).astype(np.int32), depth > 9000
    return Bed(Grid(WEST, SOUTH, CELL, ny, nx), water or whole, depth, sd, beyond, none if split is None else split)


def test_between_centres_a_bed_is_bilinear_and_beyond_the_outermost_it_stays_as_there():
    rng = np.random.default_rng(1)
    depth = rng.integers(500, 4000, (5, 7))
    bed = bed_of(depth)
    xs, ys = WEST + CELL * (np.arange(7) + 0.5), SOUTH + CELL * (np.arange(5) + 0.5)
    e, n = rng.uniform(WEST, WEST + 14, 200), rng.uniform(SOUTH, SOUTH + 10, 200)
    held = np.column_stack([np.clip(n, ys[0], ys[-1]), np.clip(e, xs[0], xs[-1])])
    found, sd, beyond = bed.at(e, n)
    for values, grid in ((found, bed.depth_mm), (sd, bed.sd_mm)):
        # A centre that has no weight still counts for a thousand millionth, so that edges stay answerable.
        np.testing.assert_allclose(
            values, RegularGridInterpolator((ys, xs), grid / 1000)(held), rtol=0, atol=MICROMETRE
        )
    assert not beyond.any()
    np.testing.assert_array_equal(bed.grid.northings, ys)
    np.testing.assert_array_equal(bed.grid.eastings, xs)


@pytest.mark.parametrize("turned", [False, True])
def test_a_bed_one_cell_wide_is_answered_along_its_length(turned):
    depth = np.array([[1000, 2000, 4000]])
    bed = bed_of(depth.T if turned else depth)
    along, across = np.array([101.0, 102.0, 104.0, 105.9]), np.full(4, 0.3)
    e, n = (WEST + across, SOUTH - 100 + along) if turned else (along, SOUTH + across)
    np.testing.assert_allclose(bed.at(e, n)[0], [1.0, 1.5, 3.0, 4.0], rtol=0, atol=MICROMETRE)


def test_across_a_spit_thinner_than_a_cell_only_the_own_side_counts():
    """6.0 m to the west of it and 0.6 m to the east; the spot lies a decimetre from the spit's side."""
    whole = box(WEST, SOUTH, WEST + 4, SOUTH + 4)
    water = MultiPolygon([whole.difference(box(WEST + 1.95, SOUTH - 1, WEST + 2.05, SOUTH + 3.9))])
    sides = [[6000, 600], [6000, 600]]
    parted = bed_of(sides, water, np.ones((1, 1), bool))
    west, east = parted.at([WEST + 1.9, WEST + 2.1], [SOUTH + 1.5, SOUTH + 1.5])[0]
    assert (west, east) == pytest.approx((6.0, 0.6), abs=MICROMETRE)
    assert np.isnan(parted.at(WEST + 2.0, SOUTH + 1.5)[0][0])
    blind = bed_of(sides, water)
    assert blind.at(WEST + 1.9, SOUTH + 1.5)[0][0] == pytest.approx(6.0 - 0.45 * 5.4, abs=MICROMETRE)


def test_a_spot_is_beyond_reach_if_the_centre_of_most_weight_is():
    bed = bed_of([[1000, 9500]])
    _, _, beyond = bed.at([WEST + 1.9, WEST + 2.1], [SOUTH + 1.0, SOUTH + 1.0])
    assert beyond.tolist() == [False, True]


def test_centres_without_a_value_have_no_say():
    bed = bed_of([[1000, NO_VALUE, NO_VALUE]] * 2)
    depth, sd, beyond = bed.at(WEST + np.array([1.9, 2.9, 5.0]), np.full(3, SOUTH + 2.0))
    assert (depth[0], sd[0]) == pytest.approx((1.0, 0.1))
    assert depth[1] == pytest.approx(1.0), "up to the next centre the last one with a value answers"
    assert np.isnan([depth[2], sd[2]]).all()
    assert beyond.tolist() == [False, False, True]
    np.testing.assert_array_equal(np.isnan(bed.depth_m), ~bed.on_water)


WALLS = {"upright": box(60.0, -1.0, 60.2, 40.0), "level": box(-1.0, 40.0, 60.0, 40.2)}


@pytest.mark.parametrize("wall", list(WALLS))
@pytest.mark.parametrize(("ny", "nx"), [(15, 25), (1, 25), (15, 1)])
def test_a_block_is_split_where_land_stands_between_two_of_its_centres(ny, nx, wall):
    """Against every pair of centres looked at: a wall 20 cm wide that one centre stands beside, the next far from."""
    water = MultiPolygon([box(0.0, 0.0, 110.0, 70.0).difference(WALLS[wall])])
    frame, grid = WaterGeometry(water), Grid(2.5, 2.5, 4.0, ny, nx)
    x, y = np.meshgrid(grid.eastings, grid.northings)
    wanted = np.zeros((ny - 1, nx - 1), bool)
    for i, j in np.ndindex(wanted.shape):
        centres = np.column_stack([x[i : i + 2, j : j + 2].ravel(), y[i : i + 2, j : j + 2].ravel()])
        starts, ends = np.triu_indices(4, 1)
        wanted[i, j] = not frame.sight.over_water(centres[starts], centres[ends]).all()
    found = _split(grid, np.ones((ny, nx), bool), frame)
    np.testing.assert_array_equal(found, wanted)
    assert wanted.any() or min(ny, nx) == 1
