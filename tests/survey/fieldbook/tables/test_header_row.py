"""The header of a sheet: a column called Name, and rows that came to lie above the header."""

import io
import itertools

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from survey.errors import FieldbookError
from survey.fieldbook import read_fieldbook
from survey.findings import Grade
from tests.made.findings import found, rejected_rows

HEAD = "peg,clock,distance (m),depth (m),date"
ROWS = [f"{peg},12,{10 + k},1.{k},2026-05-0{k + 1}" for k, peg in enumerate(["1", "2", "4", "5", "6", "A", "1", "2"])]


def depths(book):
    return [reading.depth_m for reading in book.readings]


@pytest.mark.parametrize(("head", "row", "taken"), [
    ("peg,clock,distance (m),depth (m),Name", "1,12,9,1.2,R. Fenn", ("1", "R. Fenn", 0)),
    ("Name,clock,distance (m),depth (m)", "1,12,9,1.2", ("1", "", 1)),
    ("name,clock,distance (m),depth (m),observer", "1,12,9,1.2,R. Fenn", ("1", "R. Fenn", 1)),
    ("Name,lon,lat,depth (m)", "R. Fenn,-2.311,54.1017,1.2", ("", "R. Fenn", 1)),
    ("Name,lon,lat,depth (m),by", "WP7,-2.311,54.1017,1.2,R. Fenn", ("", "R. Fenn", 1)),
    ("peg,Name,clock,distance (m),depth (m),by", "1,Willow,12,9,1.2,R. Fenn", ("1", "R. Fenn", 0)),
])  # fmt: skip
def test_a_column_called_name_is_who_plumbed_or_the_peg_by_what_stands_beside_it(read, head, row, taken):
    book = read(readings__csv=f"{head}\n{row}\n")
    (reading,) = book.readings
    assert (reading.peg, reading.observer, len(found(book, "name-column"))) == taken


def test_a_name_for_each_peg_is_said_to_be_doubtful(read):
    rows = [f"{peg},12,9,1.{k},{name}" for k, (peg, name) in enumerate([("1", "Fen"), ("2", "Elm"), ("4", "Ash")] * 2)]
    book = read(readings__csv="peg,clock,distance (m),depth (m),name\n" + "\n".join(rows) + "\n")
    (told,) = found(book, "name-column")
    assert told.problem == "each peg has one name of its own; this column was taken for who plumbed"
    mixed = read(readings__csv="peg,clock,distance (m),depth (m),name\n" + "\n".join([*rows, "1,12,9,1,Elm"]) + "\n")
    assert not found(mixed, "name-column")


def test_name_is_the_peg_in_pegs_and_the_person_in_levels(read):
    pegs = "Name,lon,lat\n1,-2.3118121,54.1017371\n"
    book = read(pegs__csv=pegs, levels__csv="Date,Level (m),Name\n2026-05-03,0.4,R. Fenn\n")
    assert [peg.name for peg in book.venue.pegs] == ["1"]
    assert not found(book, "name-column")
    assert not found(book, "unknown-column")


@pytest.mark.parametrize("at", range(9))
def test_a_header_sorted_with_its_rows_loses_none(read, at):
    lines = [*ROWS[:at], HEAD, *ROWS[at:]]
    book = read(readings__csv="\n".join(lines) + "\n")
    assert depths(book) == [pytest.approx(1 + k / 10) for k in range(8)]
    assert (book.rows, len(book.row_places)) == (8, 8)
    told = found(book, "rows-above-header")
    assert [f.grade for f in told] == [Grade.WARNING] * (at > 0)
    if at > 1:
        assert f"{at} rows (1, 2" in told[0].problem
        assert f"above the header in row {at + 1} and look like data; read under that header" in told[0].problem


def test_levels_above_their_header_are_read_too(read):
    book = read(levels__csv="2026-05-01,0.41\n2026-05-02,0.42\ndate,level (m)\n")
    assert [record.shown_m for record in book.levels] == [0.41, 0.42]
    assert found(book, "rows-above-header")[0].place.file == "levels.csv"


def test_rows_under_a_header_of_their_own_are_an_error_and_not_read(read):
    above = ["Stelle,Uhr,Weite,Tiefe", "1,12,9,1.1", "2,12,9,1.2"]
    book = read(readings__csv="\n".join([*above, HEAD, *ROWS[:2]]) + "\n")
    (told,) = found(book, "rows-above-header")
    assert told.grade is Grade.ERROR
    assert "row 1 may be a header of their own; not read" in told.problem
    assert rejected_rows(book) == {("readings.csv", 2), ("readings.csv", 3)}
    assert (len(book.readings), book.rows) == (2, 4)


@pytest.mark.parametrize(
    "titles",
    [
        ["Tansy Pool, 3 May 2026"],
        ["Plumbed,3 May 2026", "Sticks,12 ft"],
        ["", "Lake,Tansy Pool,,Level,0.42 m"],
        [",h,m,m,"],
        ["Where,,,How deep,When"],
        ["Sticks,12,9,as below,see notes"],
    ],
)
def test_titles_above_a_header_are_no_data(read, titles):
    book = read(readings__csv="\n".join([*titles, HEAD, *ROWS]) + "\n")
    assert (len(book.readings), book.rows) == (8, 8)
    assert not found(book, "rows-above-header")


def test_doubled_columns_are_held_against_each_other_above_the_header_as_well(refusal):
    head = "peg,clock,distance (m),depth (m),depth (m)"
    assert "mean the same but differ" in refusal(readings__csv=f"1,12,9,1.1,1.5\n2,12,9,1.2,1.2\n{head}\n")


def test_a_sheet_without_a_row_is_named(read):
    book = read(
        **{"readings__csv": HEAD + "\n" + ROWS[0] + "\n", "readings-b__csv": "", "readings-c__csv": HEAD + "\n"}
    )
    told = {f.place.file: f.problem for f in found(book, "sheet-empty")}
    assert told == {"readings-b.csv": "the sheet is empty", "readings-c.csv": "there is no row under the header"}
    assert len(book.readings) == 1


def test_an_empty_tab_is_named_if_it_is_called_after_what_it_should_hold(read):
    book = openpyxl.Workbook()
    book.active.title = "readings"
    for line in (HEAD, *ROWS):
        book.active.append(line.split(","))
    for name in ("levels", "Sheet2"):
        book.create_sheet(name)
    stream = io.BytesIO()
    book.save(stream)
    told = found(read(readings__xlsx=stream.getvalue()), "sheet-empty")
    assert [f.place.file for f in told] == ['readings.xlsx, sheet "levels"']


def test_where_every_sheet_of_readings_is_empty_that_is_the_fault(refusal):
    assert "readings" in refusal(readings__csv="")
    assert "holds anything" in refusal(pegs__csv="")


SHUFFLED = st.permutations([HEAD, *ROWS])


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines=SHUFFLED)
def test_however_a_sheet_is_sorted_every_reading_is_kept(folder, lines):
    book = read_fieldbook(folder(readings__csv="\n".join(lines) + "\n"))
    assert sorted(depths(book)) == [pytest.approx(1 + k / 10) for k in range(8)]


CELLS = st.sampled_from(["1", "2", "12", "9", "1.2", "2026-05-03", "x", "", "Stump", "0.4 m"])


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(st.lists(CELLS, min_size=5, max_size=5), max_size=8), at=st.integers(0, 8))
def test_whatever_stands_above_a_header_is_read_told_of_or_a_title(folder, rows, at):
    lines = [",".join(row) for row in rows]
    lines.insert(min(at, len(lines)), HEAD)
    try:
        book = read_fieldbook(folder(readings__csv="\n".join(lines) + "\n"))
    except FieldbookError as refused:
        assert refused.faults  # noqa: PT017 - the other outcome is that it was read
        return
    assert len(book.readings) + len(rejected_rows(book)) == book.rows
    places = [place.row for place in book.row_places]
    assert all(first < second for first, second in itertools.pairwise(places))
