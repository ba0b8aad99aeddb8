"""Times of day, their zones and years of two figures; other days are tested through the sheets that hold them."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from survey.errors import ParseError
from survey.units.dates import DateRules, day_readings, read_time


@pytest.mark.parametrize(
    ("text", "clock"),
    [
        ("0.4375", "10:30:00"),
        ("0,25", "06:00:00"),
        (".500", "12:00:00"),
        ("0.7084375", "17:00:09"),
        ("0.0", "00:00:00"),
    ],
)
def test_a_share_of_a_day_is_a_time_of_day(text, clock):
    """As spreadsheets store times: 1 is 24 hours (ECMA-376, part 1, 18.17.4)."""
    assert (read_time(text)[0].isoformat(), read_time(text)[1]) == (clock, None)


@pytest.mark.parametrize(
    ("text", "clock"),
    [
        ("12 am", "00:00:00"),
        ("12:30 a.m.", "00:30:00"),
        ("1 am", "01:00:00"),
        ("11:59 am", "11:59:00"),
        ("12 pm", "12:00:00"),
        ("1:05 p.m.", "13:05:00"),
        ("2p", "14:00:00"),
        ("11 pm", "23:00:00"),
        ("noon", "12:00:00"),
        ("10:30", "10:30:00"),
        ("10.30", "10:30:00"),
        ("10h30", "10:30:00"),
        ("23:59:59", "23:59:59"),
        ("0:00", "00:00:00"),
    ],
)
def test_twelve_hours_and_twenty_four_are_told_apart(text, clock):
    assert read_time(text)[0].isoformat() == clock


@pytest.mark.parametrize(
    ("text", "day"),
    [("3/5/26", "2026-05-03"), ("3/5/99", "2099-05-03"), ("3/5/00", "2000-05-03"), ("3/5/1999", "1999-05-03")],
)
def test_a_year_of_two_figures_is_one_of_this_century(text, day):
    assert day_readings(text)["dmy"].isoformat() == day


@pytest.mark.parametrize(
    ("zone", "east"),
    [
        ("Z", 0), ("UTC", 0), ("GMT", 0), ("BST", 60), ("CET", 60), ("CEST", 120),
        ("+02:00", 120), ("+0530", 330), ("-05:00", -300), ("-0330", -210),
    ],
)  # fmt: skip
def test_a_zone_says_how_far_the_clock_is_ahead_of_utc(zone, east):
    """ISO 8601: a plus stands before zones east of Greenwich, whose clocks are ahead."""
    clock, found = read_time(f"10:30 {zone}")
    assert clock.isoformat() == "10:30:00"
    assert found.utcoffset(None) == timedelta(minutes=east)


@pytest.mark.parametrize("text", ["24:00", "10:60", "10", "13 pm", "0 am", "1.5", "half ten", ""])
def test_what_is_no_time_of_day_is_refused(text):
    with pytest.raises(ParseError, match="is not a time of day"):
        read_time(text)


ZONES = (
    "Europe/London",
    "America/New_York",
    "Australia/Lord_Howe",
    "Pacific/Apia",
    "Asia/Kolkata",
    "America/Sao_Paulo",
)


FIRST = datetime.fromisoformat("2009-01-01 00:00")


def instants(local: datetime, zone: ZoneInfo) -> set[datetime]:
    """Every instant at which clocks of a zone show a time, found by trying all offsets from UTC in use."""
    tried = (local.replace(tzinfo=UTC) - timedelta(minutes=15 * by) for by in range(-13 * 4, 15 * 4))
    return {one for one in tried if one.astimezone(zone).replace(tzinfo=None) == local}


@given(
    st.sampled_from(ZONES),
    st.integers(0, 20 * 365 * 24 * 60).map(lambda minutes: str(FIRST + timedelta(minutes=minutes))),
)
@example("Europe/London", "2026-03-29 00:59")
@example("Europe/London", "2026-03-29 01:00")
@example("Europe/London", "2026-03-29 01:59")
@example("Europe/London", "2026-03-29 02:00")
@example("Europe/London", "2026-10-25 00:59")
@example("Europe/London", "2026-10-25 01:00")
@example("Europe/London", "2026-10-25 01:59")
@example("Europe/London", "2026-10-25 02:00")
@example("America/New_York", "2026-11-01 01:30")
@example("Australia/Lord_Howe", "2026-04-05 01:45")
@example("Australia/Lord_Howe", "2026-10-04 02:15")
@example("Pacific/Apia", "2011-12-30 12:00")
def test_a_time_is_doubtful_where_the_clocks_show_it_twice_or_never(name, written):
    """Hours of a change of clocks are half an hour long on Lord Howe, and once were a day in Samoa."""
    zone = ZoneInfo(name)
    rules = DateRules("dmy", zone)
    day, clock = written[:10], written[11:16]
    moment = rules.moment(day, clock)
    meant = instants(datetime.fromisoformat(written), zone)
    said = rules.clocks_changed(moment, day, clock)
    assert (
        said.split(" and ")[-1]
        == {
            0: "this hour was left out; the time was taken as by the old clock",
            1: "",
            2: "this hour came twice; the first was taken",
        }[len(meant)]
    )
    if meant:
        assert moment.instant == min(meant)
    assert rules.clocks_changed(rules.moment(day, f"{clock} UTC"), day, f"{clock} UTC") == ""
