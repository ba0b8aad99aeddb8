"""Where the bed was changed: polygons with their day, and [survey] since."""

import json

import geopandas as gpd
import pytest
from shapely.geometry import LineString, box, mapping

from survey.findings import Grade
from tests.made.findings import found

INSIDE = box(-2.3115, 54.1014, -2.3105, 54.1020)
HOLE = box(-2.3112, 54.1016, -2.3110, 54.1018)
SINCE = 'name = "Quillmere"\n[survey]\nsince = {}\n'


def geojson(*shapes, **properties) -> str:
    features = [{"type": "Feature", "properties": properties, "geometry": mapping(shape)} for shape in shapes]
    return json.dumps({"type": "FeatureCollection", "features": features})


@pytest.mark.parametrize("key", ["date", "day", "since", "From"])
def test_a_polygon_says_from_which_day_its_bed_is_new(read, key):
    book = read(changes__geojson=geojson(INSIDE, **{key: "2026-03-01", "note": "desilted"}))
    (change,) = book.changes
    assert (change.new_from, change.note, change.place.file) == ("2026-03-01", "desilted", "changes.geojson")
    # A thousandth of a degree is 111 m north and 65 m east here; the box is 65 m by 67 m.
    assert change.area.area == pytest.approx(65.4 * 66.8, rel=0.01)


def test_the_day_may_stand_in_the_name_of_the_file(read):
    book = read(**{"changes-2026-03-01__geojson": geojson(INSIDE)})
    assert [change.new_from for change in book.changes] == ["2026-03-01"]


def test_a_geopackage_and_a_hole_in_it(read, tmp_path):
    frame = gpd.GeoDataFrame({"date": ["2026-03-01"]}, geometry=[INSIDE.difference(HOLE)], crs="EPSG:4326")
    frame.to_file(tmp_path / "made.gpkg", driver="GPKG")
    (change,) = read(changes__gpkg=tmp_path / "made.gpkg").changes
    assert len(change.area.geoms[0].interiors) == 1


def test_two_patches_of_one_day_are_one_change_and_those_of_two_days_two(read):
    west, east = box(-2.3115, 54.1014, -2.3112, 54.1020), box(-2.3108, 54.1014, -2.3105, 54.1020)
    (change,) = read(changes__geojson=geojson(west, east, date="2026-03-01")).changes
    assert len(change.area.geoms) == 2
    files = {
        "changes-a__geojson": geojson(west, date="2026-03-01"),
        "changes-b__geojson": geojson(east, date="2025-03-01"),
    }
    assert [change.new_from for change in read(**files).changes] == ["2025-03-01", "2026-03-01"]


def test_a_polygon_without_a_day_is_told_of_and_changes_nothing(read):
    book = read(changes__geojson=geojson(INSIDE, name="north bay"))
    (told,) = found(book, "change-undated")
    assert (book.changes, told.grade, told.value) == ((), Grade.WARNING, "north bay")
    assert 'property "date"' in told.remedy


def test_a_polygon_off_the_water_is_told_of(read):
    book = read(changes__geojson=geojson(box(-2.2, 54.2, -2.19, 54.21), date="2026-03-01"))
    assert book.changes == ()
    assert found(book, "change-off-water")[0].grade is Grade.WARNING


def test_what_is_no_area_is_refused_with_what_to_do(refusal):
    said = refusal(changes__geojson='{"type":"Point","coordinates":[0,0]}')
    assert "Draw a changed bed as a polygon" in said
    line = INSIDE.exterior.coords[:3]
    said = refusal(changes__geojson=geojson(LineString(line), date="2026-03-01"))
    assert "draw it as a polygon" in said


@pytest.mark.parametrize("written", ['"2026-03-01"', "2026-03-01"])
def test_since_holds_for_the_whole_water(read, written):
    (change,) = read(SINCE.format(written)).changes
    assert (change.new_from, change.area, change.place.file) == ("2026-03-01", None, "venue.toml")
    assert change.place.column == "[survey] since"


@pytest.mark.parametrize("written", ['"1 March"', '"01/03/2026"', "true", "2026"])
def test_since_that_is_no_day_shows_how_to_write_one(refusal, written):
    said = refusal(SINCE.format(written))
    assert "[survey] since" in said
    assert 'since = "2026-03-01"' in said


def test_the_digest_knows_of_the_changes_file(read):
    digests = {read(changes__geojson=geojson(INSIDE, date=day)).digest for day in ("2026-03-01", "2026-03-02")}
    assert len(digests | {read().digest}) == 3
