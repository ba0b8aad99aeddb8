"""Still and live drawings of the same things are the same drawing, mark by mark: one description makes both."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, MultiPolygon

from maps.drawing import peg_fan, still_map
from maps.drawing.colours import bands
from maps.drawing.cross_section import Profile, Rigged, section
from maps.drawing.description import description
from maps.drawing.peg_fan import Fan, PublishedSurvey
from maps.drawing.peg_view import PegView
from maps.drawing.picture import sample_bed, unsurveyed
from maps.drawing.projection import LocalProjection, fit_projection
from maps.drawing.still_map import Drawing, drawn_map
from maps.language.catalogue import catalogue_of
from maps.page.map_page import PANES
from survey.spots.float_setting import RigStyle
from tests.made.tolerances import DRAWN_TENTH
from tests.twins.laid import Laid, laid_on_map
from tests.twins.primitives import assert_same_drawing, primitives
from tests.twins.test_answers import python_answer

CASTS = [("12", "12:30", 14.0), ("4", "10:00", 33.0), ("1", "2:00", 3.0), ("NA", "12:00", 60.0)]
FLOATS = ["Reed & Rush", "Tip ruler", None, {"length_m": 0.4, "tip_m": 0.03}]
SECTION_JS = """asked => { window.lakeplumb.ask(asked);
  return document.querySelector("#profile-drawing svg").outerHTML }"""


@pytest.mark.parametrize("shows", ["feet", "metres"])
def test_a_live_section_is_the_still_one_mark_by_mark(worked, opened, shows):
    page, venue, said = opened(), worked.venue, catalogue_of(worked.venue)
    page.locator("#units label", has_text=shows.title()).click()
    met = set()
    for (peg, clock, distance_m), held_by, rig in product(CASTS, FLOATS, RigStyle):
        asked = {
            "peg": peg,
            "clock": clock,
            "distance_m": distance_m,
            "level": 0.45,
            "float": held_by,
            "rig": rig.value,
        }
        live = page.evaluate(SECTION_JS, asked)
        answer = python_answer(worked, asked)
        along = section(venue, worked.bed, venue.peg(peg), answer.spot.angle_deg, distance_m, venue.mark.rise_m(0.45))
        described = description("section", "live") | {"width": float(live.split('viewBox="0 0 ')[1].split()[0])}
        setting = next((one for one in answer.settings if one.rig is rig and one.setting_m is not None), None)
        still = Profile(along, said.say("peg_title", peg=peg), replace(venue, shows=shows), said, described)
        assert_same_drawing(primitives(still.drawn("", Rigged(answer, setting))), primitives(live), DRAWN_TENTH)
        met.add(setting is not None)
    assert met == {True, False}, "with a rig and without"


def shared(name: str) -> list[dict]:
    """The layers of a still drawing that the live one has too, each word where its place is."""
    live = {layer["each"] for layer in description(name, "live")["layers"]}
    layers = [layer for layer in description(name)["layers"] if layer["each"] in live]
    return [{**layer, "marks": [_placed(mark) for mark in layer["marks"]]} for layer in layers]


def _placed(mark: dict) -> dict:
    if mark["tag"] != "text":
        return mark
    turned = {"transform": "rotate({turn})"} if "transform" in mark else {}
    return {**mark, "x": "{x}", "y": "{y}", **turned}


@pytest.fixture
def frame(worked) -> LocalProjection:
    return fit_projection(worked.venue.crs, worked.venue.water.bounds)


@pytest.mark.parametrize("name", ["1", "4", "12", "NA"])
def test_a_live_fan_is_the_still_one_mark_by_mark(worked, frame, opened, monkeypatch, name):
    page, peg = opened(), worked.venue.peg(name)
    page.evaluate("peg => window.lakeplumb.ask({ peg, clock: '12:00', distance_m: 9 })", name)
    labelled = description("fan", "live")["labelled_deg"]
    monkeypatch.setattr(peg_fan, "DESCRIBED", {**description("fan"), "layers": shared("fan"), "labelled_deg": labelled})
    spots = tuple(spot for spot in worked.spots if spot.peg == name)
    numbers = {str(k + 1) for k in range(len(spots))}
    still = primitives(Fan(PublishedSurvey(worked, bands([]), MultiPolygon()), peg, spots).drawn())
    # The numbers of spots and the casing of their rings are each one medium's own.
    rings = next(k for k, one in enumerate(still) if one.kind == "circle")
    still = [*still[:rings], *(one for one in still[rings:] if one.words not in numbers)]
    live = [one for one in laid_on_map(page, frame, ["fan"]) if one.kind != "circle" or one.look["fill"] != "none"]
    view = PegView.of(peg, worked.venue.crs)
    for mine, theirs in zip(still, live, strict=True):
        assert (mine.kind, mine.words) == (theirs.kind, theirs.words)
        np.testing.assert_allclose(mine.points, view.local(theirs.points) * [1, -1], atol=DRAWN_TENTH)
        assert mine.kind == "text" or dict(mine.look)["stroke"] == theirs.look["color"]
    assert len(live) > 10


LAYERS = ["unsurveyed", "contours", "strong_contours", "shores", "islands", "figures"]
"""Of the map, those that both media have."""


def width_of(layer: str) -> float:
    """Pixels of a live layer's own line, the last that it draws."""
    live = description("map", "live")
    marks = next(one["marks"] for one in live["layers"] if one["each"] == layer)
    return pytest.approx(marks[-1]["stroke-width"] * live["unit"], abs=0.01)


def test_layers_lie_over_one_another_in_the_same_order():
    panes = {layer["each"]: layer["pane"] for layer in description("map", "live")["layers"]}
    assert [layer["each"] for layer in shared("map")] == LAYERS
    assert [layer for layer in panes if layer in LAYERS] == LAYERS
    heights = [PANES[panes[layer]] for layer in LAYERS]
    assert heights == sorted(heights)


class BothMaps:
    """The marks of the still map, layer by layer, and all that the page lays."""

    def __init__(self, worked, frame, page, monkeypatch) -> None:
        sheet = sample_bed(worked.bed, frame, worked.venue.limits)
        cut, hatched = bands(worked.isobaths["depth_m"]), unsurveyed(sheet, frame, worked.venue.water)
        self.drawing = Drawing(frame, sheet)
        self.still = {}
        for layer in shared("map"):
            monkeypatch.setattr(still_map, "DESCRIBED", {**description("map"), "layers": [layer]})
            self.still[layer["each"]] = primitives(drawn_map(worked, b"", self.drawing, cut, hatched, ""))
        self._laid = laid_on_map(page, frame, list(PANES))

    def live(self, pane: str) -> list[Laid]:
        """What is laid in one pane, and is not empty."""
        return [one for one in self._laid if one.pane == pane and one.parts]


@pytest.fixture
def both_maps(worked, frame, opened, monkeypatch):
    return BothMaps(worked, frame, opened(), monkeypatch)


@pytest.mark.parametrize("layer", ["shores", "islands"])
def test_live_shores_are_the_still_ones_point_by_point(both_maps, layer):
    still = both_maps.still[layer]
    # The soft edge of a shore and the paper of an island are the live map's own.
    live = [one for one in both_maps.live("shore") if one.look["weight"] == width_of(layer)]
    for mine, theirs in zip(still, live, strict=True):
        assert mine.kind == theirs.kind
        np.testing.assert_allclose(mine.points, both_maps.drawing.place(theirs.points), atol=DRAWN_TENTH)
        assert dict(mine.look)["stroke"] == theirs.look["color"]
    assert live


def test_live_unsurveyed_water_is_the_still_one_point_by_point(both_maps):
    still, live = both_maps.still["unsurveyed"], both_maps.live("unsurveyed")
    for mine, theirs in zip(still, live, strict=True):
        np.testing.assert_allclose(mine.points, both_maps.drawing.place(theirs.points), atol=DRAWN_TENTH)
    assert live


@pytest.mark.parametrize("layer", ["contours", "strong_contours"])
def test_live_contours_run_where_the_still_ones_do(worked, both_maps, layer):
    """Both are thinned: still ones to half a cell of the grid, live ones, which are drawn larger, to an eighth."""
    live = [one for one in both_maps.live("contours") if one.look["weight"] == width_of(layer)]
    ours = shapely.union_all([LineString(part) for one in both_maps.still[layer] for part in one.runs])
    theirs = shapely.union_all([LineString(both_maps.drawing.place(part)) for one in live for part in one.parts])
    assert ours.hausdorff_distance(theirs) < (1 / 2 + 1 / 8) * worked.bed.grid.cell_m + DRAWN_TENTH


def test_live_figures_are_the_still_ones_and_those_that_crowd_on_paper(both_maps):
    """On the page figures that crowd are hidden as the map is drawn larger and smaller."""
    still, live = both_maps.still["figures"], both_maps.live("figures")
    places = np.concatenate([both_maps.drawing.place(one.points) for one in live])
    nearest = [int(np.hypot(*(places - mine.points).T).argmin()) for mine in still]
    assert nearest == sorted(set(nearest)), "in the same order, each its own"
    for mine, k in zip(still, nearest, strict=True):
        np.testing.assert_allclose(mine.points[0], places[k], atol=DRAWN_TENTH)
        assert mine.words == live[k].words.replace("′", " ft ").replace("″", " in").strip()
        # Its ends are whole centimetres, three metres apart.
        assert abs((mine.numbers[-1] - live[k].turn + 180) % 360 - 180) < 0.5
    assert len(still) > 3
