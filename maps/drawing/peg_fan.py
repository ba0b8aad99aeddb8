"""The water before one peg, drawn to scale with straight out at the top: tints, contours, the fan of casts, the spots.

A unit is a metre on the ground. The same drawing serves the peg's page and its printed card; the page's map lays its
casts over the water, of the same description. Knows nothing of either.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import compress

import contourpy
import numpy as np
import shapely
from scipy.ndimage import distance_transform_edt
from shapely.geometry import LineString, MultiPolygon

from maps.drawing.colours import INK, Band
from maps.drawing.description import Values, description, drawn, hatch, line, path
from maps.drawing.fan_casts import along_arc, arc_step, fan_casts
from maps.drawing.peg_view import PegView, cast_at, in_sight
from maps.drawing.still_map import FONTS, depth_look, upright
from maps.language.catalogue import catalogue_of
from maps.language.escape import text
from survey.arrays import FloatArray
from survey.records.venue import Peg
from survey.spots.cast import Spot
from survey.units import clock_text
from survey.workup import WorkedSurvey

DESCRIBED = description("fan")
STEP_M = 0.75


@dataclass(frozen=True)
class PublishedSurvey:
    """What of a lake is the same for the fans of all its pegs: bands, unsurveyed water."""

    worked: WorkedSurvey
    cut: tuple[Band, ...]
    hatched: MultiPolygon


class Fan:
    """The drawing of one peg.

    Parameters
    ----------
    lake : PublishedSurvey
    peg : Peg
    spots : tuple of Spot
        Marked with their numbers, from 1.
    """

    def __init__(self, lake: PublishedSurvey, peg: Peg, spots: tuple[Spot, ...]) -> None:
        self._lake, self._peg, self._spots = lake, peg, spots
        self._venue = lake.worked.venue
        self._said = catalogue_of(self._venue)
        self._frame = PegView.of(peg, self._venue.crs)
        room = DESCRIBED["room"]
        self.reach_m = self._venue.limits.reach_m
        self._ahead, self._back = self.reach_m + room["beyond_m"], room["bank_m"]
        self.width_m = 2 * (self.reach_m + room["beside_m"])
        self.height_m = self._ahead + self._back
        self._letter = self.width_m / DESCRIBED["letters_across"]
        self._window = shapely.box(-self.width_m / 2, -self._back, self.width_m / 2, self._ahead)
        self._in_sight = in_sight(self._frame, self._venue.water, self.reach_m)

    @property
    def alt(self) -> str:
        """The drawing in words, for who cannot see it."""
        counted = self._venue.distances
        step = self._said.counted(str(arc_step(self.reach_m, DESCRIBED, counted)), counted)
        return self._said.say("peg_fan_alt", peg=self._peg.name, step=step)

    def drawn(self) -> str:
        """The drawing as SVG text, named to who cannot see it; words of the sources are escaped."""
        key = f"fan-{self._peg.place.row or 0}"
        box = f"{-self.width_m / 2:g} {-self._ahead:g} {self.width_m:g} {self.height_m:g}"
        things = {
            "tints": self._tints(),
            "unsurveyed": [{"line": path} for path in [_path(self._local(self._lake.hatched))] if path],
            **self._contours(),
            "shores": [{"line": _path(self._local(self._venue.water.boundary))}],
            "figures": self._figures(),
            **self._fan(),
            **self._pegs(),
            "spots": [{**_at(*at), "number": str(k)} for k, at in enumerate(self._spot_places(), start=1)],
            "norths": [self._north()],
        }
        marks = drawn(DESCRIBED["layers"], {"key": key, "zero": 0.0}, things, self._said.texts, self._letter)
        hatched = hatch(f"{key}-h", DESCRIBED["hatch"], self._letter)
        water = f'<path d="{_path(self._local(self._venue.water))}" clip-rule="evenodd"/>'
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" font-family="{FONTS}"'
            f' font-size="{self._letter:.2f}" fill="{INK}"><title>{text(self.alt)}</title>'
            f'<defs>{hatched}<clipPath id="{key}-w">{water}</clipPath></defs>{marks}</svg>'
        )

    def _local(self, shape: shapely.Geometry) -> shapely.Geometry:
        """A shape of the venue as it lies before the peg, cut at the drawing's edge."""
        return shapely.intersection(shapely.make_valid(shapely.transform(shape, self._frame.local)), self._window)

    def _tints(self) -> Iterable[Values]:
        """Each band over all that is shallower, so that no seam shows between them."""
        right = np.arange(-self.width_m / 2, self.width_m / 2 + STEP_M, STEP_M)
        ahead = np.arange(-self._back, self._ahead + STEP_M, STEP_M)
        x, y = np.meshgrid(right, ahead)
        depth, _, _ = self._lake.worked.bed.at(*(a.ravel() for a in self._frame.venue(x, y)))
        depth = depth.reshape(x.shape)
        if np.isnan(depth).all():
            return
        nearest = distance_transform_edt(np.isnan(depth), return_distances=False, return_indices=True)
        lines = contourpy.contour_generator(x, y, depth[tuple(nearest)], fill_type="OuterOffset")
        for band in self._lake.cut:
            points, offsets = lines.filled(-np.inf if band.from_m <= 0 else band.from_m, np.inf)
            rings = [ring for p, o in zip(points, offsets, strict=True) for ring in np.split(p, o[1:-1])]
            if rings:
                yield {
                    "line": "".join(f"{_line(LineString(ring).simplify(0.1).coords)}Z" for ring in rings),
                    "colour": band.colour,
                }

    def _lines(self) -> list[tuple[float, bool, shapely.Geometry]]:
        lines = self._lake.worked.isobaths
        found = zip(lines["depth_m"], lines["strong"], lines.geometry, strict=True)
        local = ((float(d), bool(s), self._local(g).simplify(0.2)) for d, s, g in found)
        return [(d, s, g) for d, s, g in local if not g.is_empty]

    def _contours(self) -> dict[str, list[Values]]:
        things: dict[str, list[Values]] = {"contours": [], "strong_contours": []}
        for depth, strong, shape in self._lines():
            look = depth_look(self._venue, depth, self._lake.cut)
            things["strong_contours" if strong else "contours"].append({"line": _path(shape), **look})
        return things

    def _figures(self) -> Iterable[Values]:
        """Depths along the contours, upright to the reader, clear of one another and of the spots."""
        taken, rule = [*self._spot_places(), (0.0, 0.0)], DESCRIBED["figures"]
        for depth, _, shape in sorted(self._lines(), key=lambda found: (not found[1], found[0])):
            lines = (part for part in shapely.get_parts(shape) if isinstance(part, LineString))
            parts = [part for part in lines if part.length >= rule["least_line_m"]]
            for part in sorted(parts, key=lambda p: -p.length)[:2]:
                far = rule["apart"] * self._letter
                at = next((p for p in _along(part) if all(_apart(p, other) > far for other in taken)), None)
                if at:
                    taken.append(at)
                    look = depth_look(self._venue, depth, self._lake.cut)
                    yield {**_at(*at), "turn": _turn(part, at), **look}

    def _fan(self) -> dict[str, list[Values]]:
        casts = fan_casts(self._in_sight, self.reach_m, DESCRIBED, self._venue.distances)
        lines = [[cast_at(d, r) for d in along_arc(*ends, DESCRIBED["chord_deg"])] for r, *ends in casts.arcs]
        spokes = [(d, {"line": _line([(0.0, 0.0), cast_at(d, out)])}) for d, out in casts.spokes]
        return {
            "arcs": [{"line": _line(points)} for points in lines],
            "spokes": [spoke for d, spoke in spokes if d],
            "straight": [spoke for d, spoke in spokes if not d],
            "distances": [
                {**_at(*cast_at(*cast)), "distance": self._said.whole_distance(cast[1], self._venue.distances)}
                for cast in casts.distances
            ],
            "hours": [{**_at(*cast_at(*cast)), "clock": hour_text(cast[0])} for cast in casts.hours],
        }

    def _spot_places(self) -> list[tuple[float, float]]:
        return [cast_at(spot.angle_deg, spot.distance_m) for spot in self._spots]

    def _pegs(self) -> dict[str, list[Values]]:
        places = self._frame.local(np.array([[peg.easting, peg.northing] for peg in self._venue.pegs]))
        beside, ahead = np.abs(places[:, 0]), places[:, 1]
        near = (beside < self.width_m / 2 - 1) & (-self._back < ahead) & (ahead < self.reach_m)
        things: dict[str, list[Values]] = {"pegs": [], "chosen": []}
        for peg, at in zip(compress(self._venue.pegs, near), places[near], strict=True):
            things["chosen" if peg is self._peg else "pegs"].append(self._stroke(peg, at))
        return things

    def _stroke(self, other: Peg, at: FloatArray) -> Values:
        """A stroke across the bank, its name behind it."""
        here, rule = other is self._peg, DESCRIBED["peg"]
        turn = math.radians(other.facing_deg - self._peg.facing_deg)
        ahead = np.array([math.sin(turn), math.cos(turn)])
        half = rule["chosen_half_m" if here else "half_m"]
        back = at - (half + rule["name_off"] * self._letter) * ahead
        # A name cut in half by the edge cannot be read.
        named = here or self._window.buffer(-rule["name_room"] * self._letter).contains(shapely.Point(back))
        stroke = _line([tuple(at + half * ahead), tuple(at - half * ahead)])
        return {"line": stroke, **_at(*back), "name": shortened(other.name) if named else ""}

    def _north(self) -> Values:
        inset = DESCRIBED["north_inset"] * self._letter
        return {**_at(-self.width_m / 2 + inset, -self._back + inset), "turn": -self._peg.facing_deg}


def hour_text(angle_deg: float) -> str:
    """An hour of the clock face without its minutes."""
    return clock_text(angle_deg).replace(":00", "")


def shortened(name: str) -> str:
    """A painted name short enough for a drawing, as the page shortens it."""
    most = description("section")["longest_name"]
    return name if len(name) <= most else f"{name[: most - 1]}…"


def _apart(a: tuple[float, float], b: tuple[float, float]) -> float:
    return math.hypot(a[0] - b[0], a[1] - b[1])


def _along(line: LineString) -> Iterable[tuple[float, float]]:
    """Places along a line, the middle first."""
    for share in (0.5, 0.35, 0.65, 0.2, 0.8):
        at = line.interpolate(share, normalized=True)
        yield at.x, at.y


def _turn(part: LineString, at: tuple[float, float]) -> float:
    place = part.project(shapely.Point(at))
    a, b = (part.interpolate(max(place + d, 0.0)) for d in (-1.0, 1.0))
    return upright(-math.degrees(math.atan2(b.y - a.y, b.x - a.x)))


def _at(right: float, ahead: float) -> Values:
    return {"x": right, "y": -ahead}


def _line(points: Iterable[Sequence[float]]) -> str:
    return line((x, -y) for x, y in points)


def _path(shape: shapely.Geometry) -> str:
    """Path data of lines and areas before a peg."""
    return path(shapely.transform(shape.simplify(0.1), lambda xy: xy * [1, -1]))
