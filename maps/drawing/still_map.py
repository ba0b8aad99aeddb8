"""The chart as one still drawing: what is seen where a page may run no program, and in print.

True north is up and a unit is a metre on the ground. The page's map lays the same things on its own, of the same
description. Knows nothing of pages.
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
from maps.drawing.colours import INK, PAPER, Band, band_at
from maps.drawing.description import Values, description, drawn, hatch, line, path
from maps.drawing.picture import Sheet
from maps.drawing.projection import LocalProjection, mercator
from maps.language.catalogue import Words, catalogue_of
from maps.language.escape import text
from survey.records.venue import Peg, Venue
from survey.units import feet_inches
from survey.units.club_units import DistanceUnit
from survey.workup import WorkedSurvey

DESCRIBED = description("map")
FONTS = "system-ui, 'Libertinus Serif', sans-serif"
"""The reader's own; in print the one that the other printed pages have."""
HATCH = "still-hatch"


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
        self.letter_m = letter_m or max(self.width_m, 0.75 * self.height_m) / DESCRIBED["letters_across"]

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, width and height of all that is drawn: names, scale and key stand round the water."""
        pad, foot = (DESCRIBED["room"][part] * self.letter_m for part in ("pad", "key"))
        return -pad, -pad, self.width_m + 2 * pad, self.height_m + 2 * pad + foot

    def place(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Venue metres, shape (n, 2), as metres right of and below the corner."""
        x, y = mercator(*self._frame.lonlat(xy[:, 0], xy[:, 1]))
        return np.column_stack([x - self.west, self.north - y]) * self.scale

    def path(self, shape: shapely.Geometry) -> str:
        """Path data of lines or areas in venue metres."""
        return path(shapely.transform(shape, self.place))


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
    said = catalogue_of(worked.venue)
    frame = {"zero": 0.0, "wide": drawing.width_m, "high": drawing.height_m}
    shores = [part.exterior for part in worked.venue.water.geoms]
    islands = [ring for part in worked.venue.water.geoms for ring in part.interiors]
    things = {
        "pictures": [{"picture": f"data:image/png;base64,{base64.b64encode(picture).decode('ascii')}"}],
        "unsurveyed": [{"area": drawing.path(part)} for part in hatched.geoms],
        **_contours(worked, drawing, cut),
        "shores": [{"line": drawing.path(ring)} for ring in shores],
        "islands": [{"line": drawing.path(ring)} for ring in islands],
        "figures": _figures(worked, drawing, cut),
        "pegs": _pegs(worked.venue.pegs, drawing),
        "bars": [_bar(drawing, worked.venue.spans, said)],
        "norths": [{}],
        **_legend(drawing, cut, said),
    }
    marks = drawn(DESCRIBED["layers"], frame, things, said.texts, drawing.letter_m)
    corner = f'data-west="{drawing.west:.3f}" data-north="{drawing.north:.3f}" data-scale="{drawing.scale:.9f}"'
    view = " ".join(f"{value:.1f}" for value in drawing.box)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" role="img"'
        f' font-family="{FONTS}" font-size="{drawing.letter_m:.2f}"'
        f' fill="{INK}" {corner} data-letter="{drawing.letter_m:.2f}"><title>{text(title)}</title>'
        f"{hatch(HATCH, DESCRIBED['hatch'], drawing.letter_m)}{marks}</svg>"
    )


def _contours(worked: WorkedSurvey, drawing: Drawing, cut: tuple[Band, ...]) -> dict[str, list[Values]]:
    lines, step = worked.isobaths, worked.bed.grid.cell_m / 2
    things: dict[str, list[Values]] = {"contours": [], "strong_contours": []}
    for depth, strong, shape in zip(lines["depth_m"], lines["strong"], lines.geometry, strict=True):
        drawn_line = {"line": drawing.path(shape.simplify(step)), **depth_look(worked.venue, depth, cut)}
        things["strong_contours" if strong else "contours"].append(drawn_line)
    return things


def depth_look(venue: Venue, depth_m: float, cut: tuple[Band, ...]) -> Values:
    """What a contour and its figure look like on their own tint, and what the figure says."""
    ground = band_at(depth_m, cut)
    words = feet_inches(depth_m, 1) if venue.shows == "feet" else catalogue_of(venue).metres(depth_m)
    return {"over": PAPER if ground.pale_line else INK, "ground": ground.colour, "depth": words}


def _figures(worked: WorkedSurvey, drawing: Drawing, cut: tuple[Band, ...]) -> Iterable[Values]:
    """Depths along the contours, upright to the reader, clear of the shore's names and of one another."""
    apart = DESCRIBED["figures"]["apart"] * drawing.letter_m
    taken = list(drawing.place(np.array([[peg.easting, peg.northing] for peg in worked.venue.pegs]).reshape(-1, 2)))
    for depth, places in zip(worked.isobaths["depth_m"], figure_places(worked), strict=True):
        look = depth_look(worked.venue, depth, cut)
        for ends in places:
            (ax, ay), (bx, by) = drawing.place(ends)
            middle = np.array([ax + bx, ay + by]) / 2
            if any(math.hypot(*(middle - other)) < apart for other in taken):
                continue
            taken.append(middle)
            turn = upright(math.degrees(math.atan2(by - ay, bx - ax)))
            yield {"x": middle[0], "y": middle[1], "turn": turn, **look}


def upright(turn_deg: float) -> float:
    """The turn of words along a line so that they stand on their feet.

    Examples
    --------
    >>> upright(100.0), upright(-30.0)
    (280.0, -30.0)
    """
    return turn_deg + 180 if abs(turn_deg) > 90 else turn_deg  # noqa: PLR2004 - a right angle


def _pegs(pegs: tuple[Peg, ...], drawing: Drawing) -> list[Values]:
    """Strokes across the bank, and names outside the water that keep clear of one another."""
    taken: list[shapely.Geometry] = []
    return [_peg(peg, drawing, taken) for peg in pegs]


def _peg(peg: Peg, drawing: Drawing, taken: list[shapely.Geometry]) -> Values:
    rule, letter = DESCRIBED["peg"], drawing.letter_m
    at = drawing.place(np.array([[peg.easting, peg.northing]]))[0]
    away = -np.array([math.sin(math.radians(peg.facing_deg)), -math.cos(math.radians(peg.facing_deg))])
    places = [at + (rule["half_m"] + step * letter) * away for step in rule["name_steps"]]
    boxes = [_name_box(peg.name, place, away, letter) for place in places]
    k = next((k for k, area in enumerate(boxes) if not any(area.intersects(other) for other in taken)), 0)
    taken.append(boxes[k])
    west, south, _, north = boxes[k].bounds
    outer, inner = at + rule["half_m"] * away, at - rule["half_m"] * away
    return {
        "line": line([outer, inner]),
        "lead": line([outer, places[k] - rule["lead_short"] * letter * away]),
        "x": west,
        "y": (south + north) / 2,
        "name": peg.name,
        "struck": "line-through" if peg.is_closed else "none",
    }


def _name_box(name: str, place: NDArray[np.float64], away: NDArray[np.float64], letter_m: float) -> shapely.Geometry:
    """Ground a name takes: centred on its place, shifted outward as far as it is wide."""
    rule = DESCRIBED["peg"]
    wide, high = rule["letter_wide"] * letter_m * len(name), rule["letter_high"] * letter_m
    x = place[0] + away[0] * wide / 2
    return shapely.box(x - wide / 2, place[1] - high / 2, x + wide / 2, place[1] + high / 2)


def _bar(drawing: Drawing, spans: DistanceUnit, said: Words) -> Values:
    figure = round_length(drawing.width_m * DESCRIBED["bar_share"] / spans.worth_m)
    length = figure * spans.worth_m
    return {"length": length, "middle": length / 2, "words": said.counted(f"{figure:g}", spans)}


def round_length(most_m: float) -> float:
    """The longest of 1, 2 or 5 times a power of ten that is not over a length, metres.

    Examples
    --------
    >>> round_length(63.0), round_length(19.0)
    (50.0, 10.0)
    """
    power = 10.0 ** math.floor(math.log10(most_m))
    return max(step * power for step in (1, 2, 5) if step * power <= most_m)


def _legend(drawing: Drawing, cut: tuple[Band, ...], said: Words) -> dict[str, list[Values]]:
    width = drawing.width_m / len(cut)
    # So many cuts apart that the figures under them never meet.
    every = max(1, math.ceil(DESCRIBED["legend_apart"] * drawing.letter_m / width))
    return {
        "tints": [{"x": k * width, "across": width, "colour": band.colour} for k, band in enumerate(cut)],
        "cuts": [
            {"x": k * width, "feet": feet_inches(band.from_m, 1), "metres": said.metres(band.from_m)}
            for k, band in enumerate(cut)
            if k and k % every == 0
        ],
    }
