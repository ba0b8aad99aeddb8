"""What a club counts distances in and reads its mark in: from venue.toml, else from its sheets."""

from __future__ import annotations

import pytest

from survey.fieldbook import read_fieldbook
from survey.fieldbook.venue.own_units import MIXED_LEVELS
from tests.made.imperial import LEVELS, VENUE, imperial_venue

HEAD = "Date,Time,Level\n"


@pytest.mark.parametrize("unit", ["yd", "ft", "wrap", "rod"])
def test_distances_are_counted_in_what_most_of_them_are_kept_in(tmp_path, unit):
    assert read_fieldbook(imperial_venue(tmp_path, unit)).venue.distances.unit == unit


def test_the_key_of_the_venue_comes_before_the_sheets(tmp_path):
    toml = VENUE.replace('shows = "feet"', 'shows = "feet"\ndistances = "wraps"')
    assert read_fieldbook(imperial_venue(tmp_path, "yd", venue=toml)).venue.distances.shown(3.6576) == "1 wrap"


@pytest.mark.parametrize(
    ("levels", "unit"),
    [
        (LEVELS, "in"),
        (f"{HEAD}2026-05-02,08:30,2'1\"\n2026-06-20,09:00,2 ft\n", "ft"),
        (f"{HEAD}2026-05-02,08:30,61 cm\n", "cm"),
    ],
)
def test_a_mark_of_no_declared_unit_is_read_in_that_of_its_sheet(tmp_path, levels, unit):
    venue = read_fieldbook(imperial_venue(tmp_path, levels=levels)).venue
    assert venue.mark.unit == unit
    assert MIXED_LEVELS not in venue.stated


def test_mixed_sheets_leave_it_in_metres_and_say_so(tmp_path):
    levels = f"{HEAD}2026-05-02,08:30,24 in\n2026-06-20,09:00,0.61 m\n"
    venue = read_fieldbook(imperial_venue(tmp_path, levels=levels)).venue
    assert (venue.mark.unit, MIXED_LEVELS in venue.stated) == ("m", True)
