"""What errors of position do to depths: on a plane, by hand."""

import numpy as np
import pytest

from survey.evidence import gather
from survey.water import WaterFrame
from tests.survey.made_soundings import rectangle, scattered, soundings_at, venue_of
from tests.survey.tolerances import HUNDREDTH_MM


@pytest.mark.parametrize("position_m", [0.2, 1.5])
def test_on_a_slope_an_error_of_position_brings_slope_times_error_to_the_depth(position_m):
    """0.3 m down for a metre east and 0.1 m for one north, so 0.316 m for a metre straight down the slope."""
    water = rectangle()
    xy = scattered(water, 30, clear=8.0)
    slope = np.array([0.3, 0.1])
    frame = WaterFrame(water)
    evidence = gather(venue_of(water), soundings_at(xy, 1.0 + xy @ slope, position=position_m), frame)
    tilt = evidence.tilt_from(1.0 + evidence.places.xy @ slope, 1.0 + evidence.beside.xy @ slope)
    np.testing.assert_allclose(np.sqrt(tilt.own_var), np.hypot(*slope) * position_m, rtol=0, atol=HUNDREDTH_MM)
    np.testing.assert_allclose(tilt.slope, np.tile(slope, (30, 1)), rtol=0, atol=HUNDREDTH_MM)
    own = evidence.data(tilt, np.ones(30, bool)).own[:30]
    np.testing.assert_allclose(np.sqrt(own), np.hypot(0.05, np.hypot(*slope) * position_m), rtol=0, atol=HUNDREDTH_MM)


def test_beside_a_reading_at_the_bank_lies_the_depth_of_the_edge():
    """A metre from the bank and badly placed: on land the bed is taken to stand at the edge's depth, nought."""
    water = rectangle()
    xy = np.vstack([[1.0, 40.0], scattered(water, 30, clear=8.0)])
    frame = WaterFrame(water)
    evidence = gather(venue_of(water), soundings_at(xy, np.full(31, 1.2), position=1.5), frame)
    at = int(np.flatnonzero(evidence.places.xy[:, 0] == 1.0)[0])
    tilt = evidence.tilt_from(np.full(31, 1.2), np.full(4 * 31, 1.2))
    assert np.sqrt(tilt.own_var[at]) == pytest.approx(1.2 / 2, abs=HUNDREDTH_MM)
    assert np.delete(tilt.own_var, at) == pytest.approx(0.0, abs=HUNDREDTH_MM)
