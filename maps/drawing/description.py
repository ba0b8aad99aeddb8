"""The one description of each drawing, ``descriptions.json``, and still drawings made of it as SVG.

The page gets the same descriptions as data and makes live drawings of them in ``maps/page/js/drawing``. Knows nothing
of lakes.
"""

from __future__ import annotations

import json
import re
from collections import ChainMap
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any, Literal

import shapely
from shapely.geometry import LineString, Polygon

from maps.drawing.colours import INK, NAMED
from maps.language.escape import text

Json = dict[str, Any]
Medium = Literal["still", "live"]
MEDIA = {"still", "live"}
Values = Mapping[str, Any]
"""What a mark's places are filled with: numbers in the drawing's unit of length, and texts."""

PLACE = re.compile(r"\{(\w+)([+-][\d.]+)?\}")
SIDES = {"left_of": "inf", "right_of": "-inf"}
"""What holds a mark back, and where nothing does."""
NOT_ATTRIBUTES = {"tag", "text", *SIDES}


@cache
def description(name: str, medium: Medium = "still") -> Json:
    """What a drawing consists of in one medium, its styles and colours put in.

    Parameters
    ----------
    name : str
        A key of ``descriptions.json``.
    medium : {"still", "live"}
    """
    whole = json.loads((files("maps") / "drawing" / "descriptions.json").read_text(encoding="utf-8"))[name]
    chosen = _chosen(whole, medium)
    styles = chosen.pop("styles")
    return {**chosen, "layers": [_layer(layer, styles) for layer in chosen["layers"]]}


def _chosen(value: Any, medium: Medium) -> Any:  # noqa: ANN401 - any JSON value
    """A value as it is in one medium; what the other has alone is left out."""
    if isinstance(value, list):
        return [one for one in (_chosen(inner, medium) for inner in value) if one is not None]
    if not isinstance(value, dict):
        return value
    if value and value.keys() <= MEDIA:
        return _chosen(value.get(medium), medium)
    found = {key: _chosen(inner, medium) for key, inner in value.items()}
    return {key: inner for key, inner in found.items() if inner is not None}


def _layer(layer: Json, styles: Json) -> Json:
    marks = [{**styles.get(mark.get("like"), {}), **mark} for mark in layer["marks"]]
    return {**layer, "marks": [_coloured(mark) for mark in marks]}


def _coloured(mark: Json) -> Json:
    return {
        key: NAMED.get(value, value) if key in {"fill", "stroke"} else value
        for key, value in mark.items()
        if key != "like"
    }


def drawn(
    layers: Iterable[Json], frame: Values, things: Mapping[str, Iterable[Values]], words: Values, unit: float = 1.0
) -> str:
    """Layers as SVG text, in their order; all texts are escaped.

    Parameters
    ----------
    layers : iterable of dict
        Of a :func:`description`.
    frame : mapping
        Values that all marks may use.
    things : mapping of str to iterable of mapping
        For each layer's name the values of each thing it draws.
    words : mapping
        Texts by key.
    unit : float
        How long the description's unit is in the drawing.
    """
    common = {**words, **frame}
    return "".join(
        _mark(mark, ChainMap(dict(one), common), unit)
        for layer in layers
        for one in things.get(layer["each"], ())
        for mark in layer["marks"]
    )


def line(points: Iterable[Sequence[float]]) -> str:
    """Path data of a line; its places are those of the drawing, to the tenth."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def path(shape: shapely.Geometry) -> str:
    """Path data of all lines and areas of a shape in the drawing's places."""
    found = []
    for part in (part for part in shapely.get_parts(shape) if not part.is_empty):
        if isinstance(part, Polygon):
            found += [f"{line(ring.coords)}Z" for ring in (part.exterior, *part.interiors)]
        elif isinstance(part, LineString):
            found.append(line(part.coords))
        elif hasattr(part, "geoms"):
            found.append(path(part))
    return "".join(found)


def hatch(name: str, described: Json, unit: float) -> str:
    """The pattern of unsurveyed water, by the name that marks are filled with."""
    gap, width = (_figure(described[key] * unit) for key in ("gap", "width"))
    stroke = f'<path d="M0 0V{gap}" stroke="{INK}" stroke-width="{width}" stroke-opacity="{described["opacity"]}"/>'
    turned = 'patternUnits="userSpaceOnUse" patternTransform="rotate(45)"'
    return f'<pattern id="{name}" width="{gap}" height="{gap}" {turned}>{stroke}</pattern>'


def _mark(mark: Json, values: Values, unit: float) -> str:
    if not _stands_here(mark, values, unit):
        return ""
    given = {name: _attribute(value, values, unit) for name, value in mark.items() if name not in NOT_ATTRIBUTES}
    attributes = "".join(f' {name}="{text(value)}"' for name, value in given.items())
    inside = text(_filled(mark.get("text", ""), values, unit))
    return f"<{mark['tag']}{attributes}>{inside}</{mark['tag']}>" if inside else f"<{mark['tag']}{attributes}/>"


def _stands_here(mark: Json, values: Values, unit: float) -> bool:
    """Whether a thing lies on the side on which a mark is drawn."""
    left, right = (float(_filled(mark.get(side, far), values, unit)) for side, far in SIDES.items())
    return right <= values.get("out", 0.0) < left


def _attribute(value: Any, values: Values, unit: float) -> str:  # noqa: ANN401 - a text, a number or numbers
    if isinstance(value, list):
        return " ".join(_figure(one * unit) for one in value)
    return _filled(value, values, unit) if isinstance(value, str) else _figure(value * unit)


def _filled(template: str, values: Values, unit: float) -> str:
    """A template with its places filled."""

    def put(place: re.Match[str]) -> str:
        value = values[place[1]]
        return value if isinstance(value, str) else _figure(value + float(place[2] or 0) * unit)

    return PLACE.sub(put, template)


def _figure(number: float) -> str:
    """A number to two places, as short as it can be written."""
    return f"{number:.2f}".rstrip("0").rstrip(".")
