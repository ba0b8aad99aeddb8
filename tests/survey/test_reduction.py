"""Readings to soundings: the ruler, the level, brackets, landing; and nothing dropped in silence."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

from survey.errors import Place
from survey.findings import Finding, Grade
from survey.fixes import Geometry
from survey.readings import Cast, Direction, Fieldbook, Fix, LevelRecord, Moment, Reading, Seen
from survey.reduction import NO_ROW_OF_ITS_OWN, reduce
from survey.soundings import COLUMNS, Soundings
from survey.units import INCH_M
from survey.venue import Float, LevelMark, Peg, Spreads, Venue

# An invented rectangle of water 120 m by 80 m in the middle of the North Sea, with an island.
CRS = "EPSG:32631"
WEST, SOUTH = 594_700.0, 6_151_000.0
ISLAND = box(WEST + 50, SOUTH + 30, WEST + 60, SOUTH + 50)
WATER = MultiPolygon([box(WEST, SOUTH, WEST + 120, SOUTH + 80).difference(ISLAND)])
WAGGLER = Float("waggler", 10 * INCH_M, 1 * INCH_M)
TO_TIP = Float("to tip", 10 * INCH_M, 1 * INCH_M, setting_to="tip")
DAY = datetime(2026, 5, 3, 10, tzinfo=UTC)


def peg(name: str, x: float, y: float, facing_grid_deg: float, facing_sd_deg: float = 0.0) -> Peg:
    geometry = Geometry(CRS)
    e, n = WEST + x, SOUTH + y
    lon, lat = geometry.lonlat(e, n)
    facing = facing_grid_deg + geometry.convergence_deg(e, n)
    return Peg(name, e, n, float(lon), float(lat), facing, facing_sd_deg, 1.0, Place("pegs.csv", 2))


WEST_PEG = peg("1", 0, 40, 90)
SOUTH_PEG = peg("2", 30, -0.5, 0, facing_sd_deg=15.0)
BOARD = LevelMark("board", 0.0)
VENUE = Venue("Eelmarsh", CRS, WATER, (WEST_PEG, SOUTH_PEG), mark=BOARD, floats=(WAGGLER, TO_TIP))


def moment(when: datetime = DAY, half_hours: float = 0.0) -> Moment:
    return Moment(when, timedelta(hours=half_hours), when.date().isoformat())


def level(shown_m: float, when: datetime = DAY, row: int = 2) -> LevelRecord:
    return LevelRecord(moment(when), shown_m, Place("levels.csv", row))


AT_DATUM = (level(0.0),)


def cast(angle_deg: float = 0.0, distance_m: float = 15.0, **more) -> Cast:
    return Cast(Direction("angle", angle_deg, "aimed"), distance_m, "tape", **more)


def reading(row: int = 2, **more) -> Reading:
    fields = {"peg": "2", "where": cast(), "when": moment(), "depth_m": 1.5} | more
    return Reading(Place("readings.csv", row), **fields)


def plumb(row: int = 2, setting_m: float = 1.2, seen: Seen = Seen.STANDS, **more) -> Reading:
    fields = {"depth_m": None, "float_name": "waggler"} | more
    return reading(row, setting_m=setting_m, seen=seen, **fields)


def book(*readings: Reading, levels=AT_DATUM, venue: Venue = VENUE) -> Fieldbook:
    return Fieldbook(venue, tuple(readings), tuple(levels), (), len(readings), "0" * 64)


def one(row: Reading, **more) -> pd.Series:
    soundings, _ = reduce(book(row, **more))
    assert len(soundings) == 1
    return soundings.table.iloc[0]


def only_finding(row: Reading, **more) -> Finding:
    soundings, findings = reduce(book(row, **more))
    assert len(soundings) == 0
    assert len(findings) == 1
    return findings[0]


# --- the float as a ruler (geometry; the rows of common practice) ---


@pytest.mark.parametrize(
    ("seen", "tip_m", "kind", "beyond_setting_in"),
    [
        (Seen.STANDS, None, "depth", 9.0),
        (Seen.STANDS, 3 * INCH_M, "depth", 7.0),
        (None, 3 * INCH_M, "depth", 7.0),
        (Seen.SUNK, None, "at_least", 10.0),
        (Seen.FLAT, None, "at_most", 0.0),
        (Seen.USUAL, None, "at_most", 9.0),
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


@pytest.mark.parametrize("seen", list(Seen))
def test_a_setting_measured_to_the_tip_already_holds_the_float(seen):
    to_hold = one(plumb(setting_m=1.2, seen=seen))
    to_tip = one(plumb(setting_m=1.2 + WAGGLER.length_m, seen=seen, float_name="To Tip"))
    assert to_tip.depth_m == pytest.approx(to_hold.depth_m)
    assert to_tip.kind == to_hold.kind


@pytest.mark.parametrize("seen", list(Seen))
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
    soundings, findings = reduce(book(reading(2), reading(3, when=moment(later)), levels=()))
    assert list(soundings.table.level_sd_m) == [0.25, 0.25]
    assert list(soundings.table.level_block) == ["unknown:2026-05-03", "unknown:2026-05-04"]
    assert [f.code for f in findings] == ["level-unknown"]
    assert "2 readings kept as if at datum, sd 0.25 m" in findings[0].problem


def test_each_day_out_of_reach_of_the_records_is_named():
    far = [moment(DAY + timedelta(days=d)) for d in (3, 3, 9)]
    rows = [reading(k, when=when) for k, when in enumerate(far, start=2)]
    _, findings = reduce(book(*rows, reading(9, when=None)))
    assert [f.problem.split(":")[0] for f in findings] == [
        "level unknown on 2026-05-06",
        "level unknown on 2026-05-12",
        "level unknown for readings without a date",
    ]


def test_records_without_a_declared_mark_say_which_line_to_add():
    _, findings = reduce(book(reading(), venue=replace(VENUE, mark=LevelMark())))
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
    soundings, findings = reduce(book(reading(method="sounder")))
    assert soundings.table.sd_m[0] == 0.15
    assert [(f.code, f.grade) for f in findings] == [("sounder-sd", Grade.NOTE)]


# --- brackets ---


def bracket(low_m: float, high_m: float, **more) -> tuple[Reading, Reading]:
    """Sunk at a setting that says deeper than low_m, flat at one that says no deeper than high_m."""
    sunk = plumb(2, low_m - WAGGLER.length_m, Seen.SUNK, **more)
    return sunk, plumb(3, high_m, Seen.FLAT, **more)


def test_a_bracket_is_its_middle_with_a_rectangular_variance():
    """Half-width a gives a²/3 (GUM, JCGM 100:2008, 4.3.7); the plummet's own 0.06 m is added in quadrature (5.1.2)."""
    soundings, findings = reduce(book(*bracket(1.4, 1.6)))
    row = soundings.table.iloc[0]
    assert len(soundings) == 1
    assert (row.kind, row.row) == ("depth", 2)
    assert row.depth_m == pytest.approx(1.5)
    assert row.sd_m == pytest.approx(math.sqrt(0.1**2 / 3 + 0.06**2))
    assert [(f.code, f.place.row) for f in findings] == [("bracketed", 3)]


def test_the_tightest_of_several_bounds_make_the_bracket():
    sunk, flat = bracket(1.4, 1.6)
    looser = plumb(4, 1.0, Seen.SUNK), plumb(5, 1.9, Seen.FLAT)
    soundings, findings = reduce(book(*looser, flat, sunk))
    assert soundings.table.depth_m.tolist() == [pytest.approx(1.5)]
    assert [f.place.row for f in findings] == [3, 4, 5]


def test_a_bracket_keeps_the_less_certain_level_and_the_hard_bed_of_either():
    sunk, flat = bracket(1.4, 1.6)
    week = (level(0.0), level(0.0, DAY + timedelta(days=10)))
    later = replace(flat, when=moment(DAY + timedelta(hours=9)), hard_depth_m=1.9)
    soundings, _ = reduce(book(sunk, later, levels=week))
    row = soundings.table.iloc[0]
    # The first row was plumbed as the mark was read (0.01 m), the second on the way to the next look.
    assert row.level_sd_m == pytest.approx(0.01)
    assert row.hard_depth_m == pytest.approx(1.9)


def test_undated_bounds_do_not_meet():
    soundings, _ = reduce(book(*bracket(1.4, 1.6, when=None)))
    assert soundings.table.kind.tolist() == ["at_least", "at_most"]


@pytest.mark.parametrize(("observer", "meets"), [("", False), ("Ann", True)])
def test_a_named_observer_is_one_person_across_sheets_and_a_blank_one_is_not(observer, meets):
    sunk, flat = bracket(1.4, 1.6, observer=observer)
    elsewhere = replace(flat, place=Place("other.csv", 3), observer=observer.upper())
    soundings, findings = reduce(book(sunk, elsewhere))
    assert (soundings.table.kind.tolist() == ["depth"]) is meets
    assert [f.code for f in findings] == (["bracketed"] if meets else [])


def test_bounds_that_cross_by_little_still_meet_in_the_middle():
    soundings, _ = reduce(book(*bracket(1.55, 1.5)))
    assert soundings.table.depth_m.tolist() == [pytest.approx(1.525)]


def test_bounds_that_cross_by_more_than_three_sd_are_named_and_kept():
    # 3 * sqrt(2) * 0.06 m = 0.2546 m
    soundings, findings = reduce(book(*bracket(1.76, 1.5)))
    assert soundings.table.kind.tolist() == ["at_least", "at_most"]
    assert [(f.code, f.grade) for f in findings] == [("bracket-crossed", Grade.WARNING)]
    assert "deeper than 1.76 m" in findings[0].problem
    soundings, _ = reduce(book(*bracket(1.75, 1.5)))
    assert soundings.table.kind.tolist() == ["depth"]


@pytest.mark.parametrize(
    "other",
    [
        {"observer": "Ann"},
        {"when": moment(DAY + timedelta(hours=20))},
        {"where": cast(1.0)},
        {"where": cast(0, 15.5)},
        {"peg": "1"},
        {"use": False},
        {"when": None},
    ],
)
def test_bounds_of_another_cast_day_or_observer_do_not_meet(other):
    sunk, flat = bracket(1.4, 1.6)
    soundings, _ = reduce(book(sunk, replace(flat, **other)))
    assert soundings.table.kind.tolist() == ["at_least", "at_most"]


def test_a_cast_said_by_clock_or_by_angle_is_the_same_cast():
    sunk, flat = bracket(1.4, 1.6)
    by_clock = Cast(Direction("clock", 360.0, "half hours"), 15.0, "tape")
    soundings, _ = reduce(book(sunk, replace(flat, where=by_clock)))
    assert soundings.table.kind.tolist() == ["depth"]


# --- landing ---


def test_a_cast_past_the_far_bank_is_left_out_with_the_metres():
    finding = only_finding(reading(peg="1", where=cast(10, 134.0)))
    over = 134.0 * math.cos(math.radians(10)) * Geometry(CRS).scale(WEST, SOUTH) - 120
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


def test_a_spot_hardly_ashore_is_pulled_to_the_water():
    soundings, findings = reduce(book(reading(where=cast(0, 81.2))))
    assert [(f.code, f.grade) for f in findings] == [("pulled-to-water", Grade.NOTE)]
    assert soundings.xy[0] == pytest.approx([WEST + 30, SOUTH + 80], abs=0.1)
    assert WATER.intersects(soundings.table.geometry.iloc[0])


def test_a_cast_across_the_island_is_kept_but_not_used():
    soundings, findings = reduce(book(reading(peg="1", where=cast(0, 90))))
    assert soundings.table.use.tolist() == [False]
    assert [(f.code, f.grade) for f in findings] == [("behind-land", Grade.WARNING)]
    assert "not used" in findings[0].problem


def test_a_fix_across_the_island_is_used_whatever_its_peg():
    soundings, findings = reduce(book(reading(peg="1", where=Fix(WEST + 90, SOUTH + 40, "venue", 1.0))))
    assert soundings.table.use.tolist() == [True]
    assert findings == ()


# --- left out, each with where, what and the remedy ---


@pytest.mark.parametrize(
    ("row", "code", "says"),
    [
        (reading(depth_m=None), "depth-missing", "neither a depth nor a setting"),
        (reading(depth_m=-0.3), "depth-negative", 'found "-0.30 m"'),
        (plumb(float_name=""), "float-unknown", "without its float"),
        (plumb(float_name="onion"), "float-unknown", 'found "onion"'),
        (plumb(seen=None), "seen-missing", "stands, sunk, flat or usual"),
        (plumb(tip_m=0.3), "tip-too-long", 'float "waggler" has above its hold point, 0.25 m'),
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
    soundings, findings = reduce(book(plumb(setting_m=1.2, depth_m=1.2)))
    assert soundings.table.depth_m.tolist() == [pytest.approx(1.2 + 9 * INCH_M)]
    assert [f.code for f in findings] == ["two-depths"]


def test_a_hard_bed_above_the_silt_is_doubted():
    _, findings = reduce(book(reading(depth_m=1.5, hard_depth_m=1.2)))
    assert [f.code for f in findings] == ["hard-above-bed"]


# --- the table ---

MANY = (
    reading(2, use=False),
    *(replace(r, place=Place("readings.csv", k)) for k, r in zip((3, 4), bracket(1.4, 1.6), strict=True)),
    plumb(5, 1.3, Seen.USUAL, where=cast(20, 12)),
    reading(6, depth_m=None),
    reading(7, peg="1", where=cast(10, 134.0)),
    reading(8, peg="1", where=cast(0, 90)),
    reading(9, where=cast(0, 81.2)),
    reading(10, when=None),
    plumb(11, float_name="onion", use=False),
    replace(reading(2), place=Place("b.csv", 2)),
)


def test_every_reading_is_accounted_for():
    soundings, findings = reduce(book(*MANY))
    without = [f.place for f in findings if f.code in NO_ROW_OF_ITS_OWN]
    rows = [Place(f, int(r)) for f, r in zip(soundings.table.file, soundings.table.row, strict=True)]
    assert sorted([*rows, *without]) == sorted(r.place for r in MANY)
    assert len(without) == 4


def test_the_table_is_sorted_and_whole():
    table = reduce(book(*MANY))[0].table
    assert list(table.columns) == [*COLUMNS, "geometry"]
    assert list(zip(table.file, table.row, strict=True)) == sorted(zip(table.file, table.row, strict=True))
    assert table.crs == CRS
    assert table.use.dtype == bool
    assert table.loc[table.row == 2, "use"].tolist() == [True, False]


IN_ORDER = reduce(book(*MANY))


@given(st.permutations(MANY))
@settings(max_examples=25, deadline=None)
def test_order_changes_nothing(shuffled):
    first, said = IN_ORDER
    second, said_again = reduce(book(*shuffled))
    pd.testing.assert_frame_equal(first.table, second.table)
    assert said == said_again


def test_no_reading_is_an_empty_table():
    soundings, findings = reduce(book())
    assert len(soundings) == 0
    assert isinstance(soundings, Soundings)
    assert np.isfinite(soundings.table.depth_m.sum())
    assert findings == ()


def test_spreads_of_the_venue_are_used():
    venue = replace(VENUE, spreads=Spreads(float_depth_near_m=0.2, level_unknown_m=0.5))
    sounding = one(reading(), venue=venue, levels=())
    assert (sounding.sd_m, sounding.level_sd_m) == (0.2, 0.5)
