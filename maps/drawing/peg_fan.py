"""The water before one peg, drawn to scale with straight out at the top: tints, contours, the fan of casts, the spots.

A unit is a metre on the ground. The same drawing serves the peg's page and its printed card. Knows nothing of either.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import contourpy
import numpy as np
import shapely
from scipy.ndimage import distance_transform_edt
from shapely.geometry import LineString, MultiPolygon, Polygon

from maps.drawing.colours import ACCENT, INK, PAPER, Band, band_at
from maps.drawing.description import description
from maps.drawing.peg_view import PegView, cast_at, in_sight, seen_area
from maps.drawing.still_map import FONTS
from maps.language.catalogue import catalogue_of
from maps.language.escape import text
from survey.arrays import FloatArray
from survey.records.venue import Peg
from survey.spots.cast import Spot
from survey.units import clock_text, feet_inches
from survey.workup import WorkedSurvey

DESCRIBED = description("fan")
STEP_M = 0.75
BACK_M = 9.0
"""Bank drawn behind the peg."""
LETTER_SHARE = 1 / 30
"""Height of a letter as a share of the drawing's width."""
LEAST_SPOKE_M = 8.0
LEAST_FIGURED_M = 6.0
"""A contour shorter than this has no figure."""
NORTH_LETTERS = 2.2
"""The arrow's middle lies so many letters from the drawing's edge, so that it is whole however it is turned."""
FIGURE_LETTERS = 4.0
"""Figures stand at least so many letters apart."""


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
        self.reach_m = self._venue.limits.reach_m
        self.width_m = 2 * self.reach_m + 2.0
        self.height_m = self.reach_m + 3.0 + BACK_M
        self._letter = self.width_m * LETTER_SHARE
        self._window = shapely.box(-self.width_m / 2, -BACK_M, self.width_m / 2, self.reach_m + 3.0)
        self._water = self._local(self._venue.water)
        self._in_sight = in_sight(self._water, self.reach_m)

    def drawn(self, title: str) -> str:
        """The drawing as SVG text, named to who cannot see it; words of the sources are escaped."""
        key = f"fan-{self._peg.place.row or 0}"
        box = f"{-self.width_m / 2:g} {-(self.reach_m + 3.0):g} {self.width_m:g} {self.height_m:g}"
        hatch = (
            f'<pattern id="{key}-h" width="1.6" height="1.6" patternUnits="userSpaceOnUse"'
            f' patternTransform="rotate(45)"><path d="M0 0V1.6" stroke="{INK}" stroke-opacity=".6" stroke-width=".28"/>'
            "</pattern>"
        )
        water = "".join(
            f'<clipPath id="{key}-{name}"><path d="{_path(area)}" clip-rule="evenodd"/></clipPath>'
            for name, area in (("w", self._water), ("s", seen_area(self._in_sight)))
        )
        shore = self._local(self._venue.water.boundary)
        inside = [*self._tints(), self._hatched(key), *self._contours()]
        parts = [
            f"<title>{text(title)}</title><defs>{hatch}{water}</defs>",
            f'<g clip-path="url(#{key}-w)">{"".join(inside)}</g>',
            f'<path d="{_path(shore)}" fill="none" stroke="{INK}" stroke-width=".4"/>',
            *self._figures(),
            *self._fan(key),
            *self._marks(),
            self._north(),
        ]
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" font-family="{FONTS}"'
            f' font-size="{self._letter:.2f}" fill="{INK}">{"".join(parts)}</svg>'
        )

    def _local(self, shape: shapely.Geometry) -> shapely.Geometry:
        """A shape of the venue as it lies before the peg, cut at the drawing's edge."""
        return shapely.intersection(shapely.make_valid(shapely.transform(shape, self._frame.local)), self._window)

    def _tints(self) -> Iterable[str]:
        """Each band over all that is shallower, so that no seam shows between them."""
        right = np.arange(-self.width_m / 2, self.width_m / 2 + STEP_M, STEP_M)
        ahead = np.arange(-BACK_M, self.reach_m + 3.0 + STEP_M, STEP_M)
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
                yield f'<path d="{"".join(_ring(ring) for ring in rings)}" fill="{band.colour}" fill-rule="evenodd"/>'

    def _hatched(self, key: str) -> str:
        area = self._local(self._lake.hatched)
        covered = f'<path d="{_path(area)}" fill="{PAPER}"/><path d="{_path(area)}" fill="url(#{key}-h)"/>'
        return "" if area.is_empty else covered

    def _lines(self) -> list[tuple[float, bool, shapely.Geometry]]:
        lines = self._lake.worked.isobaths
        found = zip(lines["depth_m"], lines["strong"], lines.geometry, strict=True)
        local = ((float(d), bool(s), self._local(g).simplify(0.2)) for d, s, g in found)
        return [(d, s, g) for d, s, g in local if not g.is_empty]

    def _contours(self) -> list[str]:
        return [
            f'<path d="{_path(line)}" fill="none" stroke="{_over(self._lake.cut, depth)}"'
            f' stroke-width="{0.28 if strong else 0.13}"/>'
            for depth, strong, line in self._lines()
        ]

    def _figures(self) -> Iterable[str]:
        """Depths along the contours, upright to the reader, clear of one another and of the spots."""
        taken = [*self._spot_places(), (0.0, 0.0)]
        for depth, _, line in sorted(self._lines(), key=lambda found: (not found[1], found[0])):
            parts = [p for p in shapely.get_parts(line) if isinstance(p, LineString) and p.length >= LEAST_FIGURED_M]
            for part in sorted(parts, key=lambda p: -p.length)[:2]:
                far = FIGURE_LETTERS * self._letter
                at = next((p for p in _along(part) if all(_apart(p, other) > far for other in taken)), None)
                if at:
                    taken.append(at)
                    yield self._figure(depth, part, at)

    def _figure(self, depth: float, part: LineString, at: tuple[float, float]) -> str:
        place = part.project(shapely.Point(at))
        a, b = (part.interpolate(max(place + d, 0.0)) for d in (-1.0, 1.0))
        turn = -math.degrees(math.atan2(b.y - a.y, b.x - a.x))
        upright = turn + 180 if abs(turn) > 90 else turn  # noqa: PLR2004 - a right angle
        ground = band_at(depth, self._lake.cut)
        ink, halo = (PAPER, ground.colour) if ground.pale_line else (INK, ground.colour)
        shown = feet_inches(depth, 1) if self._venue.shows == "feet" else self._said.metres(depth)
        where = f'transform="translate({at[0]:.1f} {-at[1]:.1f}) rotate({upright:.0f})"'
        return (
            f'<text {where} y="{0.32 * self._letter:.2f}" text-anchor="middle" font-size="{0.8 * self._letter:.2f}"'
            f' fill="{ink}" stroke="{halo}" stroke-width=".7" paint-order="stroke">{shown}</text>'
        )

    def _fan(self, key: str) -> Iterable[str]:
        step = DESCRIBED["arc_steps_m"][self.reach_m > DESCRIBED["far_reach_m"]]
        radii = range(step, int(self.reach_m) + 1, step)
        arcs = "".join(f"M{-r} 0A{r} {r} 0 0 1 {r} 0" for r in radii)
        spokes = "".join("M0 0L" + _point(cast_at(angle, self.reach_m)) for angle in DESCRIBED["hours_deg"] if angle)
        out = f"M0 0L{_point(cast_at(0, self.reach_m))}"
        for path, width, dash in ((arcs, 0.22, ""), (spokes, 0.18, "0.5 1"), (out, 0.3, "")):
            dashed = f' stroke-dasharray="{dash}"' if dash else ""
            yield (
                f'<g clip-path="url(#{key}-s)" fill="none">'
                f'<path d="{path}" stroke="{PAPER}" stroke-opacity=".7" stroke-width="{width + 0.4:.2f}"/>'
                f'<path d="{path}" stroke="{ACCENT}" stroke-width="{width}"{dashed}/></g>'
            )
        for r in radii:
            beside = next((angle for angle in DESCRIBED["beside_deg"] if self._in_sight[angle] > r), None)
            if beside is not None:
                yield self._words(cast_at(beside, r), f"{r} m", ACCENT, 0.75)
        for angle in DESCRIBED["hours_deg"]:
            if self._in_sight[angle] >= LEAST_SPOKE_M:
                at = cast_at(angle, min(self._in_sight[angle], self.reach_m) - 2.0)
                yield self._words(at, clock_text(angle).replace(":00", ""), ACCENT, 0.85)

    def _words(self, at: tuple[float, float], words: str, colour: str = INK, size: float = 1.0) -> str:
        x, y = at[0], -at[1] + 0.35 * size * self._letter
        return (
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle" font-size="{size * self._letter:.2f}"'
            f' font-weight="700" fill="{colour}" stroke="{PAPER}" stroke-width=".8" paint-order="stroke">'
            f"{text(words)}</text>"
        )

    def _spot_places(self) -> list[tuple[float, float]]:
        return [cast_at(spot.angle_deg, spot.distance_m) for spot in self._spots]

    def _marks(self) -> Iterable[str]:
        for other in self._venue.pegs:
            x, y = self._frame.local(np.array([[other.easting, other.northing]]))[0]
            if abs(x) < self.width_m / 2 - 1 and -BACK_M < y < self.reach_m:
                yield from self._stroke(other, float(x), float(y))
        for number, (x, y) in enumerate(self._spot_places(), start=1):
            r = 0.62 * self._letter
            yield f'<circle cx="{x:.1f}" cy="{-y:.1f}" r="{r:.2f}" fill="{PAPER}" stroke="{ACCENT}" stroke-width=".5"/>'
            yield self._words((x, y), str(number), ACCENT, 0.85)

    def _stroke(self, other: Peg, x: float, y: float) -> Iterable[str]:
        """A stroke across the bank, its name behind it."""
        here = other is self._peg
        turn = math.radians(other.facing_deg - self._peg.facing_deg)
        ahead = np.array([math.sin(turn), math.cos(turn)])
        colour, length = (ACCENT, 2.0) if here else (INK, 1.3)
        (x1, y1), (x2, y2) = (np.array([x, y]) + sign * length * ahead for sign in (1, -1))
        width = 0.8 if here else 0.5
        yield f'<path d="M{x1:.1f} {-y1:.1f}L{x2:.1f} {-y2:.1f}" stroke="{colour}" stroke-width="{width}"/>'
        back = np.array([x, y]) - (length + 0.8 * self._letter) * ahead
        # A name cut in half by the edge cannot be read.
        if here or self._window.buffer(-0.6 * self._letter).contains(shapely.Point(back)):
            size = 1.15 if here else 0.75
            yield self._words((float(back[0]), float(back[1])), shortened(other.name), colour, size)

    def _north(self) -> str:
        s = self._letter
        x, y = -self.width_m / 2 + NORTH_LETTERS * s, -BACK_M + NORTH_LETTERS * s
        disc = f'<circle cy="{-0.5 * s:.2f}" r="{1.6 * s:.2f}" fill="{PAPER}" fill-opacity=".85"/>'
        arrow = f'<path d="M0 {-s:.2f}L{0.4 * s:.2f} {0.7 * s:.2f}L0 {0.35 * s:.2f}L{-0.4 * s:.2f} {0.7 * s:.2f}Z"/>'
        return (
            f'<g transform="translate({x:.1f} {-y:.1f}) rotate({-self._peg.facing_deg:.1f})">{disc}{arrow}'
            f'<text y="{-1.2 * s:.2f}" text-anchor="middle" font-size="{0.75 * s:.2f}" font-weight="700">'
            f"{text(self._said['north'])}</text></g>"
        )


def shortened(name: str) -> str:
    """A painted name short enough for a drawing, as the page shortens it."""
    most = description("section")["longest_name"]
    return name if len(name) <= most else f"{name[: most - 1]}…"


def _over(cut: tuple[Band, ...], depth: float) -> str:
    return PAPER if band_at(depth, cut).pale_line else INK


def _apart(a: tuple[float, float], b: tuple[float, float]) -> float:
    return math.hypot(a[0] - b[0], a[1] - b[1])


def _along(line: LineString) -> Iterable[tuple[float, float]]:
    """Places along a line, the middle first."""
    for share in (0.5, 0.35, 0.65, 0.2, 0.8):
        at = line.interpolate(share, normalized=True)
        yield at.x, at.y


def _point(at: tuple[float, float]) -> str:
    return f"{at[0]:.1f} {-at[1]:.1f}"


def _ring(points: FloatArray) -> str:
    thinned = np.asarray(LineString(points).simplify(0.1).coords)
    return f"M{'L'.join(f'{x:.1f} {-y:.1f}' for x, y in thinned)}Z"


def _path(shape: shapely.Geometry) -> str:
    """Path data of lines and areas before a peg."""
    found = []
    for part in shapely.get_parts(shape):
        if isinstance(part, Polygon):
            found += [_ring(np.asarray(ring.coords)) for ring in (part.exterior, *part.interiors)]
        elif isinstance(part, LineString):
            found.append("M" + "L".join(f"{x:.1f} {-y:.1f}" for x, y in part.coords))
        elif hasattr(part, "geoms"):
            found.append(_path(part))
    return "".join(found)
