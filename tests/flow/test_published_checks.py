"""Figures printed by others, met by ours: geodesics, map projections, magnetic north, uncertainty.

Each case names its source. Where no printed figure exists the test says what it was computed with.
"""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pyproj import Geod, Proj
from shapely.geometry import MultiPolygon, Point

from survey.errors import SourceRow
from survey.geometry.geodesy import Geodesy, lonlat_of_grid
from survey.geometry.magnetic import declination_deg, true_from_magnetic
from survey.records.fieldbook import Fieldbook, LevelRecord
from survey.records.floats import Float
from survey.records.readings import Cast, Direction, Fix, FloatSeen, Reading
from survey.records.uncertainty import StandardErrors
from survey.records.venue import Peg, Venue
from survey.records.water_level import LevelMark
from survey.reduction import water_levels as waterlevel
from survey.reduction.reduce import reduce_soundings
from survey.units.coordinates import read_gridref
from survey.units.dates import Moment

WMM_TABLE = Path(__file__).resolve().parents[1] / "data" / "wmm" / "WMM2025_TEST_VALUES.txt"


def dms(degrees: float, minutes: float, seconds: float) -> float:
    """Degrees; the sign of the degrees holds for all three."""
    return math.copysign(abs(degrees) + minutes / 60 + seconds / 3600, degrees)


# --- geodesics ---


@pytest.mark.parametrize(
    ("ellipsoid", "start", "end", "distance_m", "azimuth1", "azimuth2"),
    # T. Vincenty, Direct and inverse solutions of geodesics on the ellipsoid with application of nested
    # equations, Survey Review XXIII (176), 1975, table II, lines (a), (b), (c): Bessel, Hayford, Hayford.
    [
        (
            {"a": 6377397.155, "rf": 299.1528128}, (0.0, dms(55, 45, 0)), (dms(108, 13, 0), dms(-33, 26, 0)),
            14110526.170, dms(96, 36, 8.79960), dms(137, 52, 22.01454),
        ),
        (
            {"a": 6378388.0, "rf": 297.0},
            (0.0, dms(37, 19, 54.95367)), (dms(41, 28, 35.50729), dms(26, 7, 42.83946)),
            4085966.703, dms(95, 27, 59.63089), dms(118, 5, 58.96161),
        ),
        (
            {"a": 6378388.0, "rf": 297.0},
            (0.0, dms(35, 16, 11.24862)), (dms(137, 47, 28.31435), dms(67, 22, 14.77638)),
            8084823.839, dms(15, 44, 23.74850), dms(144, 55, 39.92147),
        ),
    ],
)  # fmt: skip
def test_vincenty_lines_by_the_geodesics_we_place_with(ellipsoid, start, end, distance_m, azimuth1, azimuth2):
    forward, back, distance = Geod(**ellipsoid).inv(*start, *end)
    assert distance == pytest.approx(distance_m, abs=0.001)
    assert forward == pytest.approx(azimuth1, abs=1e-5 / 3600)
    # One in the last printed figure.
    assert back % 360 - 180 == pytest.approx(azimuth2, abs=1.1e-5 / 3600)


@pytest.mark.parametrize(
    ("crs", "start", "bearing", "distance_m", "end"),
    [
        # C. F. F. Karney, GeographicLib documentation, examples of the direct problem on WGS 84 (printed values
        # from memory, recomputed with geographiclib). The CRS is the UTM zone of the end of the line.
        ("EPSG:32639", (-73.8, 40.6), 45.0, 10_000_000.0, (49.0110395832242, 32.642844327605516)),
        ("EPSG:32620", (115.74, -32.06), 225.0, 20_000_000.0, (-63.95925278363718, 32.11195529143165)),
    ],
)
def test_karney_lines_by_our_casts(crs, start, bearing, distance_m, end):
    geometry = Geodesy(crs)
    lon, lat = geometry.lonlat(*geometry.cast(*start, bearing, distance_m))
    assert (float(lon), float(lat)) == pytest.approx(end, abs=1e-9)


def test_karney_line_by_our_bearing_and_distance():
    # GeographicLib documentation, Python interface, example of the inverse problem (from memory, recomputed).
    geometry = Geodesy("EPSG:32630")
    bearing, distance = geometry.bearing_distance(174.81, -41.32, *(float(v) for v in geometry.xy(-5.5, 40.96)))
    # The end goes through the grid and back, good to some 1e-10 degrees, 10 micrometres.
    assert distance == pytest.approx(19959679.26735382, abs=1e-4)
    assert bearing == pytest.approx(161.06766998616, abs=1e-8)


FLINDERS_PEAK = {"lat": dms(-37, 57, 3.72030), "lon": dms(144, 25, 29.52440)}
BUNINYONG = {"lat": dms(-37, 39, 10.15610), "lon": dms(143, 55, 35.38390)}


def test_flinders_peak_to_buninyong():
    # ICSM, Geocentric Datum of Australia Technical Manual 2.4, chapter 4, on GRS 80, which differs from
    # WGS 84 by 0.1 mm in the minor axis.
    geometry = Geodesy("EPSG:32754")
    spot = geometry.cast(FLINDERS_PEAK["lon"], FLINDERS_PEAK["lat"], dms(306, 52, 5.37), 54972.271)
    lon, lat = geometry.lonlat(*spot)
    # The printed azimuth is rounded to 0.01", 3 mm at this distance.
    assert float(lat) == pytest.approx(BUNINYONG["lat"], abs=1e-4 / 3600)
    assert float(lon) == pytest.approx(BUNINYONG["lon"], abs=1e-4 / 3600)
    there = (float(v) for v in geometry.xy(BUNINYONG["lon"], BUNINYONG["lat"]))
    bearing, distance = geometry.bearing_distance(FLINDERS_PEAK["lon"], FLINDERS_PEAK["lat"], *there)
    assert distance == pytest.approx(54972.271, abs=0.0005)
    assert bearing == pytest.approx(dms(306, 52, 5.37), abs=0.005 / 3600)


# --- map projections ---


def test_caister_water_tower_on_the_national_grid():
    # Ordnance Survey, A guide to coordinate systems in Great Britain, annexe C: Airy 1830, OSGB36 degrees.
    lat, lon = dms(52, 39, 27.2531), dms(1, 43, 4.5177)
    grid = Proj("EPSG:27700")
    assert grid(lon, lat) == pytest.approx((651409.903, 313177.270), abs=0.0005)
    back_lon, back_lat = grid(651409.903, 313177.270, inverse=True)
    assert back_lat == pytest.approx(lat, abs=1e-4 / 3600)
    assert back_lon == pytest.approx(lon, abs=1e-4 / 3600)


def test_caister_on_the_same_projection_of_the_european_datum():
    # Ordnance Survey, Transformations and OSGM15 user guide, annexe A: the grid's projection on GRS 80.
    grid = Proj("+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=GRS80")
    found = grid(dms(1, 42, 57.8663), dms(52, 39, 28.8282))
    assert found == pytest.approx((651307.003, 313255.686), abs=0.001)


def test_snyder_transverse_mercator():
    # J. P. Snyder, Map projections: a working manual, USGS Professional Paper 1395, 1987, p. 269: UTM 18, Clarke 1866.
    utm = Proj("EPSG:26718")
    assert utm(-73.5, 40.5) == pytest.approx((500000 + 127106.5, 4484124.4), abs=0.06)
    assert utm.get_factors(-73.5, 40.5).meridional_scale == pytest.approx(0.9997989, abs=5e-8)


@pytest.mark.parametrize(
    ("crs", "point", "easting", "northing", "scale", "convergence"),
    [
        # ICSM, GDA Technical Manual, chapter 5. The manual counts convergence the other way: its sign is negative here.
        ("EPSG:28355", FLINDERS_PEAK, 273741.297, 5796489.777, 1.00023056, dms(1, 35, 3.65)),
        # Easting and northing printed; scale and convergence computed with PROJ.
        ("EPSG:28354", BUNINYONG, 758173.797, 5828674.340, 1.00042107, dms(-1, 47, 19.36)),
    ],
)
def test_map_grid_of_australia(crs, point, easting, northing, scale, convergence):
    geometry = Geodesy(crs)
    e, n = (float(v) for v in geometry.xy(point["lon"], point["lat"]))
    assert (e, n) == pytest.approx((easting, northing), abs=0.001)
    assert geometry.scale(e, n) == pytest.approx(scale, abs=5e-9)
    assert geometry.convergence_deg(e, n) == pytest.approx(convergence, abs=0.01 / 3600)


@pytest.mark.parametrize(
    ("crs", "lon", "lat"),
    [
        ("EPSG:32631", 4.5, 55.5),
        ("EPSG:28355", 144.42, -37.95),
        ("EPSG:32760", 174.8, -36.9),
        ("EPSG:27700", 1.7, 52.6),
    ],
)
def test_convergence_has_the_sign_that_turns_grid_azimuths_true(crs, lon, lat):
    """A line drawn up the grid has the convergence for its true bearing (by the ellipsoid, not by the projection)."""
    geometry = Geodesy(crs)
    e, n = (float(v) for v in geometry.xy(lon, lat))
    bearing, _ = geometry.bearing_distance(lon, lat, e, n + 100)
    assert (bearing + 180) % 360 - 180 == pytest.approx(geometry.convergence_deg(e, n), abs=0.001)


def test_national_grid_is_never_reached_without_its_datum_shift():
    # EPSG:1314 (two to three metres) puts it at 379825.5, 467167.5; no shift at all is 97 m off. Computed with PROJ.
    e, n = (float(v) for v in Geodesy("EPSG:27700").xy(-2.31, 54.10))
    assert math.dist((e, n), (379825.5, 467167.5)) < 5
    assert math.dist((e, n), (379730.0, 467187.0)) > 90


@pytest.mark.parametrize(
    ("reference", "easting", "northing"),
    # Ordnance Survey National Grid: 500 km squares S, T, N, H, O, J, each of 25 squares of 100 km lettered without I
    # from the north-west corner; TG is that of Caister (OS guide, annexe C), NN 166 712 that of Ben Nevis.
    [
        ("TG 51409 13177", 651409, 313177), ("NN 16600 71200", 216600, 771200), ("SU 38700 14800", 438700, 114800),
        ("TQ 30000 80000", 530000, 180000), ("SV 00000 00000", 0, 0), ("HU 50000 50000", 450000, 1150000),
        ("HP 00000 00000", 400000, 1200000), ("SX 90000 93000", 290000, 93000), ("JM 99999 99999", 699999, 1299999),
    ],
)  # fmt: skip
def test_national_grid_letters(reference, easting, northing):
    # A reference to the metre names a square of a metre: its middle is half a metre in.
    assert read_gridref(reference) == (easting + 0.5, northing + 0.5, 1.0)


def test_a_grid_reference_reaches_the_satellites_datum_by_ostn15():
    # Ordnance Survey, Transformations and OSGM15 user guide, annexe A: shift 102.801 m, -78.236 m at this point.
    lon, lat = lonlat_of_grid(651409.804, 313177.450)
    here = Geodesy("EPSG:32631")
    right = [float(v) for v in here.xy(dms(1, 42, 57.8663), dms(52, 39, 28.8282))]
    assert math.dist([float(v) for v in here.xy(lon, lat)], right) < 0.005


# --- magnetic north ---


def wmm_rows() -> list[tuple[float, ...]]:
    lines = WMM_TABLE.read_text("ascii").splitlines()
    return [tuple(float(word) for word in line.split()) for line in lines if line.strip() and not line.startswith("#")]


def instant(year: float) -> datetime:
    start, end = (datetime(int(year) + k, 1, 1, tzinfo=UTC) for k in (0, 1))
    return start + (year % 1) * (end - start)


def test_world_magnetic_model_s_hundred_rows():
    # NOAA/NCEI and BGS, WMM2025 test values: printed to 0.01°.
    rows = wmm_rows()
    assert len(rows) == 100
    for year, height_km, lat, lon, declination, *_ in rows:
        assert declination_deg(lon, lat, instant(year), height_km) == pytest.approx(declination, abs=0.0051)


@pytest.mark.parametrize(
    ("year", "lat", "lon", "declination"),
    # NOAA/NCEI and BGS, The US/UK World Magnetic Model for 2025-2030, table of test values, height 0.
    [
        (2025.0, 80, 0, 1.28), (2025.0, 0, 120, -0.16), (2025.0, -80, 240, 68.78),
        (2027.5, 80, 0, 2.59), (2027.5, 0, 120, -0.24), (2027.5, -80, 240, 68.49),
    ],
)  # fmt: skip
def test_world_magnetic_model_at_the_ground(year, lat, lon, declination):
    assert declination_deg(lon, lat, instant(year)) == pytest.approx(declination, abs=0.0051)


@pytest.mark.parametrize(("magnetic", "declination", "true"), [(100, -8, 92), (100, 8, 108), (4, -8, 356)])
def test_east_declination_is_added_to_a_compass_bearing(magnetic, declination, true):
    assert true_from_magnetic(magnetic, declination) == pytest.approx(true)


# --- a reading from end to end ---

CRS = "EPSG:32630"
DAY = datetime(2026, 5, 3, 12, tzinfo=UTC)


def venue_at(lon: float, lat: float, **more) -> Venue:
    """An invented round of water with a peg in the middle of its west side."""
    e, n = (float(v) for v in Geodesy(CRS).xy(lon, lat))
    peg = Peg("1", e, n, lon, lat, 90.0, 0.0, 1.0, SourceRow("pegs.csv", 2))
    return Venue("Quillmere", CRS, MultiPolygon([Point(e + 99, n).buffer(100)]), (peg,), **more)


def reading(row: int = 2, **more) -> Reading:
    where = Cast(Direction("bearing", 90.0, "compass", "magnetic"), 50.0, "tape")
    when = Moment(DAY, timedelta(0), DAY.date().isoformat())
    return Reading(SourceRow("readings.csv", row), "1", **({"where": where, "when": when, "depth_m": 2.0} | more))


def reduced(venue: Venue, *readings: Reading, levels: tuple[LevelRecord, ...] = ()):
    return reduce_soundings(Fieldbook(venue, readings, levels, (), len(readings), ""))[0].table


def test_a_compass_cast_of_50_m_lands_on_the_side_its_declination_turns_it_to():
    # Computed with geographiclib: true 93° from this peg; the wrong sign lands 5.2 m further north.
    table = reduced(venue_at(-2.3118121, 54.1017371, declination_deg=3.0), reading())
    geometry = Geodesy(CRS)
    right = [float(v) for v in geometry.xy(-2.3110488, 54.1017136)]
    wrong = [float(v) for v in geometry.xy(-2.3110488, 54.1017606)]
    spot = [table.geometry.x[0], table.geometry.y[0]]
    assert math.dist(spot, right) < 0.02
    assert math.dist(spot, wrong) == pytest.approx(5.2, abs=0.05)


# --- uncertainty ---


def bracketed(half_width: float, sd_m: float, levels: tuple[LevelRecord, ...] = (), when: Moment | None = None):
    """One row: sunk and flat settings that leave 2 m ± half_width open, each reading with sd_m of its own."""
    bare = Float("bare", 0.0, 0.0)
    e, n = (float(v) for v in Geodesy(CRS).xy(-2.31, 54.10))
    venue = replace(venue_at(-2.311, 54.10), floats=(bare,), mark=LevelMark("board", 0.0))
    fields = {"where": Fix(e, n, "venue", 1.0), "depth_m": None, "float_name": "bare", "sd_m": sd_m}
    fields |= {} if when is None else {"when": when}
    low = reading(2, setting_m=2.0 - half_width, seen=FloatSeen.SUNK, **fields)
    high = reading(3, setting_m=2.0 + half_width, seen=FloatSeen.FLAT, **fields)
    table = reduced(venue, low, high, levels=levels)
    assert len(table) == 1
    return table.iloc[0]


def test_gum_rectangle_of_a_handbook_value():
    # GUM, JCGM 100:2008, 4.3.7, example 1: within ±0.40e-6 gives u = 0.23e-6 (u² = 53.3e-15).
    row = bracketed(0.40e-6, 0.0)
    assert row.sd_m == pytest.approx(0.23e-6, abs=0.005e-6)
    assert row.sd_m**2 == pytest.approx(53.3e-15, rel=1e-3)


def test_gum_rectangle_of_a_clock_face():
    # GUM, JCGM 100:2008, 4.3.7: half-width 1 gives 1/sqrt(3).
    assert StandardErrors().half_hour_deg / 7.5 == pytest.approx(0.5773503, abs=1e-7)
    assert StandardErrors().hour_deg / 15 == pytest.approx(0.5773503, abs=1e-7)


def test_gum_combined_for_a_plumbed_depth(monkeypatch):
    # GUM 4.3.7 and 5.1.2 applied by hand: ±0.05 m bracket, ±0.02 m of level, 0.01 m of reading: 0.0326599 m.
    monkeypatch.setattr(waterlevel, "MARK_SD_M", 0.0)
    noon = Moment(DAY, timedelta(hours=12), DAY.date().isoformat())
    levels = tuple(
        LevelRecord(Moment(DAY + timedelta(days=d), timedelta(0), ""), 0.04 * d, SourceRow("levels.csv"))
        for d in (-2, 2)
    )
    row = bracketed(0.05, 0.01, levels, noon)
    assert math.hypot(row.sd_m, row.level_sd_m) == pytest.approx(0.0326599, abs=1e-7)
