"""Every file read back by GDAL's own programs, an installation of its own and no library that wrote them.

Skipped, and said, where they are not installed: apt-get install gdal-bin
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, box, shape

from maps.files.geotiff import NODATA, write_raster
from maps.site import DOWNLOADS, publish
from survey.bed.grid import NO_VALUE, Bed, Grid
from survey.geometry.geodesy import Geodesy
from tests.made.survey import CRS, in_its_own_frame, made_survey, publishing

TOOLS = ("gdalinfo", "gdallocationinfo", "ogrinfo", "ogr2ogr")
absent = [tool for tool in TOOLS if shutil.which(tool) is None]
pytestmark = pytest.mark.skipif(bool(absent), reason=f"no {', '.join(absent)}: apt-get install gdal-bin")
PLACE_M = 0.002
"""Eight decimals of a degree are a millimetre; two of them lie between."""
LAYERS = {
    "outline": "Multi Polygon", "pegs": "Point", "readings": "Point", "contours": "Multi Line String", "spots": "Point",
}  # fmt: skip


def told(*command: object) -> str:
    """What a program prints; what it keeps of a file beside it is not wanted."""
    silent = os.environ | {"GDAL_PAM_ENABLED": "NO", "OGR_GEOJSON_MAX_OBJ_SIZE": "0"}
    ran = subprocess.run([str(part) for part in command], capture_output=True, check=False, text=True, env=silent)
    assert ran.returncode == 0, f"{command}: {ran.stderr}"
    return ran.stdout


def raster_told(path: Path) -> dict:
    return json.loads(told("gdalinfo", "-json", "-stats", path))


def at(path: Path, x: float, y: float) -> list[float]:
    """The bands at a place given in the file's own coordinates."""
    return [float(v) for v in told("gdallocationinfo", "-valonly", "-geoloc", path, x, y).split()]


def features(path: Path, layer: str) -> list[dict]:
    """Features of a layer, in degrees to a tenth of a millimetre."""
    out = told("ogr2ogr", "-f", "GeoJSONSeq", "-lco", "COORDINATE_PRECISION=9", "/vsistdout/", path, layer)
    return [json.loads(line.lstrip("\x1e")) for line in out.splitlines() if line.strip()]


def rows(path: Path, layer: str) -> list[dict[str, str]]:
    """Features of a layer of points as rows, ``X`` and ``Y`` as they are stored."""
    out = told("ogr2ogr", "-f", "CSV", "-lco", "GEOMETRY=AS_XY", "/vsistdout/", path, layer)
    return list(csv.DictReader(io.StringIO(out)))


def places(found: list[dict[str, str]]) -> np.ndarray:
    return np.array([[float(row["X"]), float(row["Y"])] for row in found])


@pytest.fixture(scope="module")
def worked():
    return publishing(made_survey(cell_m=2.0), contact="club@example.org")


@pytest.fixture(scope="module")
def files(worked, tmp_path_factory):
    target = tmp_path_factory.mktemp("gdal") / "pool"
    publish(worked, target)
    return target / "files"


@pytest.fixture(scope="module")
def marked(tmp_path_factory):
    """700 rows and 1100 columns of 2 m: the south-west cell is marked, the north-east corner is land."""
    depth, sd = np.full((700, 1100), 1500, np.int32), np.full((700, 1100), 80, np.int32)
    depth[0, 0], sd[0, 0] = 7123, 456
    depth[500:, 800:] = sd[500:, 800:] = NO_VALUE
    water = MultiPolygon([box(100, 200, 2300, 1600).difference(box(1700, 1200, 2300, 1600))])
    none = np.zeros((700, 1100), bool)
    bed = Bed(Grid(100.0, 200.0, 2.0, 700, 1100), water, depth, sd, none, none[1:, 1:])
    path = tmp_path_factory.mktemp("marked") / "depth.tif"
    write_raster(path, bed, CRS, {"sign": "depth positive down", "datum": "board 0.60 m"})
    return path


def test_the_raster_lies_by_its_outer_corners_north_up(marked):
    said = raster_told(marked)
    assert said["geoTransform"] == [100.0, 2.0, 0.0, 1600.0, 0.0, -2.0]
    assert said["size"] == [1100, 700]
    assert said["cornerCoordinates"]["lowerLeft"] == [100.0, 200.0]
    assert said["cornerCoordinates"]["upperRight"] == [2300.0, 1600.0]
    assert said["metadata"][""]["AREA_OR_POINT"] == "Area"


def test_the_marked_corner_is_met_over_the_whole_of_its_cell_and_nowhere_else(marked):
    """Half a cell off, and one of these would miss."""
    for x, y in ((100.01, 200.01), (101.0, 201.0), (101.99, 201.99)):
        assert at(marked, x, y) == pytest.approx([7.123, 0.456], abs=1e-6)
    for x, y in ((102.01, 201.0), (101.0, 202.01)):
        assert at(marked, x, y) == pytest.approx([1.5, 0.08], abs=1e-6)
    assert at(marked, 2299.0, 1599.0) == [NODATA, NODATA]


def test_the_raster_says_system_units_nodata_and_what_its_bands_are(marked):
    said = raster_told(marked)
    assert re.search(r'ID\["EPSG",32630\]\]$', said["coordinateSystem"]["wkt"])
    first, second = said["bands"]
    assert [band["type"] for band in said["bands"]] == ["Float32", "Float32"]
    assert [band["noDataValue"] for band in said["bands"]] == [NODATA, NODATA]
    assert [band["unit"] for band in said["bands"]] == ["m", "m"]
    assert "positive down" in first["description"]
    assert "standard deviation" in second["description"]
    assert (first["minimum"], first["maximum"]) == pytest.approx((1.5, 7.123))
    assert said["metadata"][""]["datum"] == "board 0.60 m"


def test_the_raster_is_laid_out_for_the_cloud_with_smaller_copies(marked):
    said = raster_told(marked)
    assert said["metadata"]["IMAGE_STRUCTURE"]["LAYOUT"] == "COG"
    assert [band["block"] for band in said["bands"]] == [[512, 512]] * 2
    assert all(band["overviews"] for band in said["bands"])
    small = told("gdallocationinfo", "-valonly", "-geoloc", "-overview", "1", "-b", "1", marked, 2299.0, 1599.0)
    assert float(small) == NODATA


def test_gdal_s_own_validator_passes_the_raster(marked, files):
    """GDAL's validate_cloud_optimized_geotiff, of its Python programs."""
    python = next((p for p in ("/usr/bin/python3", shutil.which("python3")) if p and _has_validator(p)), None)
    if python is None:
        pytest.skip("no osgeo_utils beside GDAL: apt-get install python3-gdal")
    for path in (marked, files / "depth.tif"):
        said = told(python, "-m", "osgeo_utils.samples.validate_cloud_optimized_geotiff", path)
        assert "is a valid cloud optimized GeoTIFF" in said


def _has_validator(python: str) -> bool:
    asked = [python, "-c", "import osgeo_utils.samples.validate_cloud_optimized_geotiff"]
    return subprocess.run(asked, capture_output=True, check=False).returncode == 0


def test_the_published_raster_is_the_bed(files, worked):
    grid = worked.bed.grid
    i, j = np.argwhere(worked.bed.on_water)[len(worked.bed.water.geoms) + 40]
    depth, sd = at(files / "depth.tif", grid.eastings[j], grid.northings[i])
    assert (depth, sd) == pytest.approx((worked.bed.depth_mm[i, j] / 1000, worked.bed.sd_mm[i, j] / 1000), abs=1e-6)
    assert raster_told(files / "depth.tif")["metadata"][""]["sign"].startswith("depth positive down")


def test_every_file_but_the_table_is_opened(files):
    names = {path.name for path in files.iterdir()}
    assert names == set(DOWNLOADS)
    for name in names - {"depth.tif", "settings.csv"}:
        assert "successful" in told("ogrinfo", "-ro", files / name)


def test_the_geopackage_has_its_layers_in_the_venue_s_system_with_what_they_say(files, worked):
    text = told("ogrinfo", "-ro", "-so", "-al", files / "venue.gpkg")
    assert re.findall(r"^Layer name: (.+)$", text, re.MULTILINE) == list(LAYERS)
    assert re.findall(r"^Geometry: (.+)$", text, re.MULTILINE) == list(LAYERS.values())
    assert text.count('ID["EPSG",32630]]') == len(LAYERS)
    assert "datum=the dip at 0.42 m" in text
    assert "sign=depth positive down" in text
    assert re.findall(r"^Feature Count: (\d+)$", text, re.MULTILINE)[1] == str(len(worked.venue.pegs))


def test_the_geopackage_has_pegs_and_readings_where_they_are(files, worked):
    pegs = rows(files / "venue.gpkg", "pegs")
    assert [peg["name"] for peg in pegs] == [peg.name for peg in worked.venue.pegs]
    wanted = np.array([[peg.easting, peg.northing] for peg in worked.venue.pegs])
    assert np.abs(places(pegs) - wanted).max() < PLACE_M
    readings = rows(files / "venue.gpkg", "readings")
    assert np.abs(places(readings) - worked.soundings.xy).max() < PLACE_M
    assert [float(row["depth_m"]) for row in readings] == pytest.approx(worked.soundings.table["depth_m"].tolist())


@pytest.mark.parametrize(
    ("name", "layer"),
    [
        ("pegs.geojson", "pegs"), ("spots.geojson", "spots"), ("contours.geojson", "contours"), ("venue.kml", "Pegs"),
        ("venue.kml", "Spots"), ("venue.kml", "Contours"), ("spots.gpx", "waypoints"),
        ("readings-b12.geojson", "readings-b12"),
    ],
)  # fmt: skip
def test_files_in_degrees_lie_over_the_lake(files, worked, name, layer):
    """WGS 84, longitude first: swapped, or on another datum, they would lie elsewhere."""
    assert "WGS 84" in told("ogrinfo", "-ro", "-so", files / name, layer)
    west, south, east, north = worked.venue.water.bounds
    geometry = Geodesy(CRS)
    for feature in features(files / name, layer):
        x, y = geometry.xy(*np.array(shape(feature["geometry"]).centroid.coords[0][:2]))
        assert west - 3 < x < east + 3
        assert south - 3 < y < north + 3


def test_spots_lie_to_the_millimetre_and_their_comment_has_the_setting(files, worked):
    geometry = Geodesy(CRS)
    waypoints = features(files / "spots.gpx", "waypoints")
    assert len(waypoints) == len(worked.spots)
    for point, spot in zip(waypoints, worked.spots, strict=True):
        x, y = geometry.xy(*point["geometry"]["coordinates"][:2])
        assert np.hypot(x - spot.easting, y - spot.northing) < PLACE_M
        assert "Plumb before you fish." in point["properties"]["cmt"]


def test_a_copy_without_its_place_is_in_an_engineering_system(worked, tmp_path):
    publish(in_its_own_frame(worked), tmp_path / "pool")
    said = json.loads(told("gdalinfo", "-json", tmp_path / "pool" / "files" / "depth.tif"))
    assert said["coordinateSystem"]["wkt"].startswith('ENGCRS["Metres east and north of a corner of the water"')
    assert abs(said["geoTransform"][0]) < 3.0
    text = told("ogrinfo", "-ro", "-so", "-al", tmp_path / "pool" / "files" / "venue.gpkg")
    assert text.count('ENGCRS["Metres east and north of a corner of the water"') == len(LAYERS)
    outline = re.search(r"Extent: \(([\d.-]+), ([\d.-]+)\)", text)
    assert 0 <= float(outline[1]) < 1 > float(outline[2]) >= 0
