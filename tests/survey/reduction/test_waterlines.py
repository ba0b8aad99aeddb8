"""The water's edge on a day of low water is a contour of the bed."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from survey.checks.row_account import account
from survey.depth_model.fitting import fit_lake
from survey.depth_model.observations import observations_from
from survey.errors import SourceRow
from survey.findings import Grade
from survey.geometry.water import WaterGeometry
from survey.records.fieldbook import Edge
from survey.reduction.reduce import reduce_soundings
from tests.made.readings import DAY, SOUTH, VENUE, WEST, book, cast, level, moment, reading


def edge(*points, sd_m=1.0, when=DAY, name="") -> Edge:
    return Edge(SourceRow("edges.gpx", 1), name, moment(when), tuple((WEST + x, SOUTH + y) for x, y in points), sd_m)


def reduced(*edges, shown_m=-0.6, **more):
    given = book(reading(), levels=(level(shown_m),), **more)
    soundings, findings = reduce_soundings(replace(given, edges=tuple(edges)))
    return soundings.table.loc[soundings.table["method"] == "edge"], findings


def test_an_edge_lies_as_deep_below_datum_as_the_water_was_low():
    table, findings = reduced(edge((10, 10), (10, 70)))
    assert (table["depth_m"] == 0.6).all()
    assert (len(table), set(table["kind"])) == (10, {"depth"})
    assert table["row"].tolist() == list(range(1, 11))
    assert np.ptp(table.geometry.x) == pytest.approx(0, abs=1e-6)
    # The line runs north, so its error is east and west.
    assert table["radial_deg"].tolist() == pytest.approx([90.0] * 10)
    assert ((table["radial_sd_m"] == 1.0) & (table["tangential_sd_m"] == 0.0)).all()
    # No peg has a share in it.
    assert not table[["distance_m", "peg_sd_m", "facing_sd_deg", "facing2_sd_deg"]].to_numpy().any()
    assert not [f for f in findings if f.code.startswith("edge")]


def test_a_walk_with_a_phone_says_less_than_a_traced_line():
    assert len(reduced(edge((10, 10), (10, 70), sd_m=5.0))[0]) == 6


@pytest.mark.parametrize("end", [(10, 70), (60, 15), (15, 12), (45, 25)])
def test_an_edge_says_the_same_whichever_way_it_was_walked(end):
    one_way, back = (reduced(edge(*points))[0] for points in (((10, 10), end), (end, (10, 10))))
    said = ["depth_m", "radial_deg", "radial_sd_m", "tangential_sd_m"]
    for column in said:
        assert one_way[column].tolist() == pytest.approx(back[column].tolist()[::-1])
    assert one_way.geometry.x.tolist() == pytest.approx(back.geometry.x.tolist()[::-1])


@pytest.mark.parametrize(("shown_m", "points"), [(-0.03, 10), (-0.01, 0)])
def test_an_edge_counts_from_two_centimetres_below_datum(shown_m, points):
    table, findings = reduced(edge((10, 10), (10, 70)), shown_m=shown_m)
    assert len(table) == points
    assert bool([f for f in findings if f.code == "edge-not-low"]) == (points == 0)
    # As the water's edge is known on a gently shelving bed.
    assert (table["sd_m"] == 0.05).all()


def test_a_walk_of_any_length_counts_for_two_hundred_points_at_most():
    rows = [(x, y) for k, y in enumerate(np.arange(1.0, 29.0, 2.0)) for x in ((5, 115) if k % 2 else (115, 5))]
    table, _ = reduced(edge(*rows))
    assert len(table) == 200


def test_points_ashore_are_left_out_and_counted():
    table, findings = reduced(edge((-20, 40), (40, 40)))
    assert len(table) == 7
    (told,) = [f for f in findings if f.code == "edge-ashore"]
    assert told.problem.startswith("3 of 10 points")


def test_half_a_metre_ashore_is_ashore():
    table, findings = reduced(edge((-0.5, 10), (-0.5, 70)))
    assert table.empty
    assert [f.problem[:12] for f in findings if f.code == "edge-ashore"] == ["10 of 10 poi"]


def test_a_few_steps_along_the_edge_are_two_points():
    assert len(reduced(edge((10, 10), (13, 10)))[0]) == 2


@pytest.mark.parametrize(("shown_m", "when", "code", "grade"), [
    (0.3, DAY, "edge-not-low", Grade.NOTE), (0.0, DAY, "edge-not-low", Grade.NOTE),
    (-0.6, DAY + timedelta(days=9), "edge-level-unknown", Grade.WARNING),
])  # fmt: skip
def test_an_edge_of_no_use_is_told_of(shown_m, when, code, grade):
    table, findings = reduced(edge((10, 10), (10, 70), when=when), shown_m=shown_m)
    assert table.empty
    assert [(f.grade, str(f.place)) for f in findings if f.code == code] == [(grade, "edges.gpx, row 1")]


def test_a_shallow_that_only_shows_at_low_water_comes_out():
    """A ring 0.6 m below datum in the middle of three metres of water pulls the bed up to it."""
    readings = [
        reading(row, peg="1", where=cast(angle, far), depth_m=2.4)
        for row, (angle, far) in enumerate([(a, d) for a in (-60, -40, -20, 0, 20) for d in (10, 20, 30, 40)], start=2)
    ]
    ring = [(42 + 6 * np.cos(t), 66 + 6 * np.sin(t)) for t in np.linspace(0, 2 * np.pi, 20)]
    given = book(*readings, levels=(level(-0.6),))
    depth = {}
    for name, edges in (("without", ()), ("with", (edge(*ring),))):
        soundings, _ = reduce_soundings(replace(given, edges=edges))
        frame = WaterGeometry(VENUE.water)
        model = fit_lake(frame, observations_from(VENUE, soundings, frame))
        depth[name] = float(model.predict(np.array([[WEST + 42, SOUTH + 66]]))[0][0])
    assert depth["with"] < depth["without"] - 0.5
    assert depth["with"] == pytest.approx(0.6, abs=0.5)


def test_edges_are_not_rows_of_a_sheet():
    given = replace(book(reading(), levels=(level(-0.6),)), edges=(edge((10, 10), (10, 70)),))
    soundings, findings = reduce_soundings(given)
    rows = account(given, soundings, findings)
    assert (rows.rows, rows.as_depths, rows.adds_up) == (1, 1, True)
