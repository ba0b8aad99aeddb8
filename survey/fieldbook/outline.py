"""Outline files to rings of coordinates: GeoJSON read here, other formats by GDAL from a copy.

Knows nothing of which ring is water and which an island.
"""

from __future__ import annotations

import json
import re
import tempfile
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError
from shapely.geometry.base import BaseGeometry

from survey.errors import Place
from survey.fieldbook.cells import decoded
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.sources import Source
from survey.fieldbook.workbooks import declares_entities, is_safe_archive

WGS84 = "EPSG:4326"
MAX_POINTS = 2_000_000
_TYPE_FIELDS = {"name", "type", "kind", "natural", "class", "layer", "feature"}
_SILENT_LAYERS = {"route_points", "track_points"}
"""What GDAL repeats of a GPX line, point by point."""


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
    """

    feature: str
    points: NDArray[np.float64]
    is_area: bool
    says_island: bool


@dataclass(frozen=True)
class Outline:
    """The rings of an outline file and the CRS it names, None if it names none."""

    file: str
    rings: tuple[Ring, ...]
    crs: str | None


def read_outline(source: Source, remarks: Remarks) -> Outline:
    """Rings of an outline file, two-dimensional.

    Raises
    ------
    FieldbookError
        If the file cannot be read or holds neither area nor line.
    """
    is_json = source.ending in {".geojson", ".json"}
    outline = _from_geojson(source, remarks) if is_json else _from_gdal(source, remarks)
    if not outline.rings:
        remarks.fault(Place(source.name), "the file holds no area and no line", "Draw the water's edge as a polygon.")
    elif sum(len(ring.points) for ring in outline.rings) > MAX_POINTS:
        remarks.fault(
            Place(source.name), f"the outline has more than {MAX_POINTS} points", "Simplify it to a few centimetres."
        )
    elif not all(np.isfinite(ring.points).all() for ring in outline.rings):
        remarks.fault(
            Place(source.name), "the outline has points that are not numbers", "Draw it again or take them out."
        )
    remarks.stop_if_faulty()
    return outline


def _from_geojson(source: Source, remarks: Remarks) -> Outline:
    try:
        document = json.loads(decoded(source, remarks) or "")
        rings = tuple(_json_rings(document, {}, source.name, remarks))
        return Outline(source.name, rings, _json_crs(document))
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError, CRSError) as trouble:
        remarks.fault(
            Place(source.name),
            f"this is not GeoJSON ({trouble})",
            "Export the outline again as GeoJSON, KML or GeoPackage.",
        )
        return Outline(source.name, (), None)


def _json_crs(document: Mapping[str, object]) -> str | None:
    """The CRS of an older file; without one GeoJSON is in WGS 84 (RFC 7946)."""
    given = document.get("crs")
    if not isinstance(given, dict):
        return WGS84
    name = str(given["properties"]["name"])
    return WGS84 if "CRS84" in name else CRS.from_user_input(name).to_string()


def _json_rings(found: object, properties: Mapping[str, object], file: str, remarks: Remarks) -> Iterator[Ring]:
    node = _dict(found)
    kind = node["type"]
    if kind == "FeatureCollection":
        for feature in _list(node["features"]):
            yield from _json_rings(feature, {}, file, remarks)
    elif kind == "Feature":
        if node.get("geometry"):
            yield from _json_rings(node["geometry"], _dict(node.get("properties") or {}), file, remarks)
    elif kind == "GeometryCollection":
        for part in _list(node["geometries"]):
            yield from _json_rings(part, properties, file, remarks)
    else:
        yield from _coordinate_rings(str(kind), node["coordinates"], properties, Place(file), remarks)


def _coordinate_rings(
    kind: str, coordinates: object, properties: Mapping[str, object], place: Place, remarks: Remarks
) -> Iterator[Ring]:
    lists = _list(coordinates)
    if kind == "MultiPolygon":
        rings = [ring for polygon in lists for ring in polygon]
    elif kind in {"Polygon", "MultiLineString"}:
        rings = lists
    elif kind == "LineString":
        rings = [lists]
    else:
        _tell_ignored(kind, _name(properties), place, remarks)
        return
    for ring in rings:
        points = np.array([[float(point[0]), float(point[1])] for point in ring], dtype=float).reshape(-1, 2)
        yield Ring(_name(properties), points, "Polygon" in kind, _says_island(properties))


def _list(value: object) -> list[Any]:
    if not isinstance(value, list):
        raise TypeError("a list is missing")
    return value


def _dict(value: object) -> dict[str, object]:
    if not isinstance(value, dict):
        raise TypeError("an object is missing")
    return value


def _name(properties: Mapping[str, object]) -> str:
    named = (value for key, value in properties.items() if key.casefold() == "name" and value)
    return str(next(named, ""))


def _says_island(properties: Mapping[str, object]) -> bool:
    words = " ".join(str(v) for k, v in properties.items() if k.casefold() in _TYPE_FIELDS and v)
    return re.search(r"\b(island|islet|isle)s?\b", words, re.IGNORECASE) is not None


def _tell_ignored(kind: str, name: str, place: Place, remarks: Remarks) -> None:
    called = f' "{name}"' if name else ""
    remarks.note(
        "feature-ignored", place, f"the {kind.casefold()}{called} is no part of the water's edge and was ignored"
    )


def _from_gdal(source: Source, remarks: Remarks) -> Outline:
    """Read a copy, so that no driver can leave anything beside the source."""
    place = Place(source.name)
    if source.data.startswith(b"PK") and not is_safe_archive(source, remarks):
        return Outline(source.name, (), None)
    if source.ending in {".kml", ".gpx"} and declares_entities(source.data):
        remarks.fault(place, "its XML declares entities, which are not read", "Export the outline again.")
        return Outline(source.name, (), None)
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        copy = Path(folder) / f"outline{source.ending}"
        copy.write_bytes(source.data)
        path = f"/vsizip/{copy}" if source.ending == ".zip" else str(copy)
        try:
            layers = [str(name) for name, _ in pyogrio.list_layers(path) if name not in _SILENT_LAYERS]
            read = [_layer(path, layer, place, remarks) for layer in layers]
        except (
            pyogrio.errors.DataSourceError,
            pyogrio.errors.DataLayerError,
            ValueError,
            shapely.errors.GEOSException,
        ) as trouble:
            said = str(trouble).replace(str(copy), source.name)
            remarks.fault(
                place, f"the outline cannot be read ({said})", "Export it again as GeoJSON, KML or GeoPackage."
            )
            return Outline(source.name, (), None)
    if any("Non closed ring" in str(warning.message) for warning in told):
        remarks.note("ring-closed", place, "a ring did not end where it began and was closed with a straight line")
    crs = {crs for rings, crs in read if rings}
    if len(crs) > 1:
        remarks.fault(
            place,
            f"its layers are in different coordinate systems: {', '.join(sorted(map(str, crs)))}",
            "Keep one layer.",
        )
    return Outline(source.name, tuple(ring for rings, _ in read for ring in rings), next(iter(crs), None))


def _layer(path: str, layer: str, place: Place, remarks: Remarks) -> tuple[list[Ring], str | None]:
    meta, _, geometry, fields = pyogrio.raw.read(path, layer=layer, force_2d=True)
    rings: list[Ring] = []
    shapes = shapely.from_wkb(geometry, on_invalid="fix") if geometry is not None else []
    for index, shape in enumerate(shapes):
        properties = {str(name): values[index] for name, values in zip(meta["fields"], fields, strict=True)}
        rings.extend(_shape_rings(shape, properties, place, remarks))
    return rings, meta["crs"]


def _shape_rings(
    shape: BaseGeometry | None, properties: Mapping[str, object], place: Place, remarks: Remarks
) -> Iterator[Ring]:
    if shape is None or shape.is_empty:
        return
    if hasattr(shape, "geoms") and shape.geom_type != "MultiPoint":
        for part in shape.geoms:
            yield from _shape_rings(part, properties, place, remarks)
    elif shape.geom_type in {"Polygon", "LineString", "LinearRing"}:
        is_area = shape.geom_type == "Polygon"
        for ring in [shape.exterior, *shape.interiors] if is_area else [shape]:
            yield Ring(_name(properties), shapely.get_coordinates(ring), is_area, _says_island(properties))
    else:
        _tell_ignored(shape.geom_type, _name(properties), place, remarks)
