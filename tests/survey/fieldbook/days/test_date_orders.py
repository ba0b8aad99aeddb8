"""A date is not believed against the whole survey: sheets, hands and days in another order are told with their rows."""

import io
import random
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from survey.fieldbook import read_fieldbook
from survey.fieldbook.days.date_orders import tell_orders
from survey.fieldbook.days.day_likelihood import NEAR_DAYS
from survey.fieldbook.files.sources import Source
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.venue.settings import read_settings
from survey.findings import Finding, Grade
from tests.made.findings import found, rejected_rows
from tests.made.survey_days import LEVELS, as_read, both_ways, club_days

TOML = 'name = "Quillmere"\ndates = "dmy"\n[level]\nkind = "board"\nunit = "m"\ndatum = 0.6\n'
HEAD = "peg,angle,distance (m),depth (m),date,observer\n"
LEVEL_DAYS = "date,level\n11/04/2026,0.70\n13/06/2026,0.60\n20/08/2026,0.55\n"


def sheet(*parts: tuple[str, int] | tuple[str, int, str], first: int = 0) -> str:
    """Rows by date, how many and, if given, whose; none repeats another."""
    rows = [(part[0], part[2] if len(part) > 2 else "") for part in parts for _ in range(part[1])]
    return HEAD + "".join(f"1,{(first + k) % 40},{10 + k},1.4,{day},{by}\n" for k, (day, by) in enumerate(rows))


CLUB = {
    "levels__csv": LEVEL_DAYS,
    "readings-a__csv": sheet(("11/04/2026", 9)),
    "readings-b__csv": sheet(("11/04/2026", 9), ("13/06/2026", 5), first=20),
}


def orders(book) -> list[Finding]:
    return found(book, "likely-date-order")


def test_one_sheet_month_first_among_others_is_told_with_rows_and_the_day_that_mends_it(read):
    book = read(TOML, **CLUB, **{"readings-x__csv": sheet(("04/11/2026", 28), first=9)})
    (told,) = orders(book)
    assert (told.grade, told.place.file, told.place.row) == (Grade.WARNING, "readings-x.csv", 2)
    assert told.problem == (
        "rows 2 to 29: read as 4 November 2026, beyond the level records; "
        "read month first they fall on 11 April 2026, when others plumbed and the level was recorded"
    )
    assert told.remedy == (
        'Write the dates like 2026-04-11, or add to venue.toml: [dates_in] "readings-x.csv" = "mdy". '
        'If they are right, add [dates_in] "readings-x.csv" = "dmy".'
    )
    assert {r.when.day for r in book.readings if r.place.file == "readings-x.csv"} == {"2026-11-04"}


@pytest.mark.parametrize(("order", "day"), [("mdy", "2026-04-11"), ("dmy", "2026-11-04")])
def test_the_order_of_one_file_is_declared_and_then_beyond_doubt(read, order, day):
    toml = TOML + f'[dates_in]\n"readings-x.csv" = "{order}"\n'
    book = read(toml, **CLUB, **{"readings-x__csv": sheet(("04/11/2026", 28), first=9)})
    assert orders(book) == []
    assert {r.when.day for r in book.readings if r.place.file == "readings-x.csv"} == {day}


def test_an_order_for_a_file_that_is_not_there_is_told(read):
    (told,) = found(read(TOML + '[dates_in]\n"reading-a.csv" = "mdy"\n', **CLUB), "dates-in-unknown")
    assert told.remedy == "Write one of: levels.csv, readings-a.csv, readings-b.csv, readings.csv."


def test_an_order_of_one_file_that_is_none_is_refused(refusal):
    assert "not one of dmy, mdy, ymd" in refusal(TOML + '[dates_in]\n"levels.csv" = "dym"\n', **CLUB)


def test_one_person_s_rows_of_a_sheet_are_told_apart(read):
    rows = sheet(("13/06/2026", 5, "Ann"), ("04/11/2026", 6, "Bo"), ("11/04/2026", 6, "Ann"), ("06/12/2026", 2, "Bo"))
    levels = LEVEL_DAYS + "12/06/2026,0.61\n"
    (told,) = orders(read(TOML, levels__csv=levels, readings__csv=rows))
    assert told.problem.startswith("rows 7 to 12, 19 to 20: read as 4 November 2026, 6 December 2026, ")
    assert "they fall on 11 April 2026, 12 June 2026, where others plumbed or read the level on 2 of 2" in told.problem


def test_a_day_turned_round_within_a_sheet_is_told_by_its_rows_alone(read):
    rows = sheet(("11/04/2026", 9), ("04/11/2026", 4), ("13/06/2026", 3))
    (told,) = orders(read(TOML, levels__csv=LEVEL_DAYS, readings__csv=rows))
    assert told.problem.startswith("rows 11 to 14: read as 4 November 2026")
    assert "Write the dates like 2026-04-11. If they are right" in told.remedy


def test_levels_in_another_order_than_the_readings_are_told(read):
    levels = "date,level\n04/11/2026,0.70\n06/09/2026,0.60\n"
    readings = sheet(("11/04/2026", 9), ("09/06/2026", 5))
    (told,) = orders(
        read(TOML, levels__csv=levels, **{"readings-a__csv": readings, "readings-b__csv": CLUB["readings-a__csv"]})
    )
    assert (told.place.file, told.place.row) == ("levels.csv", 2)
    assert "when nobody plumbed; read month first they fall on 9 June 2026, 11 April 2026" in told.problem


def workbook(*dates: object) -> bytes:
    book = openpyxl.Workbook()
    book.active.append(["peg", "angle", "distance (m)", "depth (m)", "date"])
    for k, day in enumerate(dates):
        book.active.append([1, k, 10 + k, 1.4, day])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_dates_that_a_spreadsheet_turned_when_they_were_typed_are_told(read):
    """A program set to another country stores 11/04 as 4 November and leaves 13/06 a text."""
    book = read(TOML, **CLUB, **{"readings-x__xlsx": workbook(*[date(2026, 11, 4)] * 6, "13/06/2026", "13/06/2026")})
    (told,) = orders(book)
    assert told.problem.startswith("rows 2 to 7: read as 4 November 2026")
    assert "with day and month exchanged they fall on 11 April 2026" in told.problem
    assert told.remedy.startswith("Correct the cells, here to 11 April 2026.")


def test_a_workbook_whose_other_dates_a_spreadsheet_took_as_they_were_typed_is_not_doubted(read):
    """The 20th cannot have been turned, so the program reads dates as this hand writes them."""
    days = [date(2026, 11, 4)] * 6 + [date(2026, 11, 20)] * 6
    assert orders(read(TOML, **CLUB, **{"readings-x__xlsx": workbook(*days)})) == []


def test_iso_dates_of_a_text_file_are_not_doubted(read):
    assert orders(read(TOML, **CLUB, **{"readings-x__csv": sheet(("2026-11-04", 28), first=9)})) == []


def test_a_file_that_proves_another_order_than_the_declared_is_read_by_it_and_that_is_told(read):
    book = read(TOML, **CLUB, **{"readings-x__csv": sheet(("04/11/2026", 8), ("06/13/2026", 2), first=9)})
    (told,) = found(book, "date-order-proved")
    assert (told.grade, told.place.row) == (Grade.WARNING, 10)
    assert '"06/13/2026" (rows 10 to 11) cannot be read otherwise; 8 other dates' in told.problem
    assert '[dates_in] "readings-x.csv" = "mdy"' in told.remedy
    assert {r.when.day for r in book.readings if r.place.file == "readings-x.csv"} == {"2026-04-11", "2026-06-13"}
    assert orders(book) == []


def test_where_rows_prove_both_orders_the_declared_one_stands_and_the_others_are_left_out(read):
    book = read(TOML, **CLUB, **{"readings-x__csv": sheet(("06/13/2026", 2), ("13/06/2026", 2), ("20/08/2026", 2))})
    assert [f.place.row for f in found(book, "date-other-way")] == [2, 3]
    assert rejected_rows(book, "readings-x") == {("readings-x.csv", 2), ("readings-x.csv", 3)}


def test_the_demo_s_dates_are_sound():
    assert orders(read_fieldbook(Path(__file__).resolve().parents[4] / "data/sallowby-pit")) == []


DECLARED = read_settings(Source("venue.toml", b'name = "Q"\ndates = "dmy"\n'), Remarks())


def told_of(rows, today: date = date(2026, 1, 1), edge_days: tuple[date, ...] = ()) -> list[Finding]:
    remarks = Remarks()
    tell_orders(rows, edge_days, DECLARED, remarks, today)
    return remarks.findings


@pytest.mark.parametrize(("today", "told"), [(date(2025, 11, 2), True), (date(2025, 11, 3), False)])
def test_a_day_that_has_not_come_is_told_with_the_one_that_is_past(today, told):
    """One day more is left for other parts of the world."""
    said = told_of(as_read([("sheet", "", date(2025, 4, 11))], "sheet"), today)
    assert [f.problem for f in said] == told * [
        "row 2: read as 4 November 2025, in the future; read month first it falls on 11 April 2025, which is past"
    ]


def test_a_day_on_which_the_edge_was_walked_speaks_for_a_date():
    rows = as_read([("turned", "", date(2025, 4, 11)), ("sheet", "", date(2025, 6, 20))], "turned")
    assert told_of(rows) == []
    assert [f.place.file for f in told_of(rows, edge_days=(date(2025, 4, 11),))] == ["turned"]


def test_a_log_of_levels_kept_on_other_days_may_meet_a_day_of_plumbing_when_turned():
    plumbed = [("sheet " + name, "", date(2025, month, 20)) for name in "abc" for month in (5, 7)]
    plumbed += [("sheet " + name, "", date(2025, 4, 11)) for name in "abc"]
    log = [("levels", "", date(2025, 1, 7) + timedelta(days=7 * week)) for week in range(44)]
    assert date(2025, 11, 4) in {day for _, _, day in log}
    assert told_of(as_read(plumbed + log)) == []


DAYS = st.dates(date(2024, 1, 1), date(2025, 12, 31))


@given(st.sets(DAYS, min_size=1, max_size=6), st.integers(2, 5), st.sampled_from(("none", "each day")))
@settings(max_examples=60)
def test_sheets_that_share_their_days_are_never_doubted(days, sheets, kept):
    entries = [(f"sheet {k}", "", day) for k in range(sheets) for day in sorted(days)]
    entries += [("levels", "", day) for day in sorted(days) if kept == "each day"]
    assert told_of(as_read(entries)) == []


@given(DAYS.filter(both_ways), st.sets(DAYS, max_size=4), st.integers(1, 4), st.randoms(use_true_random=False))
@settings(max_examples=60)
def test_a_sheet_of_one_day_in_another_order_is_told_wherever_the_others_met_that_day(day, days, others, rng):
    turned = date(day.year, day.day, day.month)
    # What falls near to the rest of the survey may well be right.
    assume(all(abs((one - turned).days) > NEAR_DAYS for one in {*days, day}))
    entries = [(f"sheet {k}", "", one) for k in range(others) for one in sorted({*days, day})]
    entries += [("levels", "", one) for one in sorted({*days, day})] + [("turned", "", day)]
    rng.shuffle(entries)
    (told,) = told_of(as_read(entries, "turned"))
    assert told.place.file == "turned"


@pytest.mark.parametrize("kept", LEVELS)
def test_sound_surveys_are_seldom_doubted(kept):
    """At most 3 of 100 made to be hard: sheets plumbed alone, seasons, logs that go on for years."""
    rng = random.Random(kept)  # noqa: S311 - invented days
    doubted = sum(bool(told_of(as_read(club_days(rng, kept)))) for _ in range(100))
    assert doubted <= 3


def test_order_of_rows_and_names_of_sheets_change_nothing():
    rng = random.Random(3)  # noqa: S311 - invented days
    entries = club_days(rng, "each day")
    rows = as_read(entries, "sheet 0")
    said = told_of(rows)
    shuffled = rows[:]
    rng.shuffle(shuffled)
    assert told_of(shuffled) == said
