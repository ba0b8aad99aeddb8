"""Outlines of several files: parts put together, versions compared; walks smoothed, closed and counted once."""

import json
from itertools import permutations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import scale, translate
from shapely.geometry import LinearRing, LineString, MultiLineString, Point, Polygon, box

from survey.errors import FieldbookError
from survey.fieldbook import read_fieldbook
from survey.fieldbook.venue.walked_shore import closing_part, is_walk, walked
from survey.findings import Grade
from tests.made.findings import found

LAKE = box(545000, 5995000, 545200, 5995120)
ISLAND = box(545080, 5995040, 545120, 5995080)
NO_PEGS = "peg,easting,northing,facing\n1,545000,5995060,90\n"
TOML = 'name = "Quillmere"\ncrs = "EPSG:32630"\n'
BAY = Polygon([(0, 0), (200, 0), (200, 60), (120, 60), (120, 120), (0, 120)])
"""An invented shore with a corner inwards."""
PHONE_M = 3.0


def steps(shore, step_m: float, sd_m: float, seed: int = 1, laps: int = 1, start_m: float = 0.0):
    """Points of a walk along a shore, each off by a phone's error."""
    at = start_m + np.arange(0, shore.length * laps, step_m)
    points = shapely.get_coordinates(shapely.line_interpolate_point(shore, at % shore.length))
    return points + np.random.default_rng(seed).normal(0, sd_m, points.shape) if sd_m else points


def geojson(*shapes, names=()) -> str:
    frame = gpd.GeoSeries(list(shapes), crs="EPSG:32630").to_crs("EPSG:4326")
    features = [
        {"type": "Feature", "properties": {"name": name}, "geometry": shape.__geo_interface__}
        for shape, name in zip(frame, names or [""] * len(shapes), strict=True)
    ]
    return json.dumps({"type": "FeatureCollection", "features": features})


def write_track(path, *lines):
    shapes = [MultiLineString([line]) for line in lines]
    frame = gpd.GeoDataFrame({"name": [f"Walk {k}" for k in range(len(lines))]}, geometry=shapes, crs="EPSG:32630")
    frame.to_crs("EPSG:4326").to_file(path, driver="GPX", layer="tracks")


@pytest.fixture
def venue(folder):
    """Reads a venue whose outline files are given: text for GeoJSON, lines for GPX."""

    def read(toml="", **files):
        target = folder(TOML + toml, outline__geojson=None, pegs__csv=NO_PEGS)
        for name, content in files.items():
            if isinstance(content, str):
                (target / f"{name}.geojson").write_text(content)
            else:
                write_track(target / f"{name}.gpx", *content)
        return read_fieldbook(target)

    return read


def test_a_walked_shore_and_islands_drawn_in_another_file_make_one_water(venue):
    walk = LineString(steps(LAKE.exterior, 2.0, 0.0))
    book = venue(outline_walk=[walk], outline_islands=geojson(ISLAND))
    assert book.venue.water.area == pytest.approx(LAKE.area - ISLAND.area, rel=1e-3)
    (told,) = found(book, "outline-parts")
    assert told.problem.endswith("outline_islands.geojson, outline_walk.gpx")
    (told,) = found(book, "island-taken")
    assert told.place.file == "outline_islands.geojson"


def test_an_aerial_trace_stands_before_a_walk_and_the_difference_is_told(venue):
    wide = scale(LAKE, 1.06, 1.0)
    book = venue(outline_walk=[LineString(steps(wide.exterior, 2.0, 0.0))], outline_air=geojson(LAKE))
    assert book.venue.water.area == pytest.approx(LAKE.area, rel=1e-4)
    (told,) = found(book, "outline-versions")
    assert (told.grade, told.place.file) == (Grade.WARNING, "outline_walk.gpx")
    assert "which is used (a drawn line before a walked one); this one is 6.0% larger (1440 m²)" in told.problem
    # 200 m made 6 % wider about its middle: 6 m on each side.
    assert "up to 6 m apart, near lon" in told.problem
    assert '[files] outline = ["outline_walk.gpx"]' in told.remedy


def test_the_files_that_are_named_are_the_ones_used(venue):
    wide = scale(LAKE, 1.06, 1.0)
    files = {"outline_walk": [LineString(steps(wide.exterior, 2.0, 0.0))], "outline_air": geojson(LAKE)}
    book = venue('[files]\noutline = ["outline_walk.gpx"]\n', **files)
    assert book.venue.water.area == pytest.approx(wide.area, rel=1e-3)
    assert not found(book, "outline-versions")


def test_all_files_that_are_named_are_read(venue):
    files = {"shore": geojson(LAKE), "middle": geojson(ISLAND)}
    book = venue('[files]\noutline = ["shore.geojson", "middle.geojson"]\n', **files)
    assert book.venue.water.area == pytest.approx(LAKE.area - ISLAND.area, rel=1e-4)


@pytest.mark.parametrize("sds", [(1.0, 3.0), (3.0, 1.0)])
def test_of_two_walks_of_one_shore_the_less_scattered_is_used(venue, sds):
    walks = {f"outline_{k}": [LineString(steps(LAKE.exterior, 2.0, sd, k))] for k, sd in enumerate(sds)}
    book = venue(**walks)
    (told,) = found(book, "outline-versions")
    assert told.place.file == f"outline_{sds.index(3.0)}.gpx"
    assert "the walk that scatters less" in told.problem
    assert book.venue.water.area == pytest.approx(LAKE.area, rel=0.01)


def test_two_walks_in_one_file_are_two_versions_and_no_island(venue):
    first, second = (LineString(steps(LAKE.exterior, 2.0, 2.0, seed)) for seed in (1, 2))
    book = venue(outline=[first, second])
    assert book.venue.water.area == pytest.approx(LAKE.area, rel=0.01)
    assert len(found(book, "outline-versions")) == 1


def test_versions_that_hardly_differ_are_a_note(venue):
    book = venue(outline_a=geojson(LAKE), outline_b=geojson(translate(LAKE, 0.5, 0.5)))
    (told,) = found(book, "outline-versions")
    assert told.grade is Grade.NOTE


def test_files_that_overlap_in_part_are_joined_with_a_warning(venue):
    beside = translate(LAKE, 150, 0)
    book = venue(outline_a=geojson(LAKE), outline_b=geojson(beside))
    assert book.venue.water.area == pytest.approx(350 * 120, rel=1e-4)
    (told,) = found(book, "outline-overlap")
    assert "by 6000 m²" in told.problem
    assert told.grade is Grade.WARNING


def test_islands_of_one_name_in_two_files_are_cut_out_once(venue):
    island = translate(ISLAND, 1, 0)
    names = ["Long Island"]
    book = venue(outline=geojson(LAKE), outline_a=geojson(ISLAND, names=names), outline_b=geojson(island, names=names))
    assert book.venue.water.area == pytest.approx(LAKE.area - ISLAND.area, rel=1e-3)
    assert len(found(book, "outline-versions")) == 1


def test_names_of_files_change_nothing_but_what_is_said(venue):
    contents = [geojson(LAKE), geojson(ISLAND), [LineString(steps(LAKE.exterior, 2.0, 3.0))]]
    waters = {
        venue(**dict(zip(("outline_a", "outline_b", "outline_c"), order, strict=True))).venue.water.wkb
        for order in permutations(contents)
    }
    assert len(waters) == 1


def test_two_halves_of_a_shore_are_joined_end_to_end(venue):
    points = steps(LAKE.exterior, 2.0, 0.0)
    first, second = LineString(points[:150]), LineString(points[:149:-1])
    book = venue(outline_north=[first], outline_south=[second])
    assert book.venue.water.area == pytest.approx(LAKE.area, rel=1e-3)
    (told,) = found(book, "lines-joined")
    assert "2 lines follow each other" in told.problem
    assert "gaps of up to 2 m" in told.problem


def test_halves_that_leave_too_wide_a_gap_are_refused_by_name(venue):
    points = steps(LAKE.exterior, 2.0, 0.0)
    with pytest.raises(FieldbookError, match="line whose ends lie"):
        venue(outline_north=[LineString(points[:120])], outline_south=[LineString(points[150:280])])


def test_a_walk_is_smoothed_and_the_figure_told(venue):
    book = venue(outline=[LineString(steps(LAKE.exterior, 1.5, PHONE_M))])
    (told,) = found(book, "walk-smoothed")
    scatter = float(told.problem.split("scatter by ")[1].split(" m")[0])
    assert scatter == pytest.approx(PHONE_M, rel=0.15)  # of 427 points
    assert book.venue.water.area == pytest.approx(LAKE.area, rel=0.015)
    off = shapely.distance(shapely.points(shapely.get_coordinates(book.venue.water)), LAKE.exterior)
    # A third of what its points were off: each is borne out by its neighbours.
    assert np.sqrt(np.mean(off**2)) < 0.5 * PHONE_M


def test_a_walk_that_goes_round_twice_is_one_shore(venue):
    book = venue(outline=[LineString(steps(BAY_HERE.exterior, 1.5, 2.0, laps=2))])
    assert book.venue.water.area == pytest.approx(BAY_HERE.area, rel=0.01)
    (told,) = found(book, "walk-laps")
    assert "goes round 2 times" in told.problem


def test_a_walk_with_a_way_to_the_water_and_on_past_its_start(venue):
    way = np.column_stack([np.arange(-60, 0, 2.0) + 545000, np.full(30, 5995000.0)])
    past = steps(LAKE.exterior, 2.0, 0.0)[:15]
    book = venue(outline=[LineString(np.vstack([way, steps(LAKE.exterior, 2.0, 0.0), past]))])
    assert book.venue.water.area == pytest.approx(LAKE.area, rel=2e-3)
    assert "of track before or after it closes" in found(book, "walk-cut")[0].problem


def test_a_drawn_line_keeps_its_corners(venue):
    corners = LineString(BAY_HERE.exterior.coords)
    book = venue(outline=[corners])
    assert book.venue.water.symmetric_difference(BAY_HERE).area < 1.0
    assert not found(book, "walk-smoothed")


BAY_HERE = translate(BAY, 545000, 5995000)


@pytest.mark.parametrize("sd_m", [1.0, PHONE_M])
@pytest.mark.parametrize("step_m", [1.0, 3.0])
def test_a_smoothed_walk_keeps_area_and_corners_beyond_its_error(sd_m, step_m):
    walk = walked(steps(BAY.exterior, step_m, sd_m))
    assert walk.scatter_m == pytest.approx(sd_m, rel=0.15)
    assert Polygon(walk.points).area == pytest.approx(BAY.area, rel=0.015)
    off = shapely.distance(shapely.points(shapely.get_coordinates(BAY)), LinearRing(walk.points))
    # A corner counts as cut where the line misses it by more than its points may miss it (99 %, both axes).
    assert off.max() < 3.1 * sd_m + 0.5 * step_m


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0, 640))
def test_where_a_walk_begins_hardly_matters(seed, start_m):
    points = steps(BAY.exterior, 2.0, 2.0, seed % 1000, start_m=start_m)
    again = walked(np.roll(points, len(points) // 3, axis=0))
    assert Polygon(walked(points).points).symmetric_difference(Polygon(again.points)).area < 0.002 * BAY.area


def test_a_steady_walk_is_left_as_it_is():
    points = steps(Point(0, 0).buffer(80).exterior, 2.0, 0.0)
    walk = walked(points)
    assert (walk.scatter_m, walk.laps) == (0.0, 1)
    assert np.array_equal(walk.points, points)


@pytest.mark.parametrize("laps", [1, 2, 3, 4])
def test_laps_are_counted(laps):
    assert walked(steps(BAY.exterior, 2.0, 1.0, laps=laps)).laps == laps


def test_what_closes_is_not_cut():
    points = steps(BAY.exterior, 2.0, 0.0)
    kept, cut = closing_part(points)
    assert cut == 0
    assert np.array_equal(kept, points)


def test_few_points_or_far_apart_are_no_walk():
    assert is_walk(steps(BAY.exterior, 14.0, 0.0))
    assert not is_walk(steps(BAY.exterior, 16.0, 0.0))
    assert not is_walk(steps(BAY.exterior, 2.0, 0.0)[:29])


def test_a_pond_on_an_island_is_water_and_said(venue):
    pond = box(545090, 5995050, 545100, 5995060)
    book = venue(outline=geojson(LAKE, ISLAND, pond, names=["", "Long Island", "Pond"]))
    assert book.venue.water.area == pytest.approx(LAKE.area - ISLAND.area + pond.area, rel=1e-4)
    (told,) = found(book, "pond-taken")
    assert told.problem == '"Pond" lies within an island and was taken as water (100 m²)'
