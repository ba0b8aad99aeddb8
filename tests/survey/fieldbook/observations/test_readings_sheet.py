"""Rows of the reading and level sheets: what each cell means, and what a bad one is told."""

from datetime import timedelta

import pytest

from survey.findings import Grade
from survey.records.readings import Cast, Direction, Fix, FloatSeen
from tests.made.findings import found, rejected_rows

VENUE = """name = "Quillmere"
timezone = "Europe/London"
[units]
stick_spacing = "12 ft"
rod_length = "13 ft"
pole_section = "1.5 m"
[floats."Long wag"]
length = "25 cm"
tip = "2 cm"
"""
HEAD = "peg,clock,distance (m),depth (m),setting (ft),float,seen,tip (in),date,time\n"


def one(read, head, row, toml=VENUE, **files):
    book = read(toml, readings__csv=f"{head}\n{row}\n", **files)
    assert [str(f) for f in book.findings if f.grade is Grade.ERROR] == []
    return book.readings[0]


@pytest.mark.parametrize(("head", "cell", "expected"), [
    ("clock", "12", Direction("clock", 0, "hours")),
    ("clock", "11:30", Direction("clock", -15, "half hours")),
    ("angle", "-15", Direction("angle", -15, "compass")),
    ("bearing", "93", Direction("bearing", 93, "compass", "true")),
    ("bearing", "93M", Direction("bearing", 93, "compass", "magnetic")),
    ("magnetic_bearing", "93", Direction("bearing", 93, "compass", "magnetic")),
    ("true_bearing_deg", "93", Direction("bearing", 93, "compass", "true")),
    ("bearing (grid)", "93", Direction("bearing", 93, "compass", "grid")),
])  # fmt: skip
def test_a_direction_as_written(read, head, cell, expected):
    reading = one(read, f"peg,{head},distance (m),depth (m)", f"1,{cell},10,1.2")
    assert reading.where == Cast(expected, 10.0, "estimated", "peg")


def test_north_may_stand_in_a_column_or_in_the_venue(read):
    head = "peg,bearing,north,direction by,distance (m),depth (m)"
    assert one(read, head, "1,93,magnetic,aimed,10,1.2").where.direction == Direction(
        "bearing", 93, "aimed", "magnetic", by_declared=True
    )
    magnetic = VENUE.replace("[units]", '[units]\nnorth = "magnetic"')
    assert one(read, head, "1,93,,,10,1.2", magnetic).where.direction.north == "magnetic"
    assert one(read, head, "1,93,true,,10,1.2", magnetic).where.direction.north == "true"


@pytest.mark.parametrize(("head", "cell", "metres", "by"), [
    ("distance (yd)", "25", 22.86, "estimated"),
    ("distance_m", "25", 25, "estimated"),
    ("distance", "20 wraps", 73.152, "wraps"),
    ("distance (wraps)", "20", 73.152, "wraps"),
    ("distance", "3 rod lengths", 11.8872, "rod lengths"),
    ("distance", "6 sections", 9.0, "pole"),
])  # fmt: skip
def test_a_distance_in_the_banks_own_units(read, head, cell, metres, by):
    reading = one(read, f"peg,clock,{head},depth (m)", f"1,12,{cell},1.2")
    assert (reading.where.distance_m, reading.where.by) == (pytest.approx(metres), by)
    assert reading.method == ("pole" if "section" in cell else "float")


def test_a_distance_may_say_how_and_from_where(read):
    toml = VENUE.replace("[units]", '[units]\nrod_reach = "3 m"')
    head = "peg,clock,distance (m),distance by,distance from,depth (m)"
    where = one(read, head, "1,12,10,tape,rod tip,1.2", toml).where
    assert (where.by, where.distance_from) == ("tape", "rod tip")
    book = read(VENUE, readings__csv=f"{head}\n1,12,10,tape,rod tip,1.2\n")
    assert '[units] rod_reach = "3 m"' in found(book, "rod-reach-missing")[0].remedy


def test_undeclared_sizes_name_the_line_to_add(read, refusal):
    head = "peg,clock,{},depth (m)\n1,12,20{},1.2\n1,12,20 m,1.3\n"
    book = read('name = "Q"\n', readings__csv=head.format("distance", " wraps"))
    (told,) = found(book, "size-undeclared")
    assert '[units] stick_spacing = "12 ft"' in told.remedy
    assert [r.depth_m for r in book.readings] == [1.3]
    message = refusal('name = "Q"\n', readings__csv=head.format("distance (wraps)", ""))
    assert "a wrap has no length of its own" in message
    assert "stick_spacing" in message


def test_a_setting_with_its_float_and_what_was_seen(read):
    reading = one(read, HEAD.strip(), "1,12,10,,5 ft 2,long WAG,stands,1,2026-05-03,")
    assert (reading.setting_m, reading.float_name) == (pytest.approx(1.5748), "Long wag")
    assert (reading.seen, reading.tip_m) == (FloatSeen.STANDS, pytest.approx(0.0254))
    for word, seen in (("Gone under", "sunk"), ("lies flat", "flat"), ("usual height", "usual"), ("Cocked", "stands")):
        assert one(read, HEAD.strip(), f"1,12,10,,5,Long wag,{word},,,").seen.value == seen


@pytest.mark.parametrize(("cell", "metres"), [("0", 0.0), ("6 in", 0.1524), ("3", 0.9144), ("40 m", 40.0)])
def test_a_setting_from_nought_to_forty_metres_is_kept(read, cell, metres):
    reading = one(read, HEAD.strip(), f"1,12,10,,{cell},Long wag,stands,,,")
    assert reading.setting_m == pytest.approx(metres)


def test_silence_about_the_float_is_stated(read):
    book = read(VENUE, readings__csv=HEAD + "1,12,10,,5,Long wag,,,2026-05-03,\n")
    assert book.readings[0].seen is FloatSeen.STANDS
    assert "assumed to stand" in found(book, "seen-assumed")[0].problem


@pytest.mark.parametrize(
    "text",
    ["3 May 2026", "3rd of May 2026", "Sunday 3 May 26", "3-may-2026", "3. May 2026", "3/May/26", "3May2026",
     "May 3, 2026", "Sun, May 3rd 2026", "20260503", "2026-05-03"],
)  # fmt: skip
def test_a_day_with_its_month_in_letters_is_read(read, text):
    reading = one(read, "peg;angle;distance (m);depth (m);date", f"1;0;20;1.4;{text}")
    assert reading.when.day == "2026-05-03"


@pytest.mark.parametrize("text", ["3 Sep 2026", "3 sept 2026", "3 September 2026", "Sept 3, 2026"])
def test_september_is_written_in_three_ways(read, text):
    reading = one(read, "peg;angle;distance (m);depth (m);date", f"1;0;20;1.4;{text}")
    assert reading.when.day == "2026-09-03"


@pytest.mark.parametrize("text", ["31 April 2026", "May 2026", "3 Mai 2026", "20261303"])
def test_a_day_that_is_none_is_refused(read, text):
    book = read(readings__csv=f"peg,angle,distance (m),depth (m),date\n1,0,20,1.4,{text}\n")
    assert book.readings == ()


def test_a_fix_instead_of_a_cast(read):
    reading = one(read, "peg,lon,lat,depth (m)", ",-2.311,54.1017,1.2")
    assert reading.where == Fix(-2.311, 54.1017, "lonlat", 5.0)
    assert reading.peg == ""
    reading = one(read, "peg,easting,northing,position by,depth (m)", "1,545050,5995060,surveyed,1.2")
    assert (reading.where, reading.peg) == (Fix(545050, 5995060, "venue", 1.0), "1")


def test_names_and_aliases_of_pegs(read):
    book = read(readings__csv="peg,clock,distance (m),depth (m)\nstump,12,9,1\nOLD 1,12,9,1\na,12,9,1\nStmp,12,9,1\n")
    assert [r.peg for r in book.readings] == ["1", "1", "A"]
    (told,) = found(book, "peg-unknown")
    assert (told.place.row, told.value) == (5, "Stmp")
    assert "Stump" in told.remedy


def test_a_cell_that_stands_in_many_rows_is_told_of_in_each(read):
    rows = ["Zed,12,9,1", "1,12,far,1", "1,half,9,1 pint"]
    book = read(readings__csv="peg,clock,distance (m),depth (m)\n" + "\n".join(rows * 3) + "\n")
    expected = {"distance-unread": 3, "depth-unread": 4, "clock-unread": 4}
    for code, row in expected.items():
        assert [f.place.row for f in found(book, code)] == [row, row + 3, row + 6]
    (told,) = found(book, "peg-unknown")
    assert told.row_places == (("readings.csv", 2), ("readings.csv", 5), ("readings.csv", 8))


@pytest.mark.parametrize(("row", "code", "words"), [
    ("1,12,10,-1,,,,,2026-05-03,", "depth-out-of-range", "depth of -1 m"),
    ("1,12,10,55,,,,,2026-05-03,", "depth-out-of-range", "it must be 0 to 40 m"),
    ("1,12,300,1,,,,,2026-05-03,", "distance-out-of-range", "distance of 300 m"),
    ("1,12,,1,,,,,2026-05-03,", "distance-missing", "there is no distance"),
    ("1,,10,1,,,,,2026-05-03,", "direction-missing", "there is no direction"),
    ("1,12,10,,,,,,2026-05-03,", "depth-missing", "there is no depth"),
    (",12,10,1,,,,,2026-05-03,", "peg-missing", "has no peg"),
    ("1,13,10,1,,,,,2026-05-03,", "clock-unread", "the hours go from 1 to 12"),
    ("1,12,10,deep,,,,,2026-05-03,", "depth-unread", '"deep" is not a length'),
    ("1,12,10,,-5,Long wag,,,2026-05-03,", "setting-out-of-range", "setting of -5 ft; it must be 0 to 131.2 ft"),
    ("1,12,10,,132,Long wag,,,2026-05-03,", "setting-out-of-range", "setting of 132 ft"),
    ("1,12,10,,5,,,,2026-05-03,", "float-missing", "the setting names no float, so it is not a depth"),
    ("1,12,10,,5,Long vag,,,2026-05-03,", "float-unknown", '"Long vag" is not a float'),
    ("1,12,10,1,5,Long wag,,,2026-05-03,", "depth-twice", "both a depth and a setting"),
    ("1,12,10,,5,Long wag,swam,,2026-05-03,", "seen-unknown", "the word is not known"),
    ("1,12,10,1,,,,,2026-13-03,", "date-unread", "is not a date"),
    ("1,12,10,1,,,,,,10:15", "date-unread", "a time without a date"),
    ("1,12,10,1,,,,,2026-05-03,25:00", "date-unread", "is not a time of day"),
    ("1,12,10,1,,,,,2026-05-03,,,extra", "extra-cells", "more cells than the header"),
    ("1,12,10," + "1" * 200 + ",,,,,2026-05-03,", "cell-too-long", "200 characters"),
])  # fmt: skip
def test_a_bad_row_is_told_of_and_the_rest_is_used(read, row, code, words):
    book = read(VENUE, readings__csv=HEAD + f"{row}\n2,12,10,1.5,,,,,2026-05-03,\n")
    (told,) = found(book, code)
    assert words in told.problem
    assert (told.grade, told.place.row) == (Grade.ERROR, 2)
    assert told.remedy
    assert [r.depth_m for r in book.readings] == [1.5]
    assert (book.rows, rejected_rows(book)) == (2, {("readings.csv", 2)})


def test_a_spot_said_twice_is_refused(read):
    book = read(
        readings__csv="peg,clock,angle,lon,lat,distance (m),depth (m)\n1,12,5,,,9,1\n1,12,,-2.311,54.1017,9,1\n"
    )
    assert "as clock and as angle" in found(book, "direction-twice")[0].problem
    assert "by cast and by position" in found(book, "place-twice")[0].problem
    assert book.readings == ()


def test_every_fault_of_a_row_comes_at_once(read):
    book = read(VENUE, readings__csv=HEAD + "nobody,13,-1,deep,,,,,soon,\n")
    codes = {f.code for f in book.findings if f.grade is Grade.ERROR}
    assert codes == {"peg-unknown", "clock-unread", "distance-out-of-range", "depth-unread", "date-unread"}


def test_an_unquoted_decimal_comma_between_commas_is_caught(read):
    book = read(readings__csv="peg,angle,distance (m),depth (m)\n1,0,20,1,45\n")
    assert "quotation marks, or separate cells by semicolons" in found(book, "extra-cells")[0].remedy
    assert book.readings == ()


def test_moments(read):
    book = read(VENUE, readings__csv=HEAD + "1,12,10,1,,,,,2026-05-03,\n1,12,10,1,,,,,2026-12-03,10:15\n")
    day, instant = (r.when for r in book.readings)
    assert (day.instant.isoformat(), day.half_width) == ("2026-05-03T11:00:00+00:00", timedelta(hours=12))
    assert (instant.instant.isoformat(), instant.half_width) == ("2026-12-03T10:15:00+00:00", timedelta(0))


def test_doubtful_dates_are_used_and_told_of(read):
    book = read(VENUE, readings__csv=HEAD + "1,12,10,1,,,,,1989-05-03,\n1,12,10,1,,,,,2999-05-03,\n")
    assert len(book.readings) == 2
    assert [f.place.row for f in found(book, "date-doubtful")] == [2, 3]


def test_other_columns_are_kept(read):
    head = "peg,clock,distance (m),depth (m),hard_depth (m),hook height (in),sd (m),method,observer,bottom,use,note"
    reading = one(read, head, "1,12,9,1.2,1.5,2,0.1,stick,Maud,silt,no,by the willow")
    assert (reading.hard_depth_m, reading.hook_height_m, reading.sd_m) == (1.5, pytest.approx(0.0508), 0.1)
    assert (reading.method, reading.observer, reading.bottom) == ("stick", "Maud", "silt")
    assert (reading.use, reading.note) == (False, "by the willow")


def test_unknown_columns_and_words(read):
    book = read(
        readings__csv="peg,clock,distance (m),depth (m),wind,obsrver,use\n1,12,9,1,NW,Maud,x\n2,12,9,1,NW,Maud,\n"
    )
    graded = {f.place.column: (f.grade, f.remedy) for f in found(book, "unknown-column")}
    assert graded["wind"][0] is Grade.NOTE
    assert graded["obsrver"] == (Grade.WARNING, 'Perhaps "observer" is meant.')
    assert len(book.readings) == 1
    assert "Write one of: yes" in found(book, "use-unknown")[0].remedy


def test_half_twelve_is_noted_once(read):
    book = read(readings__csv="peg,clock,distance (m),depth (m)\n1,half twelve,9,1\n1,half one,9,1\n1,1,9,1\n")
    assert [r.where.direction.value_deg for r in book.readings] == [15, 45, 30]
    assert len(found(book, "half-hour-word")) == 1
    assert {r.where.direction.by for r in book.readings} == {"half hours"}


def test_a_sheet_without_needed_columns_says_what_it_found(refusal):
    message = refusal(readings__csv="peg,when,how far,deep\n1,x,9,1\n")
    assert 'the sheet has no direction: column "clock", "angle" or "bearing"' in message or 'no column "peg"' in message
    assert "Headers found: peg, when, how far, deep" in message
    message = refusal(readings__csv="peg,clock,date\n1,12,2026-05-03\n")
    assert 'no column "distance" and no depth: column "depth"' in message


def test_an_angle_in_a_unit_of_length_is_refused(refusal):
    assert "the column is in m, but bearing is not a length" in refusal(
        readings__csv="peg,bearing_m,distance (m),depth (m)\n1,90,9,1\n"
    )


LEVEL = 'name = "Q"\n[level]\nkind = "board"\n'


def test_levels_are_sorted_and_bad_rows_told_of(read):
    rows = [
        "2026-06-08,10:00,62",
        "2026-06-01,,60",
        ",,61",
        "2026-06-03,,high",
        "2026-06-04,,99 m",
        "2026-06-08,10:00,63",
    ]
    sheet = "\n".join(["date,time,level (cm)", *rows, ""])
    book = read(LEVEL, levels__csv=sheet)
    assert [round(record.shown_m, 3) for record in book.levels] == [0.6, 0.99 * 100, 0.62, 0.63]
    assert found(book, "date-missing")[0].place.row == 4
    assert found(book, "level-unread")[0].place.row == 5
    assert "0.63 m (2 ft 1 in) here and 0.62 m (2 ft ½ in) in row 2" in found(book, "level-twice")[0].problem


def test_levels_without_a_mark_are_an_error(read):
    book = read(levels__csv="date,level (m)\n2026-06-08,0.62\n")
    assert 'kind = "board"' in found(book, "level-kind-missing")[0].remedy
    assert len(book.levels) == 1


def test_a_level_without_a_unit_is_asked_for(refusal, read):
    assert '[units] level = "m"' in refusal(LEVEL, levels__csv="date,level\n2026-06-08,0.62\n")
    book = read(LEVEL + 'unit = "ft"\n', levels__csv="date,level\n2026-06-08,2\n")
    assert book.levels[0].shown_m == pytest.approx(0.6096)
