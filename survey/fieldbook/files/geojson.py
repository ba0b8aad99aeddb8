"""What an outline file gives: rings, and the features that are none; GeoJSON is taken apart here.

Knows nothing of files, and not which ring is water and which an island.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS

from survey.records.tags import tag_of

WGS84 = "EPSG:4326"
_TYPE_FIELDS = {"name", "type", "kind", "natural", "class", "layer", "feature"}
_DATE_FIELDS = ("date", "day", "since", "from")
_NOTE_FIELDS = ("note", "notes")


@dataclass(frozen=True)
class Ring:
    """One closed line or track.

    Parameters
    ----------
    feature : str
        Name of the feature it belongs to, for messages.
    points : ndarray, shape (n, 2)
        x and y in the CRS of the outline, first point repeated where the file does.
    is_area : bool
        Written as an area; False for a line or track.
    says_island : bool
        The feature calls itself an island.
    date : str
        What the feature has under ``date``, ``day``, ``since`` or ``from``, empty without.
    note : str
        What it has under ``note`` or ``notes``, empty without.
    """

    feature: str
    points: NDArray[np.float64]
    is_area: bool
    says_island: bool
    date: str = ""
    note: str = ""

    @property
    def example_tag(self) -> str:
        """The tag an example has in its mark, made from its points in any order."""
        return tag_of("|".join(sorted({f"{x:.6f} {y:.6f}" for x, y in self.points})))


@dataclass(frozen=True)
class Ignored:
    """A feature that is no part of the water's edge: its kind of geometry and its name."""

    kind: str
    name: str

    def __str__(self) -> str:
        return f'{self.kind.casefold()} "{self.name}"' if self.name else self.kind.casefold()


def ring_of(points: NDArray[np.float64], properties: Mapping[str, object], *, is_area: bool) -> Ring:
    """A ring with what its feature says of itself."""
    name, date, note = feature_name(properties), _said(properties, *_DATE_FIELDS), _said(properties, *_NOTE_FIELDS)
    return Ring(name, points, is_area, says_island(properties), date, note)


def feature_name(properties: Mapping[str, object]) -> str:
    """The name a feature carries, empty without."""
    return _said(properties, "name")


def _said(properties: Mapping[str, object], *fields: str) -> str:
    """What a feature has under the first of some names that it gives, whatever their case."""
    given = {key.casefold(): str(value).strip() for key, value in properties.items() if value}
    return next((given[field] for field in fields if given.get(field)), "")


def says_island(properties: Mapping[str, object]) -> bool:
    """Whether a feature calls itself an island, by name or by kind."""
    words = " ".join(str(v) for k, v in properties.items() if k.casefold() in _TYPE_FIELDS and v)
    return re.search(r"\b(island|islet|isle)s?\b", words, re.IGNORECASE) is not None


def geojson_crs(document: Mapping[str, Any]) -> str | None:
    """The CRS an older file names; without one GeoJSON is in WGS 84 (RFC 7946, section 4).

    Raises
    ------
    CRSError, KeyError, TypeError
        If the member is not as the format had it.
    """
    given = document.get("crs")
    if given is None:
        return WGS84
    name = str(given["properties"]["name"])
    return WGS84 if "CRS84" in name else CRS.from_user_input(name).to_string()


def geojson_shapes(found: object, properties: Mapping[str, object] | None = None) -> Iterator[Ring | Ignored]:
    """Rings of a GeoJSON object, two-dimensional, whether or not they are closed.

    Raises
    ------
    KeyError, TypeError, ValueError
        If it is not GeoJSON.
    """
    node = _dict(found)
    kind = str(node["type"])
    if kind == "FeatureCollection":
        for feature in _list(node["features"]):
            yield from geojson_shapes(feature)
    elif kind == "Feature":
        if node.get("geometry"):
            yield from geojson_shapes(node["geometry"], _dict(node.get("properties") or {}))
    elif kind == "GeometryCollection":
        for part in _list(node["geometries"]):
            yield from geojson_shapes(part, properties)
    else:
        yield from _coordinate_shapes(kind, node["coordinates"], properties or {})


def _coordinate_shapes(kind: str, coordinates: object, properties: Mapping[str, object]) -> Iterator[Ring | Ignored]:
    lists = _list(coordinates)
    if kind == "MultiPolygon":
        rings = [ring for polygon in lists for ring in polygon]
    elif kind in {"Polygon", "MultiLineString"}:
        rings = lists
    elif kind == "LineString":
        rings = [lists]
    else:
        yield Ignored(kind, feature_name(properties))
        return
    for ring in rings:
        points = np.array([[float(point[0]), float(point[1])] for point in ring], dtype=float).reshape(-1, 2)
        yield ring_of(points, properties, is_area="Polygon" in kind)


def _list(value: object) -> list[Any]:
    if not isinstance(value, list):
        raise TypeError("a list is missing")
    return value


def _dict(value: object) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise TypeError("an object is missing")
    return value
