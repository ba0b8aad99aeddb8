"""A copy that hides where the lake lies: every number of every file is looked at, packed ones too.

The same search finds the place in a copy that does not hide it.
"""

from __future__ import annotations

import base64
import html
import json
import math
import re
import shutil
import sqlite3
import subprocess
import zlib
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
from shapely import get_coordinates
from typer.testing import CliRunner

from maps.cli.main import main as app
from maps.drawing.backdrop import backdrop_of
from maps.drawing.projection import from_mercator, mercator
from maps.privacy.own_frame import in_own_frame, own_crs
from maps.privacy.placeless_files import FILE_CRS, sea_crs, without_place
from maps.privacy.public_copy import public_copy
from maps.site import GEOGRAPHIC, Copy, publish
from survey.errors import SourceRow, SurveyError
from survey.fieldbook import read_fieldbook
from survey.geometry.geodesy import Geodesy
from survey.records.fieldbook import Edge
from survey.records.readings import Cast, Direction, Fix, Intersection, Reading
from survey.reduction.reduce import reduce_soundings
from survey.units.dates import Moment
from tests.made.browser import DESK, tap_water
from tests.made.survey import CRS, EAST, NORTH, in_its_own_frame, made_survey, made_venue, publishing
from tests.maps.drawing.test_backdrop import MARK, red_middle, write

ROOT = Path(__file__).resolve().parents[3]
pytestmark = pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")


@pytest.fixture(scope="module", autouse=True)
def nothing_written_beside():
    """GDAL would keep what it learnt of a file beside it."""
    pyogrio.set_gdal_config_options({"GDAL_PAM_ENABLED": "NO"})
    yield
    pyogrio.set_gdal_config_options({"GDAL_PAM_ENABLED": None})


@pytest.fixture(scope="module")
def told():
    """The made lake as it is, its readings to be shared, its zone, declination and defaults stated."""
    worked = publishing(made_survey(cell_m=2.0), contact="secretary@example.org")
    stated = ("Map grid: the UTM zone of the lake's centre.", *worked.venue.stated)
    venue = replace(worked.venue, timezone="Europe/London", declination_deg=0.5, stated=stated)
    return replace(worked, fieldbook=replace(worked.fieldbook, venue=venue))


@pytest.fixture(scope="module")
def own(told):
    """The same lake worked up in its own frame, its place to be hidden."""
    return in_its_own_frame(told)


@pytest.fixture(scope="module")
def hidden(own, tmp_path_factory):
    target = tmp_path_factory.mktemp("hidden") / "pool"
    publish(own, target)
    return target


@pytest.fixture(scope="module")
def open_site(told, tmp_path_factory):
    target = tmp_path_factory.mktemp("told") / "pool"
    publish(told, target)
    return target


NUMBER = re.compile(r"(?<![\w.#])-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?(?!\w)")
KINDS = {"int16": np.int16, "int32": np.int32, "uint8": np.uint8, "float64": np.float64}


def numbers(path: Path) -> Iterable[float]:
    """Every number in a file that may say a place."""
    if path.suffix == ".gpkg":
        yield from of_database(path)
    elif path.suffix == ".tif":
        with rasterio.open(path) as src:
            yield from (*src.transform[:6], *src.bounds)
            yield from in_text(f"{src.tags()} {src.crs.to_wkt()}")
    elif path.suffix == ".pdf":
        yield from in_text(text_of(path))
        for packed in re.findall(rb"stream\r?\n(.*?)endstream", path.read_bytes(), flags=re.DOTALL):
            # Places on the sheet are below a thousand; only coordinates of a map grid are not.
            yield from (n for n in in_text(unpacked(packed).decode("latin-1")) if abs(n) > 1000)
    else:
        text = path.read_text("utf-8")
        yield from in_text(text)
        yield from of_packed(text)


def in_text(text: str) -> list[float]:
    """Whole numbers of five figures and more, and those with three decimals and more."""
    found = NUMBER.findall(html.unescape(text))
    return [float(n) for n in found if len(n.partition(".")[2]) >= 3 or len(n.lstrip("-")) >= 5]


def unpacked(packed: bytes) -> bytes:
    try:
        return zlib.decompress(packed)
    except zlib.error:
        return packed


def of_packed(text: str) -> Iterable[float]:
    """Arrays that a page holds deflated, and as they are."""
    for kind, deflated in re.findall(r'"type":"(\w+)","deflated":"([^"]+)"', text):
        yield from np.frombuffer(zlib.decompress(base64.b64decode(deflated)), KINDS[kind]).astype(float)
    for kind, raw in re.findall(r'"type":"(\w+)","deflated":"[^"]+","raw":"([^"]+)"', text):
        yield from np.frombuffer(base64.b64decode(raw), KINDS[kind]).astype(float)


def of_database(path: Path) -> Iterable[float]:
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as base:
        tables = [name for (name,) in base.execute("select name from sqlite_master where type = 'table'")]
        for table in tables:
            for row in base.execute(f'select * from "{table}"'):  # noqa: S608 - names from the file itself
                yield from (float(cell) for cell in row if isinstance(cell, float))
                yield from in_text(" ".join(cell for cell in row if isinstance(cell, str)))
    for layer in pyogrio.list_layers(path)[:, 0]:
        yield from get_coordinates(gpd.read_file(path, layer=layer).geometry).ravel()


def text_of(path: Path) -> str:
    if path.suffix == ".pdf":
        return subprocess.run(["pdftotext", path, "-"], capture_output=True, check=True, text=True).stdout
    return path.read_bytes().decode("utf-8", errors="replace")


def leaks(path: Path, told, mine: Iterable[float] = ()) -> set[str]:
    """In which ways a file tells the place: a number within the lake, in degrees, on its grid, in Web Mercator.

    ``mine`` are numbers that say something else: a corner of the shore may lie 54.1015 m north of the copy's own.
    """
    west, south, east, north = told.venue.water.bounds
    lon, lat = Geodesy(CRS).lonlat(np.array([west, east]), np.array([south, north]))
    x, y = mercator(lon, lat)
    ways = {
        "longitude": (lon[0] - 0.001, lon[1] + 0.001), "latitude": (lat[0] - 0.001, lat[1] + 0.001),
        "easting": (west - 60, east + 60), "northing": (south - 60, north + 60),
        "mercator x": (x[0] - 90, x[1] + 90), "mercator y": (y[0] - 90, y[1] + 90),
        "offset easting": ((west - 60) * 1000, (east + 60) * 1000),
        "offset northing": ((south - 60) * 1000, (north + 60) * 1000),
    }  # fmt: skip
    values = np.fromiter(numbers(path), float)
    values = values[~np.isin(np.round(values, 6), np.round(np.array([*mine]), 6))]
    found = {name for name, (low, high) in ways.items() if ((values >= low) & (values <= high)).any()}
    words = {word for word in ("32630", "UTM zone", "Europe/London", "zone 30") if word in text_of(path)}
    return found | words


def files_of(site: Path) -> dict[str, Path]:
    return {str(path.relative_to(site)): path for path in sorted(site.rglob("*")) if path.is_file()}


def test_no_file_of_the_copy_tells_the_place(hidden, told, own):
    files, mine = files_of(hidden), get_coordinates(without_place(public_copy(own)).venue.water).ravel()
    assert len(files) >= 5 + len(told.venue.pegs)
    assert {name: found for name, path in files.items() if (found := leaks(path, told, mine))} == {}


def test_the_same_search_finds_it_where_it_is_not_hidden(open_site, told):
    found = {name: leaks(path, told) for name, path in files_of(open_site).items()}
    assert {"easting", "northing", "longitude", "latitude"} <= found["map.html"]
    assert {"easting", "northing"} <= found["pegs/peg-12.html"]
    assert {"easting", "northing", "longitude", "latitude", "32630"} <= found["files/venue.gpkg"]
    assert {"easting", "northing", "UTM zone"} <= found["files/depth.tif"]
    for name in GEOGRAPHIC:
        assert {"longitude", "latitude"} <= found[f"files/{name}"]


def test_the_search_looks_into_what_is_packed(tmp_path, told):
    values = base64.b64encode(zlib.compress(np.array([EAST, NORTH]).tobytes())).decode()
    path = tmp_path / "a.html"
    path.write_text(f'{{"type":"float64","deflated":"{values}"}}', encoding="utf-8")
    assert leaks(path, told) == {"easting", "northing"}


def test_files_that_know_only_degrees_are_left_out_and_that_is_said(hidden, browser):
    names = {path.name for path in (hidden / "files").iterdir()}
    assert names == {"venue.gpkg", "depth.tif", "settings.csv"}
    assert json.loads((hidden / "site.json").read_text("utf-8"))["left_out"] == list(GEOGRAPHIC)
    page = browser.new_page()
    page.goto((hidden / "index.html").as_uri())
    assert "The lake's location is left out" in page.inner_text("body")
    page.close()


def test_vectors_and_raster_name_an_engineering_system_and_agree(hidden, own):
    venue = own.venue
    with rasterio.open(hidden / "files" / "depth.tif") as src:
        assert src.crs.to_wkt().startswith(('LOCAL_CS["Metres east and north', 'ENGCRS["Metres east and north'))
        assert not src.crs.is_geographic
        assert not src.crs.is_projected
        depth, _, bounds = src.read(1), src.transform, src.bounds
        outline = gpd.read_file(hidden / "files" / "venue.gpkg", layer="outline")
        assert outline.crs.name == "Metres east and north of a corner of the water"
        west, south, *_ = outline.total_bounds
        assert bounds.left <= west < bounds.left + 2 * src.res[0]
        assert bounds.bottom <= south < bounds.bottom + 2 * src.res[0]
        assert 0 <= west < 1.0
        assert 0 <= south < 1.0
        spots = gpd.read_file(hidden / "files" / "venue.gpkg", layer="spots")
        for spot in spots.itertuples():
            row, column = src.index(spot.geometry.x, spot.geometry.y)
            here = depth[row, column]
            assert here == src.nodata or abs(here - spot.datum_depth_m) < 1.0
    assert outline.area.iloc[0] == pytest.approx(venue.water.area, rel=1e-9)


def test_the_pegs_of_the_copy_have_no_degrees(hidden):
    pegs = gpd.read_file(hidden / "files" / "venue.gpkg", layer="pegs")
    assert {"lon", "lat"} & set(pegs.columns) == set()


def test_north_stays_true_north_and_metres_stay_metres(hidden):
    """A spot lies at its bearing and distance from its peg by plain trigonometry in the copy's metres."""
    pegs = gpd.read_file(hidden / "files" / "venue.gpkg", layer="pegs").set_index("name")
    spots = gpd.read_file(hidden / "files" / "venue.gpkg", layer="spots")
    assert len(spots) > 10
    for spot in spots.itertuples():
        at = pegs.geometry[spot.peg]
        e, n = spot.geometry.x - at.x, spot.geometry.y - at.y
        off = (math.degrees(math.atan2(e, n)) - spot.bearing_deg + 180) % 360 - 180
        assert abs(off) < 0.02
        assert math.hypot(e, n) == pytest.approx(spot.distance_m, rel=1e-5)


def test_pegs_keep_their_true_places_to_one_another(hidden, told):
    """Held against the ellipsoid at the true place (pyproj's Geod)."""
    pegs = gpd.read_file(hidden / "files" / "venue.gpkg", layer="pegs").set_index("name")
    geometry = Geodesy(CRS)
    first, *others = told.venue.pegs
    for peg in others:
        bearing, far = geometry.bearing_distance(first.lon, first.lat, peg.easting, peg.northing)
        e, n = (getattr(pegs.geometry[peg.name], k) - getattr(pegs.geometry[first.name], k) for k in ("x", "y"))
        assert math.hypot(e, n) == pytest.approx(far, abs=0.005)
        assert abs((math.degrees(math.atan2(e, n)) - bearing + 180) % 360 - 180) < 0.02


def test_the_page_answers_as_the_hidden_survey_does(hidden, own, opened):
    copy = without_place(public_copy(own))
    page = opened(DESK, hidden / "map.html")
    for spot in copy.spots[:8]:
        asked = {"peg": spot.peg, "angle_deg": spot.angle_deg, "distance_m": spot.distance_m}
        answer = page.evaluate("asked => window.lakeplumb.ask(asked)", asked)
        depth, _, _ = copy.bed.at(np.array([spot.easting]), np.array([spot.northing]))
        assert answer["datum_depth_m"] == pytest.approx(float(depth[0]), abs=0.002)
        assert answer["lon"] is None
        assert answer["lat"] is None


def test_a_spot_without_a_peg_is_told_in_metres_from_the_corner(own, tmp_path, opened):
    bare = replace(own, fieldbook=replace(own.fieldbook, venue=replace(own.venue, pegs=())), spots=())
    publish(bare, tmp_path / "pool")
    page = opened(DESK, tmp_path / "pool" / "map.html")
    tap_water(page)
    assert re.fullmatch(r"\d+\.\d m east and \d+\.\d m north of the chart's corner", page.inner_text(".where"))


def test_a_survey_on_a_map_grid_is_not_published_without_its_place(told, tmp_path):
    with pytest.raises(SurveyError, match=r"hide_place.*in_own_frame"):
        publish(publishing(told, hides_place=True), tmp_path / "pool")
    assert not (tmp_path / "pool").exists()


def test_the_picture_of_the_ground_is_moved_too(own, tmp_path):
    write(tmp_path / "background.tif")
    backdrop = backdrop_of(tmp_path, made_venue(), own.venue)
    copy = without_place(public_copy(own))
    lon, lat = Geodesy(CRS).lonlat(*MARK)
    west, south, *_ = own.venue.water.bounds
    e, n = Geodesy(own.venue.crs).xy(lon, lat)
    expected = mercator(*Geodesy(copy.venue.crs).lonlat(e - math.floor(west), n - math.floor(south)))
    x, y = red_middle(backdrop)
    assert np.hypot(x - expected[0], y - expected[1]) * math.cos(math.radians(60)) < 1.0
    assert from_mercator(x, y)[1] == pytest.approx(60.0, abs=0.01)


def test_a_picture_that_lies_where_the_lake_does_is_refused(own, told, tmp_path):
    write(tmp_path / "background.tif")
    with pytest.raises(SurveyError, match="picture of the ground"):
        publish(own, tmp_path / "pool", Copy(backdrop=backdrop_of(tmp_path, told.venue)))


def test_the_same_survey_hides_to_the_same_bytes(own, hidden, tmp_path):
    publish(own, tmp_path / "again")
    assert {name: path.read_bytes() for name, path in files_of(hidden).items()} == {
        name: path.read_bytes() for name, path in files_of(tmp_path / "again").items()
    }


def test_readings_of_every_form_are_moved_to_where_they_were_taken():
    """Casts by clock and grid bearing, crossed sights, fixes on the grid and in degrees, edges: all on the ground."""
    book = read_fieldbook(ROOT / "data" / "sallowby-pit")
    venue = replace(book.venue, publishing=replace(book.venue.publishing, hides_place=True))
    when = next(reading.when for reading in book.readings if reading.when)
    day = Moment(when.instant, when.half_width, when.day)
    one, two = venue.pegs[0], venue.pegs[5]
    water = venue.water.representative_point()
    lon, lat = (float(v) for v in Geodesy(venue.crs).lonlat(water.x, water.y))

    def grid_bearing(peg):
        to = math.degrees(math.atan2(water.x - peg.easting, water.y - peg.northing)) % 360
        return Direction("bearing", to, "compass", "grid")

    wheres = [
        Cast(Direction("clock", 0.0, "half hours"), 9.0, "estimated"), Cast(grid_bearing(one), 9.0, "tape"),
        Intersection(grid_bearing(one), two.name, grid_bearing(two)), Fix(water.x, water.y, "venue", 1.0),
        Fix(lon, lat, "lonlat", 1.0),
    ]  # fmt: skip
    readings = tuple(
        Reading(SourceRow("a.csv", k), one.name, where, depth_m=1.0, when=day)
        for k, where in enumerate(wheres, start=2)
    )
    edge = Edge(SourceRow("edges.gpx", 1), "low", day, ((water.x, water.y), (water.x + 5.0, water.y)), 1.0)
    book = replace(book, venue=venue, readings=readings, edges=(edge,))
    moved = in_own_frame(book)
    assert moved.venue.crs == own_crs(venue)
    there, here = reduce_soundings(book)[0], reduce_soundings(moved)[0]
    assert len(there) == len(here) >= len(wheres)
    assert np.abs(on_ground(there, venue.crs) - on_ground(here, moved.venue.crs)).max() < 2e-8
    shore = get_coordinates(venue.water.boundary)
    again = get_coordinates(moved.venue.water.boundary)
    assert np.abs(degrees(shore, venue.crs) - degrees(again, moved.venue.crs)).max() < 2e-8


def degrees(xy, crs) -> np.ndarray:
    return np.column_stack(Geodesy(crs).lonlat(xy[:, 0], xy[:, 1]))


def on_ground(soundings, crs) -> np.ndarray:
    return degrees(soundings.xy, crs)


def test_a_venue_that_does_not_hide_is_left_as_it_is():
    book = read_fieldbook(ROOT / "data" / "sallowby-pit")
    assert in_own_frame(book) is book


def test_nothing_of_the_true_frame_is_left_in_the_copy(own):
    copy = without_place(public_copy(own))
    assert copy.venue.crs == sea_crs(own.venue)
    assert copy.venue.timezone == "UTC"
    assert copy.venue.declination_deg is None
    assert not any("UTM" in line for line in copy.venue.stated)
    assert copy.bed.sampler is None
    assert str(copy.soundings.table.crs) == str(copy.isobaths.crs)
    assert "lat_0=60" in copy.soundings.table.crs.srs
    assert np.array_equal(copy.bed.depth_mm, own.bed.depth_mm)
    assert FILE_CRS.startswith("ENGCRS")


def test_the_command_hides_the_place_and_says_what_it_cannot_hide(tmp_path):
    folder = tmp_path / "venue"
    shutil.copytree(ROOT / "data" / "sallowby-pit", folder)
    settings = folder / "venue.toml"
    settings.write_text(settings.read_text("utf-8") + "\n[publish]\nhide_place = true\n", encoding="utf-8")
    ran = CliRunner().invoke(app, ["publish", str(folder), "--out", str(tmp_path / "site"), "--cell", "4"])
    assert ran.exit_code == 0, ran.output
    assert "Check that names, notes, access and emergency texts do not give it away" in ran.output
    demo = SimpleNamespace(venue=read_fieldbook(folder).venue)
    files = files_of(tmp_path / "site")
    found = {
        name: leaks(path, demo) & {"easting", "northing", "mercator x", "mercator y"} for name, path in files.items()
    }
    assert {name: ways for name, ways in found.items() if ways} == {}
