"""A row without a plain depth: bounds, spots with weed, and what is told of each."""

import pytest

from survey.checks.row_account import account
from survey.findings import Grade
from survey.reduction.reduce import reduce_soundings
from tests.made.findings import found

HEAD = "peg,angle,distance (m),depth (m),date,note\n"


def rows(*cells: str) -> str:
    return HEAD + "".join(f"1,{5 * k},20,{cell}\n" for k, cell in enumerate(cells))


@pytest.mark.parametrize(("depth", "limit", "metres", "stop"), [
    ("over 3", "at_least", 3.0, ""), ("3+", "at_least", 3.0, ""), (">3 m", "at_least", 3.0, ""),
    ("no bottom at 12 ft", "at_least", 3.6576, ""), ("under 2", "at_most", 2.0, ""),
    ("weed at 4 ft", "at_least", 1.2192, "weed"), ("1.4", "", 1.4, ""),
])  # fmt: skip
def test_a_depth_cell_is_a_depth_or_a_bound_in_the_columns_unit(read, depth, limit, metres, stop):
    book = read(readings__csv=rows(f"{depth},2026-05-03,"))
    (reading,) = book.readings
    assert (reading.limit, reading.depth_m, reading.stopped_by, reading.use) == (
        limit,
        pytest.approx(metres),
        stop,
        True,
    )
    told = found(book, "depth-bound")
    assert [f.value for f in told] == ([depth] if limit else [])
    soundings, findings = reduce_soundings(book)
    assert soundings.table["kind"].tolist() == [limit or "depth"]
    assert account(book, soundings, [*book.findings, *findings]).adds_up


@pytest.mark.parametrize(("cells", "stop"), [
    ("weed,2026-05-03,", "weed"), ("snagged,2026-05-03,", "snag"), (",2026-05-03,\"Weed, couldn't get down\"", "weed"),
    ("couldn't get down,2026-05-03,", "unreached"), (",2026-05-03,no bottom", "unreached"),
])  # fmt: skip
def test_a_spot_with_weed_is_kept_with_its_place_and_shapes_nothing(read, cells, stop):
    book = read(readings__csv=rows("1.4,2026-05-03,", cells))
    spot = book.readings[1]
    assert (spot.depth_m, spot.stopped_by, spot.use) == (None, stop, False)
    (told,) = found(book, "bed-not-reached")
    assert (told.grade, told.place.row) == (Grade.NOTE, 3)
    soundings, findings = reduce_soundings(book)
    row = soundings.table.iloc[1]
    assert (row["kind"], row["stopped_by"], row["use"], row.geometry.is_empty) == ("none", stop, False, False)
    counted = account(book, soundings, [*book.findings, *findings])
    assert (counted.adds_up, counted.as_depths, counted.as_bounds, counted.in_findings) == (True, 1, 0, 1)


def test_a_bound_in_a_note_counts_where_no_depth_stands(read):
    book = read(readings__csv=rows(",2026-05-03,no bottom at 12 ft", "1.4,2026-05-03,no bottom at 12 ft"))
    assert [(r.limit, r.depth_m) for r in book.readings] == [("at_least", pytest.approx(3.6576)), ("", 1.4)]
    (told,) = found(book, "note-on-depth")
    assert (told.grade, told.place.row) == (Grade.WARNING, 3)
    assert "is used as one" in told.problem


@pytest.mark.parametrize("depth", ["too deep", "3-4 ft", "below 3", "weed under 2", "over 3 pints"])
def test_what_cannot_be_read_is_told_the_form(read, depth):
    book = read(readings__csv=rows(f"{depth},2026-05-03,"))
    assert book.readings == ()
    (told,) = found(book, "depth-unread")
    assert told.value == depth
    assert all(form in told.remedy for form in ('"over 3"', '"under 2"', '"no bottom at 12"', '"weed"', '"snag"'))


def test_an_empty_depth_is_told_the_form_too(read):
    (told,) = found(read(readings__csv=rows(",2026-05-03,cold")), "depth-missing")
    assert '"no bottom at 12"' in told.remedy


def test_a_bound_deeper_than_any_lake_is_refused(read):
    book = read(readings__csv=rows("over 60,2026-05-03,"))
    assert (book.readings, len(found(book, "depth-out-of-range"))) == ((), 1)


def test_a_bare_bound_needs_a_unit_like_a_bare_depth(read, refusal):
    bare = rows("over 3,2026-05-03,", "1.4 m,2026-05-03,").replace("depth (m)", "depth")
    (told,) = found(read(readings__csv=bare), "unit-missing")
    assert told.place.row == 2
    # One spot with weed does not hide that no figure has a unit.
    said = refusal(readings__csv=rows("weed,2026-05-03,", "1.4,2026-05-03,").replace("depth (m)", "depth"))
    assert "the numbers have no unit" in said


def test_a_setting_is_not_read_out_of_its_remark(read):
    toml = 'name = "Quillmere"\n[floats.wag]\nlength = "25 cm"\ntip = "2 cm"\n'
    sheet = "peg,angle,distance (m),setting (m),float,seen,note\n1,0,20,1.2,wag,sunk,weed\n"
    (reading,) = read(toml, readings__csv=sheet).readings
    assert (reading.setting_m, reading.stopped_by, reading.use) == (1.2, "", True)


def test_a_lower_and_an_upper_bound_of_one_cast_make_a_depth(read):
    sheet = HEAD + "1,0,20,over 2,2026-05-03,\n1,0,20,under 3,2026-05-03,\n"
    soundings, findings = reduce_soundings(read(readings__csv=sheet))
    assert soundings.table["kind"].tolist() == ["depth"]
    assert soundings.table["depth_m"].tolist() == [pytest.approx(2.5)]
    assert [f.code for f in findings if f.code.startswith("brack")] == ["bracketed"]
