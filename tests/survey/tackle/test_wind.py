"""Fetch, drift and shelter against published figures and closed forms."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box

from survey.errors import ParseError, SourceRow
from survey.fieldbook import read_fieldbook
from survey.geometry.fetch import RADIALS_DEG, effective_fetch
from survey.geometry.geodesy import Geodesy
from survey.records.venue import Peg, Venue
from survey.tackle.wind import drift_per_minute, over_depth, pegs_by_shelter, side_of_wind, surface_drift
from survey.units import INCH_M
from survey.units.wind_speeds import compass_point, read_compass, read_wind_speed


def test_fifteen_radials_have_the_published_sum_of_cosines():
    """Saville and others (1962) and the Shore Protection Manual: 15 radials to 42°; sum 13.5109 (Håkanson: 13.5)."""
    assert len(RADIALS_DEG) == 15
    assert np.cos(np.radians(RADIALS_DEG)).sum() == pytest.approx(13.5109, abs=5e-5)


def test_effective_fetch_across_a_round_lake():
    """Analytic: from the shore of a circle of radius 1 the radial at a is 2 cos a; effective fetch 1.81829."""
    lake = MultiPolygon([Point(0, 0).buffer(100.0, quad_segs=2048)])
    assert effective_fetch(lake, 0.0, -99.9999, 0.0) == pytest.approx(181.829, abs=0.01)


def test_along_an_endless_shore_the_fetch_is_the_width():
    """Radials across a wide channel: x_i = w/cos a, so the sum is 15 w and the fetch 15 w/13.5109."""
    channel = MultiPolygon([box(-5000, 0, 5000, 100)])
    assert effective_fetch(channel, 0.0, 1e-9, 0.0) == pytest.approx(1500 / 13.5109, rel=1e-4)


def test_an_island_shortens_the_fetch_behind_it_alone():
    lake = box(0, 0, 200, 200)
    island = box(90, 100, 110, 120)
    with_island = MultiPolygon([lake.difference(island)])
    open_lake = MultiPolygon([lake])
    behind, beside = (100.0, 90.0), (20.0, 190.0)
    assert effective_fetch(with_island, *behind, 0.0) < 0.6 * effective_fetch(open_lake, *behind, 0.0)
    assert effective_fetch(with_island, *beside, 0.0) == pytest.approx(effective_fetch(open_lake, *beside, 0.0))
    assert effective_fetch(with_island, 100.0, 110.0, 0.0) is None


@given(st.floats(0, 360), st.floats(0.5, 20))
def test_turning_lake_and_wind_together_changes_nothing_and_a_larger_lake_has_more(turn, times):
    lake = Polygon([(0, 0), (120, 10), (100, 90), (30, 110), (-20, 60)])
    spot = Point(40, 40)
    before = effective_fetch(MultiPolygon([lake]), 40, 40, 30.0)
    turned, there = (affinity.rotate(g, -turn, origin=(0, 0)) for g in (lake, spot))
    assert effective_fetch(MultiPolygon([turned]), there.x, there.y, 30.0 + turn) == pytest.approx(before, rel=1e-6)
    large = affinity.scale(lake, times, times, origin=(40, 40))
    assert effective_fetch(MultiPolygon([large]), 40, 40, 30.0) == pytest.approx(before * times, rel=1e-6)


def test_surface_drift_is_two_to_three_in_a_hundred():
    """AMS Glossary of Meteorology, wind drift: about 3 %; Chapman Piloting: 2 %. At 10 m/s 0.2 and 0.3 m/s."""
    assert surface_drift(10.0) == pytest.approx((0.2, 0.3))
    assert drift_per_minute(10.0) == pytest.approx((12.0, 18.0))


@pytest.mark.parametrize(
    ("cast", "wind", "side"),
    [(0, 0, "head"), (0, 45, "head"), (0, 46, "right"), (0, 134, "right"), (0, 135, "tail"), (0, 180, "tail"),
     (0, 270, "left"), (350, 10, "head"), (200, 290, "right"), (200, 110, "left")],
)  # fmt: skip
def test_the_wind_has_a_side_for_who_casts(cast, wind, side):
    assert side_of_wind(cast, wind) == side


@pytest.mark.parametrize(
    ("wind", "inches"), [(0, (3, 6)), (5.4, (3, 6)), (5.5, (6, 12)), (8.0, (12, 18)), (20, (12, 18))]
)
def test_line_on_the_bed_grows_with_the_wind(wind, inches):
    """Common practice: three to six inches, up to eighteen; Beaufort 3 ends at 5.4 m/s and 4 at 7.9 (WMO)."""
    assert over_depth(wind) == pytest.approx([i * INCH_M for i in inches])


def test_pegs_are_ranked_from_sheltered_to_blown_and_closed_ones_left_out(demo_venue):
    venue = read_fieldbook(demo_venue).venue
    shut = replace(venue.pegs[3], status="closed")
    venue = replace(venue, pegs=(*venue.pegs[:3], shut, *venue.pegs[4:]))
    found = pegs_by_shelter(venue, 225.0)
    fetches = [s.fetch_m for s in found]
    assert fetches == sorted(fetches)
    assert {s.peg.name for s in found} == {p.name for p in venue.pegs if not p.is_closed}
    assert {s.side for s in found[:5]} == {"tail"}
    assert found[-1].side != "tail"
    turned = replace(venue, pegs=venue.pegs[::-1])
    assert [s.fetch_m for s in pegs_by_shelter(turned, 225.0)] == fetches


@pytest.mark.parametrize(("crs", "convergence_deg"), [("EPSG:32630", 2.46), ("EPSG:32631", -2.46)])
def test_wind_along_a_channel_blows_along_it_in_a_grid_turned_from_north(crs, convergence_deg):
    """600 m by 10 m on the border of two UTM zones; by hand, each radial ends at a side or at the far end."""
    lon, lat, along_deg, geometry = 0.0, 55.0, 65.0, Geodesy(crs)
    easting, northing = (float(v) for v in geometry.xy(lon, lat))
    assert geometry.convergence_deg(easting, northing) == pytest.approx(convergence_deg, abs=0.01)
    across = math.degrees(math.atan2(5.0, 600.0))
    corners = [(90.0, 5.0), (across, math.hypot(5.0, 600.0)), (-across, math.hypot(5.0, 600.0)), (-90.0, 5.0)]
    water = Polygon([geometry.cast(lon, lat, along_deg + turn, out) for turn, out in corners])
    peg = Peg("1", easting, northing, lon, lat, along_deg, 0.0, 1.0, SourceRow("pegs.csv", 2))
    (found,) = pegs_by_shelter(Venue("Long Cut (invented)", crs, MultiPolygon([water]), (peg,)), along_deg)
    turns = np.abs(np.radians(RADIALS_DEG))
    ends = np.minimum(595.0 / np.cos(turns), 5.0 / np.maximum(np.sin(turns), 1e-9))
    assert found.side == "head"
    assert found.fetch_m == pytest.approx((ends * np.cos(turns)).sum() / np.cos(turns).sum(), rel=0.01)


@pytest.mark.parametrize(
    ("text", "speed"),
    [
        *((f"5 {unit}", 5) for unit in ("m/s", "ms", "mps")),
        *((f"18 {unit}", 5) for unit in ("km/h", "kmh", "kph")),
        *((f"10 {unit}", 5.144) for unit in ("kn", "kt", "kts", "knot", "knots")),
        ("5m/s", 5),
        ("10 mph", 4.4704),
        ("40 m/s", 40),
    ],
)
def test_wind_speeds_as_people_say_them(text, speed):
    """One international mile an hour is 0.44704 m/s, one knot 1852 m an hour (BIPM, SI brochure)."""
    assert read_wind_speed(text) == pytest.approx(speed, abs=5e-4)


@pytest.mark.parametrize("text", ["5", "fast", "5 furlongs", "-3 m/s", "40.1 m/s", "90 mph", ""])
def test_other_words_are_no_wind_speed(text):
    with pytest.raises(ParseError, match=r"wind speed|hurricane"):
        read_wind_speed(text)


@pytest.mark.parametrize(
    ("text", "deg"),
    [("SW", 225), ("sw", 225), ("south-west", 225), ("NNE", 22.5), ("270", 270), ("W", 270), ("000", 0), ("45°", 45)],
)
def test_points_of_the_compass(text, deg):
    assert read_compass(text) == deg
    with pytest.raises(ParseError, match="is not a direction"):
        read_compass("up the lake")


@given(st.integers(0, 15))
def test_points_come_back(k):
    assert read_compass(compass_point(k * 22.5)) == k * 22.5
