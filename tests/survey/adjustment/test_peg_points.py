"""Pegs drawn to the bank: by how much, and when not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm
from shapely.geometry import MultiPolygon

from survey.adjustment.peg_points import (
    AT_EDGE_SD_M,
    ELSEWHERE_M,
    ELSEWHERE_SHARE,
    SET_BACK_M,
    Standing,
    pegs_on_bank,
)
from survey.records.venue import Venue
from tests.made.casts import pegs_round
from tests.made.soundings import rectangle, venue_of

WATER = rectangle(160.0, 110.0)
STAND = pegs_round(WATER, 36)
MIDDLE = np.array(WATER.centroid.coords[0])


def back_from(stand: np.ndarray, by_m: float) -> np.ndarray:
    """Points so far behind the nearest side of the rectangle."""
    out = np.zeros_like(stand)
    for side, axis, sign in ((0.0, 0, -1), (160.0, 0, 1), (0.0, 1, -1), (110.0, 1, 1)):
        out[np.isclose(stand[:, axis], side), axis] = sign * by_m
    return stand + out


def written(points: np.ndarray, water: MultiPolygon = WATER, sd_m: float = 5.0) -> Venue:
    venue = venue_of(water, points)
    return replace(venue, pegs=tuple(replace(peg, position_sd_m=sd_m) for peg in venue.pegs))


def points_of(venue: Venue) -> np.ndarray:
    return np.array([(peg.easting, peg.northing) for peg in venue.pegs])


@pytest.mark.parametrize("back_m", [0.0, 4.0, 8.0])
def test_exact_points_stay_where_they_are_written_however_far_from_the_water(back_m):
    """Points that all lie as far from the edge do so by no chance: neither the pull nor the stated 5 m is believed."""
    at = back_from(STAND, back_m)
    drawn = pegs_on_bank(written(at))
    # A point is written to a decimetre; a wrong pull would be metres.
    assert np.abs(points_of(drawn) - at).max() < 0.15
    assert max(peg.bank.across_sd_m for peg in drawn.pegs) < 0.4


def test_exact_points_stay_where_the_outline_is_traced_three_metres_off():
    drawn = pegs_on_bank(written(STAND, MultiPolygon([WATER.geoms[0].buffer(3.0, join_style="mitre")])))
    assert np.abs(points_of(drawn) - STAND).max() < 0.15


def test_points_by_a_phone_are_drawn_to_the_bank_and_stay_open_along_it():
    at = STAND + np.random.default_rng(2).normal(0, 4.0, STAND.shape)
    drawn = pegs_on_bank(written(at))
    off = points_of(drawn) - STAND
    out = np.array([(np.sin(a), np.cos(a)) for a in np.radians([peg.bank.out_azimuth_deg for peg in drawn.pegs])])
    across, along = (off * out).sum(axis=1), off[:, 0] * out[:, 1] - off[:, 1] * out[:, 0]
    stated = np.array([(peg.bank.across_sd_m, peg.bank.along_sd_m) for peg in drawn.pegs])
    # Sixteenths of the 4 m that were put in; corners of the rectangle keep some of it.
    assert np.sqrt(np.mean(across**2)) < 1.5
    assert np.sqrt(np.mean(along**2)) == pytest.approx(stated[:, 1].mean(), rel=0.35)
    assert np.mean(np.abs(across) < 2 * stated[:, 0]) > 0.85


def test_a_peg_whose_note_says_platform_stays_as_written():
    venue = written(STAND + np.random.default_rng(2).normal(0, 4.0, STAND.shape))
    venue = replace(venue, pegs=(replace(venue.pegs[0], note="Platform"), *venue.pegs[1:]))
    drawn = pegs_on_bank(venue)
    assert drawn.pegs[0] == venue.pegs[0]
    assert drawn.pegs[1] != venue.pegs[1]


def test_a_peg_far_from_all_water_stays_as_written():
    venue = written(np.vstack([STAND, [-400.0, 30.0]]))
    assert pegs_on_bank(venue).pegs[-1] == venue.pegs[-1]


@given(order=st.permutations(range(len(STAND))))
@settings(max_examples=4, deadline=None)
def test_the_order_of_pegs_changes_nothing(order):
    at = STAND + np.random.default_rng(2).normal(0, 4.0, STAND.shape)
    plain = {peg.name: peg for peg in pegs_on_bank(written(at)).pegs}
    venue = written(at)
    turned = pegs_on_bank(replace(venue, pegs=tuple(venue.pegs[k] for k in order)))
    for peg in turned.pegs:
        assert peg.easting == pytest.approx(plain[peg.name].easting, abs=1e-6)
        assert peg.bank.across_sd_m == pytest.approx(plain[peg.name].bank.across_sd_m, abs=1e-6)


@pytest.mark.parametrize("back_m", [-6.0, -1.0, 0.0, 2.5, 7.0, 14.0])
@pytest.mark.parametrize("standing", [Standing(4.0, 0.0, 0.15), Standing(1.5, 2.0, 0.5), Standing(0.4, -1.0, 0.05)])
def test_mean_and_spread_are_those_of_the_whole_distribution(standing, back_m):
    """Against numerical integration of prior times likelihood over where the peg stands."""
    both, at = np.hypot(standing.sd_m, AT_EDGE_SD_M), back_m - standing.line_m
    near = 1 - ELSEWHERE_SHARE

    def moment(k: int) -> float:
        def line(x: float) -> float:
            return x**k * norm.pdf(x, 0, AT_EDGE_SD_M) * norm.pdf(at, x, standing.sd_m)

        def back(x: float) -> float:
            return x**k / SET_BACK_M * norm.pdf(at, x, both)

        edge = quad(line, -12, 12, points=[0, np.clip(at, -11, 11)], limit=200)[0]
        behind = quad(back, 0, SET_BACK_M, limit=200)[0]
        # Elsewhere it stands where it is written, by the error of its point.
        elsewhere = {0: 1.0, 1: at, 2: at**2 + standing.sd_m**2}[k] / ELSEWHERE_M
        return near * ((1 - standing.share) * edge + standing.share * behind) + ELSEWHERE_SHARE * elsewhere

    mass, first, second = (moment(k) for k in range(3))
    mean, sd = standing.moments(np.array([back_m]))
    # Metres: a millimetre, where integration is good to a thousandth of that.
    assert mean[0] == pytest.approx(standing.line_m + first / mass, abs=1e-3)
    assert sd[0] == pytest.approx(np.sqrt(second / mass - (first / mass) ** 2), abs=1e-3)
