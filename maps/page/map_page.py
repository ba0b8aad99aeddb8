"""The venue page: one HTML file that needs no network and answers taps with the stored grid.

Folium carries the map; everything it would fetch is inside. Text from the sources reaches the page
as escaped markup or as JSON, never as markup of its own.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from functools import cache
from html import escape
from importlib.resources import files
from itertools import count

import folium
from branca.element import Element, Figure, MacroElement
from folium.map import CustomPane
from folium.raster_layers import ImageOverlay
from folium.template import Template

from maps.drawing.backdrop import Backdrop
from maps.drawing.colours import bands
from maps.drawing.picture import Sheet, picture, sample, unsurveyed
from maps.drawing.projection import fit_frame
from maps.drawing.still_map import Drawing, drawn_map
from maps.language.catalogue import words_of
from maps.page.body import MAP_ID, page_body
from maps.page.data import page_data
from maps.page.program import program_of
from maps.page.shell import HASHES, own_style, with_policy
from survey.workup import WorkedSurvey

PANES = {
    "backdrop": 205, "tints": 210, "unsurveyed": 220, "contours": 310, "sureness": 320, "shore": 330, "figures": 340,
    "readings": 350, "fan": 410, "cast": 420, "pegs": 610,
}  # fmt: skip
"""What lies over what, whatever is switched off and on; only pegs take taps of their own."""


def page_html(
    worked: WorkedSurvey,
    rise_shown: float | None = None,
    pages: Mapping[str, str] | None = None,
    backdrop: Backdrop | None = None,
) -> str:
    """The page of a worked survey as one text, the same for the same survey to the byte.

    Parameters
    ----------
    worked : WorkedSurvey
    rise_shown : float or None
        What the level mark shows today, metres; None: the datum.
    pages : mapping of str to str, optional
        For each peg the address of its own page, relative to this one.
    backdrop : Backdrop, optional
        A picture of the ground to lie under the map.

    Returns
    -------
    str
        A complete HTML document.
    """
    venue = worked.venue
    shown = venue.mark.datum_m if rise_shown is None else rise_shown
    frame = fit_frame(venue.crs, venue.water.bounds)
    sheet = sample(worked.bed, frame, venue.limits)
    cut = bands(worked.isobaths["depth_m"])
    image = picture(sheet, cut, worked.bed.grid.cell_m)
    hatched = unsurveyed(sheet, frame, venue.water)
    said = words_of(venue)
    still = drawn_map(worked, image, Drawing(frame, sheet), cut, hatched, said.say("drawing", name=venue.name))
    data = page_data(worked, shown, frame, hatched, cut) | {"pages": dict(pages or {})}
    body = page_body(worked, shown, still, data)
    document = Document(venue.name, said["language"])
    _fill(document, sheet, image, body, backdrop)
    return with_policy(document.render())


class Verbatim(Element):
    """Text put into the page as it is: the template engine never reads it, so braces in it stay braces."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text

    def render(self, **_: object) -> str:
        """The text."""
        return self.text


class Document(Figure):
    """A figure with a title and a language, whose scripts stand inside the body."""

    _template = Template(
        '<!DOCTYPE html>\n<html lang="{{ this.language|e }}">\n<head>\n{{ this.header.render(**kwargs) }}\n</head>\n'
        "<body>\n{{ this.html.render(**kwargs) }}\n<script>\n{{ this.script.render(**kwargs) }}\n</script>\n"
        "</body>\n</html>\n"
    )

    def __init__(self, title: str, language: str) -> None:
        super().__init__()
        self.language = language
        self.header.add_child(Verbatim(f"<title>{escape(title)}</title>"))


class VenueMap(folium.Map):
    """A folium map that links nothing: no outside scripts, styles, tiles or fonts."""

    default_js: list[tuple[str, str]] = []  # noqa: RUF012 - folium's own form
    default_css: list[tuple[str, str]] = []  # noqa: RUF012
    _template = Template(
        "{% macro script(this, kwargs) %}"
        "var {{ this.get_name() }} = L.map({{ this.div|tojson }}, "
        "{center: {{ this.location|tojson }}, ...{{ this.options|tojavascript }}});"
        "{% endmacro %}"
    )
    div = MAP_ID


class PageProgram(MacroElement):
    """The page's own program, put after the map's; it is handed the map, the tinted picture and the one below."""

    def __init__(self, venue_map: VenueMap, tints: ImageOverlay, ground: ImageOverlay | None) -> None:
        super().__init__()
        self._name = "PageProgram"
        self._map, self._tints, self._ground = venue_map, tints, ground

    def render(self, **_: object) -> None:
        """Put the program into the document."""
        handed = (self._map, self._tints, *((self._ground,) if self._ground else ()))
        names = ", ".join(element.get_name() for element in handed)
        call = f"(function (map, tints, backdrop) {{\n{program_of('map')}\n}})({names});"
        self.get_root().script.add_child(Verbatim(call), name="page-program")


@cache
def _leaflet() -> tuple[str, str]:
    """Leaflet's script and style without what they would fetch."""
    home = files("js_lib_leaflet") / "static" / "js_lib_leaflet"
    script = (home / "leaflet.js").read_text(encoding="utf-8")
    style = (home / "leaflet.css").read_text(encoding="utf-8")
    return re.sub(r"\n//# sourceMappingURL=.*", "", script), re.sub(r"[\w-]+:\s*url\([^)]*\);", "", style)


def _fill(figure: Document, sheet: Sheet, image: bytes, body: str, backdrop: Backdrop | None) -> None:
    corners = sheet.corners
    middle = [(a + b) / 2 for a, b in zip(*corners, strict=True)]
    venue_map = VenueMap(
        middle, tiles=None, zoom_start=18, max_zoom=24, zoom_snap=0.25, attribution_control=False, zoom_control=False,
    )  # fmt: skip
    for name, height in PANES.items():
        venue_map.add_child(CustomPane(name, height, pointer_events=name == "pegs"))
    ground = None if backdrop is None else _laid(venue_map, "backdrop", backdrop.source, backdrop.corners)
    source = f"data:image/png;base64,{base64.b64encode(image).decode('ascii')}"
    tints = _laid(venue_map, "tints", source, corners)
    venue_map.add_child(PageProgram(venue_map, tints, ground))
    figure.add_child(venue_map)
    script, style = _leaflet()
    for part in (
        f'<meta http-equiv="Content-Security-Policy" content="{HASHES}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<style>{style}</style>\n<style>{own_style('page')}</style>\n<script>{script}</script>",
    ):
        figure.header.add_child(Verbatim(part))
    figure.html.add_child(Verbatim(body))
    _fix_names(figure)


def _laid(venue_map: VenueMap, pane: str, source: str, corners: tuple[tuple[float, float], ...]) -> ImageOverlay:
    """A picture laid on the map between its corners."""
    overlay = ImageOverlay(source, [list(corner) for corner in corners], pixelated=False, pane=pane, interactive=False)
    venue_map.add_child(overlay)
    return overlay


def _fix_names(figure: Document) -> None:
    """Count the elements instead of drawing lots, so that the same survey makes the same page."""
    numbers = count()
    waiting: list[Element] = [figure]
    while waiting:
        element = waiting.pop()
        element._id = f"{next(numbers)}"  # noqa: SLF001 - branca offers no other way
        waiting += [*element._children.values()]  # noqa: SLF001
    for part in (figure.header, figure.html, figure.script):
        part._id = f"{next(numbers)}"  # noqa: SLF001
