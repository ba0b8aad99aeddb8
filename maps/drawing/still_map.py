"""The chart as one still drawing: what is seen where a page may run no program, and in print.

True north is up and a unit is a metre on the ground. Knows nothing of pages.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from maps.content.contour_figures import figure_places
from maps.drawing.colours import INK, PAPER, QUIET, Band, band_at
from maps.drawing.picture import Sheet
from maps.drawing.projection import LocalProjection, mercator
from maps.language.catalogue import Words, catalogue_of
from maps.language.escape import text
from survey.records.venue import Peg
from survey.units import feet_inches
from survey.workup import WorkedSurvey

LETTERS_ACROSS = 19.5
FONTS = "system-ui, 'Libertinus Serif', sans-serif"
"""The reader's own; in print the one that the other printed pages have."""
PAD_LETTERS, KEY_LETTERS = 3.0, 3.4
"""Room round the water, and for the key below it, in letters."""
FIGURE_LETTERS = 0.8
"""Height of the figures on the contours, in letters."""
FIGURES_APART = 3.0
"""Figures stand at least so many of their own heights from one another and from a peg."""
NAME_STEPS = (0.75, 1.6, 2.5, 3.4)
"""How far out a peg's name may stand, in letters: the first that is free."""
PEG_STROKE_M = 2.5
BAR_SHARE = 0.3
"""The scale bar takes at most this share of the drawing's width."""


class Drawing:
    """Lays things out in metres from the north-west corner of the sheet.

    Parameters
    ----------
    frame : LocalProjection
    sheet : Sheet
    letter_m : float or None
        Height of a letter on the ground; None: so that it stays readable on a phone.
    """

    def __init__(self, frame: LocalProjection, sheet: Sheet, letter_m: float | None = None) -> None:
        self._frame = frame
        self.west, self.north, self.scale = sheet.west, sheet.north, sheet.ground_m / sheet.pixel
        rows, columns = sheet.depth_m.shape
        self.width_m, self.height_m = columns * sheet.ground_m, rows * sheet.ground_m
        # Letters that stay readable where the whole drawing is as wide as a phone.
        self.letter_m = letter_m or max(self.width_m, 0.75 * self.height_m) / LETTERS_ACROSS

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, width and height of all that is drawn: names, scale and key stand round the water."""
        pad = PAD_LETTERS * self.letter_m
        foot = KEY_LETTERS * self.letter_m
        return -pad, -pad, self.width_m + 2 * pad, self.height_m + 2 * pad + foot

    def place(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Venue metres, shape (n, 2), as metres right of and below the corner."""
        x, y = mercator(*self._frame.lonlat(xy[:, 0], xy[:, 1]))
        return np.column_stack([x - self.west, self.north - y]) * self.scale

    def path(self, shape: shapely.Geometry) -> str:
        """Path data of lines or areas in venue metres."""
        return "".join(self._part(part) for part in shapely.get_parts(shape) if not part.is_empty)

    def _part(self, part: shapely.Geometry) -> str:
        if part.geom_type == "Polygon":
            return "".join(f"{self._run(ring)}Z" for ring in (part.exterior, *part.interiors))
        return self._run(part) if part.geom_type == "LineString" else ""

    def _run(self, line: shapely.Geometry) -> str:
        at = self.place(np.asarray(line.coords)[:, :2])
        return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in at)


def drawn_map(
    worked: WorkedSurvey, picture: bytes, drawing: Drawing, cut: tuple[Band, ...], hatched: MultiPolygon, title: str
) -> str:
    """The chart as SVG text; everything from the sources is escaped.

    Parameters
    ----------
    worked : WorkedSurvey
    picture : bytes
        PNG of the tinted water on the drawing's sheet.
    drawing : Drawing
    cut : tuple of Band
    hatched : MultiPolygon
        Unsurveyed water, venue CRS.
    title : str
        Names the drawing to who cannot see it.
    """
    image, said = base64.b64encode(picture).decode("ascii"), catalogue_of(worked.venue)
    parts = [
        f"<title>{text(title)}</title>",
        _hatch(drawing),
        f'<image width="{drawing.width_m:.2f}" height="{drawing.height_m:.2f}" href="data:image/png;base64,{image}"/>',
        f'<path d="{drawing.path(hatched)}" fill="url(#still-hatch)"/>',
        *_contours(worked, drawing, cut),
        _line(drawing.path(worked.venue.water), drawing.letter_m / 9),
        *_figures(worked, drawing, cut),
        *_pegs(worked.venue.pegs, drawing),
        _bar(drawing),
        _north(drawing, said["north"]),
        _legend(drawing, cut, said),
    ]
    corner = f'data-west="{drawing.west:.3f}" data-north="{drawing.north:.3f}" data-scale="{drawing.scale:.9f}"'
    view = " ".join(f"{value:.1f}" for value in drawing.box)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" role="img"'
        f' font-family="{FONTS}" font-size="{drawing.letter_m:.2f}"'
        f' fill="{INK}" {corner} data-letter="{drawing.letter_m:.2f}">{"".join(parts)}</svg>'
    )


def _hatch(drawing: Drawing) -> str:
    gap = drawing.letter_m * 0.6
    return (
        f'<pattern id="still-hatch" width="{gap:.2f}" height="{gap:.2f}" patternUnits="userSpaceOnUse"'
        f' patternTransform="rotate(45)"><path d="M0 0V{gap:.2f}" stroke="{INK}" stroke-opacity="0.6"'
        f' stroke-width="{gap / 6:.2f}"/></pattern>'
    )


def _contours(worked: WorkedSurvey, drawing: Drawing, cut: tuple[Band, ...]) -> list[str]:
    lines = worked.isobaths
    step = worked.bed.grid.cell_m / 2
    return [
        _line(
            drawing.path(shape.simplify(step)),
            drawing.letter_m / (14 if strong else 28),
            PAPER if band_at(depth, cut).pale_line else INK,
        )
        for depth, strong, shape in zip(lines["depth_m"], lines["strong"], lines.geometry, strict=True)
    ]


def _figures(worked: WorkedSurvey, drawing: Drawing, cut: tuple[Band, ...]) -> Iterable[str]:
    """Depths along the contours, upright to the reader, clear of the shore's names and of one another."""
    lines, said = worked.isobaths, catalogue_of(worked.venue)
    high = FIGURE_LETTERS * drawing.letter_m
    taken = list(drawing.place(np.array([[peg.easting, peg.northing] for peg in worked.venue.pegs]).reshape(-1, 2)))
    for depth, places in zip(lines["depth_m"], figure_places(worked), strict=True):
        ground = band_at(depth, cut)
        ink = PAPER if ground.pale_line else INK
        words = feet_inches(depth, 1) if worked.venue.shows == "feet" else said.metres(depth)
        for ends in places:
            (ax, ay), (bx, by) = drawing.place(ends)
            middle = np.array([ax + bx, ay + by]) / 2
            if any(math.hypot(*(middle - other)) < FIGURES_APART * high for other in taken):
                continue
            taken.append(middle)
            turn = math.degrees(math.atan2(by - ay, bx - ax))
            upright = turn + 180 if abs(turn) > 90 else turn  # noqa: PLR2004 - a right angle
            where = f"translate({middle[0]:.1f} {middle[1]:.1f}) rotate({upright:.0f})"
            yield (
                f'<text transform="{where}" y="{0.35 * high:.2f}" text-anchor="middle" font-size="{high:.2f}"'
                f' fill="{ink}"'
                f' stroke="{ground.colour}" stroke-width="{high / 5:.2f}" paint-order="stroke">{words}</text>'
            )


def _line(path: str, width_m: float, colour: str = INK) -> str:
    return f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width_m:.2f}"/>'


def _pegs(pegs: tuple[Peg, ...], drawing: Drawing) -> list[str]:
    """Strokes across the bank, and names outside the water that keep clear of one another."""
    taken: list[shapely.Geometry] = []
    return [_peg(peg, drawing, taken) for peg in pegs]


def _peg(peg: Peg, drawing: Drawing, taken: list[shapely.Geometry]) -> str:
    at = drawing.place(np.array([[peg.easting, peg.northing]]))[0]
    away = -np.array([math.sin(math.radians(peg.facing_deg)), -math.cos(math.radians(peg.facing_deg))])
    places = [at + (PEG_STROKE_M + step * drawing.letter_m) * away for step in NAME_STEPS]
    boxes = [_name_box(peg.name, place, away, drawing.letter_m) for place in places]
    k = next((k for k, area in enumerate(boxes) if not any(area.intersects(other) for other in taken)), 0)
    taken.append(boxes[k])
    west, south, _, north = boxes[k].bounds
    (x1, y1), (x2, y2) = at + PEG_STROKE_M * away, at - PEG_STROKE_M * away
    base = (south + north) / 2 + 0.35 * drawing.letter_m
    lead = places[k] - 0.6 * drawing.letter_m * away
    struck = ' text-decoration="line-through"' if peg.is_closed else ""
    return (
        _line(f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}", drawing.letter_m / 6)
        + _line(f"M{x1:.1f} {y1:.1f}L{lead[0]:.1f} {lead[1]:.1f}", drawing.letter_m / 28)
        + f'<text x="{west:.1f}" y="{base:.1f}"{struck}>{text(peg.name)}</text>'
    )


def _name_box(name: str, place: NDArray[np.float64], away: NDArray[np.float64], letter_m: float) -> shapely.Geometry:
    """Ground a name takes: centred on its place, shifted outward as far as it is wide."""
    wide, high = 0.62 * letter_m * len(name), 0.9 * letter_m
    x = place[0] + away[0] * wide / 2
    return shapely.box(x - wide / 2, place[1] - high / 2, x + wide / 2, place[1] + high / 2)


def _bar(drawing: Drawing) -> str:
    length = round_length(drawing.width_m * BAR_SHARE)
    y, tick = drawing.height_m + 2.4 * drawing.letter_m, drawing.letter_m / 3
    return (
        _line(f"M0 {y - tick:.1f}V{y:.1f}H{length:g}V{y - tick:.1f}", drawing.letter_m / 9)
        + f'<text x="{length / 2:g}" y="{y - 0.3 * drawing.letter_m:.1f}" text-anchor="middle">{length:g} m</text>'
    )


def round_length(most_m: float) -> float:
    """The longest of 1, 2 or 5 times a power of ten that is not over a length, metres.

    Examples
    --------
    >>> round_length(63.0), round_length(19.0)
    (50.0, 10.0)
    """
    power = 10.0 ** math.floor(math.log10(most_m))
    return max(step * power for step in (1, 2, 5) if step * power <= most_m)


def _north(drawing: Drawing, letter: str) -> str:
    x, y, s = drawing.width_m, drawing.height_m + 1.2 * drawing.letter_m, drawing.letter_m
    points = ((0, -1), (0.45, 1), (0, 0.6), (-0.45, 1))
    outline = " ".join(f"{x + right * s:.1f},{y + down * s:.1f}" for right, down in points)
    return (
        f'<polygon points="{outline}"/>'
        f'<text x="{x:.1f}" y="{y + 2 * s:.1f}" text-anchor="middle" font-weight="700">{text(letter)}</text>'
    )


def _legend(drawing: Drawing, cut: tuple[Band, ...], said: Words) -> str:
    width, s = drawing.width_m / len(cut), drawing.letter_m
    y = drawing.height_m + 3.6 * s
    boxes = (
        f'<rect x="{k * width:.1f}" y="{y:.1f}" width="{width:.1f}" height="{0.7 * s:.1f}"'
        f' fill="{band.colour}" stroke="{INK}" stroke-width="{s / 28:.2f}"/>'
        for k, band in enumerate(cut)
    )
    # So many cuts apart that the figures under them never meet.
    every = max(1, math.ceil(4.2 * s / width))
    marked = [(k * width, band.from_m) for k, band in enumerate(cut) if k and k % every == 0]
    figures = (
        f'<text x="{x:.1f}" y="{y + down * s:.1f}" text-anchor="middle" font-size="{0.8 * s:.2f}" fill="{colour}">'
        f"{words}</text>"
        for x, depth_m in marked
        for down, colour, words in ((1.7, INK, feet_inches(depth_m, 1)), (2.6, QUIET, said.metres(depth_m)))
    )
    return "".join((*boxes, *figures))
