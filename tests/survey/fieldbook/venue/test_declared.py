"""What the sheets declare and what is assumed of errors; pegs that do not stand on the bank."""

from __future__ import annotations

import pytest

from survey.adjustment.peg_points import pegs_on_bank
from survey.reduction.reduce import reduce_soundings
from tests.made.findings import found

TOML = 'name = "Quillmere"\n'
PEGS = """peg,lon,lat,facing,aliases
1,-2.3118321,54.1017371,90,Stump
2,-2.3118395,54.1013,90,
"""


@pytest.mark.parametrize(
    ("header", "row", "spreads", "declared"),
    [
        ("peg,angle,distance (m),depth (m)", "1,0,20,1.4", "", ""),
        ("peg,angle,distance (m),distance by,depth (m)", "1,0,20,tape,1.4", "", "distance"),
        ("peg,angle,distance (m),distance by,depth (m)", "1,0,20,,1.4", "", ""),
        ("peg,angle,distance (wraps),depth (m)", "1,0,5,1.4", "", "distance"),
        ("peg,angle,direction by,distance (m),depth (m)", "1,0,aimed,20,1.4", "", "direction"),
        ("peg,clock,distance (m),depth (m)", "1,12,20,1.4", "", ""),
        ("peg,angle,distance (m),depth (m),sd (m)", "1,0,20,1.4,0.03", "", "depth"),
        ("peg,angle,distance (m),depth (m)", "1,0,20,1.4", "estimated_distance = 0.05", "distance"),
        ("peg,angle,distance (m),depth (m)", "1,0,20,1.4", "tape_distance_m = 0.2", ""),
        ("peg,angle,distance (m),depth (m)", "1,0,20,1.4", "compass_deg = 3", "direction"),
    ],
)
def test_what_is_written_counts_as_declared_and_all_else_as_assumed(header, row, spreads, declared, read):
    toml = TOML + '[units]\nstick_spacing = "12 ft"\n' + (f"[spreads]\n{spreads}\n" if spreads else "")
    book = read(toml, readings__csv=f"{header},date\n{row},2026-05-03\n")
    assert reduce_soundings(book)[0].table["declared"].tolist() == [declared]


@pytest.mark.parametrize(
    ("column", "cell", "spreads", "declared"),
    [
        ("", "", "", False),
        (",position by", ",surveyed", "", True),
        (",position by", ",", "", False),
        ("", "", "[spreads]\npeg_phone_m = 3", True),
        ("", "", "[spreads]\npeg_surveyed_m = 3", False),
    ],
)
def test_a_point_is_declared_by_its_column_or_by_the_spread_it_takes(column, cell, spreads, declared, read):
    pegs = f"peg,lon,lat{column}\n1,-2.3118121,54.1017371{cell}\n"
    assert read(TOML + spreads, pegs__csv=pegs).venue.pegs[0].position_declared is declared


@pytest.mark.parametrize("name", ["1", "Stump", "stump"])
def test_a_peg_declared_off_the_bank_stays_as_written(name, read):
    venue = read(TOML + f'[pegs]\noff_bank = ["{name}"]\n', pegs__csv=PEGS).venue
    drawn = pegs_on_bank(venue)
    assert [peg.off_bank for peg in drawn.pegs] == [True, False]
    assert [peg.bank is None for peg in drawn.pegs] == [True, False]


def test_a_name_off_the_bank_that_is_no_peg_is_told(read):
    book = read(TOML + '[pegs]\noff_bank = ["1", "99"]\n', pegs__csv=PEGS)
    (one,) = found(book, "off-bank-unknown")
    assert one.value == "99"
    assert one.place.file == "venue.toml"
