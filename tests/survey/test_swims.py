"""Margin, short, middle and long: on beds drawn by hand, and on the demo lake within each peg's own swim."""

from dataclasses import replace

import numpy as np
import pytest

from survey import swims
from survey.fixes import Geometry
from survey.landing import Shore
from survey.swims import MARGIN_DEPTH_M, NAMES, Along, places_along, suggested
from tests.survey.made_readings import VENUE


def along(depth) -> Along:
    out = np.arange(1, 91) * 0.5
    return Along(out, np.array([depth(x) for x in out]), np.ones(90, bool))


def drawn(x: float) -> float:
    """Slope of 1 in 3 to 2.5 m at 7.5 m, flat to 30 m, then up 1 in 4 to an island."""
    return min(x / 3, 2.5) if x < 30 else max(2.5 - (x - 30) / 4, 0.1)


def test_the_four_places_of_a_bed_drawn_by_hand():
    places = places_along(along(drawn))
    # Two feet at 1 in 3 is 1.83 m out; slopes are taken over two metres, so corners show within one.
    assert places["margin"] == 2.0
    assert places["short"] == pytest.approx(7.5, abs=1.0)
    assert places["middle"] == pytest.approx(7.5 + 1.0 + 2.5, abs=1.5)
    assert places["long"] == pytest.approx(30.0, abs=1.0)
    assert tuple(places) == NAMES


def test_a_flat_margin_has_no_near_slope_and_no_far_one():
    places = places_along(along(lambda x: min(0.04 * x, 1.2)))
    assert set(places) == {"margin", "middle"}
    assert places["margin"] == 15.5


def test_a_bank_that_falls_all_the_way_has_no_bottom_and_no_flat():
    assert set(places_along(along(lambda x: x / 4))) == {"margin"}


def test_unsurveyed_places_are_not_offered():
    line = along(drawn)
    blind = Along(line.out_m, line.depth_m, line.out_m < 5)
    assert set(places_along(blind)) == {"margin"}


def test_a_peg_with_no_water_ahead_has_no_spot():
    nothing = np.zeros(0)
    assert places_along(Along(nothing, nothing, np.zeros(0, bool))) == {}


@pytest.mark.parametrize(("nearest_deg", "at_m"), [(0.0, 2.0), (-15.0, 2.0), (30.0, 2.0)])
def test_the_margin_is_where_two_feet_are_nearest_and_the_rest_straightest_out(monkeypatch, nearest_deg, at_m):
    """Two feet of water two metres out one way, five metres out all others; every other place lies straight ahead."""
    later = along(lambda x: max(drawn(max(x - 3.0, 0.0)), 0.05))
    monkeypatch.setattr(swims, "_along", lambda _, angle, *__: along(drawn) if angle == nearest_deg else later)
    peg = replace(VENUE, pegs=VENUE.pegs[:1])
    found = {spot.name: (spot.angle_deg, spot.distance_m) for spot in suggested(peg, None)}
    assert found["margin"] == (nearest_deg, at_m)
    assert {found[name][0] for name in NAMES[1:]} == {0.0}


def test_a_cast_is_followed_as_far_as_the_venue_reaches_and_no_further(demo_worked):
    venue = replace(demo_worked.venue, limits=replace(demo_worked.venue.limits, reach_m=20.0))
    geometry, shore = Geometry(venue.crs), Shore(venue.water)
    lines = [swims._along(peg, 0.0, venue, demo_worked.bed, geometry, shore).out_m for peg in venue.pegs]
    assert max(line[-1] for line in lines if len(line)) == pytest.approx(20.0)


@pytest.fixture(scope="module")
def spots(demo_worked):
    return suggested(demo_worked.venue, demo_worked.bed)


def test_every_spot_of_the_demo_lies_in_sight_within_reach_in_its_peg_s_own_swim(demo_worked, spots):
    venue, shore = demo_worked.venue, Shore(demo_worked.venue.water)
    assert {s.peg for s in spots} == {p.name for p in venue.pegs}
    assert {s.name for s in spots} == set(NAMES)
    for spot in spots:
        at, peg = (spot.easting, spot.northing), venue.peg(spot.peg)
        own = np.hypot(at[0] - peg.easting, at[1] - peg.northing)
        assert spot.distance_m <= venue.limits.reach_m
        assert shore.in_sight((peg.easting, peg.northing), at)
        for other in venue.pegs:
            near = np.hypot(at[0] - other.easting, at[1] - other.northing) < own - 0.1
            assert not (near and shore.in_sight((other.easting, other.northing), at))


def test_margins_are_two_feet_deep_and_surveyed(demo_worked, spots):
    for spot in spots:
        depth, sd, _ = demo_worked.bed.at(spot.easting, spot.northing)
        assert sd[0] <= demo_worked.venue.limits.sd_m
        if spot.name == "margin":
            assert depth[0] >= MARGIN_DEPTH_M - 0.01


def test_names_come_once_a_peg_in_their_order_and_pegs_in_theirs(demo_worked, spots):
    order = [p.name for p in demo_worked.venue.pegs]
    keys = [(order.index(s.peg), NAMES.index(s.name)) for s in spots]
    assert keys == sorted(set(keys))
