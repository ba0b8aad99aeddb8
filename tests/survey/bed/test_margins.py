"""Margins: the upper limit counts, a measured depth stands for it, and the level moves it."""

from dataclasses import replace

import numpy as np
import pytest

from survey.bed.margins import is_steep, margin_upper_m
from tests.made.soundings import rectangle, venue_of
from tests.survey.bed.test_contours import bed_of

PEG = venue_of(rectangle(), np.array([[60.0, 0.0]])).pegs[0]


def test_the_upper_limit_at_the_edge_is_depth_and_doubt() -> None:
    bed = bed_of(rectangle(), lambda xy: 0.5 * xy[:, 1], 1.0)
    # Deepest centre within 1.5 m of the edge stands 0.5 m off it, then 1.5 m: 0.75 m deep, sd 5 cm.
    assert margin_upper_m(bed, PEG) == pytest.approx(0.75 + 1.96 * 0.05, abs=0.01)


def test_a_measured_margin_is_believed() -> None:
    bed = bed_of(rectangle(), lambda xy: 0.5 * xy[:, 1], 1.0)
    assert margin_upper_m(bed, replace(PEG, margin_depth_m=1.4)) == 1.4


def test_no_cell_near_the_edge_says_nothing() -> None:
    bed = bed_of(rectangle(), lambda xy: 0.5 * xy[:, 1], 8.0)
    assert margin_upper_m(bed, PEG) is None
    assert not is_steep(None, 5.0)


def test_a_rise_makes_a_margin_steep() -> None:
    assert not is_steep(0.9, 0.0)
    assert is_steep(0.9, 0.2)
