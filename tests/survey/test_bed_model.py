"""The bed as a whole: what it must do on waters whose truth is known."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point

from survey.average import LakeModel, fit_lake
from survey.errors import BedError
from survey.evidence import gather
from survey.gridding import chosen_cell_m, make_bed
from survey.soundings import Soundings
from survey.venue import LevelMark, Venue
from survey.water import WaterFrame
from tests.survey.made_soundings import bowl, rectangle, scattered, soundings_at, venue_of, with_spit
from tests.survey.tolerances import TENTH_MM, WHOLE_MM

SPIT_HALF_M = 1.0


def fitted(venue: Venue, soundings: Soundings) -> LakeModel:
    frame = WaterFrame(venue.water)
    return fit_lake(frame, gather(venue, soundings, frame))


@pytest.fixture(scope="module")
def plain() -> tuple[LakeModel, np.ndarray, np.ndarray]:
    water = rectangle()
    xy = scattered(water, 120)
    depth = bowl(water)(xy) + np.random.default_rng(2).normal(0, 0.03, 120)
    return fitted(venue_of(water), soundings_at(xy, depth, 0.03)), xy, depth


def test_bed_is_near_the_truth_and_says_how_near(plain: tuple[LakeModel, np.ndarray, np.ndarray]) -> None:
    model, _, _ = plain
    asked = scattered(rectangle(), 400, seed=9)
    depth, sd = model.predict(asked)
    error = depth - bowl(rectangle())(asked)
    assert np.sqrt(np.mean(error**2)) < 0.08
    assert np.mean(np.abs(error) < 1.96 * sd) > 0.9


def test_with_vanishing_noise_the_bed_meets_its_readings() -> None:
    water = rectangle()
    xy = scattered(water, 60)
    depth = bowl(water)(xy)
    found, sd = fitted(venue_of(water), soundings_at(xy, depth, 0.001)).predict(xy)
    np.testing.assert_allclose(found, depth, atol=0.02)
    assert (sd < 0.05).all()


def test_order_of_rows_changes_nothing(plain: tuple[LakeModel, np.ndarray, np.ndarray]) -> None:
    model, xy, depth = plain
    asked = scattered(rectangle(), 50, seed=4)
    turned = np.random.default_rng(0).permutation(len(depth))
    again = fitted(venue_of(rectangle()), soundings_at(xy[turned], depth[turned], 0.03))
    np.testing.assert_allclose(again.predict(asked), model.predict(asked), rtol=0, atol=TENTH_MM)


@pytest.mark.parametrize("angle", [0.0, 0.7])
def test_a_lake_moved_or_turned_takes_its_bed_along(angle: float) -> None:
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    shift = np.array([400_000.0, 5_800_000.0])
    water, asked = with_spit(), scattered(with_spit(), 60, seed=4)
    xy = scattered(water, 90)
    depth = bowl(water)(xy)
    moved = MultiPolygon(shapely.transform(water, lambda c: c @ turn.T + shift))
    first = fitted(venue_of(water), soundings_at(xy, depth)).predict(asked)
    second = fitted(venue_of(moved), soundings_at(xy @ turn.T + shift, depth)).predict(asked @ turn.T + shift)
    # The path lattice lies along the axes, so a turned lake agrees within its spacing only.
    np.testing.assert_allclose(second[0], first[0], atol=0.002 if angle == 0 else 0.05)


def test_land_blocks_two_sides_that_differ() -> None:
    """6.0 m on one side of a spit, 0.6 m on the other, readings ten metres apart in straight lines."""
    water = with_spit(160, 90, 75)
    off = np.arange(10.0, 78.0, 10.0)
    sides = [(80.0 + side * (SPIT_HALF_M + x), y) for side in (-1, 1) for x in off for y in np.arange(8.0, 70.0, 10.0)]
    xy = np.array(sides)
    depth = np.where(xy[:, 0] < 80, 6.0, 0.6) + np.random.default_rng(1).normal(0, 0.04, len(xy))
    model = fitted(venue_of(water), soundings_at(xy, depth))

    def at(side: int, off_m: float) -> tuple[np.ndarray, np.ndarray]:
        ys = np.arange(15.0, 60.0, 5.0)
        return model.predict(np.column_stack([np.full(len(ys), 80.0 + side * (SPIT_HALF_M + off_m)), ys]))

    np.testing.assert_allclose(at(-1, 8.0)[0], 6.0, atol=0.3)
    np.testing.assert_allclose(at(1, 8.0)[0], 0.6, atol=0.3)
    # Both five metres from the nearest row of readings.
    toward, away = at(1, 5.0)[1], at(1, 15.0)[1]
    assert (toward > away).all()


def test_bounds_move_the_bed_to_their_side() -> None:
    water = rectangle()
    xy = np.vstack([scattered(water, 60), [[60.0, 40.0]]])
    depth = np.append(bowl(water)(xy[:60]), 3.2)
    kinds = np.array(["depth"] * 60 + ["at_least"], object)
    plain = fitted(venue_of(water), soundings_at(xy[:60], depth[:60]))
    heard = fitted(venue_of(water), soundings_at(xy, depth, kind=kinds))
    before, after = plain.predict(xy[60:])[0][0], heard.predict(xy[60:])[0][0]
    assert before < 2.8
    assert after > before + 0.1


def test_blunders_do_not_bend_the_bed_and_are_named() -> None:
    water = rectangle()
    rng = np.random.default_rng(7)
    xy = scattered(water, 200)
    clean = bowl(water)(xy) + rng.normal(0, 0.04, 200)
    wrong = rng.permutation(200)[:10]
    spoilt = clean.copy()
    spoilt[wrong] *= 0.3048
    asked = scattered(water, 500, seed=11)
    truth = bowl(water)(asked)

    def rmse(depth: np.ndarray) -> tuple[float, LakeModel]:
        model = fitted(venue_of(water), soundings_at(xy, depth, 0.04))
        return float(np.sqrt(np.mean((model.predict(asked)[0] - truth) ** 2))), model

    (good, _), (bent, model) = rmse(clean), rmse(spoilt)
    # Two centimetres of error in all: five in a hundred readings fewer, and what no screening can see.
    assert bent < 1.25 * good
    deep = set(wrong[clean[wrong] > 1.0].tolist())
    assert deep <= set(model.evidence.rows[~model.kept].tolist())


@pytest.mark.parametrize("count", [1, 2, 3, 6, 12, 25])
def test_scarce_readings_widen_the_range_and_never_run_away(count: int) -> None:
    water = rectangle(200, 120)
    xy = scattered(water, count, seed=3, clear=8.0)
    depth, sd = fitted(venue_of(water), soundings_at(xy, np.full(count, 2.0))).predict(scattered(water, 300, seed=8))
    assert depth.min() >= 0
    assert depth.max() < 4.5
    if count <= 3:
        assert 0.3 < np.median(sd) < 5.0


def test_one_spot_plumbed_again_and_again_is_one_spot() -> None:
    water = rectangle()
    xy = np.tile([[20.0, 40.0]], (80, 1))
    depth, sd = fitted(venue_of(water), soundings_at(xy, np.full(80, 1.5))).predict(
        np.array([[20.0, 40.0], [100.0, 40.0]])
    )
    assert depth[0] == pytest.approx(1.5, abs=0.05)
    assert sd[1] > sd[0]


def test_duplicates_are_one_spot_between_their_depths() -> None:
    """Readings of our own at repeated spots: three alike, two that differ by 0.6 m."""
    water = rectangle(60, 90)
    xy = np.array([[10, 10], [50, 10], [50, 10], [50, 10], [50, 80], [10, 80], [30, 40], [30, 40]], float)
    depth = np.array([1, 3, 3, 3, 2, 1, 2.0, 2.6])
    found, sd = fitted(venue_of(water), soundings_at(xy, depth)).predict(np.array([[30.0, 40.0], [50.0, 10.0]]))
    assert 2.0 < found[0] < 2.6
    assert found[1] == pytest.approx(3.0, abs=0.25)
    assert np.isfinite(sd).all()
    assert sd[0] >= 0


def test_a_flat_bed_is_flat_and_a_line_of_readings_is_no_trouble() -> None:
    water = rectangle(200, 120)
    xy = np.array([[x, y] for x in (30, 80, 120, 170) for y in (40, 80)], float)
    flat, _ = fitted(venue_of(water), soundings_at(xy, np.full(8, 2.0), 0.01)).predict(xy)
    np.testing.assert_allclose(flat, 2.0, atol=0.05)
    line = np.column_stack([np.linspace(10, 190, 60), np.full(60, 60.0)])
    depth, _ = fitted(venue_of(water), soundings_at(line, np.full(60, 2.0))).predict(scattered(water, 200))
    assert depth.min() >= 0
    assert depth.max() < 3.0


def test_a_steep_shelf_neither_overshoots_nor_goes_above_water() -> None:
    water = rectangle(200, 120)
    row = [(5, 0.2), (10, 0.3), (14, 6.0), (18, 6.2), (40, 6.2), (80, 6.1), (120, 6.0), (160, 3.0), (190, 0.4)]
    xy = np.array([[x, y] for y in (30, 60, 90) for x, _ in row], float)
    depth = np.array([d for _ in range(3) for _, d in row])
    bed = make_bed(venue_of(water), fitted(venue_of(water), soundings_at(xy, depth)), chosen_cell_m(water.area))
    assert np.nanmin(bed.depth_m) >= 0.0
    assert np.nanmax(bed.depth_m) <= 6.2 * 1.1
    assert bed.at(14.0, 60.0)[0][0] == pytest.approx(6.0, abs=0.5)


def test_edges_drawn_at_high_water_stand_dry_at_datum() -> None:
    water = rectangle()
    xy = scattered(water, 80)
    high = LevelMark("board", datum_m=0.0, outline_m=0.5)
    model = fitted(venue_of(water, mark=high), soundings_at(xy, bowl(water)(xy)))
    edge = model.predict(np.array([[0.3, 40.0]]))[0][0]
    assert -0.5 <= edge < -0.1


def test_no_reading_is_refused_in_words() -> None:
    empty = soundings_at(np.empty((0, 2)), np.empty(0))
    with pytest.raises(BedError, match="no reading with a depth can be used"):
        fitted(venue_of(rectangle()), empty)


def test_middle_of_a_large_lake_stays_tame() -> None:
    """Readings only near the bank: the middle is neither deeper nor shallower than reason."""
    water = rectangle(300, 260)
    frame = WaterFrame(water)
    xy = scattered(water, 1500, seed=5)
    xy = xy[frame.shore_m(xy) < 40][:250]
    depth = bowl(water, 2.5, 10.0)(xy)
    middle, sd = fitted(venue_of(water), soundings_at(xy, depth)).predict(np.array([[150.0, 130.0], [120.0, 120.0]]))
    np.testing.assert_allclose(middle, 2.5, atol=0.25)
    assert (sd > 0.03).all()


@pytest.mark.parametrize("cell", [2.0, 4.0])
def test_cell_size_changes_no_depth_at_shared_centres(
    plain: tuple[LakeModel, np.ndarray, np.ndarray], cell: float
) -> None:
    model, _, _ = plain
    bed, fine = make_bed(venue_of(rectangle()), model, cell), make_bed(venue_of(rectangle()), model, cell / 3)
    np.testing.assert_allclose(bed.depth_mm, fine.depth_mm[1::3, 1::3], rtol=0, atol=WHOLE_MM)


def test_islands_are_off_the_grid_and_their_shores_are_shallow() -> None:
    water = MultiPolygon([rectangle().geoms[0].difference(Point(60, 40).buffer(10))])
    xy = scattered(water, 80)
    bed = make_bed(venue_of(water), fitted(venue_of(water), soundings_at(xy, bowl(water)(xy))), 1.0)
    assert np.isnan(bed.at(60.0, 40.0)[0][0])
    assert bed.at(60.0, 51.0)[0][0] < 0.8


def test_pegs_see_their_own_side_only() -> None:
    water = with_spit()
    pegs = np.array([[57.0, 0.0]])
    xy = scattered(water, 60)
    venue = venue_of(water, pegs)
    bed = make_bed(venue, fitted(venue, soundings_at(xy, bowl(water)(xy))), 2.0)
    assert not bed.at(50.0, 20.0)[2][0]
    assert bed.at(70.0, 10.0)[2][0]
    assert bed.at(5.0, 78.0)[2][0]


def test_a_spot_beside_a_spit_takes_nothing_from_the_other_side() -> None:
    water = with_spit()
    xy = scattered(water, 60)
    venue = venue_of(water)
    model = fitted(venue, soundings_at(xy, np.where(xy[:, 0] < 60, 3.0, 0.5)))
    bed = make_bed(venue, model, 4.0)
    inside = gpd.GeoSeries.from_xy([58.8, 61.2], [20.0, 20.0]).within(water)
    assert inside.all()
    west, east = bed.at([58.8, 61.2], [20.0, 20.0])[0]
    cells_west, cells_east = bed.at([58.0, 62.0], [22.0, 22.0])[0]
    assert west == pytest.approx(cells_west, abs=0.4)
    assert east == pytest.approx(cells_east, abs=0.4)


def test_a_reading_somebody_decided_to_keep_shapes_the_bed() -> None:
    water = rectangle()
    xy = scattered(water, 120)
    depth = bowl(water)(xy)
    odd = int(np.argmax(depth))
    depth[odd] -= 1.5
    venue, soundings, frame = venue_of(water), soundings_at(xy, depth, 0.04), WaterFrame(water)
    place = (str(soundings.table["file"].iloc[odd]), int(soundings.table["row"].iloc[odd]))
    aside = fit_lake(frame, gather(venue, soundings, frame))
    trusted = fit_lake(frame, gather(venue, soundings, frame, frozenset({place})))
    assert odd in aside.evidence.rows[~aside.kept]
    assert trusted.kept[trusted.evidence.rows == odd].all()
    assert trusted.predict(xy[odd : odd + 1])[0][0] < aside.predict(xy[odd : odd + 1])[0][0] - 0.3
