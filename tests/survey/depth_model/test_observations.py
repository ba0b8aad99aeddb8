"""What errors of position do to depths: on a plane, by hand."""

import numpy as np
import pytest

from survey.depth_model.observations import observations_from
from survey.geometry.water import WaterGeometry
from tests.made.soundings import rectangle, scattered, soundings_at, venue_of
from tests.made.tolerances import HUNDREDTH_MM


@pytest.mark.parametrize("position_m", [0.2, 1.5])
def test_on_a_slope_an_error_of_position_brings_slope_times_error_to_the_depth(position_m):
    """0.3 m down for a metre east and 0.1 m for one north, so 0.316 m for a metre straight down the slope."""
    water = rectangle()
    xy = scattered(water, 30, clear=8.0)
    slope = np.array([0.3, 0.1])
    frame = WaterGeometry(water)
    observations = observations_from(venue_of(water), soundings_at(xy, 1.0 + xy @ slope, position=position_m), frame)
    bed_slope = observations.tilt_from(1.0 + observations.places.xy @ slope, 1.0 + observations.beside.xy @ slope)
    brought = np.sqrt(bed_slope.own_var.sum(axis=1))
    np.testing.assert_allclose(brought, np.hypot(*slope) * position_m, rtol=0, atol=HUNDREDTH_MM)
    np.testing.assert_allclose(bed_slope.slope, np.tile(slope, (30, 1)), rtol=0, atol=HUNDREDTH_MM)
    own = observations.data(bed_slope, np.ones(30, bool)).own[:30]
    np.testing.assert_allclose(np.sqrt(own), np.hypot(0.05, np.hypot(*slope) * position_m), rtol=0, atol=HUNDREDTH_MM)


def test_beside_a_reading_at_the_bank_lies_the_depth_of_the_edge():
    """A metre from the bank and badly placed: on land the bed is taken to stand at the edge's depth, nought."""
    water = rectangle()
    xy = np.vstack([[1.0, 40.0], scattered(water, 30, clear=8.0)])
    frame = WaterGeometry(water)
    observations = observations_from(venue_of(water), soundings_at(xy, np.full(31, 1.2), position=1.5), frame)
    at = int(np.flatnonzero(observations.places.xy[:, 0] == 1.0)[0])
    bed_slope = observations.tilt_from(np.full(31, 1.2), np.full(4 * 31, 1.2))
    assert np.sqrt(bed_slope.own_var[at].sum()) == pytest.approx(1.2 / 2, abs=HUNDREDTH_MM)
    assert np.delete(bed_slope.own_var.sum(axis=1), at) == pytest.approx(0.0, abs=HUNDREDTH_MM)
