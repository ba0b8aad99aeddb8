"""What a sheet is told of its pegs' names: once, with the rows."""

import pytest

from survey.findings import Grade
from tests.made.findings import found, rejected_rows

HEAD = "peg,clock,distance (m),depth (m)\n"
GPX = (
    '<gpx xmlns="http://www.topografix.com/GPX/1/1">'
    + "".join(f'<wpt lat="54.1017{n}" lon="-2.3118"><name>Peg {n}</name></wpt>' for n in range(1, 6))
    + "</gpx>"
)


def rows(*names: str) -> str:
    return HEAD + "".join(f"{name},12,{9 + k},1.2\n" for k, name in enumerate(names))


def test_a_phones_names_lose_no_row(read):
    book = read(pegs__gpx=GPX, readings__csv=rows("1", "2", "3", "1"))
    assert [reading.peg for reading in book.readings] == ["1", "2", "3", "1"]
    assert [peg.name for peg in book.venue.pegs] == ["1", "2", "3", "4", "5"]
    (told,) = found(book, "peg-word")
    assert told.grade is Grade.NOTE
    assert '"Peg 1" is shown as "1"' in told.problem


def test_pegs_keep_the_word_where_not_all_have_it(read):
    book = read(pegs__gpx=GPX.replace("Peg 5", "Stump"), readings__csv=rows("1", "P2", "Stump"))
    assert [reading.peg for reading in book.readings] == ["Peg 1", "Peg 2", "Stump"]
    (told,) = found(book, "pegs-taken")
    assert '2 rows name pegs in another way than the pegs sheet: "1" was taken for "Peg 1"' in told.problem


def test_each_sheet_has_habits_of_its_own(read):
    book = read(**{"readings-a__csv": rows("P1", "P2"), "readings-b__csv": rows("1", "2"), "readings__csv": None})
    assert [reading.peg for reading in book.readings] == ["1", "2", "1", "2"]
    assert [told.place.file for told in found(book, "pegs-taken")] == ["readings-a.csv"]


def test_unknown_names_come_in_one_line_a_sheet_and_every_row_is_accounted_for(read):
    book = read(readings__csv=rows(*["B1", "B2", "B3", "B4"] * 30, "1"))
    (told,) = found(book, "peg-unknown")
    names = '"B1" (30 rows), "B2" (30 rows), "B3" (30 rows), "B4" (30 rows)'
    assert told.problem == f"4 names are not pegs of this water: {names}; 120 rows not used"
    assert len(rejected_rows(book)) == 120
    assert (len(book.readings), book.rows) == (1, 121)
    many = read(readings__csv=rows(*(f"B{k}" for k in range(20))))
    assert '"B11" (1 row) and 8 more; 20 rows not used' in found(many, "peg-unknown")[0].problem


def test_an_alias_is_offered_for_a_name_that_is_not_known(read):
    book = read(readings__csv=rows("1", "2", "5", "6", "A", "Willow"))
    assert "Not named in this sheet: 4. For a new name of a peg, write it under aliases" in (
        found(book, "peg-unknown")[0].remedy
    )


def test_a_second_peg_is_named_by_habit_too(read):
    head = "peg,clock,peg2,clock2,depth (m)\n"
    book = read(readings__csv=f"{head}Peg 1,1,Peg 2,11,1.2\nPeg 1,1,Peg 9,11,1.2\n")
    assert [(r.peg, r.where.other_peg) for r in book.readings] == [("1", "2")]
    assert rejected_rows(book) == {("readings.csv", 3)}


def test_dates_made_of_names_are_told_as_a_warning(read):
    pegs = "peg,lon,lat\n1-2,-2.3118121,54.1017371\n1-3,-2.3118195,54.1013\n"
    book = read(pegs__csv=pegs, readings__csv=rows("01-Feb", "01-Mar"))
    assert [reading.peg for reading in book.readings] == ["1-2", "1-3"]
    (told,) = found(book, "pegs-recovered")
    assert told.grade is Grade.WARNING
    assert '"01-Feb" was taken for "1-2"' in told.problem


@pytest.mark.parametrize(
    ("hidden", "painted", "code"),
    [("Peg 5", "5", "hide-pegs-taken"), ("p5", "5", "hide-pegs-taken"), ("Zed", "Zed", "hide-pegs-unknown")],
)
def test_pegs_to_be_hidden_are_found_by_habit_or_named(read, hidden, painted, code):
    book = read(f'name = "Q"\n[publish]\nhide_pegs = ["{hidden}", "1"]\n')
    assert book.venue.publishing.hidden_pegs == (painted, "1")
    assert [f.value for f in book.findings if f.code.startswith("hide-pegs")] == [hidden]
    assert found(book, code)


@pytest.mark.parametrize(("metres", "told"), [(0.0, True), (1.9, True), (2.1, False)])
def test_a_new_name_where_an_old_peg_stands_is_named_with_what_to_write(read, metres, told):
    lat = 54.1017371 + metres / 111_300
    new = f"peg,lon,lat\nB1,-2.3118121,{lat:.7f}\n"
    toml = 'name = "Q"\nshows = "metres"\n[files]\npegs = ["pegs.csv", "new.csv"]\n'
    book = read(toml, pegs__csv="peg,lon,lat\n1,-2.3118121,54.1017371\n2,-2.3118195,54.1013\n", new__csv=new)
    problems = [str(finding) for finding in found(book, "pegs-same-place")]
    assert bool(problems) == told
    if told:
        assert f'{metres:.2f} m from peg "1" (pegs.csv, row 2) (found "B1")' in problems[0]
        assert 'write the other name under "aliases"' in problems[0]


@pytest.mark.parametrize("name", ["2026-02-01", "01-Feb", "1.00E+02", "7.0"])
def test_a_peg_whose_name_looks_like_a_spreadsheets_work_is_named(read, name):
    book = read(pegs__csv=f"peg,lon,lat\n{name},-2.3118121,54.1017371\n1,-2.3118195,54.1013\n")
    (told,) = found(book, "peg-name-changed")
    assert told.place.row == 2
    assert f'changed the names of 1 peg: "{name}"' in told.problem
    assert not found(read(), "peg-name-changed")
