"""Outlines of every kind, islands, and pegs held against the shore."""

import json
import math
import zipfile

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from survey.errors import FieldbookError, ParseError
from survey.fieldbook import read_fieldbook
from survey.fieldbook.files.outlines import _rings_of
from survey.findings import Grade
from survey.geometry.geodesy import lonlat_of_grid
from survey.geometry.shoreline import Shoreline
from survey.units.coordinates import read_declination, read_degrees, read_gridref
from tests.made.findings import found

LAKE = box(545000, 5995000, 545200, 5995120)
ISLAND = box(545080, 5995040, 545120, 5995080)
ANY = "peg,angle,distance (m),depth (m)\n1,0,20,1.4\n"


def geojson(*shapes, names=(), crs="EPSG:4326") -> str:
    frame = gpd.GeoSeries(list(shapes), crs="EPSG:32630").to_crs(crs)
    features = [
        {"type": "Feature", "properties": {"name": name}, "geometry": shape.__geo_interface__}
        for shape, name in zip(frame, names or [""] * len(shapes), strict=True)
    ]
    return json.dumps({"type": "FeatureCollection", "features": features})


def write(path, driver, shapes=(LAKE,), crs="EPSG:4326"):
    frame = gpd.GeoDataFrame({"name": ["Quillmere"] * len(shapes)}, geometry=list(shapes), crs="EPSG:32630").to_crs(crs)
    frame.to_file(path, driver=driver, **({"layer": "tracks"} if driver == "GPX" else {}))


@pytest.fixture
def venue_with(folder):
    """A folder without an outline, to write one into."""
    return lambda: folder(outline__geojson=None)


@pytest.mark.parametrize(("ending", "driver", "crs"), [
    ("gpkg", "GPKG", "EPSG:32630"), ("gpkg", "GPKG", "EPSG:4326"), ("kml", "KML", "EPSG:4326"),
    ("geojson", "GeoJSON", "EPSG:4326"),
])  # fmt: skip
def test_outlines_of_common_kinds(venue_with, ending, driver, crs):
    target = venue_with()
    write(target / f"outline.{ending}", driver, crs=crs)
    assert read_fieldbook(target).venue.water.area == pytest.approx(24000, rel=1e-3)
    assert sorted(p.name for p in target.iterdir()) == [f"outline.{ending}", "pegs.csv", "readings.csv", "venue.toml"]


def test_a_zipped_shapefile_and_a_packed_kml(venue_with, tmp_path):
    target = venue_with()
    write(tmp_path / "water.shp", "ESRI Shapefile", crs="EPSG:27700")
    with zipfile.ZipFile(target / "outline.zip", "w") as archive:
        for part in tmp_path.glob("water.*"):
            archive.write(part, part.name)
    assert read_fieldbook(target).venue.water.area == pytest.approx(24000, rel=1e-3)
    (target / "outline.zip").unlink()
    write(tmp_path / "doc.kml", "KML")
    with zipfile.ZipFile(target / "outline.kmz", "w") as archive:
        archive.write(tmp_path / "doc.kml", "doc.kml")
    assert read_fieldbook(target).venue.water.area == pytest.approx(24000, rel=1e-3)


def test_a_track_walked_round_is_closed(venue_with):
    target = venue_with()
    ring = [*LAKE.exterior.coords[:-1], (545196, 5995000)]
    write(target / "outline.gpx", "GPX", shapes=(LineString([*ring]),))
    book = read_fieldbook(target)
    assert book.venue.water.area == pytest.approx(24000, rel=1e-3)
    assert "a gap of 4 m was closed" in found(book, "ring-closed")[0].problem


@pytest.mark.parametrize(("name", "content", "words"), [
    ("outline__kml", b'<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY a "b">]><kml>&a;</kml>', "declares entities"),
    ("outline__kml", b"<OGRVRTDataSource><OGRVRTLayer/></OGRVRTDataSource>", "this is not a KML file"),
    ("outline__gpkg", b"<OGRVRTDataSource/>", "this is not a GPKG file"),
    ("outline__gpx", b"hello", "this is not a GPX file"),
    ("outline__zip", b"hello", "this is not a zipped shapefile"),
    ("outline__kml", b"<kml><Document><Placemark>", "cannot be read"),
    ("outline__geojson", b'{"type": "Polygon"}', "this is not GeoJSON"),
    ("outline__geojson", b"[1, 2]", "this is not GeoJSON"),
    ("outline__geojson", b'{"type":"Polygon","coordinates":[[[0,0],[0,NaN],[1,1],[0,0]]]}', "points that are not num"),
    ("outline__geojson", b'{"type":"Point","coordinates":[0,0]}', "holds no area and no line"),
])  # fmt: skip
def test_what_is_no_outline_is_refused(refusal, name, content, words):
    assert words in refusal(**{name: content})


@pytest.mark.parametrize(("points", "words"), [(5, "Point, Point, Point, Point, Point"), (7, "Point and 2 more")])
def test_of_many_features_that_are_no_edge_five_are_named(read, points, words):
    book = read(outline__geojson=geojson(LAKE, *(Point(545010 + 5 * k, 5995010) for k in range(points))))
    (told,) = found(book, "feature-ignored")
    assert told.problem.casefold().endswith(words.casefold())
    assert told.problem.casefold().count("point") == 5


def test_an_outline_of_far_too_many_points_is_refused(refusal):
    turn = np.linspace(0, 2 * np.pi, 200_000, endpoint=False)
    shore = np.column_stack([-2.31 + 1e-3 * np.cos(turn), 54.1 + 1e-3 * np.sin(turn)]).round(9)
    ring = [*shore.tolist(), shore[0].tolist()]
    polygon = json.dumps({"type": "Polygon", "coordinates": [ring]})
    assert "the outline has more than 200000 points" in refusal(outline__geojson=polygon)


def test_a_ring_of_two_points_is_told_of_and_the_lake_is_read(read):
    document = json.loads(geojson(LAKE))
    there, back = (-2.3118, 54.1017), (-2.3110, 54.1017)
    flat = {"type": "Polygon", "coordinates": [[there, back, there, back, there]]}
    document["features"].append({"type": "Feature", "properties": {"name": "Stub"}, "geometry": flat})
    book = read(outline__geojson=json.dumps(document))
    assert book.venue.water.area == pytest.approx(24000, rel=1e-3)
    assert '"Stub" has fewer than three points' in found(book, "feature-ignored")[0].problem


def test_a_zip_of_other_things_is_refused(venue_with):
    target = venue_with()
    with zipfile.ZipFile(target / "outline.zip", "w") as archive:
        archive.writestr("lake.vrt", "<OGRVRTDataSource/>")
    with pytest.raises(FieldbookError, match="this is not a zipped shapefile"):
        read_fieldbook(target)


def test_a_polygon_in_the_water_is_an_island(read):
    book = read(outline__geojson=geojson(ISLAND, LAKE, names=("Gull ground", "Quillmere")))
    assert book.venue.water.area == pytest.approx(24000 - 1600, rel=1e-3)
    assert '"Gull ground" lies in the water and was taken as an island' in found(book, "island-taken")[0].problem


def test_order_and_winding_of_rings_change_nothing(read):
    holed = Polygon(LAKE.exterior.coords, [ISLAND.exterior.coords])
    backward = Polygon(LAKE.exterior.coords[::-1])
    waters = [
        read(outline__geojson=text).venue.water
        for text in (geojson(holed), geojson(LAKE, ISLAND), geojson(ISLAND, LAKE), geojson(backward, ISLAND))
    ]
    for water in waters:
        assert isinstance(water, MultiPolygon)
        assert water.equals_exact(waters[0], 1e-6)


def test_an_island_drawn_twice_stays_one_and_a_pond_on_it_is_water(read):
    holed = Polygon(LAKE.exterior.coords, [ISLAND.exterior.coords])
    pond = box(545090, 5995050, 545100, 5995060)
    water = read(outline__geojson=geojson(holed, ISLAND, pond)).venue.water
    assert water.area == pytest.approx(24000 - 1600 + 100, rel=1e-3)


def test_an_island_across_the_shore_is_cut_out_and_other_overlaps_are_joined(read):
    across = box(545190, 5995040, 545210, 5995060)
    island = read(outline__geojson=geojson(LAKE, across, names=("Quillmere", "Reed Island"))).venue.water
    assert island.area == pytest.approx(24000 - 200, rel=1e-3)
    joined = read(outline__geojson=geojson(LAKE, across, names=("Quillmere", "Inlet"))).venue.water
    assert joined.area == pytest.approx(24000 + 200, rel=1e-3)


def test_a_lake_called_after_an_island_is_water(read):
    assert read(outline__geojson=geojson(LAKE, names=("Island Pool",))).venue.water.area == pytest.approx(
        24000, rel=1e-3
    )


def test_a_spike_leaves_no_line_behind(read):
    spiked = Polygon([*LAKE.exterior.coords[:1], (545205, 5994995), *LAKE.exterior.coords])
    book = read(outline__geojson=geojson(spiked))
    assert {part.geom_type for part in book.venue.water.geoms} == {"Polygon"}
    assert book.venue.water.area == pytest.approx(24000, rel=1e-3)


def test_an_older_geojson_may_name_its_system(read):
    document = json.loads(geojson(LAKE, crs="EPSG:27700"))
    document["crs"] = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::27700"}}
    assert read(outline__geojson=json.dumps(document)).venue.water.area == pytest.approx(24000, rel=1e-3)


@pytest.mark.parametrize(("easting", "northing", "azimuth"), [
    (545000, 5995060, 90), (545199, 5995060, 270), (545100, 5994999, 0), (545100, 5995121, 180),
    (545080, 5995060, 270), (545100, 5995081, 0), (545000, 5995000, 45),
])  # fmt: skip
def test_straight_out_is_over_the_water(easting, northing, azimuth):
    water = MultiPolygon([LAKE.difference(ISLAND)])
    assert Shoreline(water).out_azimuth_deg(easting, northing) == pytest.approx(azimuth, abs=1e-6)


@given(angle=st.floats(0, 360), along=st.floats(0.01, 0.99))
def test_straight_out_at_a_round_pond_points_to_its_middle(angle, along):
    pond = Point(0, 0).buffer(100, quad_segs=64)
    at = pond.exterior.interpolate((angle / 360 + along) % 1, normalized=True)
    azimuth = Shoreline(MultiPolygon([pond])).out_azimuth_deg(at.x, at.y)
    ahead = Point(at.x + 50 * math.sin(math.radians(azimuth)), at.y + 50 * math.cos(math.radians(azimuth)))
    assert ahead.distance(Point(0, 0)) == pytest.approx(50, abs=1.5)


def test_facing_declared_or_worked_out(read):
    pegs = "peg,lon,lat,facing\n1,-2.3118121,54.1017371,85\n2,-2.3118121,54.1017371,\n3,-2.3118121,54.1017371,east\n"
    book = read(pegs__csv=pegs, readings__csv=ANY)
    first, second, third = book.venue.pegs
    assert (first.facing_deg, first.facing_sd_deg, first.facing_declared) == (85, 0, True)
    # Grid north lies 0.56 degrees east of true north here, so the west bank's normal does too.
    assert (second.facing_deg, second.facing_sd_deg) == (pytest.approx(90.56, abs=0.02), 15)
    assert not second.facing_declared
    assert third.facing_deg == second.facing_deg
    assert "estimated from the bank instead" in found(book, "facing-unread")[0].problem
    assert any("Facing estimated from 10 m of bank at 2 of 3 pegs" in line for line in book.venue.stated)


def test_distance_from_the_shore_is_told(read):
    west = [
        Transformer.from_crs("EPSG:32630", "EPSG:4326", always_xy=True).transform(545000 - d, 5995060)
        for d in (1, 5, 20)
    ]
    pegs = "peg,lon,lat\n" + "".join(f"{n},{lon:.8f},{lat:.8f}\n" for n, (lon, lat) in enumerate(west, start=1))
    told = {f.value: (f.grade, f.problem) for f in found(read(pegs__csv=pegs), "peg-off-shore")}
    assert set(told) == {"2", "3"}
    assert told["2"][0] is Grade.NOTE
    assert told["3"][0] is Grade.WARNING
    assert "20.0 m" in told["3"][1]


def test_pegs_far_away_or_of_one_name_are_refused(refusal):
    assert "km from the outline. Check the coordinate system" in refusal(
        pegs__csv="peg,lon,lat\n1,2.3118121,54.1017371\n"
    )
    twice = "peg,lon,lat\n1,-2.3118121,54.1017371\n1,-2.3118121,54.1017\n"
    assert 'row 3, column "peg": two pegs have this name, the other in row 2' in refusal(pegs__csv=twice)
    alias = "peg,lon,lat,aliases\n1,-2.3118121,54.1017371,Stump\n2,-2.3118121,54.1017,stump\n"
    assert 'the name also stands for peg "1"' in refusal(pegs__csv=alias)
    assert "there is no peg with a position" in refusal(pegs__csv="peg,lon,lat\n1,,\n")


def test_peg_positions_in_every_frame(read):
    pegs = (
        "peg,easting,northing,gridref\n"
        "1,545000,5995060,\n2,,,SD 79708 67360\n3,545000,5995060,SD 79708 67360\n4,,,SD 797 673\n"
    )
    book = read(pegs__csv=pegs, readings__csv=ANY)
    first, second = book.venue.pegs
    assert (first.lon, first.lat) == pytest.approx((-2.3118121, 54.1017371), abs=2e-6)
    assert (second.easting, second.northing) == pytest.approx((545000, 5995060), abs=1)
    twice = found(book, "position-twice")[0]
    assert "given twice, as easting and as gridref" in twice.problem
    assert (twice.place.row, twice.place.column) == (4, "gridref")
    assert "names a square of 100 m" in found(book, "gridref-coarse")[0].problem
    assert any("OSTN15" in line for line in book.venue.stated)


@pytest.mark.parametrize(("crs", "transformed"), [("EPSG:27700", False), ("EPSG:32630", True)])
def test_a_grid_reference_is_a_point_of_the_british_grid_whatever_the_venue_s(read, crs, transformed):
    pegs = "peg,gridref\n1,SD 79708 67360\n"
    book = read(f'name = "Q"\ncrs = "{crs}"\n', pegs__csv=pegs, readings__csv=ANY)
    (peg,) = book.venue.pegs
    place = (545000, 5995060) if transformed else (379708.5, 467360.5)
    assert (peg.easting, peg.northing) == pytest.approx(place, abs=1 if transformed else 1e-9)
    # Either way 1 m is added in quadrature as a rectangle (JCGM 100:2008, 4.3.7).
    assert peg.position_sd_m == pytest.approx(math.sqrt(1 + 1 / 12))


def test_the_rest_of_a_peg(read):
    head = "peg,lon,lat,access,status,note,margin_depth (ft),position by\n"
    pegs = head + "1,-2.3118121,54.1017371,level path,closed,nest,3,phone\n"
    peg = read(pegs__csv=pegs).venue.pegs[0]
    assert (peg.is_closed, peg.is_accessible, peg.note) == (True, True, "nest")
    assert (peg.margin_depth_m, peg.position_sd_m) == (pytest.approx(0.9144), 5.0)


@pytest.mark.parametrize(
    ("head", "row", "sd_m"),
    [
        ("lon,lat", "-2.3118121,54.1017371", 5.0),
        ("lon,lat,position by", "-2.3118121,54.1017371,surveyed", 1.0),
        ("easting,northing", "545000,5995060", 1.0),
        ("easting,northing,position by", "545000,5995060,phone", 5.0),
    ],
)
def test_a_peg_in_degrees_counts_as_taken_with_a_phone_and_in_metres_as_surveyed(read, head, row, sd_m):
    book = read('name = "Q"\ncrs = "EPSG:32630"\n', pegs__csv=f"peg,{head}\n1,{row}\n")
    assert book.venue.pegs[0].position_sd_m == sd_m


@pytest.mark.parametrize("nothing", [None, Polygon()])
def test_features_without_a_shape_are_passed_over(nothing):
    assert list(_rings_of(nothing, {})) == []
    assert len(list(_rings_of(LAKE, {}))) == 1


# Ordnance Survey, A guide to coordinate systems in Great Britain, and its OSTN15 worked example (Caister).
def test_grid_references_by_the_national_agencys_figures():
    assert read_gridref("TG 51409 13177")[:2] == (651409.5, 313177.5)
    assert read_gridref("NN166712") == (216650, 771250, 100)
    assert read_gridref("SV 00000 00000")[:2] == (0.5, 0.5)
    lon, lat = lonlat_of_grid(651409.804, 313177.450)
    assert lat == pytest.approx(52 + 39 / 60 + 28.8282 / 3600, abs=1e-8)
    assert lon == pytest.approx(1 + 42 / 60 + 57.8663 / 3600, abs=1e-8)
    for bad in ("IA 123 456", "TG 123 4567", "TG", "12345 67890"):
        with pytest.raises(ParseError, match="is not a grid reference"):
            read_gridref(bad)
    with pytest.raises(ParseError, match="outside Great Britain"):
        lonlat_of_grid(0, 5e6)


@given(seconds=st.integers(-180 * 3600_000, 180 * 3600_000))
def test_degrees_minutes_seconds_round_trip(seconds):
    value = seconds / 3600_000
    degrees, rest = divmod(abs(seconds), 3600_000)
    minutes, thousandths = divmod(rest, 60_000)
    letter = "W" if seconds < 0 else "E"
    for text in (
        f"{degrees}°{minutes:02d}′{thousandths / 1000:.3f}″{letter}",
        f"{letter} {degrees} {minutes} {thousandths / 1000:.3f}",
        f"{value:.9f}", f"{value:.9f}".replace("-", "−").replace(".", ","),
    ):  # fmt: skip
        assert read_degrees(text, "lon") == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("axis", ["lon", "lat"])
@pytest.mark.parametrize("text", ["", "left", "2 x", "E 2 E", "W 2 18 W", "N 2 E", "S 54 S", "2.5.1", "1 2 3 4"])
def test_what_is_no_longitude_or_latitude_is_refused(text, axis):
    with pytest.raises(ParseError, match=r"is not a l(ong|at)itude"):
        read_degrees(text, axis)


@pytest.mark.parametrize("text", ["2 60", "2 18 60", "2 75 1", "2.5 18", "2 18.5 42", "2.5 18.5"])
def test_minutes_and_seconds_end_below_sixty_and_only_the_last_part_has_decimals(text):
    with pytest.raises(ParseError, match="minutes and seconds go from 0 to below 60"):
        read_degrees(text, "lon")
    assert read_degrees("2 59 59.5", "lon") == pytest.approx(3 - 0.5 / 3600)
    assert read_degrees("2 18.5", "lon") == pytest.approx(2 + 18.5 / 60)


@pytest.mark.parametrize(("text", "axis", "limit"), [("180", "lon", 180), ("180 W", "lon", -180), ("90 S", "lat", -90)])
def test_a_position_goes_round_the_globe_and_no_further(text, axis, limit):
    assert read_degrees(text, axis) == limit
    with pytest.raises(ParseError, match="is outside"):
        read_degrees(text.replace("0", "0.001", 1), axis)


@pytest.mark.parametrize(("text", "axis"), [("2 N", "lon"), ("2 S", "lon"), ("54 E", "lat"), ("54 W", "lat")])
def test_a_letter_of_the_other_axis_is_refused(text, axis):
    with pytest.raises(ParseError, match=r"is not a l(ong|at)itude"):
        read_degrees(text, axis)


@given(text=st.text(alphabet="0123456789 .,-+°'\"nsewNSEWTGdx", max_size=16))
def test_whatever_stands_for_a_position_is_read_or_refused_with_words(text):
    readers = (lambda t: read_degrees(t, "lon"), lambda t: read_degrees(t, "lat"), read_declination, read_gridref)
    for reader in readers:
        try:
            reader(text)
        except ParseError as refused:
            assert str(refused)  # noqa: PT017 - the other outcome is that it was read


def test_declination_needs_its_side():
    assert [read_declination(text) for text in ("3E", "8 W", "-8", "+3", "0")] == [3, -8, -8, 3, 0]
    for bad in ("8", "-8W", "east"):
        with pytest.raises(ParseError, match="is not a declination"):
            read_declination(bad)
