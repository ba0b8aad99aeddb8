"""Sheets that are wrong as a whole: told of once, with what to do, and nothing of them believed in silence."""

import pytest

from survey.errors import ParseError
from survey.findings import Grade
from survey.units import read_clock, read_length
from tests.made.findings import found, rejected_rows

HEAD = "peg,clock,distance (m),depth (m),date\n"
WRAPS = 'name = "Q"\n[units]\nstick_spacing = "12 ft"\n'
FLOAT = 'name = "Q"\n[floats.W]\nlength = "10 in"\ntip = "1 in"\n'


def sheet(*rows: str, head: str = HEAD) -> str:
    return head + "".join(f"{row}\n" for row in rows)


@pytest.mark.parametrize(
    ("toml", "text", "columns"),
    [
        (
            "",
            sheet("1,12,1.4,20,2026-05-03", "1,12,2.2,35,2026-05-03", "2,12,1.9,30,2026-05-03"),
            "distance (m) (C) and depth (m) (D)",
        ),
        (
            "",
            sheet(
                "1,12,4.6,66,2026-05-03",
                "1,12,7.2,35,2026-05-03",
                "2,12,6,30,2026-05-03",
                head=HEAD.replace("(m)", "(ft)"),
            ),
            "distance (ft) (C) and depth (ft) (D)",
        ),
        (
            WRAPS,
            sheet("1,8,12,1.4", "1,14,11:30,2.2", "2,9,1:00,1.9", head="peg,clock,wraps,depth (m)\n"),
            "clock (B) and wraps (C)",
        ),
        (
            WRAPS,
            sheet("1,6,12,1.4", "1,6,11,2.2", "2,5,1,1.9", head="peg,clock,distance (wraps),depth (m)\n"),
            "clock (B) and distance (wraps) (C)",
        ),
        (
            "",
            sheet("1,12,-30,1.4", "1,20,15,2.2", "2,9,-45,1.9", "2,30,-5,2", head="peg,angle,distance (m),depth (m)\n"),
            "angle (B) and distance (m) (C)",
        ),
    ],
)
def test_swapped_columns_are_named_and_none_of_their_rows_used(read, toml, text, columns):
    book = read(toml, readings__csv=text)
    told = found(book, "columns-swapped")
    assert columns in told[0].problem
    assert "Swap their headers" in told[0].remedy
    assert book.readings == ()
    assert len(rejected_rows(book)) == book.rows == len(told)


@pytest.mark.parametrize(
    "rows",
    [
        ["1,12,3,3.5,2026-05-03", "1,12,20,2.2,2026-05-03", "2,12,30,2.5,2026-05-03"],
        ["1,9,12,1.4,2026-05-03", "1,3,10,2.2,2026-05-03", "2,12,9,1.9,2026-05-03"],
        ["1,12,1.4,20,2026-05-03", "1,12,2.2,35,2026-05-03"],
        ["1,12,2,2,2026-05-03", "1,12,1.5,1.5,2026-05-03", "2,12,3,3,2026-05-03"],
    ],
)
def test_columns_that_may_be_right_are_left_alone(read, rows):
    book = read(readings__csv=sheet(*rows))
    assert not found(book, "columns-swapped")
    assert len(book.readings) == len(rows)


@pytest.mark.parametrize(
    ("depths", "far"), [((0.3, 0.6, 0.9, 0.4), (8, 11, 12, 9)), ((2, 2.5, 3, 1.9), (45, 52, 30, 20))]
)
def test_margins_and_long_casts_too_are_seen_to_be_swapped(read, depths, far):
    rows = (f"1,12,{depth},{out},2026-05-03" for depth, out in zip(depths, far, strict=True))
    assert "distance (m) (C) and depth (m) (D)" in found(read(readings__csv=sheet(*rows)), "columns-swapped")[0].problem


ONLY_SWAPPED, ONLY_AS_WRITTEN, EITHER = "1,14,11:30,1.4", "1,11:30,14,1.4", "1,11,12,1.4"


@pytest.mark.parametrize(
    ("rows", "swapped"),
    [
        ([ONLY_SWAPPED] * 8 + [ONLY_AS_WRITTEN] * 2, True),
        ([ONLY_SWAPPED] * 7 + [ONLY_AS_WRITTEN] * 3, False),
        ([ONLY_SWAPPED] * 7 + [EITHER] * 3, True),
        ([ONLY_SWAPPED] * 6 + [EITHER] * 4, False),
        ([ONLY_SWAPPED] * 2, False),
    ],
)
def test_columns_are_swapped_if_four_rows_of_five_ask_for_it_and_few_do_not(read, rows, swapped):
    book = read(WRAPS, readings__csv=sheet(*rows, head="peg,clock,wraps,depth (m)\n"))
    assert bool(found(book, "columns-swapped")) == swapped


@pytest.mark.parametrize(("deeper", "swapped"), [(8, True), (7, False)])
def test_distance_and_depth_are_swapped_if_four_rows_of_five_are_deeper_than_far(read, deeper, swapped):
    rows = ["1,12,1.4,20,2026-05-03"] * deeper + ["1,12,20,1.4,2026-05-03"] * (10 - deeper)
    assert bool(found(read(readings__csv=sheet(*rows)), "columns-swapped")) == swapped


@pytest.mark.parametrize(("deep", "told"), [(8, True), (7, False)])
def test_depths_look_like_centimetres_if_four_of_five_are_deeper_than_any_lake(read, deep, told):
    rows = ["1,12,10,140,2026-05-03"] * deep + ["1,12,20,15,2026-05-03"] * (10 - deep)
    assert bool(found(read(readings__csv=sheet(*rows)), "unit-doubtful")) == told


@pytest.mark.parametrize(("depth", "told"), [(39, False), (41, True), (79, True), (3999, True)])
def test_depths_look_like_centimetres_beyond_forty_metres(read, depth, told):
    book = read(readings__csv=sheet(*(f"1,12,{distance},{depth},2026-05-03" for distance in (100, 110, 120))))
    assert bool(found(book, "unit-doubtful")) == told


@pytest.mark.parametrize("angles", [(0, 0, 0, 0), (0, 0, -45, 0), (-10, -30, -45, -5)])
def test_casts_straight_out_and_to_the_left_are_angles_and_no_depths(read, angles):
    rows = (f"1,{far},{angle},1.4" for far, angle in zip((12, 20, 9, 30), angles, strict=True))
    book = read(readings__csv=sheet(*rows, head="peg,angle,distance (m),depth (m)\n"))
    assert "angle (B) and distance (m) (C)" in found(book, "columns-swapped")[0].problem


def test_centimetres_in_a_metre_column_are_named(read):
    book = read(readings__csv=sheet("1,12,10,140,2026-05-03", "1,12,20,155,2026-05-03", "2,12,30,90,2026-05-03"))
    assert "they look like centimetres" in found(book, "unit-doubtful")[0].problem
    assert len(rejected_rows(book)) == 3


def test_a_copied_sheet_counts_once(read):
    text = sheet("1,12,20,1.4,2026-05-03", "2,12,30,1.5,2026-05-03")
    book = read(**{"readings__csv": text, "readings-copy__csv": text.replace(",", ";")})
    assert (len(book.readings), book.rows) == (2, 2)
    (told,) = found(book, "sheet-copied")
    assert told.grade is Grade.WARNING
    assert "2 rows are word for word those of readings-copy.csv" in told.problem
    other = read(**{"readings__csv": text, "readings-copy__csv": text.replace("1.5", "1.6")})
    assert (len(other.readings), found(other, "sheet-copied")) == (4, [])


def test_rows_pasted_twice_are_named(read):
    rows = [f"1,12,{far},1.4,2026-05-03" for far in (10, 20, 30)]
    book = read(readings__csv=sheet(*rows, "2,12,9,1,2026-05-03", *rows))
    (told,) = found(book, "rows-repeated")
    assert told.place.row == 6
    assert "3 rows of readings.csv repeat others word for word (rows 6, 7, 8;" in told.problem
    assert len(book.readings) == 7
    assert not found(read(readings__csv=sheet(*rows, rows[0])), "rows-repeated")


@pytest.mark.parametrize(("cells", "told"), [("1,12,{far},1.4,", True), ("1,12,{far},,", False)])
def test_rows_repeat_each_other_from_four_cells_on(read, cells, told):
    rows = [cells.format(far=far) for far in (10, 20, 30)]
    assert bool(found(read(readings__csv=sheet(*rows, "2,12,9,1,", *rows)), "rows-repeated")) == told


def test_one_date_the_other_way_round_is_reported_and_left_out(read):
    days = [f"1,12,20,1.4,{day}/05/2026" for day in (13, 14, 15, 16, 17)]
    book = read(readings__csv=sheet(*days, "1,12,20,1.4,05/22/2026", "1,12,20,1.4,03/04/2026"))
    (told,) = found(book, "date-other-way")
    assert (told.place.row, told.value) == (7, "05/22/2026")
    assert "month first here, where 5 dates of the file have the day first; 1 other dates" in told.problem
    assert rejected_rows(book) == {("readings.csv", 7)}
    assert book.readings[-1].when.day == "2026-04-03"


def test_bearings_without_a_north_are_noted(read):
    head = "peg,bearing,north,distance (m),depth (m)\n"
    book = read(readings__csv=sheet("1,90,magnetic,20,1.4", "1,95,,20,1.4", "1,96M,,20,1.4", head=head))
    (told,) = found(book, "north-assumed")
    assert (told.place.row, told.value) == (3, "95")
    assert "1 bearing says nothing of north; it was taken from true north" in told.problem
    assert not found(
        read(readings__csv=sheet("1,95,20,1.4", head=head.replace("bearing,north", "true bearing"))), "north-assumed"
    )


def test_bearings_of_several_sheets_without_a_north_are_noted_once_with_their_rows(read):
    text = sheet("1,90,20,1.4", "1,95,21,1.4", head="peg,bearing,distance (m),depth (m)\n")
    one_more = text.replace("1,90", "1,91").replace("1,95,21", "1,96T,22")
    (told,) = found(read(readings__csv=text, **{"readings-b__csv": one_more}), "north-assumed")
    assert told.problem == (
        "3 bearings say nothing of north; they were taken from true north, as the venue has it "
        "(readings-b.csv row 2; readings.csv rows 2 to 3)"
    )


@pytest.mark.parametrize(
    ("word", "remedy"),
    [
        ("sunkk", 'Perhaps "sunk" is meant. Write one of: stands, sunk, flat, usual.'),
        ("stading", 'Perhaps "standing" is meant. Write one of: stands, sunk, flat, usual.'),
        ("wobbling about", "Write one of: stands, sunk, flat, usual."),
    ],
)
def test_an_unknown_word_names_the_nearest_first_and_is_brief(read, word, remedy):
    head = "peg,clock,distance (m),setting (ft),float,seen\n"
    book = read(FLOAT, readings__csv=sheet(f"1,12,20,5,W,{word}", head=head))
    assert found(book, "seen-unknown")[0].remedy == remedy


@pytest.mark.parametrize(
    ("text", "angle"),
    [
        ("12:30:00", 15),
        ("1899-12-30 01:00:00", 30),
        ("1900-01-00 11:30:00", -15),
        ("0.520833333333333", 15),
        ("0,479166667", -15),
        ("12:30:00 PM", 15),
        ("1:30 am", 45),
        ("0.0416666666666667", 30),
    ],
)
def test_a_clock_face_stored_as_a_time_of_day(text, angle):
    assert read_clock(text).angle_deg == pytest.approx(angle)


@pytest.mark.parametrize("text", ["0.5", "0.75", "0.9", "13:00", "0.54166667"])
def test_what_may_be_a_time_or_no_face_at_all_is_refused(text):
    with pytest.raises(ParseError):
        read_clock(text)


@pytest.mark.parametrize(
    ("text", "metres"), [("1m58", 1.58), ("1 m 58", 1.58), ("5′ 2 1⁄2″", 1.5875), ("5’2½”", 1.5875)]
)
def test_more_ways_to_write_a_length(text, metres):
    assert read_length(text).metres == pytest.approx(metres)


@pytest.mark.parametrize("text", ["1m5", "1 m 158", "5 ft 13"])
def test_a_length_that_could_be_two_is_refused(text):
    with pytest.raises(ParseError):
        read_length(text)


def test_nights_when_the_clocks_change(read):
    toml = 'name = "Q"\ntimezone = "Europe/London"\n'
    head = HEAD.replace("date", "date,time")
    rows = ["2026-03-29,01:30", "2026-10-25,01:30", "2026-10-25,01:30Z", "2026-10-25,03:30", "2026-07-01,10:00 BST"]
    book = read(toml, readings__csv=sheet(*(f"1,12,20,1.4,{row}" for row in rows), head=head))
    assert {f.place.row: f.problem.split(" and ")[0] for f in found(book, "clocks-changed")} == {
        2: "the clocks went forward that night",
        3: "the clocks went back that night",
    }
    assert [r.when.instant.isoformat()[11:16] for r in book.readings] == ["01:30", "00:30", "01:30", "03:30", "09:00"]


def test_a_day_number_with_its_time_of_day_may_fall_into_such_a_night(read):
    toml = 'name = "Q"\ntimezone = "Europe/London"\n'
    book = read(toml, readings__csv=sheet("1,12,20,1.4,46320.0625", "1,12,20,1.4,46320.25"))
    assert [r.when.instant.isoformat()[:16] for r in book.readings] == ["2026-10-25T00:30", "2026-10-25T06:00"]
    (told,) = found(book, "clocks-changed")
    assert (told.place.row, told.place.column, told.value) == (2, "date", "46320.0625")


def test_levels_of_such_a_night_are_told_too(read):
    toml = 'name = "Q"\ntimezone = "Europe/London"\n[level]\nkind = "board"\nunit = "m"\ndatum = 0.6\n'
    levels = "date,time,level\n2026-10-25,01:30,0.61\n2026-10-25,02:30,0.62\n2026-03-29 01:15,,0.63\n"
    assert [(f.place.file, f.place.row) for f in found(read(toml, levels__csv=levels), "clocks-changed")] == [
        ("levels.csv", 2), ("levels.csv", 4),
    ]  # fmt: skip


GPX = (
    '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'
    '<wpt lat="54.1017371" lon="-2.3118121"><time>2026-07-04T10:00:00+02:00</time><name>P1</name></wpt>'
    '<wpt lat="54.1013" lon="-2.3118"><name>Weir &amp; Gate</name><desc>mind the step</desc></wpt>{}</gpx>'
)


def test_waypoints_are_pegs(read, refusal):
    book = read(pegs__gpx=GPX.format(""), readings__csv=sheet("P1,12,20,1.4,2026-05-03"))
    assert [(p.name, p.lat, p.note, p.place.row) for p in book.venue.pegs] == [
        ("P1", 54.1017371, "", 2),
        ("Weir & Gate", 54.1013, "mind the step", 3),
    ]
    assert len(book.readings) == 1
    book = read(pegs__gpx=GPX.format('<wpt lat="x" lon="-2.3118"><name>P3</name></wpt>'), readings__csv=sheet())
    assert found(book, "lat-unread")[0].place.row == 4
    assert "holds no waypoint" in refusal(pegs__gpx="<gpx/>")
    assert "declares entities" in refusal(pegs__gpx='<!DOCTYPE g [<!ENTITY a "b">]><gpx/>')
    assert "this is not a GPX file" in refusal(pegs__gpx="<gpx><wpt>")


CROSSED = "peg,clock,peg2,clock2,distance (m),depth (m),date\n"


def test_two_sights_need_no_distance(read):
    book = read(readings__csv=sheet("1,12:30,5,11:30,,1.4,2026-05-03", head=CROSSED))
    where = book.readings[0].where
    assert (book.readings[0].peg, where.other_peg) == ("1", "5")
    assert (where.direction.value_deg, where.other_direction.value_deg) == (15, -15)
    assert {where.direction.by, where.other_direction.by} == {"half hours"}
    head = "peg,bearing,north,peg2,angle2,depth (m)\n"
    where = read(readings__csv=sheet("1,93,magnetic,5,-20,1.4", head=head)).readings[0].where
    assert (where.direction.kind, where.direction.north, where.other_direction.kind) == ("bearing", "magnetic", "angle")


@pytest.mark.parametrize(
    ("row", "code", "words"),
    [
        ("1,12,5,11,20,1.4,", "place-twice", "by two sights and by a distance"),
        ("1,12,,11,,1.4,", "peg-missing", "the second sight names no peg"),
        ("1,12,5,,,1.4,", "direction-missing", "there is no second direction"),
        ("1,,5,11,,1.4,", "direction-missing", "there is no direction"),
        ("1,12,99,11,,1.4,", "peg-unknown", '"99" is not a peg'),
    ],
)
def test_a_sight_that_lacks_something_is_told_of(read, row, code, words):
    book = read(readings__csv=sheet(row, "1,12,,,10,1.5,", head=CROSSED))
    assert words in found(book, code)[0].problem
    assert rejected_rows(book) == {("readings.csv", 2)}
    assert [r.depth_m for r in book.readings] == [1.5]


DECISIONS = "code,sheet,row,decision,by,note\n"


def test_a_decision_leaves_a_row_out(read):
    book = read(
        readings__csv=sheet("1,12,20,1.4,2026-05-03", "2,12,30,1.5,2026-05-03"),
        decisions__csv=sheet("misfit,readings.csv,3,leave out,Maud,round a snag", head=DECISIONS),
    )
    assert [r.use for r in book.readings] == [True, False]
    (told,) = found(book, "decision-taken")
    assert (told.grade, told.place.row) == (Grade.NOTE, 3)
    assert "left out by Maud: round a snag (decisions.csv, row 2)" in told.problem


@pytest.mark.parametrize(
    ("row", "code", "words"),
    [
        (",,9,out,,", "decision-row-missing", "there is no readings.csv, row 9 that holds a reading"),
        (",,x,out,,", "decision-row-missing", "this is not a row number"),
        (",other.csv,2,out,,", "decision-sheet-unknown", '"other.csv" is not a reading sheet'),
        (",,2,perhaps,,", "decision-unknown", "the word is not known"),
        (",,2,,,", "decision-missing", "nothing is decided"),
    ],
)
def test_a_decision_is_itself_checked(read, row, code, words):
    book = read(readings__csv=sheet("1,12,20,1.4,2026-05-03"), decisions__csv=sheet(row, head=DECISIONS))
    (told,) = found(book, code)
    assert words in told.problem
    assert (told.grade, told.place.file) == (Grade.ERROR, "decisions.csv")
    assert (book.decisions, len(book.readings)) == ((), 1)


EDGE = (
    '{{"type":"Feature","properties":{{{}}},"geometry":{{"type":"LineString",'
    '"coordinates":[[-2.3117,54.1014],[-2.3117,54.1018]]}}}}'
)


def test_edges_are_dated_by_property_name_or_file(read):
    dated = EDGE.format('"date":"2026-08-31","name":"spit"')
    book = read(edges__geojson=dated)
    assert [(e.name, e.when.day, str(e.place), e.sd_m) for e in book.edges] == [
        ("spit", "2026-08-31", "edges.geojson, row 1", 1.0)
    ]
    (x0, y0), (x1, y1) = book.edges[0].points
    assert abs(y1 - y0) == pytest.approx(44.5, abs=0.2)
    assert abs(x1 - x0) < 1
    assert read(edges__geojson=EDGE.format('"name":"low 2026-08-30"')).edges[0].when.day == "2026-08-30"
    assert read(**{"edges-2026-08-29__geojson": EDGE.format("")}).edges[0].when.day == "2026-08-29"
    book = read(edges__geojson=EDGE.format(""))
    assert book.edges == ()
    assert "has no date" in found(book, "edge-undated")[0].problem


def test_a_walked_track_is_an_edge_of_its_day(read):
    first = '<trkpt lat="54.1014" lon="-2.3117"><time>2026-08-31T10:00:00Z</time></trkpt>'
    points = first + '<trkpt lat="54.1018" lon="-2.3117"/>'
    track = f"<gpx><trk><name>spit</name><trkseg>{points}</trkseg></trk></gpx>"
    (edge,) = read(edges__gpx=track).edges
    assert (edge.name, edge.when.instant.isoformat(), edge.sd_m) == ("spit", "2026-08-31T10:00:00+00:00", 5.0)


@pytest.mark.parametrize("points", [0, 200_001])
def test_a_walk_of_no_point_or_of_far_too_many_is_refused(refusal, points):
    walked = '<trkpt lat="54.1014" lon="-2.3117"/>' * points
    said = refusal(edges__gpx=f"<gpx><trk><trkseg>{walked}</trkseg></trk></gpx>")
    assert "edges.gpx: the file holds no track, or far too long a one" in said
