"""Files for other programs, read back by GDAL (pyogrio, rasterio) and geopandas: values, places, units, words."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
from csbschema import validate_data
from shapely.geometry import LineString, MultiPolygon, box

from maps.content.spot_rows import spot_answers
from maps.files.b12 import crowd_geojson
from maps.files.geotiff import write_raster
from maps.files.summary import about_tags
from maps.files.vectors import _feature, in_degrees, setting_words
from maps.site import Site, write_downloads
from survey.bed.grid import NO_VALUE, Bed, Grid
from survey.geometry.geodesy import Geodesy
from survey.records.venue import Publishing
from tests.made.survey import CRS, made_survey, publishing

PLACE_M = 0.002
"""Eight decimals of a degree are a millimetre; two of them lie between."""


@pytest.fixture(scope="module")
def worked():
    return publishing(made_survey(cell_m=2.0), contact="club@example.org")


@pytest.fixture(scope="module")
def folder(worked, tmp_path_factory):
    home = tmp_path_factory.mktemp("files")
    write_downloads(home, Site(worked, worked.venue.mark.datum_m, about_tags(worked)))
    return home


@pytest.fixture(scope="module")
def answers(worked):
    return spot_answers(worked, worked.venue.mark.datum_m)


def apart_m(found: gpd.GeoSeries, wanted: list[tuple[float, float]]) -> float:
    there = found.to_crs(CRS)
    return max(np.hypot(p.x - e, p.y - n) for p, (e, n) in zip(there, wanted, strict=True))


def test_geojson_is_of_rfc_7946_and_its_places_and_depths_come_back(folder, worked, answers):
    """RFC 7946: WGS 84, longitude first (4), no "crs" member (4), valid types (1.4)."""
    for name in ("pegs", "spots", "contours"):
        said = json.loads((folder / f"{name}.geojson").read_text("utf-8"))
        assert "crs" not in said
        assert said["type"] == "FeatureCollection"
        assert said["about"]["sign"].startswith("depth positive down")
        read = gpd.read_file(folder / f"{name}.geojson")
        assert read.crs.to_epsg() == 4326
        assert len(read) == len(said["features"]) > 0
    spots = gpd.read_file(folder / "spots.geojson")
    assert apart_m(spots.geometry, [(a.spot.easting, a.spot.northing) for a in answers]) < PLACE_M
    assert spots["depth_m"].tolist() == [round(a.depth_m, 3) for a in answers]
    pegs = gpd.read_file(folder / "pegs.geojson")
    assert pegs["name"].tolist() == [peg.name for peg in worked.venue.pegs]


def test_contours_stay_where_they_are_and_keep_their_depth(folder, worked):
    read = gpd.read_file(folder / "contours.geojson").to_crs(CRS)
    assert read["depth_m"].tolist() == pytest.approx(worked.isobaths["depth_m"].tolist())
    far = [a.hausdorff_distance(b) for a, b in zip(read.geometry, worked.isobaths.geometry, strict=True)]
    assert max(far) < 0.06


def test_rings_turn_as_rfc_7946_has_them(worked):
    """RFC 7946, 3.1.6: exterior rings are counterclockwise."""
    part = in_degrees(worked.venue.water.geoms[0].reverse(), Geodesy(CRS))
    ring = _feature(part, {})["geometry"]["coordinates"][0]
    assert LineString(ring).is_ring
    x, y = np.array(ring)[:, 0], np.array(ring)[:, 1]
    assert np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) > 0


def test_kml_is_read_by_gdal_with_every_placemark(folder, worked, answers):
    layers = {name for name, _ in pyogrio.list_layers(folder / "venue.kml")}
    assert layers == {"Pegs", "Spots", "Contours"}
    spots = gpd.read_file(folder / "venue.kml", layer="Spots")
    assert apart_m(spots.geometry, [(a.spot.easting, a.spot.northing) for a in answers]) < PLACE_M
    pegs = gpd.read_file(folder / "venue.kml", layer="Pegs")
    assert pegs["Name"].tolist() == [f"Peg {peg.name}" for peg in worked.venue.pegs]
    root = ET.parse(folder / "venue.kml").getroot()  # noqa: S314 - our own file
    assert root.tag == "{http://www.opengis.net/kml/2.3}kml"
    assert "Depths are for: the dip at 0.42 m" in root.find(".//{*}Document/{*}description").text


def test_gpx_waypoints_carry_the_setting_in_the_comment(folder, worked, answers):
    """GPX 1.1 schema: wpt has lat and lon, then name, cmt, desc in that order."""
    points = gpd.read_file(folder / "spots.gpx", layer="waypoints")
    assert apart_m(points.geometry, [(a.spot.easting, a.spot.northing) for a in answers]) < PLACE_M
    for comment, answer in zip(points["cmt"], answers, strict=True):
        assert setting_words(worked.venue, answer) in comment
        assert comment.endswith("Plumb before you fish.")
    assert "Set slow-sinking" in points["cmt"].iloc[1]
    first = ET.parse(folder / "spots.gpx").getroot().find("{*}wpt")  # noqa: S314 - our own file
    assert [child.tag.split("}")[1] for child in first] == ["name", "cmt", "desc"]


def test_the_geopackage_says_datum_units_sign_licence_and_days(folder):
    told = pyogrio.read_info(folder / "venue.gpkg", layer="outline")["dataset_metadata"]
    assert told["datum"] == "the dip at 0.42 m"
    assert told["units"] == "metres"
    assert "positive down" in told["sign"]
    assert told["licence"] == "CC BY 4.0"
    assert told["surveyed"] == "2026-05-03 to 2026-06-14"


def test_the_raster_is_cloud_optimised_with_one_marked_corner_where_it_belongs(tmp_path):
    """OGC Cloud Optimized GeoTIFF (21-026): tiled, its overviews inside. The south-west cell is marked."""
    depth = np.full((600, 700), 1500, np.int32)
    sd = np.full((600, 700), 80, np.int32)
    depth[0, 0], depth[599, 699] = 7123, NO_VALUE
    sd[599, 699] = NO_VALUE
    water = MultiPolygon([box(100, 200, 800, 800)])
    split = np.zeros((599, 699), bool)
    bed = Bed(Grid(100.0, 200.0, 1.0, 600, 700), water, depth, sd, np.zeros((600, 700), bool), split)
    write_raster(tmp_path / "depth.tif", bed, CRS, {"sign": "depth positive down", "datum": "board 0.60 m"})
    with rasterio.open(tmp_path / "depth.tif") as tif:
        assert tif.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert tif.block_shapes == [(512, 512), (512, 512)]
        assert tif.overviews(1) == [2]
        assert tif.bounds == (100.0, 200.0, 800.0, 800.0)
        assert tif.tags()["AREA_OR_POINT"] == "Area"
        assert tif.tags()["datum"] == "board 0.60 m"
        assert (tif.units, tif.descriptions[0]) == (("m", "m"), "depth below datum, positive down (m)")
        assert next(tif.sample([(100.5, 200.5)]))[0] == pytest.approx(7.123)
        assert next(tif.sample([(101.01, 200.5)]))[0] == pytest.approx(1.5)
        assert next(tif.sample([(799.5, 799.5)]))[0] == tif.nodata


def test_readings_to_be_shared_meet_the_published_schema(folder, worked):
    """Checked by csbschema, the validator kept for IHO B-12; it also reads it as hydrographic offices do."""
    valid, told = validate_data(folder / "readings-b12.geojson", version="3.1.0-2024-04")
    assert valid, told.get("errors")
    said = json.loads((folder / "readings-b12.geojson").read_text("utf-8"))
    sound = worked.soundings.table[worked.soundings.table["use"] & ~worked.residuals["doubtful"].to_numpy()]
    assert [f["properties"]["depth"] for f in said["features"]] == sound["depth_m"].round(3).tolist()
    read = gpd.read_file(folder / "readings-b12.geojson")
    assert apart_m(read.geometry, list(zip(sound.geometry.x, sound.geometry.y, strict=True))) < PLACE_M
    assert "Sedge" not in json.dumps(said)


def test_a_wrong_document_does_not_pass_the_schema(folder, tmp_path):
    said = json.loads((folder / "readings-b12.geojson").read_text("utf-8"))
    del said["features"][3]["properties"]["time"]
    (tmp_path / "bad.geojson").write_text(json.dumps(said), encoding="utf-8")
    assert not validate_data(tmp_path / "bad.geojson", version="3.1.0-2024-04")[0]


def test_without_a_contact_nothing_is_shared_onward(worked):
    silent = replace(worked.venue, publishing=Publishing())
    assert crowd_geojson(replace(worked, fieldbook=replace(worked.fieldbook, venue=silent)), about_tags(worked)) is None
    hidden = replace(worked, readings_shown=False)
    assert crowd_geojson(hidden, about_tags(worked)) is None
