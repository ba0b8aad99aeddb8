"""Outline files to rings of coordinates: GeoJSON from its text, other formats by GDAL from a copy.

Knows nothing of which ring is water and which an island.
"""

from __future__ import annotations

import io
import json
import tempfile
import warnings
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from pyproj.exceptions import CRSError
from shapely.geometry.base import BaseGeometry

from survey.errors import SourceRow
from survey.fieldbook.files.archives import declares_entities, is_safe_archive, tell_entities
from survey.fieldbook.files.geojson import (
    Ignored,
    Ring,
    feature_name,
    geojson_crs,
    geojson_shapes,
    ring_of,
)
from survey.fieldbook.files.sources import Source
from survey.fieldbook.files.text_sheets import decoded
from survey.fieldbook.remarks import Remarks
from survey.records.tags import marked_tag

MAX_POINTS = 200_000
NAMED_IGNORED = 5
DRAW_YOURS = "Replace it with the outline of your water."
EXPORT_AGAIN = "Export the outline again as GeoJSON, KML or GeoPackage."
_SILENT_LAYERS = {"route_points", "track_points"}
"""What GDAL repeats of a GPX line, point by point."""
_STARTS = {".gpkg": b"SQLite format 3\0", ".zip": b"PK", ".kmz": b"PK"}
_ROOTS = {".kml": b"<kml", ".gpx": b"<gpx"}
_ROOT_WITHIN = 4096
_PARTS = {
    ".zip": {".shp", ".shx", ".dbf", ".prj", ".cpg", ".qix", ".qpj", ".qmd", ".sbn", ".sbx", ".xml", ".txt"},
    ".kmz": {".kml", ".png", ".jpg", ".jpeg", ".gif"},
}


@dataclass(frozen=True)
class Outline:
    """The rings of an outline file and the CRS it names, None if it names none."""

    file: str
    rings: tuple[Ring, ...]
    crs: str | None


def read_outline(source: Source, remarks: Remarks, what: str = "the water's edge") -> Outline:
    """Rings of an outline file, two-dimensional.

    Parameters
    ----------
    source : Source
    remarks : Remarks
    what : str
        What its lines are, for messages.

    Raises
    ------
    FieldbookError
        If the file cannot be read or holds neither area nor line.
    """
    place = SourceRow(source.name)
    is_json = source.ending in {".geojson", ".json"}
    shapes, crs = _from_geojson(source, remarks) if is_json else _from_gdal(source, remarks)
    drawn = tuple(shape for shape in shapes if isinstance(shape, Ring))
    rings = _without_examples(drawn, place, remarks)
    if drawn and not rings:
        remarks.fault(place, "this is the example of a new venue, which is never used", DRAW_YOURS)
    remarks.stop_if_faulty()
    _tell_ignored([shape for shape in shapes if isinstance(shape, Ignored)], place, what, remarks)
    if not rings:
        remarks.fault(place, "the file holds no area and no line", f"Draw {what} as a polygon.")
    elif sum(len(ring.points) for ring in rings) > MAX_POINTS:
        remarks.fault(place, f"the outline has more than {MAX_POINTS} points", "Simplify it to a few centimetres.")
    elif not all(np.isfinite(ring.points).all() for ring in rings):
        remarks.fault(place, "the outline has points that are not numbers", "Draw it again or take them out.")
    remarks.stop_if_faulty()
    return Outline(source.name, rings, crs)


def _without_examples(rings: tuple[Ring, ...], place: SourceRow, remarks: Remarks) -> tuple[Ring, ...]:
    """The rings without the example of a new venue, which is named where it stands beside others."""
    tags = [marked_tag(ring.note) for ring in rings]
    kept = tuple(ring for ring, tag in zip(rings, tags, strict=True) if tag is None or tag != ring.example_tag)
    if kept and len(kept) < len(rings):
        remarks.warning("example-left-out", place, "it still holds the example, which was left out", DRAW_YOURS)
    if any(marked_tag(ring.note) is not None for ring in kept):
        remarks.warning(
            "example-mark",
            place,
            "an outline is marked EXAMPLE, but not as the example was, and counted as yours",
            "Take the mark out of its note.",
        )
    return kept


def _tell_ignored(ignored: list[Ignored], place: SourceRow, what: str, remarks: Remarks) -> None:
    if ignored:
        names = sorted(map(str, ignored))
        more = f" and {len(names) - NAMED_IGNORED} more" if len(names) > NAMED_IGNORED else ""
        caught = ", ".join(names[:NAMED_IGNORED]) + more
        remarks.note("feature-ignored", place, f"not part of {what}, so ignored: {caught}")


def _from_geojson(source: Source, remarks: Remarks) -> tuple[list[Ring | Ignored], str | None]:
    try:
        document = json.loads(decoded(source, remarks) or "")
        return list(geojson_shapes(document)), geojson_crs(document)
    except (ValueError, TypeError, LookupError, AttributeError, RecursionError, CRSError) as trouble:
        remarks.fault(SourceRow(source.name), f"this is not GeoJSON ({trouble})", EXPORT_AGAIN)
        return [], None


def _from_gdal(source: Source, remarks: Remarks) -> tuple[list[Ring | Ignored], str | None]:
    """Read a copy, so that no driver can leave anything beside the source."""
    import pyogrio  # noqa: PLC0415 - loads GDAL, which GeoJSON needs none of

    place = SourceRow(source.name)
    if not _is_what_it_says(source, remarks):
        return [], None
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        copy = Path(folder) / f"outline{source.ending}"
        copy.write_bytes(source.data)
        path = f"/vsizip/{copy}" if source.ending == ".zip" else str(copy)
        try:
            layers = [str(name) for name, _ in pyogrio.list_layers(path) if name not in _SILENT_LAYERS]
            read = [_layer(path, layer) for layer in layers]
        except (RuntimeError, ValueError, shapely.errors.GEOSException) as trouble:
            said = str(trouble).replace(str(copy), source.name)
            remarks.fault(place, f"the outline cannot be read ({said})", EXPORT_AGAIN)
            return [], None
    if any("Non closed ring" in str(warning.message) for warning in caught):
        remarks.note("ring-closed", place, "a ring did not end where it began and was closed with a straight line")
    systems = {crs for shapes, crs in read if any(isinstance(shape, Ring) for shape in shapes)}
    if len(systems) > 1:
        names = ", ".join(sorted(map(str, systems)))
        remarks.fault(place, f"its layers are in different coordinate systems: {names}", "Keep one layer.")
    return [shape for shapes, _ in read for shape in shapes], next(iter(systems), None)


def _is_what_it_says(source: Source, remarks: Remarks) -> bool:
    """Whether a file is of the kind its extension gives: a driver is never left to guess, nor led to other files."""
    head = source.data[:_ROOT_WITHIN].replace(b"\0", b"").lower()
    root = _ROOTS.get(source.ending)
    fits = root in head if root else source.data.startswith(_STARTS[source.ending])
    if source.ending in _PARTS:
        if fits and not is_safe_archive(source, remarks):
            return False
        fits = fits and _holds_only(source, _PARTS[source.ending])
    elif fits and root and declares_entities(source.data):
        tell_entities(source, remarks)
        return False
    if not fits:
        kind = "a zipped shapefile" if source.ending == ".zip" else f"a {source.ending[1:].upper()} file"
        remarks.fault(SourceRow(source.name), f"this is not {kind}", EXPORT_AGAIN)
    return fits


def _holds_only(source: Source, endings: set[str]) -> bool:
    with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
        files = [name for name in archive.namelist() if not name.endswith("/")]
    return all(Path(name).suffix.casefold() in endings for name in files)


def _layer(path: str, layer: str) -> tuple[list[Ring | Ignored], str | None]:
    import pyogrio  # noqa: PLC0415 - see above

    meta, _, geometry, fields = pyogrio.raw.read(path, layer=layer, force_2d=True)
    shapes: list[Ring | Ignored] = []
    for index, shape in enumerate(shapely.from_wkb(geometry, on_invalid="fix") if geometry is not None else []):
        properties = {str(name): values[index] for name, values in zip(meta["fields"], fields, strict=True)}
        shapes.extend(_rings_of(shape, properties))
    return shapes, meta["crs"]


def _rings_of(shape: BaseGeometry | None, properties: Mapping[str, object]) -> Iterator[Ring | Ignored]:
    if shape is None or shape.is_empty:
        return
    if hasattr(shape, "geoms") and shape.geom_type != "MultiPoint":
        for part in shape.geoms:
            yield from _rings_of(part, properties)
    elif shape.geom_type in {"Polygon", "LineString", "LinearRing"}:
        is_area = shape.geom_type == "Polygon"
        for ring in [shape.exterior, *shape.interiors] if is_area else [shape]:
            points = shapely.get_coordinates(ring)
            yield ring_of(points, properties, is_area=is_area)
    else:
        yield Ignored(shape.geom_type, feature_name(properties))
