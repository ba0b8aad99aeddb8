"""Readings where the adjustment has them: how they move with each unknown."""

from __future__ import annotations

import numpy as np
import pytest

from survey.adjustment.peg_points import pegs_on_bank
from survey.adjustment.placing import moved_soundings, placed_by
from survey.adjustment.shared_errors import DEPTH_OFFSET_SD_M
from tests.made.casts import surveyed
from tests.made.soundings import bowl, rectangle

WATER = rectangle(140.0, 90.0)
BY = 1e-3
"""Stated standard deviations: small enough that a straight line through two ends is the slope."""


@pytest.fixture(scope="module")
def survey():
    made = surveyed(WATER, bowl(WATER), 6)
    return pegs_on_bank(made.venue), made.soundings.table.assign(facing_sd_deg=15.0, level_sd_m=0.02, level_block="a")


@pytest.mark.parametrize("kind", ["peg across", "peg along", "facing", "distance scale"])
def test_columns_are_the_slopes_of_the_places(survey, kind):
    """Also far from nought: straight out turned by a standard deviation, pegs moved by one."""
    venue, table = survey
    xy = np.column_stack([table.geometry.x, table.geometry.y])
    plain = placed_by(venue, table, xy, {})
    found = 0
    for start in (0.0, 1.0):
        for unknown in (one for one in plain.errors.unknowns if one[0] == kind):
            base = dict.fromkeys(plain.errors.unknowns, 0.0) | {unknown: start}
            here = placed_by(venue, table, xy, base)
            ends = [placed_by(venue, table, xy, base | {unknown: start + sign * BY}).at for sign in (1, -1)]
            k = here.errors.unknowns.index(unknown)
            moves = np.column_stack([m.toarray()[:, k] for m in (here.errors.east, here.errors.north)])
            # A scale multiplies what is left of the cast, so it is exact at nought and within 3 % beyond.
            share = 0.04 if kind == "distance scale" else 1e-3
            assert (ends[0] - ends[1]) / (2 * BY) == pytest.approx(moves, abs=share * np.abs(moves).max())
            found += 1
    assert found


def test_observers_offsets_are_against_their_mean(survey):
    venue, table = survey
    errors = placed_by(venue, table, np.column_stack([table.geometry.x, table.geometry.y]), {}).errors
    deeper = errors.deeper.toarray()[:, errors.is_kind("depth offset")]
    assert deeper.shape[1] == 2
    assert deeper.sum(axis=0) == pytest.approx(0.0, abs=1e-12)
    assert np.ptp(deeper, axis=0) == pytest.approx(DEPTH_OFFSET_SD_M)


def test_one_observer_alone_has_no_offset(survey):
    venue, table = survey
    table = table.assign(observer="Ida")
    errors = placed_by(venue, table, np.column_stack([table.geometry.x, table.geometry.y]), {}).errors
    assert not errors.is_kind("depth offset").any()


def test_soundings_move_with_their_peg(survey):
    venue, table = survey
    made = surveyed(WATER, bowl(WATER), 6).soundings
    moved = moved_soundings(made, venue, {("peg along", "2"): 1.0})
    off = np.hypot(*(moved.xy - made.xy).T)
    theirs = (made.table["peg"] == "2").to_numpy()
    assert off[~theirs] == pytest.approx(0.0, abs=1e-9)
    assert off[theirs] == pytest.approx(venue.peg("2").bank.along_sd_m, abs=1e-9)
    assert list(moved.table["depth_m"]) == list(table["depth_m"])
