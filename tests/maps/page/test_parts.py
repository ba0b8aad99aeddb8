"""What the page is made of: colours, the frame, the picture, the still drawing."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
import zlib
from dataclasses import replace

import numpy as np
import pytest
import shapely
from colorspacious import cspace_convert
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Point, box

from maps.drawing.colours import INK, PAPER, TINTS, band_at, bands, rgb
from maps.drawing.picture import picture, sample, unsurveyed
from maps.drawing.projection import LocalFrame, fit_frame, from_mercator, mercator
from maps.drawing.still_map import Drawing, drawn_map
from maps.page.shell import COLOURS, embedded, own_style, own_text
from survey.bed.grid import NO_VALUE, Bed, Grid
from survey.errors import SurveyError
from survey.geometry.geodesy import Geometry
from survey.records.venue import Limits
from survey.units import feet_inches
from tests.made.survey import CRS, NAMES

EVERYWHERE = Limits(sd_m=9.0, reach_m=1e6, beyond_sd_m=9.0)


# Colours.


def luminance(colour: str) -> float:
    """Relative luminance (W3C, Web Content Accessibility Guidelines 2.2)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255 for v in rgb(colour))]
    return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_deeper_is_darker_also_on_a_grey_printer():
    grey = [luminance(tint) for tint in TINTS]
    assert grey == sorted(grey, reverse=True)
    # CIE 1976 lightness: the steps are alike within a quarter of the largest.
    lightness = np.diff([116 * value ** (1 / 3) - 16 for value in grey])
    assert lightness.max() < 0.5 * lightness.min()


def test_tints_are_even_steps_to_the_eye_and_stay_apart_for_colour_blind_ones():
    """CAM02-UCS (Luo, Cui and Li 2006) and colour vision deficiency by Machado et al. 2009, both from colorspacious."""
    colours = np.array([rgb(tint) for tint in TINTS]) / 255

    def seen(as_sight: np.ndarray) -> np.ndarray:
        return cspace_convert(np.clip(as_sight, 0, 1), "sRGB1", "CAM02-UCS")

    even = np.linalg.norm(np.diff(seen(colours), axis=0), axis=1)
    assert even.max() / even.min() < 1.3
    for kind in ("deuteranomaly", "protanomaly", "tritanomaly"):
        sight = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
        met = seen(cspace_convert(colours, sight, "sRGB1"))
        assert np.linalg.norm(np.diff(met, axis=0), axis=1).min() > 7, kind
        assert (np.diff(met[:, 0]) < -7).all(), kind


def test_ink_reads_on_pale_tints_and_paper_on_dark_ones():
    assert min(contrast(INK, tint) for tint in TINTS[:4]) >= 4.5
    assert min(contrast(PAPER, tint) for tint in TINTS[6:]) >= 4.5
    assert contrast(INK, PAPER) > 13


def test_the_style_sheets_know_the_chart_s_colours_by_name_alone():
    sheets = own_text("css/page.css") + own_text("css/peg.css")
    assert not [colour for colour in (*COLOURS.values(), *TINTS) if colour in sheets]
    assert {name for name in COLOURS if f"var(--{name})" in sheets} == set(COLOURS)
    assert f"--ink: {INK}" in own_style("page")


@given(st.lists(st.floats(0.01, 60), max_size=60))
def test_bands_leave_no_gap_and_never_outnumber_the_tints(levels):
    cut = bands(levels)
    assert 1 <= len(cut) <= len(TINTS)
    assert cut[0].from_m == 0
    assert cut[-1].to_m is None
    assert [band.to_m for band in cut[:-1]] == [band.from_m for band in cut[1:]]
    assert [band.tint for band in cut] == sorted({band.tint for band in cut})
    assert all(band.from_m in levels for band in cut[1:])


def test_a_depth_on_a_cut_belongs_to_the_deeper_band():
    cut = bands([1.0, 2.0])
    assert [band_at(depth, cut).from_m for depth in (-0.5, 0.0, 0.99, 1.0, 7.0)] == [0, 0, 0, 1, 2]


# The frame.

LAKES = {
    "EPSG:32630": (545000, 5995000), "EPSG:27700": (606000, 306000), "EPSG:32760": (300000, 5914000),
    "EPSG:3035": (3500000, 3600000), "EPSG:32701": (180000, 8119000),
}  # fmt: skip


@pytest.mark.parametrize("crs", LAKES)
def test_the_frame_is_the_projection_to_a_millimetre_both_ways(crs):
    west, south = LAKES[crs]
    frame = fit_frame(crs, (west, south, west + 400, south + 300))
    rng = np.random.default_rng(1)
    e, n = west + 400 * rng.random(200), south + 300 * rng.random(200)
    geometry = Geometry(crs)
    lon, lat = geometry.lonlat(e, n)
    there, wanted = frame.grid(lon, lat), geometry.xy(lon, lat)
    assert np.hypot(there[0] - wanted[0], there[1] - wanted[1]).max() < 1e-3
    degree_m = 111_320.0
    assert np.abs(np.subtract(frame.lonlat(e, n), (lon, lat))).max() * degree_m < 1e-3


def test_a_lake_on_the_date_line_is_not_torn_apart():
    geometry = Geometry("EPSG:32701")
    e, n = geometry.xy(-179.9999, -17.0)
    frame = fit_frame("EPSG:32701", (float(e) - 100, float(n) - 100, float(e) + 100, float(n) + 100))
    lon, _ = frame.lonlat([float(e) - 100, float(e) + 100], [float(n)] * 2)
    assert abs(lon[1] - lon[0]) < 0.01
    there = frame.grid([179.9995, -179.9995], [-17.0, -17.0])[0]
    assert 50 < abs(there[1] - there[0]) < 150


def test_a_lake_too_wide_for_the_frame_is_refused():
    with pytest.raises(SurveyError, match=r"its frame misses EPSG:32630 by [\d.]+ mm"):
        fit_frame(CRS, (200000, 5500000, 700000, 6000000))


@given(st.floats(-179, 179), st.floats(-80, 80))
def test_web_mercator_comes_back(lon, lat):
    assert from_mercator(*mercator(lon, lat)) == pytest.approx((lon, lat), abs=1e-9)


# The picture.


def flat_bed(crs: str, west: float, south: float, depth_m) -> tuple[Bed, LocalFrame]:
    """A rectangle of 400 by 240 m with 4 m cells whose depth is a function of east and north."""
    grid = Grid(west, south, 4.0, 60, 100)
    e, n = np.meshgrid(grid.eastings, grid.northings)
    depth = np.round(1000 * depth_m(e, n)).astype(np.int32)
    water = MultiPolygon([box(west, south, west + 400, south + 240)])
    bed = Bed(grid, water, depth, np.full_like(depth, 50), np.zeros(depth.shape, bool), np.zeros((59, 99), bool))
    return bed, fit_frame(crs, water.bounds)


def test_the_first_row_of_the_picture_is_the_north():
    bed, frame = flat_bed(CRS, 545000, 5995000, lambda _, n: np.where(n > 5995120, 5.0, 1.0))
    sheet = sample(bed, frame, EVERYWHERE)
    assert np.nanmean(sheet.depth_m[:40]) > 4
    assert np.nanmean(sheet.depth_m[-40:]) < 2


def test_picture_and_vectors_meet_where_the_grid_is_turned_against_true_north():
    # National grid far east of its meridian: turned 2.8 degrees. A pit near the north-east corner.
    west, south = 606000.0, 306000.0
    pit = (west + 360.0, south + 220.0)
    bed, frame = flat_bed(
        "EPSG:27700", west, south, lambda e, n: np.where(np.hypot(e - pit[0], n - pit[1]) < 9, 10.0, 2.0)
    )
    sheet = sample(bed, frame, EVERYWHERE)
    rows, columns = np.nonzero(np.nan_to_num(sheet.depth_m) > 6)
    (south_lat, west_lon), (north_lat, east_lon) = sheet.corners
    x, y = mercator(*Geometry("EPSG:27700").lonlat(*pit))
    x0, y1 = mercator(west_lon, north_lat)
    x1, y0 = mercator(east_lon, south_lat)
    share = (float(x) - x0) / (x1 - x0), (y1 - float(y)) / (y1 - y0)
    drawn = (columns.mean() + 0.5) / sheet.depth_m.shape[1], (rows.mean() + 0.5) / sheet.depth_m.shape[0]
    metres = np.array([sheet.depth_m.shape[1], sheet.depth_m.shape[0]]) * sheet.ground_m
    assert np.hypot(*((np.array(share) - drawn) * metres)) < bed.grid.cell_m


def decoded(png: bytes) -> tuple[np.ndarray, list[bytes]]:
    """Indices and palette of an indexed PNG without filters (W3C PNG, third edition)."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    chunks, at = {}, 8
    while at < len(png):
        size, kind = int.from_bytes(png[at : at + 4]), png[at + 4 : at + 8]
        body = png[at + 8 : at + 8 + size]
        assert zlib.crc32(kind + body) == int.from_bytes(png[at + 8 + size : at + 12 + size])
        chunks[kind], at = body, at + 12 + size
    columns, rows = (int.from_bytes(chunks[b"IHDR"][k : k + 4]) for k in (0, 4))
    lines = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), np.uint8).reshape(rows, columns + 1)
    palette = [chunks[b"PLTE"][k : k + 3] for k in range(0, len(chunks[b"PLTE"]), 3)]
    return lines[:, 1:], palette


def test_the_picture_is_clear_on_land_and_unsurveyed_water_and_tinted_by_depth(worked):
    frame = fit_frame(CRS, worked.venue.water.bounds)
    sheet = sample(worked.bed, frame, worked.venue.limits)
    cut = bands(worked.isobaths["depth_m"])
    index, palette = decoded(picture(sheet, cut, 1.0))
    known = ~np.isnan(sheet.depth_m) & sheet.surveyed
    assert ((index > 0) == known).all()
    colours = np.array([list(colour) for colour in palette])[index[known]]
    tints = np.array([rgb(band_at(depth, cut).colour) for depth in sheet.depth_m[known]])
    assert np.abs(colours - tints).max() <= 0.16 * 255 + 1, "shade lies lightly over the tint"


def test_unsurveyed_water_is_hatched_where_the_bed_says_so_and_only_on_water(worked):
    frame = fit_frame(CRS, worked.venue.water.bounds)
    hatched = unsurveyed(sample(worked.bed, frame, worked.venue.limits), frame, worked.venue.water)
    assert hatched.within(worked.venue.water.buffer(1e-6))
    grid, bed = worked.bed.grid, worked.bed
    e, n = np.meshgrid(grid.eastings, grid.northings)
    too_wide = bed.on_water & (bed.sd_m > worked.venue.limits.sd_m)
    inside = shapely.contains_xy(hatched, e, n)
    assert (inside & bed.on_water)[too_wide].mean() > 0.97
    assert hatched.area == pytest.approx(too_wide.sum() * grid.cell_m**2, rel=0.1)


def test_a_lake_without_one_surveyed_cell_still_has_a_picture(worked):
    bed = replace(worked.bed, depth_mm=np.full_like(worked.bed.depth_mm, NO_VALUE))
    frame = fit_frame(CRS, worked.venue.water.bounds)
    index, _ = decoded(picture(sample(bed, frame, worked.venue.limits), bands([]), 1.0))
    assert not index.any()


# The still drawing, and data inside markup.


def test_the_drawing_is_sound_markup_with_every_name_as_written(worked):
    frame = fit_frame(CRS, worked.venue.water.bounds)
    sheet = sample(worked.bed, frame, worked.venue.limits)
    cut = bands(worked.isobaths["depth_m"])
    drawing = Drawing(frame, sheet)
    pegs = (replace(worked.venue.pegs[0], name="Tab\x07 here"), *worked.venue.pegs[1:])
    odd = replace(worked, fieldbook=replace(worked.fieldbook, venue=replace(worked.venue, pegs=pegs)))
    svg = ET.fromstring(drawn_map(odd, b"", drawing, cut, MultiPolygon(), "A & B"))  # noqa: S314 - our own text
    words = [element.text for element in svg.findall(".//{*}text")]
    assert [word for word in words if word in NAMES] == list(NAMES[1:])
    assert "Tab here" in words
    assert svg.find("{*}title").text == "A & B"


def test_the_drawing_s_bar_is_as_long_as_it_says(worked):
    frame = fit_frame(CRS, worked.venue.water.bounds)
    sheet = sample(worked.bed, frame, worked.venue.limits)
    drawing = Drawing(frame, sheet)
    a, b = drawing.place(np.array([[545050.0, 5995060.0], [545080.0, 5995100.0]]))
    assert np.hypot(*(a - b)) == pytest.approx(50 / Geometry(CRS).scale(545060, 5995080), rel=1e-3)
    text = drawn_map(worked, b"", drawing, bands([]), MultiPolygon(), "x")
    assert re.search(r"H(\d+)V[\d.]+\"", text).group(1) in re.findall(r">(\d+) m<", text)


def test_names_of_pegs_stand_off_the_drawn_water(worked):
    water, peg = worked.venue.water, worked.venue.pegs[4]
    ahead = Point(
        peg.easting + 3 * np.sin(np.radians(peg.facing_deg)), peg.northing + 3 * np.cos(np.radians(peg.facing_deg))
    )
    assert water.contains(ahead), "straight out is over the water, so away from it is land"


@pytest.mark.parametrize("text", ["</script>", "<!--", "]]>", "&amp;", "\u2028", "{{ 7*7 }}"])
def test_data_in_the_page_hold_no_markup(text):
    written = embedded({"name": text})
    assert not set("<>&") & set(written)
    assert "\u2028" not in written


def test_what_json_has_no_word_for_never_gets_in():
    with pytest.raises(ValueError, match="not JSON compliant"):
        embedded({"depth_m": float("nan")})


def test_figures_in_the_drawing_stand_on_the_contour_of_their_depth(worked):
    frame = fit_frame(CRS, worked.venue.water.bounds)
    drawing = Drawing(frame, sample(worked.bed, frame, worked.venue.limits), 2.0)
    svg = ET.fromstring(drawn_map(worked, b"", drawing, bands([1.0]), MultiPolygon(), "x"))  # noqa: S314 - our own text
    lines: dict[str, list] = {}
    for depth, shape in zip(worked.isobaths["depth_m"], worked.isobaths.geometry, strict=True):
        placed = (LineString(drawing.place(np.array(part.coords))) for part in shapely.get_parts(shape))
        lines.setdefault(feet_inches(depth, 1), []).extend(placed)
    figures = [text for text in svg.findall(".//{*}text") if (text.get("transform") or "").startswith("translate")]
    assert len({figure.text for figure in figures}) > 3
    for figure in figures:
        x, y = (float(v) for v in re.match(r"translate\(([-\d.]+) ([-\d.]+)\)", figure.get("transform")).groups())
        assert min(line.distance(Point(x, y)) for line in lines[figure.text]) < 0.4
