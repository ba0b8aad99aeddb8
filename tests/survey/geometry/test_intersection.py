"""A float sighted from two pegs, against the ellipsoid and against simulation."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pyproj import Geod

from survey.depth_model.observations import observations_from
from survey.errors import PlacingError
from survey.geometry.geodesy import Geodesy
from survey.geometry.intersection import FURTHEST_M, LEAST_CROSSING_DEG, Sight, leverages, meeting
from survey.geometry.water import WaterGeometry
from survey.records.readings import Direction, Intersection
from survey.reduction.reduce import reduce_soundings
from tests.made.readings import CRS, SOUTH, SOUTH_PEG, VENUE, WEST, WEST_PEG, book, one, only_finding, reading

GEOMETRY = Geodesy(CRS)


def bearing_to(peg, easting, northing) -> float:
    return GEOMETRY.bearing_distance(peg.lon, peg.lat, easting, northing)[0]


def sighted(easting, northing, **more):
    directions = [Direction("bearing", bearing_to(peg, easting, northing), "aimed") for peg in (SOUTH_PEG, WEST_PEG)]
    return reading(peg="2", where=Intersection(directions[0], "1", directions[1]), **more)


@pytest.mark.parametrize(("x", "y"), [(30, 20), (45, 60), (10, 70), (80, 20)])
def test_the_lines_of_two_true_bearings_meet_where_the_ellipsoid_has_it(x, y):
    """Source: pyproj Geod (Karney 2013); two geodesics from the pegs, not the plane, give the bearings."""
    row = one(sighted(WEST + x, SOUTH + y))
    assert math.hypot(row.geometry.x - WEST - x, row.geometry.y - SOUTH - y) < 0.002
    lon, lat = GEOMETRY.lonlat(row.geometry.x, row.geometry.y)
    back, _, _ = Geod(ellps="WGS84").inv(WEST_PEG.lon, WEST_PEG.lat, lon, lat)
    assert back % 360 == pytest.approx(bearing_to(WEST_PEG, WEST + x, SOUTH + y), abs=1e-3)


@pytest.mark.parametrize(("first", "second"), [
    (Sight(0, 0, 45, 2.0, 1.0), Sight(40, 0, 340, 2.0, 1.0)),
    (Sight(0, 0, 20, 4.0, 0.0), Sight(15, 0, 340, 4.0, 0.0)),
    (Sight(545000, 5995000, 80, 1.5, 0.5), Sight(545010, 5995040, 130, 3.0, 2.0)),
])  # fmt: skip
def test_the_error_ellipse_is_that_of_simulated_sights(first, second):
    met, rng = meeting(first, second), np.random.default_rng(5)
    spots = []
    for _ in range(4000):
        shaken = [
            Sight(
                s.easting + rng.normal(0, s.point_sd_m), s.northing + rng.normal(0, s.point_sd_m),
                s.azimuth_deg + rng.normal(0, s.azimuth_sd_deg), s.azimuth_sd_deg, s.point_sd_m,
            )
            for s in (first, second)
        ]  # fmt: skip
        try:
            found = meeting(*shaken)
        except PlacingError:
            continue
        spots.append((found.easting, found.northing))
    values, axes = np.linalg.eigh(np.cov(np.array(spots).T))
    assert len(spots) > 3950
    assert met.long_sd_m == pytest.approx(math.sqrt(values[1]), rel=0.1)
    assert met.short_sd_m == pytest.approx(math.sqrt(values[0]), rel=0.08)
    axis = math.degrees(math.atan2(axes[0, 1], axes[1, 1]))
    assert math.sin(math.radians(axis - met.axis_deg)) == pytest.approx(0, abs=0.08)


@given(
    x=st.floats(-100, 100), y=st.floats(5, 100), apart=st.floats(5, 100), east=st.floats(-1e6, 1e6),
    sd=st.floats(0.1, 0.7),
)  # fmt: skip
def test_sights_to_a_spot_meet_there(x, y, apart, east, sd):
    azimuths = [math.degrees(math.atan2(x - start, y)) % 360 for start in (0.0, apart)]
    crossing = abs(math.remainder(azimuths[0] - azimuths[1], 180))
    assume(
        crossing > LEAST_CROSSING_DEG + 1 and math.hypot(x, y) < FURTHEST_M and math.hypot(x - apart, y) < FURTHEST_M
    )
    sights = [Sight(east + start, 5e6, azimuth, sd, 0.1) for start, azimuth in zip((0.0, apart), azimuths, strict=True)]
    met, other = meeting(*sights), meeting(*sights[::-1])
    assert (met.easting - east, met.northing - 5e6) == pytest.approx((x, y), abs=1e-5)
    assert (other.easting, other.northing) == pytest.approx((met.easting, met.northing), abs=1e-5)
    assert met.long_sd_m >= met.short_sd_m > 0


@pytest.mark.parametrize(("first", "second", "words"), [
    (Sight(0, 0, 0, 1, 1), Sight(10, 0, 10, 1, 1), "cross at 10°, nearer to parallel than 15°"),
    (Sight(0, 0, 0, 1, 1), Sight(10, 0, 180, 1, 1), "nearer to parallel"),
    (Sight(0, 0, 315, 1, 1), Sight(40, 0, 45, 1, 1), "do not meet in front of both pegs"),
    (Sight(0, 0, 80, 1, 1), Sight(0, 100, 100, 1, 1), "meet 288 m out"),
    (Sight(0, 0, 40, 7, 1), Sight(60, 0, 15, 7, 1), "leave the spot open by ±"),
])  # fmt: skip
def test_sights_that_fix_nothing_are_refused(first, second, words):
    with pytest.raises(PlacingError, match=words):
        meeting(first, second)


def test_a_crossed_reading_carries_its_ellipse_and_its_distance():
    row = one(sighted(WEST + 30, SOUTH + 20))
    assert row["distance_m"] == pytest.approx(20.5, abs=0.1)
    assert row["radial_sd_m"] > row["tangential_sd_m"] > 0.5
    assert (row["peg_sd_m"], row["facing_sd_deg"]) == (0.0, 0.0)


def test_a_sight_from_a_guessed_straight_out_is_wider():
    angles = Intersection(Direction("angle", 0, "aimed"), "1", Direction("angle", 20, "aimed"))
    row = one(reading(peg="2", where=angles))
    assert max(row["radial_sd_m"], row["tangential_sd_m"]) > 5.0


def test_near_parallel_sights_are_a_finding_by_row():
    where = Intersection(Direction("bearing", 90, "aimed"), "1", Direction("bearing", 92, "aimed"))
    told = only_finding(reading(peg="2", where=where))
    assert told.code == "sights-do-not-cross"
    assert "nearer to parallel" in told.problem
    where = Intersection(Direction("bearing", 0, "aimed"), "9", Direction("bearing", 92, "aimed"))
    assert only_finding(reading(peg="2", where=where)).code == "peg-unknown"
    assert VENUE.peg("9") is None


def test_a_turned_sight_moves_the_spot_as_the_ellipsoid_has_it():
    """Source: pyproj Geod (Karney 2013) gives the bearings; the first sight is turned by a tenth of a degree."""
    pegs = [np.array([[peg.easting, peg.northing]]) for peg in (SOUTH_PEG, WEST_PEG)]
    spot = np.array([[WEST + 30.0, SOUTH + 20.0]])
    straight = sighted(*spot[0])
    direction = straight.where.direction
    turned = replace(direction, value_deg=direction.value_deg + 0.1)
    before, after = one(straight), one(replace(straight, where=replace(straight.where, direction=turned)))
    lever, _ = leverages(*pegs, spot)
    expected = lever.way[0] * lever.reach_m[0] * math.radians(0.1)
    moved = (after.geometry.x - before.geometry.x, after.geometry.y - before.geometry.y)
    assert moved == pytest.approx(tuple(expected), abs=1e-3)
    assert np.hypot(*expected) > 0.03


def test_floats_sighted_from_the_same_pegs_move_together_as_in_simulation():
    """Covariance of two spots by drawing pegs' points and straight outs (shared) and aims (not), 20 000 times."""
    points, spots = np.array([[0.0, 0.0], [35.0, 4.0]]), np.array([[12.0, 24.0], [22.0, 30.0]])
    point_sd, facing_sd, aim_sd = np.array([0.8, 0.5]), np.array([1.0, 0.0]), 0.5
    rng, found = np.random.default_rng(3), []
    for _ in range(20_000):
        at, turn = points + rng.normal(size=(2, 2)) * point_sd[:, None], rng.normal(size=2) * facing_sd
        drawn = []
        for spot in spots:
            sights = []
            for k in (0, 1):
                off = spot - points[k]
                azimuth = math.degrees(math.atan2(*off)) + turn[k] + rng.normal(0, aim_sd)
                sights.append(Sight(*at[k], azimuth, 1.0, 0.5))
            met = meeting(*sights)
            drawn += [met.easting, met.northing]
        found.append(drawn)
    seen = np.cov(np.array(found).T)
    levers = leverages(*(np.tile(point, (2, 1)) for point in points), spots)
    between, alone = np.zeros((2, 2)), np.zeros((2, 2))
    for lever, p, f in zip(levers, point_sd, facing_sd, strict=True):
        reach, across, way = lever.reach_m, lever.across, lever.way
        shared = p**2 * across[0] @ across[1] + reach[0] * reach[1] * math.radians(f) ** 2
        between += np.outer(way[0], way[1]) * shared
        alone += lever.covariance(np.full(2, p), np.full(2, math.hypot(f, aim_sd)))[0]
    scale = np.sqrt(np.outer(np.diag(seen)[:2], np.diag(seen)[2:]))
    assert seen[:2, 2:] / scale == pytest.approx(between / scale, abs=0.03)
    assert np.abs(between / scale).max() > 0.5
    assert seen[:2, :2] == pytest.approx(alone, rel=0.05, abs=0.02)


def test_the_evidence_parts_the_whole_ellipse_into_what_pegs_share_and_what_is_each_readings_own():
    guessed = replace(WEST_PEG, facing_sd_deg=3.0)
    venue = replace(VENUE, pegs=(guessed, replace(SOUTH_PEG, facing_sd_deg=3.0)))
    spots = [(25.0, 20.0), (40.0, 26.0), (33.0, 60.0)]
    readings = []
    for row, (x, y) in enumerate(spots, start=2):
        seen = sighted(WEST + x, SOUTH + y, row=row)
        first, second = (
            Direction("angle", d.value_deg - peg.facing_deg, "aimed")
            for d, peg in ((seen.where.direction, SOUTH_PEG), (seen.where.other_direction, WEST_PEG))
        )
        readings.append(replace(seen, where=Intersection(first, "1", second)))
    soundings, _ = reduce_soundings(book(*readings, venue=venue))
    observations = observations_from(venue, soundings, WaterGeometry(venue.water))
    slope = np.tile([0.3, -0.2], (3, 1))
    columns = observations.errors.columns(slope)
    side = np.column_stack([observations.along[:, 1], -observations.along[:, 0]])
    own = (observations.position_sd_m[:, 0] * (observations.along * slope).sum(axis=1)) ** 2
    own += (observations.position_sd_m[:, 1] * (side * slope).sum(axis=1)) ** 2
    table = soundings.table.iloc[observations.rows]
    radial = np.radians(table["radial_deg"].to_numpy(float))
    along = np.column_stack([np.sin(radial), np.cos(radial)])
    across = np.column_stack([along[:, 1], -along[:, 0]])
    whole = (table["radial_sd_m"] * (along * slope).sum(axis=1)) ** 2
    whole += (table["tangential_sd_m"] * (across * slope).sum(axis=1)) ** 2
    assert own + (columns**2).sum(axis=1) == pytest.approx(whole.to_numpy(float), rel=1e-3)
    assert (own < 0.8 * whole).all()
    assert (columns @ columns.T)[0, 1] > 0
