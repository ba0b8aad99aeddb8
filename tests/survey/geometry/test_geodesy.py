"""Placing: which way, how far, from where, and how well that is known; and the shore it meets."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Point, box

from survey.errors import PlacingError, SourceRow
from survey.geometry.geodesy import Geodesy, on_compass
from survey.geometry.magnetic import declination_deg, true_from_magnetic
from survey.geometry.shoreline import Shoreline
from survey.geometry.sight import BANK_M, TRACED_M
from survey.records.readings import Cast, Direction, Fix, Reading
from survey.records.uncertainty import StandardErrors
from survey.records.venue import Peg, Venue
from survey.reduction.cast_errors import direction_sd_deg, distance_sd_m
from survey.reduction.positions import RejectedReadingError, VenueGeometry, placed
from survey.units.dates import Moment
from tests.made.tolerances import BEARING_DEG, MICROMETRE

# Invented water in the middle of the North Sea, 120 m by 80 m, with an island.
CRS = "EPSG:32631"
WEST, SOUTH = 594_700.0, 6_151_000.0
ISLAND = box(WEST + 50, SOUTH + 30, WEST + 60, SOUTH + 50)
WATER = MultiPolygon([box(WEST, SOUTH, WEST + 120, SOUTH + 80).difference(ISLAND)])
GEOMETRY = Geodesy(CRS)


def peg_at(x: float, y: float, facing_deg: float = 40.0) -> Peg:
    e, n = WEST + x, SOUTH + y
    lon, lat = (float(v) for v in GEOMETRY.lonlat(e, n))
    return Peg("1", e, n, lon, lat, facing_deg, 15.0, 5.0, SourceRow("pegs.csv", 2))


PEG = peg_at(20, 20)
VENUE = Venue("Eelmarsh", CRS, WATER, (PEG,))


def put(where: Cast | Fix, venue: Venue = VENUE, day: datetime | None = None):
    when = None if day is None else Moment(day, timedelta(0), day.date().isoformat())
    (spot,) = placed(
        [Reading(SourceRow("readings.csv", 7), "1", where, depth_m=1.0, when=when)], VenueGeometry.of(venue)
    )
    if isinstance(spot, RejectedReadingError):
        raise spot
    return spot


def refused(where: Cast | Fix, venue: Venue = VENUE, day: datetime | None = None) -> str:
    with pytest.raises(RejectedReadingError) as caught:
        put(where, venue, day)
    return str(caught.value)


def cast(kind="bearing", value_deg=0.0, distance_m=20.0, north="true", by="compass", **more) -> Cast:
    return Cast(Direction(kind, value_deg, by, north), distance_m, more.pop("how_far", "tape"), **more)


def bearing_of(where: Cast, venue: Venue = VENUE, day: datetime | None = None) -> float:
    placed = put(where, venue, day)
    return GEOMETRY.bearing_distance(PEG.lon, PEG.lat, placed.easting, placed.northing)[0]


# --- which way ---


@pytest.mark.parametrize("kind", ["clock", "angle"])
@pytest.mark.parametrize(("from_straight_out", "bearing"), [(0, 40), (30, 70), (-45, 355), (-90, 310)])
def test_clock_and_angle_turn_from_straight_out_to_the_right(kind, from_straight_out, bearing):
    assert bearing_of(cast(kind, from_straight_out)) == pytest.approx(bearing, abs=BEARING_DEG)


def test_a_true_bearing_pays_no_heed_to_the_facing():
    assert bearing_of(cast("bearing", 123)) == pytest.approx(123, abs=BEARING_DEG)


@given(st.floats(0, 359.99), st.floats(1, 60))
def test_a_grid_bearing_is_the_azimuth_in_the_grid(azimuth, distance):
    placed = put(cast("bearing", azimuth, distance, north="grid"))
    east, north = placed.easting - PEG.easting, placed.northing - PEG.northing
    turned = (math.degrees(math.atan2(east, north)) - azimuth + 180) % 360 - 180
    assert turned == pytest.approx(0, abs=1e-3)
    assert placed.radial_deg == pytest.approx(azimuth, abs=1e-9)


def test_a_magnetic_bearing_is_turned_by_the_model_for_the_day():
    day = datetime(2026, 6, 1, tzinfo=UTC)
    expected = 100 + declination_deg(PEG.lon, PEG.lat, day)
    assert bearing_of(cast("bearing", 100, north="magnetic"), day=day) == pytest.approx(expected, abs=BEARING_DEG)


@pytest.mark.parametrize("day", [None, datetime(2019, 6, 1, tzinfo=UTC), datetime(2026, 6, 1, tzinfo=UTC)])
def test_a_declared_declination_needs_no_model(day):
    venue = replace(VENUE, declination_deg=-8.0)
    assert bearing_of(cast("bearing", 100, north="magnetic"), venue, day) == pytest.approx(92, abs=BEARING_DEG)


@pytest.mark.parametrize("year", [2019, 2031])
def test_outside_the_model_s_years_a_magnetic_bearing_is_refused_with_the_line_to_add(year):
    text = refused(cast("bearing", 100, north="magnetic"), day=datetime(year, 6, 1, tzinfo=UTC))
    assert "readings.csv, row 7: the magnetic model holds from 2025 to 2030" in text
    assert text.count('[units] declination = "3E"') == 1
    with pytest.raises(PlacingError, match=f"the reading is of {year}.4"):
        declination_deg(4.5, 55.5, datetime(year, 6, 1, tzinfo=UTC))


def test_a_magnetic_bearing_without_a_date_is_refused():
    assert "without a date cannot be turned to true north" in refused(cast("bearing", 100, north="magnetic"))


@given(st.floats(0, 360), st.floats(-180, 180))
def test_true_north_stays_on_the_compass(bearing, declination):
    true = true_from_magnetic(bearing, declination)
    assert 0 <= true < 360
    assert math.remainder(true - bearing - declination, 360) == pytest.approx(0, abs=BEARING_DEG)


@pytest.mark.parametrize(
    ("bearing", "shown"), [(0, 0), (360, 0), (-1e-14, 0), (-90, 270), (725, 5), (359.9, 359.9), (-360.5, 359.5)]
)
def test_a_bearing_is_shown_from_nought_to_below_a_full_turn(bearing, shown):
    assert on_compass(bearing) == pytest.approx(shown, abs=BEARING_DEG)
    assert 0 <= on_compass(bearing) < 360


# --- how far ---


@given(st.floats(0, 359.9), st.floats(0.5, 200))
def test_a_cast_and_its_bearing_and_distance_are_one_another_s_inverse(bearing, distance):
    spot = GEOMETRY.cast(PEG.lon, PEG.lat, bearing, distance)
    back, far = GEOMETRY.bearing_distance(PEG.lon, PEG.lat, *spot)
    assert far == pytest.approx(distance, abs=MICROMETRE)
    assert math.remainder(back - bearing, 360) == pytest.approx(0, abs=BEARING_DEG)


def test_a_distance_in_the_grid_is_the_ground_s_times_the_scale():
    placed = put(cast("bearing", 30, 100))
    grid = math.hypot(placed.easting - PEG.easting, placed.northing - PEG.northing)
    assert grid == pytest.approx(100 * GEOMETRY.scale(PEG.easting, PEG.northing), abs=1e-5)
    assert placed.distance_m == 100


@pytest.mark.parametrize(
    ("x", "bearing", "to_edge_m"), [(-2.0, 90, 2.0), (0.0, 90, 0.0), (3.0, 90, -3.0), (-2.0, 30, 4.0)]
)
def test_a_distance_from_the_edge_begins_where_the_cast_enters_the_water(x, bearing, to_edge_m):
    venue = replace(VENUE, pegs=(peg_at(x, 20),))
    placed = put(cast("bearing", bearing, 15, north="grid", distance_from="edge"), venue)
    scale = GEOMETRY.scale(WEST, SOUTH)
    assert placed.distance_m == pytest.approx(15 + to_edge_m / scale, abs=0.01)
    across = WEST + 15 * scale * math.sin(math.radians(bearing))
    assert placed.easting == pytest.approx(across, abs=0.01)


@pytest.mark.parametrize(("x", "bearing"), [(-2.0, 270), (-11.0, 90), (30.0, 0), (44.0, 90)])
def test_a_cast_that_meets_no_edge_near_its_peg_is_refused(x, bearing):
    venue = replace(VENUE, pegs=(peg_at(x, 40),))
    assert "meets no edge near its peg" in refused(cast("bearing", bearing, 15, distance_from="edge"), venue)


def test_a_distance_from_the_rod_tip_adds_the_declared_reach():
    venue = replace(VENUE, rod_reach_m=3.3)
    assert put(cast(distance_from="rod tip"), venue).distance_m == pytest.approx(23.3)
    assert 'under [units], how far the tip is from the peg: rod_reach = "3.3 m"' in refused(
        cast(distance_from="rod tip")
    )


# --- how well known ---


@pytest.mark.parametrize(
    ("by", "sd_deg"),
    # Half the step to either side, as rectangles (GUM, JCGM 100:2008, 4.3.7): 7.5°/√3 and 15°/√3.
    [("aimed", 1.5), ("compass", 4.0), ("half hours", 4.3301), ("hours", 8.6603)],
)
def test_direction_by(by, sd_deg):
    assert direction_sd_deg(by, StandardErrors()) == pytest.approx(sd_deg, abs=5e-5)
    placed = put(cast("bearing", 0, 30, by=by))
    assert placed.tangential_sd_m == pytest.approx(30 * math.radians(sd_deg), abs=1e-4)


@pytest.mark.parametrize(
    ("by", "sd_m"), [("pole", 0.2), ("tape", 0.1), ("wraps", 0.4), ("rod lengths", 0.6), ("estimated", 3.0)]
)
def test_distance_by(by, sd_m):
    assert distance_sd_m(by, 30, StandardErrors()) == pytest.approx(sd_m)
    assert put(cast("bearing", 0, 30, how_far=by)).radial_sd_m == pytest.approx(sd_m)


@pytest.mark.parametrize(("kind", "facing_sd"), [("clock", 15.0), ("angle", 15.0), ("bearing", 0.0)])
def test_only_clock_and_angle_share_the_doubt_about_straight_out(kind, facing_sd):
    placed = put(cast(kind, 10))
    assert placed.facing_sd_deg == facing_sd
    assert placed.peg_sd_m == 5.0


def test_a_fix_stands_alone():
    lon, lat = (float(v) for v in GEOMETRY.lonlat(WEST + 30, SOUTH + 30))
    by_degrees, by_metres = put(Fix(lon, lat, "lonlat", 3.0)), put(Fix(WEST + 30, SOUTH + 30, "venue", 3.0))
    spot = pytest.approx((by_metres.easting, by_metres.northing), abs=MICROMETRE)
    assert (by_degrees.easting, by_degrees.northing) == spot
    assert (by_metres.radial_sd_m, by_metres.tangential_sd_m) == (3.0, 3.0)
    assert (by_metres.peg_sd_m, by_metres.facing_sd_deg, by_metres.distance_m) == (0.0, 0.0, 0.0)


def test_a_crs_in_degrees_or_feet_is_refused():
    for crs in ("EPSG:4326", "EPSG:2263"):
        with pytest.raises(PlacingError, match="not in metres"):
            Geodesy(crs)


# --- the shore ---

SHORE = Shoreline(WATER)


def at(x: float, y: float) -> tuple[float, float]:
    return WEST + x, SOUTH + y


@pytest.mark.parametrize(("x", "y", "outside"), [(20, 20, 0), (0, 40, 0), (-3, 40, 3), (55, 40, 5), (123, 84, 5)])
def test_metres_ashore(x, y, outside):
    assert SHORE.outside_m(*at(x, y)) == pytest.approx(outside)


@pytest.mark.parametrize(("x", "y", "to"), [(-3, 40, (0, 40)), (123, 84, (120, 80)), (53, 40, (50, 40))])
def test_pulled_to_the_nearest_water_and_onto_it(x, y, to):
    (spot,) = SHORE.pulled(np.array([at(x, y)]))
    assert math.dist(spot, at(*to)) <= 0.0101
    assert SHORE.outside_m(*spot) == 0


@pytest.mark.parametrize(
    ("peg", "spot", "sees"),
    [
        ((0, 40), (45, 40), True),
        ((0, 40), (90, 40), False),
        ((0, 40), (90, 79), True),
        ((-9, 40), (30, 40), True),
        ((-13, 40), (30, 40), False),
        ((0, 49.5), (90, 49.5), True),
        ((0, 49.1), (90, 49.1), True),
        ((0, 48), (90, 48), False),
        ((0, 30.9), (90, 30.9), True),
        ((0, 32), (90, 32), False),
    ],
    ids=[
        *("before", "behind", "past", "bank", "far bank", "grazing", "a metre to the left", "clipping"),
        *("a metre to the right", "clipping to the right"),
    ],
)
def test_land_hides_what_lies_behind_it_but_not_the_peg_s_own_bank(peg, spot, sees):
    assert SHORE.sight.from_peg(at(*peg), at(*spot)) is sees


def test_a_peg_on_a_spot_sees_it():
    assert SHORE.sight.from_peg(at(10, 10), at(10, 10))


# --- many at once ---


def test_readings_placed_together_lie_where_each_lies_alone():
    wheres = [
        *(cast(value_deg=turn, distance_m=far) for turn, far in ((0.0, 20.0), (33.3, 7.0), (359.9, 55.5))),
        *(cast("angle", value, 12.0, by="aimed", distance_from="edge") for value in (-20.0, 0.0, 20.0)),
        *(cast(north=north, value_deg=91.0) for north in ("magnetic", "grid")),
        *(Fix(x, y, "lonlat", 1.0) for x, y in ((PEG.lon, PEG.lat), (4.5, 1e9), (PEG.lon, PEG.lat + 1e-4))),
        Fix(WEST + 3, SOUTH + 4, "venue", 2.0),
        cast(distance_from="rod tip"),
    ]
    when = Moment(datetime(2026, 5, 3, 9, tzinfo=UTC), timedelta(0), "2026-05-03")
    readings = [Reading(SourceRow("a.csv", row), "1", where, when=when) for row, where in enumerate(wheres, start=2)]
    readings.append(replace(readings[0], peg="99"))
    venue = replace(VENUE, pegs=(peg_at(0.3, 40, 90.0),))
    condition_all = placed(readings, VenueGeometry.of(venue))
    alone = [placed([reading], VenueGeometry.of(venue))[0] for reading in readings]
    assert list(map(told, condition_all)) == list(map(told, alone))
    assert sum(isinstance(spot, RejectedReadingError) for spot in condition_all) == 3


def told(spot):
    return spot.finding if isinstance(spot, RejectedReadingError) else spot


def test_none_are_placed_from_none():
    assert placed([], VenueGeometry.of(VENUE)) == []


XS, YS = st.floats(-14, 134), st.floats(-14, 94)
PAIRS = st.lists(st.tuples(st.tuples(XS, YS), st.tuples(XS, YS)), min_size=1, max_size=12)
ROUGH = Shoreline(MultiPolygon([part.buffer(3).simplify(0.2) for part in WATER.geoms]))


@given(PAIRS, st.sampled_from([SHORE, ROUGH]))
def test_many_lines_of_sight_are_what_the_outline_taken_off_each_says(pairs, shore):
    pegs, spots = np.array([(at(*peg), at(*spot)) for peg, spot in pairs]).swapaxes(0, 1)
    for peg, spot, seen in zip(pegs, spots, shore.sight.from_pegs(pegs, spots), strict=True):
        says = [sees_by_definition(shore.water, peg, spot, more) for more in (-1e-6, 1e-6)]
        # At the limits themselves rounding decides.
        if says[0] == says[1]:
            assert seen == says[0]


def sees_by_definition(water, peg, spot, more: float) -> bool:
    """The rule for one line, written down anew: a bank at the start and nothing else, or the same a little aside."""
    length = math.dist(peg, spot)
    right = np.array([spot[1] - peg[1], peg[0] - spot[0]]) / max(length, 1e-9)
    for share in (0, 0.5, -0.5, 1, -1):
        start, end = (point + share * TRACED_M * right for point in (peg, spot))
        line = LineString([start, end])
        land = [part for part in shapely.get_parts(line.difference(water.buffer(more))) if part.length > 1e-6]
        spans = [sorted(line.project(Point(part.coords[k])) for k in (0, -1)) for part in land]
        if not spans or (len(spans) == 1 and spans[0][0] <= TRACED_M + more and spans[0][1] <= BANK_M + more):
            return True
    return False


@pytest.mark.parametrize(("width_m", "hides"), [(0.4, True), (2.0, True), (6.0, True)])
def test_a_spit_hides_what_lies_behind_it_however_thin(width_m, hides):
    spit = shapely.box(WEST + 20, SOUTH - 1, WEST + 20 + width_m, SOUTH + 60)
    shore = Shoreline(MultiPolygon([WATER.geoms[0].difference(spit)]))
    assert shore.sight.from_peg(at(0, 20), at(40, 20)) is not hides
    assert shore.sight.from_peg(at(0, 20), at(19, 20))
    assert shore.sight.from_peg(at(0, 62), at(45, 62))


@given(st.lists(st.tuples(XS, YS, st.floats(0, 360)), min_size=1, max_size=12), st.sampled_from([SHORE, ROUGH]))
def test_many_edges_are_where_each_line_enters_the_water(casts, shore):
    pegs = np.array([at(x, y) for x, y, _ in casts])
    turns = np.radians([turn for *_, turn in casts])
    ahead = np.column_stack([np.sin(turns), np.cos(turns)])
    for peg, step, found in zip(pegs, ahead, shore.edges_along(pegs, ahead), strict=True):
        line = LineString([peg - BANK_M * step, peg + BANK_M * step])
        water = line.intersection(shore.water)
        spans = sorted(
            sorted(line.project(Point(part.coords[k])) for k in (0, -1))
            for part in shapely.get_parts(water)
            if part.length > 0
        )
        reaching = next((start for start, end in spans if end >= line.length / 2), 0.0)
        expected = reaching - BANK_M if reaching > 0 else math.nan
        assert found == pytest.approx(expected, abs=1e-6, nan_ok=True)
