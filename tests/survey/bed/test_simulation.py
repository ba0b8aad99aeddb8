"""Beds drawn at random must hang together as the model says, spot by spot and spot to spot."""

import numpy as np
import pytest

from survey.bed.grid import Bed, Grid
from survey.bed.gridding import make_bed
from survey.bed.simulation import PriorFields, draw_beds
from survey.depth_model.model import LakeModel
from survey.errors import BedError
from survey.kriging.covariance import EndSlopes, Separations, covariance
from tests.made.soundings import bowl, rectangle, scattered, soundings_at, venue_of, with_spit
from tests.made.tolerances import HUNDREDTH_MM
from tests.survey.depth_model.test_model import fitted

SPOTS = np.array([[20.0, 20.0], [23.0, 20.0], [60.0, 40.0], [62.0, 44.0], [100.0, 60.0], [112.0, 70.0]])


@pytest.fixture(scope="module")
def model() -> LakeModel:
    """Readings in the western two thirds alone, so that both the known and the unknown are drawn."""
    water = with_spit()
    xy = scattered(water, 70)
    xy = xy[xy[:, 0] < 80]
    return fitted(venue_of(water), soundings_at(xy, bowl(water)(xy) + 1.0, 0.05))


@pytest.fixture(scope="module")
def drawn(model: LakeModel) -> np.ndarray:
    return draw_beds(model, SPOTS, 1500, 1)


def test_draws_have_the_stated_mean_and_standard_deviation(model: LakeModel, drawn: np.ndarray) -> None:
    mean, sd = model.predict(SPOTS)
    np.testing.assert_allclose(drawn.mean(axis=0), mean, atol=0.12 * sd.max())
    np.testing.assert_allclose(drawn.std(axis=0) / sd, 1.0, atol=0.12)


def test_neighbours_go_together_as_the_members_say(model: LakeModel) -> None:
    """Against the closed form, near readings: mean of the members' covariances and covariance of their means."""
    at = np.array([[x, y] for x in np.arange(4.0, 56.0, 3.0) for y in np.arange(4.0, 76.0, 3.0)])
    places = model.frame.places(at, model.observations.level_off_m)
    runs_on, differs = model.unforeseen(places)
    plain = np.flatnonzero((runs_on + differs < 1e-6) & ~model.across_land(places))[::20]
    assert len(plain) >= 5
    places = places.take(plain)
    profile = model.observations.profile.at(places.shore_m)
    joint = [m.fits[0].joint(places, profile) for m in model.members]
    among = np.mean([c for _, c in joint], axis=0) + np.cov([m for m, _ in joint], rowvar=False, bias=True)
    expected = among / np.sqrt(np.outer(np.diag(among), np.diag(among)))
    np.testing.assert_allclose(np.corrcoef(draw_beds(model, at[plain], 1500, 1), rowvar=False), expected, atol=0.15)
    beside = expected[np.triu_indices(len(plain), 1)]
    assert beside.max() > beside.min() + 0.3, "or the comparison would tell nothing"


def test_prior_waves_have_the_members_covariance(model: LakeModel) -> None:
    places = model.frame.places(SPOTS, model.observations.level_off_m)
    profile = model.observations.profile.at(places.shore_m)
    for member in model.members:
        fit = member.fits[0]
        prior = PriorFields.of(fit, 2000, np.random.default_rng(5))
        values = prior.at(places, profile) - member.fits[0].member.drift(places) @ prior.slopes
        gaps = Separations.between(places, places, fit.across)
        ends = EndSlopes(places.shore_m, profile)
        expected = covariance(fit.member, fit.theta, gaps, ends, ends)
        scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
        np.testing.assert_allclose(np.cov(values) / scale, expected / scale, atol=0.11)


def test_a_draw_is_a_function_of_place(model: LakeModel) -> None:
    all_at_once, few = draw_beds(model, SPOTS, 5, 3), draw_beds(model, SPOTS[[4, 1]], 5, 3)
    np.testing.assert_allclose(all_at_once[:, [4, 1]], few, rtol=0, atol=HUNDREDTH_MM)
    np.testing.assert_allclose(draw_beds(model, SPOTS, 5, 3), all_at_once, rtol=0, atol=HUNDREDTH_MM)
    assert np.abs(draw_beds(model, SPOTS, 5, 4) - all_at_once).max() > 0.01


def test_no_draw_stands_above_the_water(model: LakeModel) -> None:
    edge = np.column_stack([np.linspace(1, 119, 60), np.full(60, 0.4)])
    assert draw_beds(model, edge, 50, 2).min() >= model.floor_m


def test_the_bed_draws_itself_and_volumes_spread_as_they_should(model: LakeModel) -> None:
    bed = make_bed(venue_of(with_spit()), model, 4.0)
    beds = bed.draw(100, 8)
    assert beds.shape == (100, *bed.depth_m.shape)
    np.testing.assert_array_equal(np.isnan(beds[0]), ~bed.on_water)
    volumes = np.nansum(beds, axis=(1, 2)) * bed.grid.cell_m**2
    stated = float(np.nansum(bed.depth_m)) * bed.grid.cell_m**2
    assert volumes.mean() == pytest.approx(stated, rel=0.03)
    alone = np.sqrt(np.nansum(bed.sd_m**2)) * bed.grid.cell_m**2
    condition_all = np.nansum(bed.sd_m) * bed.grid.cell_m**2
    assert 2.0 * alone < volumes.std() < condition_all, "errors of neighbours neither cancel nor march in step"


def test_large_surveys_are_drawn_without_seams() -> None:
    water = rectangle(400, 200)
    xy = scattered(water, 900, seed=2)
    model = fitted(venue_of(water), soundings_at(xy, bowl(water)(xy)))
    assert len(model.members[0].fits) > 1
    line = np.column_stack([np.arange(120.0, 280.0, 0.5), np.full(320, 100.0)])
    beds = draw_beds(model, line, 6, 1)
    assert np.abs(np.diff(beds, axis=1)).max() < 0.15


def test_what_cannot_be_drawn_is_refused_in_words(model: LakeModel) -> None:
    with pytest.raises(BedError, match="0 draws cannot be made"):
        draw_beds(model, SPOTS, 0, 1)
    flat = np.ones((2, 2), np.int32)
    stored = Bed(Grid(0, 0, 1, 2, 2), rectangle(), flat, flat, flat > 1, np.zeros((1, 1), bool))
    with pytest.raises(BedError, match="read from a file"):
        stored.draw(1, 1)
