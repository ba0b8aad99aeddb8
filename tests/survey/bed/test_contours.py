"""Contours stay on the water, round islands, and find narrow arms."""

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, box

from survey.bed.contours import chosen_interval_m, isobaths
from survey.bed.grid import NO_VALUE, Bed, Grid
from survey.units import FOOT_M
from tests.made.soundings import CRS, bowl, rectangle


def bed_of(water: MultiPolygon, depth_at: object, cell: float) -> Bed:
    west, south, east, north = water.bounds
    grid = Grid(west, south, cell, int(np.ceil((north - south) / cell)), int(np.ceil((east - west) / cell)))
    x, y = np.meshgrid(grid.eastings, grid.northings)
    wet = shapely.contains_xy(water, x, y)
    xy = np.column_stack([x.ravel(), y.ravel()])
    mm = np.where(wet, np.rint(depth_at(xy).reshape(x.shape) * 1000), NO_VALUE).astype(np.int32)  # type: ignore[operator]
    split = np.zeros((grid.ny - 1, grid.nx - 1), bool)
    return Bed(grid, water, mm, np.where(wet, 50, NO_VALUE).astype(np.int32), ~wet, split)


def test_lines_lie_on_the_water_and_at_their_depth() -> None:
    water = MultiPolygon([rectangle().geoms[0].difference(Point(60, 40).buffer(12))])
    depth = bowl(water)
    lines = isobaths(bed_of(water, depth, 1.0), CRS, 0.5)
    assert set(lines["depth_m"]) == {0.5, 1.0, 1.5, 2.0}
    assert lines.within(water.buffer(0.01)).all()
    for line, level in zip(lines.geometry, lines["depth_m"], strict=True):
        np.testing.assert_allclose(depth(shapely.get_coordinates(line)), level, atol=0.12)


def test_an_arm_one_cell_wide_still_has_its_line() -> None:
    water = MultiPolygon([box(0, 0, 60, 10).union(box(60, 4, 120, 6))])
    lines = isobaths(bed_of(water, lambda xy: 0.5 + xy[:, 0] / 60, 2.0), CRS, 0.5)
    assert lines.intersects(box(70, 4, 115, 6)).any()


def test_a_ramp_has_one_open_line_that_ends_at_the_bank() -> None:
    water = rectangle(50, 50)
    lines = isobaths(bed_of(water, lambda xy: xy[:, 0] / 10, 2.0), CRS, 1.5)
    first = lines[lines["depth_m"] == 1.5]
    assert len(first) == 1
    assert not first.geometry.iloc[0].is_ring
    assert first.geometry.iloc[0].length == pytest.approx(50, abs=0.1)


@pytest.mark.parametrize("feet", [True, False])
@pytest.mark.parametrize("deepest", [0.4, 1.2, 2.0, 2.9, 6.5, 9.5, 14.0, 20.0, 39.0])
def test_interval_is_round_and_keeps_lines_few(feet: bool, deepest: float) -> None:
    interval_m = chosen_interval_m(deepest, feet)
    assert 1 < deepest / interval_m <= 8
    # Round in the decimal system: one, two or five of a power of ten.
    assert f"{interval_m / (FOOT_M if feet else 1.0):.3e}"[:5] in {"1.000", "2.000", "5.000"}
