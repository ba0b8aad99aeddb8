"""Level records to the level at an instant: straight between records, honest about gaps, silent ends unknown."""

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.errors import Place
from survey.readings import LevelRecord, Moment
from survey.venue import LevelMark, Spreads
from survey.waterlevel import MARK_SD_M, WANDER_M, LevelHistory, level_fault

START = datetime(2026, 4, 1, 8, tzinfo=UTC)
NOON = timedelta(hours=12)


def moment(days: float, half_width: timedelta = timedelta(0)) -> Moment:
    when = START + timedelta(days=days)
    return Moment(when, half_width, when.date().isoformat())


def record(days: float, shown_m: float, half_width: timedelta = timedelta(0)) -> LevelRecord:
    return LevelRecord(moment(days, half_width), shown_m, Place("levels.csv", 2))


def history(*records: LevelRecord, kind="board", datum_m: float = 0.0) -> LevelHistory:
    return LevelHistory(records, LevelMark(kind, datum_m), Spreads())


def test_straight_between_the_records_around_it():
    levels = history(record(0, 0.10), record(10, 0.30), record(12, 0.20))
    assert [levels.rise(moment(d)).rise_m for d in (0, 5, 10, 11)] == pytest.approx([0.10, 0.20, 0.30, 0.25])


@pytest.mark.parametrize(("kind", "rise_m"), [("board", 0.15), ("dip", -0.15)])
def test_a_board_counts_up_and_a_dip_down_from_its_datum(kind, rise_m):
    at = history(record(0, 0.65), kind=kind, datum_m=0.5).rise(moment(0))
    assert at.rise_m == pytest.approx(rise_m)


@pytest.mark.parametrize(("days", "known"), [(-1.01, False), (-1, True), (0, True), (6, True), (6.01, False)])
def test_an_end_holds_for_a_day_and_no_longer(days, known):
    at = history(record(0, 0.1), record(5, 0.4)).rise(moment(days))
    assert at.known is known
    if known:
        assert at.rise_m == pytest.approx(0.1 if days <= 0 else 0.4)
        assert at.sd_m == pytest.approx(MARK_SD_M)


def test_an_unknown_level_is_the_datum_s_with_a_quarter_metre():
    at = history(record(0, 0.1)).rise(moment(30))
    assert (at.rise_m, at.sd_m, at.known, at.block) == (0.0, 0.25, False, "unknown:2026-05-01")


def test_records_that_say_more_than_a_quarter_metre_are_believed():
    # Taken as the datum's, a level that stood at 0.6 m and 0.8 m above it is wrong by sqrt((0.6² + 0.8²)/2).
    at = history(record(0, 0.6), record(1, 0.8)).rise(moment(30))
    assert at.sd_m == pytest.approx(math.sqrt((0.36 + 0.64) / 2))


@pytest.mark.parametrize("levels", [history(), history(record(0, 0.1), kind=None)], ids=["no records", "no mark"])
def test_without_records_or_mark_every_level_is_unknown(levels):
    assert len(levels) == 0
    assert levels.rise(moment(0)).sd_m == 0.25
    assert not levels.rise(moment(0)).known


def test_a_reading_without_a_date_has_no_level():
    at = history(record(0, 0.1)).rise(None)
    assert (at.known, at.block) == (False, "unknown:undated")


def test_readings_of_one_day_share_their_level():
    levels = history(record(0, 0.1), record(5, 0.4))
    morning, evening, next_day = (levels.rise(moment(d)).block for d in (2.0, 2.4, 3.0))
    assert morning == evening == "2026-04-03"
    assert next_day == "2026-04-04"


def test_within_a_fortnight_only_the_looks_at_the_mark_count():
    levels = history(record(0, 0.1), record(14, 0.1))
    assert levels.rise(moment(0)).sd_m == pytest.approx(MARK_SD_M)
    assert levels.rise(moment(7)).sd_m == pytest.approx(MARK_SD_M / math.sqrt(2))


def test_beyond_a_fortnight_the_level_wanders_and_the_records_pin_it():
    levels = history(record(0, 0.1), record(50, 0.1))
    middle = math.sqrt(MARK_SD_M**2 / 2 + WANDER_M**2 * 36 / 4)
    assert levels.rise(moment(25)).sd_m == pytest.approx(middle)
    assert levels.rise(moment(0)).sd_m == pytest.approx(MARK_SD_M)
    assert levels.rise(moment(50)).sd_m == pytest.approx(MARK_SD_M)


@given(st.floats(15, 2000), st.floats(0.05, 0.95), st.floats(1.01, 3))
def test_a_longer_gap_never_says_more_and_never_less_than_unknown(gap, share, longer):
    short, long = (history(record(0, 0.0), record(g, 0.0)).rise(moment(g * share)).sd_m for g in (gap, gap * longer))
    assert short <= long <= 0.25


def test_a_date_without_a_time_adds_the_day_s_change():
    """0.2 m a day leaves ±0.1 m open within 12 h: a rectangle of that half-width (GUM, JCGM 100:2008, 4.3.7)."""
    levels = history(record(0, 0.0), record(10, 2.0))
    sharp, open_day = levels.rise(moment(5)), levels.rise(moment(5, NOON))
    assert open_day.rise_m == pytest.approx(sharp.rise_m)
    assert open_day.sd_m**2 - sharp.sd_m**2 == pytest.approx(0.1**2 / 3)


def test_a_peak_within_the_open_hours_counts():
    levels = history(record(0, 0.0), record(0.4, 0.12), record(1.0, 0.0))
    at = levels.rise(moment(0.5, NOON))
    looks = levels.rise(moment(0.5)).sd_m ** 2
    assert at.sd_m**2 - looks == pytest.approx(0.06**2 / 3)


def test_a_record_without_a_time_leaves_the_same_hours_open():
    sharp = history(record(0, 0.0), record(10, 2.0))
    loose = history(record(0, 0.0, NOON), record(10, 2.0))
    added = loose.rise(moment(5)).sd_m ** 2 - sharp.rise(moment(5)).sd_m ** 2
    assert added == pytest.approx(0.1**2 / 3)


@given(
    st.lists(st.tuples(st.floats(0, 40), st.floats(0, 1), st.sampled_from([timedelta(0), NOON])), max_size=6),
    st.lists(st.none() | st.tuples(st.floats(-3, 43), st.sampled_from([timedelta(0), NOON])), max_size=8),
)
def test_many_levels_are_those_of_each_moment_alone(records, asked):
    levels = history(*(record(*r) for r in records))
    moments = [when and moment(*when) for when in asked]
    assert levels.rises(moments) == [levels.rise(when) for when in moments]


def test_two_looks_at_once_are_averaged():
    assert history(record(0, 0.10), record(0, 0.14)).rise(moment(0)).rise_m == pytest.approx(0.12)


RECORDS = (record(0, 0.1), record(0, 0.3), record(3, 0.2), record(40, -0.1, NOON))


@given(st.permutations(RECORDS), st.floats(-3, 45))
def test_the_order_of_records_changes_nothing(shuffled, days):
    assert history(*shuffled).rise(moment(days)) == history(*RECORDS).rise(moment(days))


@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(0, 10))
def test_a_level_between_two_records_lies_between_them(first, second, days):
    at = history(record(0, first), record(10, second)).rise(moment(days))
    assert min(first, second) - 1e-9 <= at.rise_m <= max(first, second) + 1e-9


@pytest.mark.parametrize(
    ("rise", "fault"),
    [(0.0, ""), (3.0, ""), (3.01, "flooded"), (59.4, "flooded"), (-2.49, ""), (-2.5, "empty"), (-60, "empty")],
)
def test_a_level_at_which_nothing_can_be_answered_has_its_reason(rise, fault):
    assert level_fault(rise, 2.5) == fault


@pytest.mark.parametrize(("kind", "shown_m"), [("board", 0.7), ("dip", 0.1)])
def test_a_mark_shows_what_the_level_is_read_from(kind, shown_m):
    """Datum at 0.40; with the water up by 0.30 a board shows 0.70 and a dip, counted down, 0.10."""
    mark = LevelMark(kind, 0.4)
    assert mark.shown_m(0.3) == pytest.approx(shown_m)
    assert mark.rise_m(shown_m) == pytest.approx(0.3)
