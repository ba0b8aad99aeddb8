"""One cast over a plane bed: what its range must be by hand, and what moving or turning the lake must not change."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

from survey.bed.grid import Bed, Grid
from survey.errors import SourceRow
from survey.geometry.geodesy import Geodesy
from survey.records.floats import Float
from survey.records.uncertainty import StandardErrors
from survey.records.venue import Peg, Venue
from survey.spots.answer import DRY, OFF_WATER, UNSURVEYED, Today, answer
from survey.spots.cast import CAST_NODES, CastScatter, Spot, cast_nodes, cast_range, scatter_for
from survey.spots.float_setting import RIG_RULES, RigStyle
from survey.units import Z_95
from tests.made.tolerances import MICROMETRE, SHARE

CRS = "EPSG:32631"
WEST, SOUTH, SIDE = 594_700.0, 6_151_000.0, 120.0
WAGGLER = Float("waggler", 0.254, 0.0254)
MIDDLE = (WEST + SIDE / 2, SOUTH + SIDE / 2)


def plane(gradient=(0.0, 0.0), sd_m=0.1, middle_m=3.0, origin=(WEST, SOUTH)) -> Bed:
    """A square of water over a plane bed: depth middle_m in its middle, growing by gradient (east, north)."""
    grid = Grid(*origin, 1.0, int(SIDE), int(SIDE))
    east, north = np.meshgrid(grid.eastings - origin[0] - SIDE / 2, grid.northings - origin[1] - SIDE / 2)
    depth = np.round((middle_m + gradient[0] * east + gradient[1] * north) * 1000).astype(np.int32)
    shape = depth.shape
    return Bed(
        grid=grid,
        water=MultiPolygon([box(origin[0], origin[1], origin[0] + SIDE, origin[1] + SIDE)]),
        depth_mm=depth,
        sd_mm=np.full(shape, round(sd_m * 1000), np.int32),
        beyond_reach=np.zeros(shape, bool),
        split=np.zeros((shape[0] - 1, shape[1] - 1), bool),
    )


def spot_at(easting: float, northing: float, distance_m: float = 30.0) -> Spot:
    return Spot("1", "straight out", 0.0, distance_m, easting, northing)


def half_range(bed: Bed, azimuth_deg: float, scatter: CastScatter, distance_m: float = 30.0) -> float:
    found = cast_range(bed, spot_at(*MIDDLE, distance_m), azimuth_deg, scatter, 0.0)
    assert found.depth_m == pytest.approx(3.0, abs=0.001)
    # Half a grid millimetre at either end.
    assert found.upper_m - found.depth_m == pytest.approx(found.depth_m - found.lower_m, rel=0.01, abs=0.001)
    return (found.upper_m - found.lower_m) / 2


# --- the scatter of one cast ---


def test_the_nodes_of_a_cast_are_near_enough_standard_normal():
    nodes = cast_nodes()
    assert nodes.shape == (CAST_NODES, 2)
    assert nodes.mean(axis=0) == pytest.approx([0, 0], abs=SHARE)
    assert np.cov(nodes.T, bias=True) == pytest.approx(np.eye(2), abs=SHARE)


@pytest.mark.parametrize(("by", "sd_m"), [("pole", 0.2), ("wraps", 0.4), ("estimated", 4.0)])
def test_a_cast_is_scattered_as_its_distance_is_known(by, sd_m):
    assert scatter_for(40, by, 1.5, StandardErrors()) == CastScatter(1.5, pytest.approx(sd_m))


@pytest.mark.parametrize(("slope", "sd_m", "distance_sd_m"), [(1 / 3, 0.1, 1.0), (0.2, 0.3, 2.0), (0.1, 0.05, 3.0)])
@pytest.mark.parametrize("azimuth", [0, 90, 217])
def test_down_a_slope_the_range_grows_with_the_distance_s_scatter(slope, sd_m, distance_sd_m, azimuth):
    """Two normals in quadrature: 1.96 sqrt(sd² + (slope x scatter)²)."""
    turn = math.radians(azimuth)
    bed = plane((slope * math.sin(turn), slope * math.cos(turn)), sd_m)
    expected = Z_95 * math.hypot(sd_m, slope * distance_sd_m)
    assert half_range(bed, azimuth, CastScatter(0.0, distance_sd_m)) == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize("direction_sd", [1.5, 4.0])
def test_along_a_slope_the_range_grows_with_the_direction_s_scatter(direction_sd):
    bed = plane((0.2, 0.0), 0.1)
    across = 30 * math.radians(direction_sd)
    expected = Z_95 * math.hypot(0.1, 0.2 * across)
    assert half_range(bed, 0.0, CastScatter(direction_sd, 0.0)) == pytest.approx(expected, rel=0.02)


@given(st.floats(0.05, 0.4), st.floats(0, 3), st.floats(0, 5), st.floats(0, 360))
@settings(max_examples=30, deadline=None)
def test_over_a_flat_bed_only_the_bed_s_own_doubt_counts(sd, distance_sd, direction_sd, azimuth):
    bed = plane((0, 0), sd)
    got = half_range(bed, azimuth, CastScatter(direction_sd, distance_sd))
    assert got == pytest.approx(Z_95 * round(sd * 1000) / 1000, rel=1e-6)


@given(st.floats(-1.0, 1.0))
@settings(max_examples=30, deadline=None)
def test_a_level_up_by_h_moves_the_whole_range_up_by_h(h):
    bed, spot, scatter = plane((0.1, 0.05), 0.15), spot_at(*MIDDLE), CastScatter(4.0, 1.0)
    before, after = (cast_range(bed, spot, 30.0, scatter, rise) for rise in (0.0, h))
    for name in ("depth_m", "lower_m", "upper_m"):
        assert getattr(after, name) - getattr(before, name) == pytest.approx(h, abs=MICROMETRE)


def test_a_range_never_reaches_above_the_water():
    found = cast_range(plane((0.2, 0), 0.5, middle_m=0.3), spot_at(*MIDDLE), 90.0, CastScatter(4.0, 2.0), 0.0)
    assert found.lower_m == 0.0
    assert found.lower_m < found.depth_m < found.upper_m


@given(st.integers(-5000, 5000), st.integers(-5000, 5000))
@settings(max_examples=20, deadline=None)
def test_a_lake_moved_in_its_grid_answers_the_same(dx, dy):
    scatter = CastScatter(4.0, 2.0)
    here = cast_range(plane((0.1, 0.2)), spot_at(*MIDDLE), 50.0, scatter, 0.1)
    moved = plane((0.1, 0.2), origin=(WEST + dx, SOUTH + dy))
    there = cast_range(moved, spot_at(MIDDLE[0] + dx, MIDDLE[1] + dy), 50.0, scatter, 0.1)
    assert (there.depth_m, there.lower_m, there.upper_m) == pytest.approx(
        (here.depth_m, here.lower_m, here.upper_m), abs=MICROMETRE
    )


@pytest.mark.parametrize("quarter_turns", [1, 2, 3])
def test_a_lake_turned_with_its_casts_answers_the_same(quarter_turns):
    scatter = CastScatter(4.0, 2.0)
    turn = math.radians(90 * quarter_turns)
    east, north = 0.1, 0.2
    # Clockwise, as azimuths turn.
    turned = (east * math.cos(turn) + north * math.sin(turn), north * math.cos(turn) - east * math.sin(turn))
    here = cast_range(plane((east, north)), spot_at(*MIDDLE), 50.0, scatter, 0.0)
    there = cast_range(plane(turned), spot_at(*MIDDLE), 50.0 + 90 * quarter_turns, scatter, 0.0)
    assert (there.lower_m, there.upper_m) == pytest.approx((here.lower_m, here.upper_m), abs=0.002)


def test_land_within_the_scatter_is_not_counted_as_water():
    bed = plane((0.02, 0.0), 0.05)
    edge = spot_at(WEST + SIDE - 1.0, MIDDLE[1])
    found = cast_range(bed, edge, 90.0, CastScatter(0.0, 5.0), 0.0)
    deepest = 3.0 + 0.02 * SIDE / 2
    assert found.upper_m < deepest + Z_95 * 0.05 + 0.01
    assert cast_range(bed, spot_at(WEST - 1, MIDDLE[1]), 90.0, CastScatter(0.0, 5.0), 0.0) is None


# --- the answer ---


def peg_at(x: float, y: float, facing_grid_deg: float) -> Peg:
    geometry = Geodesy(CRS)
    e, n = WEST + x, SOUTH + y
    lon, lat = (float(v) for v in geometry.lonlat(e, n))
    facing = facing_grid_deg + geometry.convergence_deg(e, n)
    return Peg("1", e, n, lon, lat, facing, 0.0, 1.0, SourceRow("pegs.csv", 2))


PEG = peg_at(0, SIDE / 2, 90)


def venue_of(bed: Bed) -> Venue:
    return Venue("Eelmarsh", CRS, bed.water, (PEG,))


def ask(bed: Bed, distance_m=30.0, rise_m=0.0, held_by=WAGGLER):
    e, n = Geodesy(CRS).cast(PEG.lon, PEG.lat, PEG.facing_deg, distance_m)
    spot = spot_at(e, n, distance_m)
    return answer(venue_of(bed), bed, spot, PEG.facing_deg, CastScatter(1.5, 1.0), Today(rise_m, held_by))


def test_an_answer_turns_the_true_bearing_to_the_grid_it_scatters_in():
    """Straight down the slope in the grid: were the bearing not turned back, the range would not notice; the
    spot's own place on a bed sloping across the cast does."""
    bed = plane((0.0, 0.3), 0.02)
    found = ask(bed, 60.0)
    assert found.depth_m == pytest.approx(3.0, abs=0.005)
    by_hand = cast_range(bed, found.spot, 90.0, CastScatter(1.5, 1.0), 0.0)
    assert (found.lower_m, found.upper_m) == pytest.approx((by_hand.lower_m, by_hand.upper_m), abs=0.002)


def test_an_answer_is_the_datum_s_depth_and_the_level():
    found = ask(plane(), rise_m=0.25)
    assert (found.datum_depth_m, found.depth_m, found.sd_m) == (3.0, 3.25, 0.1)
    assert (found.surveyed, found.state) == (True, "")
    for setting in found.settings:
        clear = RIG_RULES[setting.rig].clearance_m
        assert setting.setting_m == pytest.approx(3.25 - 0.254 + 0.0254 - clear)
    assert [s.rig for s in found.settings] == list(RigStyle)


def test_longitude_and_latitude_are_the_spot_s():
    found = ask(plane())
    back = [float(v) for v in Geodesy(CRS).xy(found.lon, found.lat)]
    assert back == pytest.approx([found.spot.easting, found.spot.northing], abs=MICROMETRE)


def test_unsurveyed_water_offers_no_setting():
    found = ask(plane(sd_m=0.41))
    assert (found.state, found.surveyed, found.settings) == (UNSURVEYED, False, ())
    assert ask(plane(sd_m=0.40)).surveyed


def test_beyond_reach_the_limit_is_stricter():
    near = plane(sd_m=0.35)
    far = Bed(near.grid, near.water, near.depth_mm, near.sd_mm, ~near.beyond_reach, near.split)
    assert ask(near).surveyed
    assert not ask(far).surveyed


def test_dry_water_and_dry_land():
    assert ask(plane(middle_m=0.5), rise_m=-0.5).state == DRY
    off = ask(plane(), distance_m=SIDE + 20)
    assert (off.state, off.surveyed, off.settings) == (OFF_WATER, False, ())


@given(st.floats(0.0, 0.4), st.floats(0.02, 0.3))
def test_the_level_s_doubt_joins_the_bed_s(level_sd, bed_sd):
    """GUM, JCGM 100:2008, 5.1.2: variances of independent errors add."""
    bed = plane(sd_m=round(bed_sd, 3), middle_m=9.0)
    found = cast_range(bed, spot_at(*MIDDLE), 0.0, CastScatter(0.0, 0.0), 0.0, level_sd)
    expected = Z_95 * math.hypot(round(bed_sd, 3), level_sd)
    assert found.upper_m - found.depth_m == pytest.approx(expected, abs=MICROMETRE)
