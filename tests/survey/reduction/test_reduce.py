"""Readings to soundings: the ruler, the level, brackets, landing; and nothing dropped in silence."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.errors import SourceRow
from survey.findings import Grade
from survey.geometry.geodesy import Geodesy
from survey.records.readings import Cast, Direction, Fix, FloatSeen
from survey.records.soundings import COLUMNS, Soundings
from survey.records.uncertainty import StandardErrors
from survey.records.water_level import LevelMark
from survey.reduction.reduce import NO_ROW_OF_ITS_OWN, reduce_soundings
from survey.units import INCH_M
from tests.made.readings import (
    CRS,
    DAY,
    SOUTH,
    VENUE,
    WAGGLER,
    WATER,
    WEST,
    book,
    bracket,
    cast,
    level,
    moment,
    one,
    only_finding,
    plumb,
    reading,
)

# --- the float as a ruler (geometry; the rows of common practice) ---


@pytest.mark.parametrize(
    ("seen", "tip_m", "kind", "beyond_setting_in"),
    [
        (FloatSeen.STANDS, None, "depth", 9.0),
        (FloatSeen.STANDS, 3 * INCH_M, "depth", 7.0),
        (None, 3 * INCH_M, "depth", 7.0),
        (FloatSeen.SUNK, None, "at_least", 10.0),
        (FloatSeen.FLAT, None, "at_most", 0.0),
        (FloatSeen.USUAL, None, "at_most", 9.0),
    ],
)
def test_what_is_seen_of_a_ten_inch_float_says_the_depth(seen, tip_m, kind, beyond_setting_in):
    sounding = one(plumb(setting_m=1.2, seen=seen, tip_m=tip_m))
    assert sounding.kind == kind
    assert sounding.depth_m == pytest.approx(1.2 + beyond_setting_in * INCH_M)


def test_leaving_the_float_out_reads_about_nine_inches_shallow():
    with_float = one(plumb(setting_m=1.2)).depth_m
    without = one(reading(depth_m=1.2)).depth_m
    assert (with_float - without) / INCH_M == pytest.approx(9.0)


@pytest.mark.parametrize("seen", list(FloatSeen))
def test_a_setting_measured_to_the_tip_already_holds_the_float(seen):
    to_hold = one(plumb(setting_m=1.2, seen=seen))
    to_tip = one(plumb(setting_m=1.2 + WAGGLER.length_m, seen=seen, float_name="To Tip"))
    assert to_tip.depth_m == pytest.approx(to_hold.depth_m)
    assert to_tip.kind == to_hold.kind


@pytest.mark.parametrize("seen", list(FloatSeen))
def test_a_hook_held_off_the_bed_adds_its_height(seen):
    low, high = (one(plumb(seen=seen, hook_height_m=e)).depth_m for e in (0.0, 0.05))
    assert high - low == pytest.approx(0.05)


def test_a_depth_given_straight_takes_no_hook_height():
    assert one(reading(depth_m=1.5, hook_height_m=0.05)).depth_m == pytest.approx(1.5)


# --- level ---


@pytest.mark.parametrize(("kind", "depth_m"), [("board", 1.3), ("dip", 1.7)])
def test_a_board_and_a_dip_turn_the_same_figure_opposite_ways(kind, depth_m):
    """The mark shows 0.2 m more than at datum: 0.2 m of water more on a board, 0.2 m less at a dip.

    Reduced depth = observed depth - water level above datum (IHO S-44 6.1.0, definition of reduced depth).
    """
    venue = replace(VENUE, mark=LevelMark(kind, 0.4))
    sounding = one(reading(depth_m=1.5, hard_depth_m=1.8), levels=(level(0.6),), venue=venue)
    assert sounding.depth_m == pytest.approx(depth_m)
    assert sounding.hard_depth_m == pytest.approx(depth_m + 0.3)
    assert sounding.level_block == "2026-05-03"


@given(st.floats(-2, 2), st.floats(-0.5, 0.5))
@settings(max_examples=25, deadline=None)
def test_a_level_raised_by_h_lowers_every_sounding_of_the_day_by_h(shown, h):
    first = one(plumb(), levels=(level(shown),))
    second = one(plumb(), levels=(level(shown + h),))
    assert first.depth_m - second.depth_m == pytest.approx(h, abs=1e-9)


def test_without_records_readings_are_kept_and_one_finding_says_so():
    later = DAY + timedelta(days=1)
    soundings, findings = reduce_soundings(book(reading(2), reading(3, when=moment(later)), levels=()))
    assert list(soundings.table.level_sd_m) == [0.25, 0.25]
    assert list(soundings.table.level_block) == ["unknown:2026-05-03", "unknown:2026-05-04"]
    assert [f.code for f in findings] == ["level-unknown"]
    assert "2 readings kept as if at datum, sd 10 in" in findings[0].problem


def test_each_day_out_of_reach_of_the_records_is_named():
    far = [moment(DAY + timedelta(days=d)) for d in (3, 3, 9)]
    rows = [reading(k, when=when) for k, when in enumerate(far, start=2)]
    _, findings = reduce_soundings(book(*rows, reading(9, when=None)))
    assert [f.problem.split(":")[0] for f in findings] == [
        "level unknown on 6 May 2026",
        "level unknown on 12 May 2026",
        "level unknown for readings without a date",
    ]
    assert [f.problem.split("(")[-1] for f in findings] == [
        "readings.csv rows 2 to 3)",
        "readings.csv row 4)",
        "readings.csv row 9)",
    ]


def test_records_without_a_declared_mark_say_which_line_to_add():
    _, findings = reduce_soundings(book(reading(), venue=replace(VENUE, mark=LevelMark())))
    assert '[level] kind = "board" or "dip"' in findings[0].remedy


# --- own error ---


@pytest.mark.parametrize(
    ("more", "sd_m"),
    [
        ({}, 0.06),
        ({"where": cast(0, 25)}, 0.09),
        ({"where": cast(0, 70)}, 0.12),
        ({"method": "pole"}, 0.02),
        ({"method": "stick"}, 0.02),
        ({"method": "marker"}, 0.15),
        ({"sd_m": 0.33}, 0.33),
        ({"peg": "", "where": Fix(WEST + 30, SOUTH + 40, "venue", 3.0)}, 0.12),
        ({"where": Fix(WEST + 30, SOUTH + 10, "venue", 3.0)}, 0.06),
        ({"where": Fix(WEST + 54, SOUTH + 6.5, "venue", 3.0)}, 0.09),
    ],
)
def test_own_sd_by_method_and_distance(more, sd_m):
    assert one(reading(**more)).sd_m == pytest.approx(sd_m)


def test_a_sounder_is_taken_for_a_marker_rod_and_said_so():
    soundings, findings = reduce_soundings(book(reading(method="sounder")))
    assert soundings.table.sd_m[0] == 0.15
    assert [(f.code, f.grade) for f in findings] == [("sounder-sd", Grade.NOTE)]


# --- landing ---


def test_a_cast_past_the_far_bank_is_left_out_with_the_metres():
    finding = only_finding(reading(peg="1", where=cast(10, 134.0)))
    over = 134.0 * math.cos(math.radians(10)) * Geodesy(CRS).scale(WEST, SOUTH) - 120
    assert (finding.code, finding.grade, finding.place.row) == ("on-land", Grade.ERROR, 2)
    assert finding.problem == f"lands on shore by {over:.1f} m"


def test_a_badly_known_distance_does_not_excuse_twelve_metres_ashore():
    guess = Cast(Direction("angle", 10, "aimed"), 134.0, "estimated")
    assert only_finding(reading(peg="1", where=guess)).code == "on-land"


@pytest.mark.parametrize("past_m", [0.9, 3.9])
def test_a_fix_is_pulled_by_a_metre_or_by_its_own_sd(past_m):
    sharp, loose = (Fix(WEST + 30, SOUTH + 80 + past_m, "venue", sd) for sd in (0.1, 3.0))
    assert one(reading(where=loose)).use
    if past_m < 1:
        assert one(reading(where=sharp)).use
    else:
        assert only_finding(reading(where=sharp)).code == "on-land"


def test_a_spot_a_hand_ashore_is_not_said_to_lie_no_metres_ashore():
    _, findings = reduce_soundings(book(reading(where=Fix(WEST + 30, SOUTH + 80.03, "venue", 1.0))))
    assert findings[0].problem == "lands on shore by less than 0.1 m, taken at the water's edge"


def test_a_spot_hardly_ashore_is_pulled_to_the_water():
    soundings, findings = reduce_soundings(book(reading(where=cast(0, 81.2))))
    assert [(f.code, f.grade) for f in findings] == [("pulled-to-water", Grade.NOTE)]
    assert soundings.xy[0] == pytest.approx([WEST + 30, SOUTH + 80], abs=0.1)
    assert WATER.intersects(soundings.table.geometry.iloc[0])


def test_a_cast_across_the_island_is_kept_but_not_used():
    soundings, findings = reduce_soundings(book(reading(peg="1", where=cast(0, 90))))
    assert soundings.table.use.tolist() == [False]
    assert [(f.code, f.grade) for f in findings] == [("behind-land", Grade.WARNING)]
    assert "not used" in findings[0].problem


def test_a_fix_across_the_island_is_used_whatever_its_peg():
    soundings, findings = reduce_soundings(book(reading(peg="1", where=Fix(WEST + 90, SOUTH + 40, "venue", 1.0))))
    assert soundings.table.use.tolist() == [True]
    assert findings == ()


# --- left out, each with where, what and the remedy ---


@pytest.mark.parametrize(
    ("row", "code", "says"),
    [
        (reading(depth_m=None), "depth-missing", "neither a depth nor a setting"),
        (reading(depth_m=-0.3), "depth-negative", 'found "-1 ft"'),
        (plumb(float_name=""), "float-unknown", "without its float"),
        (plumb(float_name="onion"), "float-unknown", 'found "onion"'),
        (plumb(seen=None), "seen-missing", "stands, sunk, flat or usual"),
        (plumb(tip_m=0.3), "tip-too-long", 'more tip showing than float "waggler" is long: 10 in'),
        (reading(peg="99"), "peg-unknown", 'found "99"'),
        (reading(where=cast(distance_from="rod tip")), "rod-reach-missing", 'rod_reach = "3.3 m"'),
        (reading(where=cast(170, 15, distance_from="edge")), "edge-not-found", "meets no edge near its peg"),
        (reading(where=Fix(4.5, 95.0, "lonlat", 1.0)), "not-placed", "no place in EPSG:32631"),
    ],
)
def test_a_row_that_cannot_be_used_is_named(row, code, says):
    finding = only_finding(row)
    assert (finding.code, finding.grade) == (code, Grade.ERROR)
    assert says in str(finding)
    assert str(finding).startswith("readings.csv, row 2: ")


def test_a_faulty_row_that_its_sheet_sets_aside_is_only_a_note():
    assert only_finding(reading(depth_m=None, use=False)).grade is Grade.NOTE


def test_a_depth_beside_a_setting_is_compared():
    soundings, findings = reduce_soundings(book(plumb(setting_m=1.2, depth_m=1.2)))
    assert soundings.table.depth_m.tolist() == [pytest.approx(1.2 + 9 * INCH_M)]
    assert [f.code for f in findings] == ["two-depths"]


@pytest.mark.parametrize(("off_m", "told"), [(0.17, 0), (0.19, 1), (-0.17, 0), (-0.19, 1)])
def test_a_depth_beside_a_setting_may_differ_by_three_standard_deviations_either_way(off_m, told):
    alone = one(plumb())
    assert alone.sd_m == pytest.approx(0.06)
    _, findings = reduce_soundings(book(plumb(depth_m=alone.depth_m + off_m)))
    assert [f.code for f in findings].count("two-depths") == told


def test_a_hard_bed_above_the_silt_is_doubted():
    _, findings = reduce_soundings(book(reading(depth_m=1.5, hard_depth_m=1.2)))
    assert [f.code for f in findings] == ["hard-above-bed"]


# --- the table ---

MANY = (
    reading(2, use=False),
    *(replace(r, place=SourceRow("readings.csv", k)) for k, r in zip((3, 4), bracket(1.4, 1.6), strict=True)),
    plumb(5, 1.3, FloatSeen.USUAL, where=cast(20, 12)),
    reading(6, depth_m=None),
    reading(7, peg="1", where=cast(10, 134.0)),
    reading(8, peg="1", where=cast(0, 90)),
    reading(9, where=cast(0, 81.2)),
    reading(10, when=None),
    plumb(11, float_name="onion", use=False),
    replace(reading(2), place=SourceRow("b.csv", 2)),
)


def test_every_reading_is_accounted_for():
    soundings, findings = reduce_soundings(book(*MANY))
    without = [place for f in findings if f.code in NO_ROW_OF_ITS_OWN for place in f.rows]
    rows = [SourceRow(f, int(r)) for f, r in zip(soundings.table.file, soundings.table.row, strict=True)]
    assert sorted([*rows, *without]) == sorted(r.place for r in MANY)
    assert len(without) == 4


def test_the_table_is_sorted_and_whole():
    table = reduce_soundings(book(*MANY))[0].table
    assert list(table.columns) == [*COLUMNS, "geometry"]
    assert list(zip(table.file, table.row, strict=True)) == sorted(zip(table.file, table.row, strict=True))
    assert table.crs == CRS
    assert table.use.dtype == bool
    assert table.loc[table.row == 2, "use"].tolist() == [True, False]


IN_ORDER = reduce_soundings(book(*MANY))


@given(st.permutations(MANY))
@settings(max_examples=25, deadline=None)
def test_order_changes_nothing(shuffled):
    first, said = IN_ORDER
    second, said_again = reduce_soundings(book(*shuffled))
    pd.testing.assert_frame_equal(first.table, second.table)
    assert said == said_again


def test_no_reading_is_an_empty_table():
    soundings, findings = reduce_soundings(book())
    assert len(soundings) == 0
    assert isinstance(soundings, Soundings)
    assert np.isfinite(soundings.table.depth_m.sum())
    assert findings == ()


def test_spreads_of_the_venue_are_used():
    venue = replace(VENUE, standard_errors=StandardErrors(float_depth_near_m=0.2, level_unknown_m=0.5))
    sounding = one(reading(), venue=venue, levels=())
    assert (sounding.sd_m, sounding.level_sd_m) == (0.2, 0.5)
