"""Awkward input that volunteers' programs are known to make: read right, or refused with the reason."""

import pytest
from pyproj import Geod

from survey.findings import Grade
from survey.geometry.geodesy import Geodesy
from tests.made.findings import CASES, found, rejected_rows

ANY = "peg,angle,distance (m),depth (m),date\nNo peg,0,20,1.4,2026-05-03\n"


def depths(book):
    return [round(reading.depth_m, 3) for reading in book.readings]


def test_one_row_decides_the_order_of_day_and_month_for_all(read):
    book = read(readings__csv=CASES / "day-month-mix/a.csv")
    assert [r.when.day for r in book.readings] == ["2026-05-03", "2026-10-20", "2026-07-04", "2026-08-11"]


def test_an_order_no_row_decides_is_asked_for(refusal, read):
    assert 'row 2, column "date": no row of the file shows whether day or month comes first' in (
        message := refusal(readings__csv=CASES / "day-month-mix/b.csv")
    )
    assert 'dates = "dmy"' in message
    book = read('name = "Quillmere"\ndates = "mdy"\n', readings__csv=CASES / "day-month-mix/b.csv")
    assert [r.when.day for r in book.readings] == ["2026-03-05", "2026-04-07"]


def test_rows_that_contradict_each_other_are_named(refusal):
    message = refusal(readings__csv=CASES / "day-month-mix/c.csv")
    assert 'row 2, column "date"' in message
    assert '"20/10/2026" here and "10/20/2026" in row 3 cannot both be right' in message


@pytest.mark.parametrize("file", ["bom.csv", "nbsp-header.csv"])
def test_invisible_marks_in_headers_do_not_count(read, file):
    book = read(readings__csv=CASES / "bom-header" / file)
    assert [(r.peg, r.depth_m) for r in book.readings] == [("1", 1.4), ("2", 2.2)]


@pytest.mark.parametrize(("file", "expected"), [
    ("a.csv", [1.45, 2.05, 12.5]), ("b.csv", [1.45, 2.05]), ("c.csv", [1.45, 2.05]),
])  # fmt: skip
def test_a_decimal_comma_is_a_decimal(read, file, expected):
    book = read(readings__csv=CASES / "decimal-comma" / file)
    assert depths(book) == expected
    assert bool(found(book, "mixed-decimals")) == (file == "c.csv")
    assert [(f.place.row, f.place.column) for f in found(book, "mixed-decimals")] == [(1, "depth_m")] * (
        file == "c.csv"
    )
    if file == "a.csv":
        assert book.readings[0].where.direction.value_deg == 92.5


def test_blank_and_total_rows(read):
    book = read(
        readings__csv=CASES / "blank-and-total-rows/readings.csv", pegs__csv=CASES / "blank-and-total-rows/pegs.csv"
    )
    assert depths(book) == [1.4, 2.2, 0.9]
    assert found(book, "empty-rows")[0].problem == "3 empty rows ignored"
    assert found(book, "depth-missing")[0].place.row == 6
    assert found(book, "peg-unknown")[0].place.row == 9
    assert book.rows == 5
    assert len(rejected_rows(book)) == 2


def test_units_come_from_cell_before_header(read):
    book = read(readings__csv=CASES / "mixed-depth-units/a.csv")
    assert depths(book) == [1.8, 1.829, 1.981, 1.8, 1.676]
    assert depths(read(readings__csv=CASES / "mixed-depth-units/b.csv")) == [1.829, 2.438]


def test_numbers_without_a_unit_are_asked_for(refusal, read):
    message = refusal(readings__csv=CASES / "mixed-depth-units/c.csv")
    assert 'readings.csv, row 1, column "depth": the numbers have no unit (found "6")' in message
    assert '[units] depth = "ft"' in message
    assert '[units] distance = "yd"' in message
    declared = 'name = "Quillmere"\n[units]\ndepth = "ft"\ndistance = "m"\n'
    assert depths(read(declared, readings__csv=CASES / "mixed-depth-units/c.csv")) == [1.829, 2.438]


@pytest.mark.parametrize(
    ("pegs", "outline"), [("pegs.csv", "outline.geojson"), ("pegs-right.csv", "outline-latlon.geojson")]
)
def test_swapped_longitude_and_latitude_stop_the_reading(refusal, pegs, outline):
    case = CASES / "lat-lon-swapped"
    message = refusal(pegs__csv=case / pegs, outline__geojson=case / outline)
    assert "km from the outline, but fit when longitude and latitude are swapped" in message


def test_unswapped_pegs_stand_where_they_should(read):
    case = CASES / "lat-lon-swapped"
    book = read(pegs__csv=case / "pegs-right.csv", outline__geojson=case / "outline.geojson")
    assert book.venue.crs == "EPSG:32630"
    assert (book.venue.pegs[0].easting, book.venue.pegs[0].northing) == pytest.approx((545000.0, 5995060.0), abs=0.1)


def test_merged_pegs_count_for_their_rows_and_blank_ones_do_not(read):
    book = read(readings__xlsx=CASES / "merged-cells/readings.xlsx")
    assert [r.peg for r in book.readings] == ["4", "4", "4", "5", "5", "6"]
    assert rejected_rows(book) == {("readings.xlsx", 7)}
    assert "A2:A4, A5:A6" in found(book, "merged-cells")[0].problem


def test_two_columns_of_one_meaning_must_agree(refusal, read):
    message = refusal(readings__csv=CASES / "duplicate-headers/clash.csv")
    assert "columns depth_m (D) and depth_m (E) mean the same but differ" in message
    book = read(readings__csv=CASES / "duplicate-headers/same.csv")
    assert depths(book) == [1.4, 2.2]
    assert len(found(book, "doubled-column")) == 1


def test_a_degree_sign_in_the_windows_code_page(read):
    windows = read(readings__csv=CASES / "degree-sign-cp1252/win.csv")
    unicode = read(readings__csv=CASES / "degree-sign-cp1252/utf8.csv")
    assert windows.readings == unicode.readings
    assert windows.readings[0].note == "Café bank"
    assert "Windows-1252" in found(windows, "encoding-assumed")[0].problem
    assert not found(unicode, "encoding-assumed")


def test_degrees_minutes_and_seconds(read):
    book = read(pegs__csv=CASES / "dms-and-lookalike-signs/pegs.csv", readings__csv=ANY)
    for peg, tolerance in zip(book.venue.pegs, (2e-6, 2e-6, 2e-5, 2e-6, 2e-6), strict=True):
        assert (peg.lon, peg.lat) == pytest.approx((-2.3118121, 54.1017371), abs=tolerance)
    assert [f.place.row for f in book.findings if f.place.file == "pegs.csv" and f.grade is Grade.ERROR] == [7, 8]
    assert "minutes and seconds go from 0 to below 60" in found(book, "lat-unread")[0].problem
    assert "both a sign and a letter" in found(book, "lon-unread")[0].problem


def area_on_the_ground(book) -> float:
    """Square metres on the WGS 84 ellipsoid."""
    geometry = Geodesy(book.venue.crs)
    rings = [ring for polygon in book.venue.water.geoms for ring in (polygon.exterior, *polygon.interiors)]
    areas = [Geod(ellps="WGS84").polygon_area_perimeter(*geometry.lonlat(*ring.xy))[0] for ring in rings]
    return abs(sum(areas))


def test_a_kml_outline_is_found_in_its_folder_and_loses_its_altitudes(read):
    book = read(outline__kml=CASES / "kml-altitude-and-folders/outline.kml")
    assert not book.venue.water.has_z
    assert area_on_the_ground(book) == pytest.approx(24018, rel=0.002)
    assert 'point "Car park"' in found(book, "feature-ignored")[0].problem


def test_signs_in_the_names_of_pegs_are_kept(read):
    book = read(pegs__csv=CASES / "apostrophe-in-popup/pegs.csv", readings__csv=ANY)
    assert [peg.name for peg in book.venue.pegs] == ["O'Neary's Stage", 'The "Willow"', "7`a"]


def test_pegs_on_and_off_the_bank(read):
    book = read(pegs__csv=CASES / "point-on-the-bank/pegs.csv", readings__csv=ANY)
    assert [peg.name for peg in book.venue.pegs] == ["A", "B", "C", "D"]
    (told,) = found(book, "peg-off-shore")
    assert (told.grade, told.value) == (Grade.WARNING, "D")
    assert "the peg lies 30.0 m from the shore" in told.problem


def test_any_minus_sign_is_one_and_a_lone_dash_is_no_level(read):
    case = CASES / "unicode-minus"
    book = read(
        'name = "Quillmere"\n[level]\nkind = "board"\n', levels__csv=case / "levels.csv", pegs__csv=case / "pegs.csv"
    )
    assert [record.shown_m for record in book.levels] == [-0.12, -0.05, 0.08]
    assert found(book, "level-missing")[0].place.row == 4
    assert book.venue.pegs[0].lon == -2.3118121


def test_names_of_pegs_are_text(read):
    case = CASES / "peg-called-NA-or-007"
    book = read(readings__csv=case / "readings.csv", pegs__csv=case / "pegs.csv")
    assert [reading.peg for reading in book.readings] == ["NA", "007", "7", "1E2"]


def test_an_open_polygon_is_closed_and_an_open_track_is_not(read, refusal):
    book = read(outline__geojson=CASES / "ring-not-closed/open.geojson")
    assert area_on_the_ground(book) == pytest.approx(24018, rel=0.002)
    assert "a gap of 120 m was closed" in found(book, "ring-closed")[0].problem
    assert "ends lie 120 m apart" in refusal(outline__gpx=CASES / "ring-not-closed/track.gpx")


def test_a_crossing_outline_is_never_halved(refusal, read):
    message = refusal(outline__geojson=CASES / "outline-crosses-itself/bow.geojson")
    assert "crosses or touches itself near lon -2.31028, lat 54.10173" in message
    book = read(outline__geojson=CASES / "outline-crosses-itself/tiny-loop.geojson")
    assert area_on_the_ground(book) == pytest.approx(24053, abs=10)
    assert "near lon -2.30875, lat 54.10226; 0.02 m² of loop was left out" in found(book, "outline-mended")[0].problem


def test_metres_without_a_coordinate_system_are_asked_about(refusal, read):
    file = CASES / "outline-without-crs/outline-no-crs.geojson"
    message = refusal(outline__geojson=file)
    assert "names no coordinate system, and its numbers are not longitude and latitude" in message
    assert "EPSG:32630" in message
    book = read('name = "Quillmere"\ncrs = "EPSG:32630"\n', outline__geojson=file)
    assert book.venue.water.area == pytest.approx(24000)
    assert area_on_the_ground(book) == pytest.approx(24018, rel=0.0005)


def test_a_formula_without_a_value_is_named(read):
    book = read(readings__xlsx=CASES / "formula-cells-without-value/readings.xlsx")
    assert depths(book) == [1.4]
    (told,) = found(book, "formula-without-value")
    assert "cell D3" in told.problem
    assert "save it once" in told.remedy


@pytest.mark.parametrize("file", ["serial.csv", "book1904.xlsx"])
def test_day_numbers_of_either_epoch(read, file):
    source = CASES / "excel-serial-and-1904" / file
    book = read(**{f"readings__{source.suffix[1:]}": source})
    assert book.readings[0].when.day == "2026-07-04"
    assert bool(found(book, "serial-date")) == (file == "serial.csv")


def test_a_second_basin_written_as_a_hole_is_water(read):
    source = CASES / "badly-nested-multipolygon/outline.geojson"
    book = read(outline__geojson=source)
    assert area_on_the_ground(book) == pytest.approx(48036, rel=0.002)
    assert [len(polygon.interiors) for polygon in book.venue.water.geoms] == [0, 0]


def test_one_bad_coordinate_leaves_out_one_peg(read):
    book = read(pegs__csv=CASES / "one-bad-coordinate/pegs.csv")
    assert [peg.name for peg in book.venue.pegs] == ["1", "3"]
    assert found(book, "lon-unread")[0].place.row == 3


def test_characters_no_document_may_hold_are_taken_out(read):
    book = read(pegs__csv=CASES / "ampersand-in-gpx-kml/pegs.csv", readings__csv=ANY)
    assert [peg.name for peg in book.venue.pegs] == ["Weir & Gate", "a<b", "Tab here"]
    assert len(found(book, "control-characters")) == 1


def test_south_of_the_equator_and_across_the_date_line(read):
    pegs = "peg,lon,lat\n1,179.999,-16.9995\n2,-179.999,-16.9995\n"
    book = read(outline__geojson=CASES / "southern-hemisphere/dateline.geojson", pegs__csv=pegs)
    west, south, east, north = book.venue.water.bounds
    assert book.venue.crs in {"EPSG:32701", "EPSG:32760"}
    assert east - west == pytest.approx(213, abs=2)
    assert 0 < south < north
    assert not found(book, "peg-off-shore")
