"""Low-water edges from map files: lines with the day on which they were the water's edge.

Knows nothing of levels.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np

from survey.errors import ParseError, SourceRow
from survey.fieldbook.files.archives import declares_entities, tell_entities
from survey.fieldbook.files.geojson import WGS84, Ring
from survey.fieldbook.files.outlines import MAX_POINTS, Outline, read_outline
from survey.fieldbook.files.sources import Source
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.venue.outline_grid import in_metres
from survey.records.declaration import Declaration
from survey.records.fieldbook import Edge
from survey.units.dates import DateRules, Moment

DATE = re.compile(r"(?<!\d)(\d{4}-\d{2}-\d{2})(?!\d)")
LEAST_POINTS = 2


def read_edges(sources: Sequence[Source], crs: str | None, declared: Declaration, remarks: Remarks) -> tuple[Edge, ...]:
    """Every dated line and ring of the edges files, in the venue CRS; None where the venue's own is not known.

    The day is the feature's ``date``, or stands in its name or in the name of the file, written 2026-08-31;
    a GPX track may have it from its first point. A track counts as walked with a phone, a drawn line as traced.
    """
    edges: list[Edge] = []
    rules = DateRules(declared.dates, declared.zone)
    for source in sources:
        outline = _tracks(source, remarks) if source.ending == ".gpx" else read_outline(source, remarks)
        if outline is None:
            continue
        walked = source.ending == ".gpx"
        sd = declared.standard_errors.peg_phone_m if walked else declared.standard_errors.peg_surveyed_m
        for number, ring in enumerate(in_metres([outline], crs, remarks)[0][0], start=1):
            place = SourceRow(source.name, number)
            when = ring_day(ring, source.name, rules)
            if when is None:
                remarks.warning(
                    "edge-undated",
                    place,
                    "the line has no date, so its level is not known, and it was not used",
                    'Give it a property "date", or name the file like edges-2026-08-31.geojson.',
                    ring.feature,
                )
            elif len(np.unique(ring.points, axis=0)) < LEAST_POINTS:
                remarks.note("feature-ignored", place, "the line has fewer than two points and was ignored")
            else:
                points = tuple((float(x), float(y)) for x, y in ring.points)
                edges.append(Edge(place, ring.feature, when, points, sd))
    return tuple(edges)


def ring_day(ring: Ring, file: str, rules: DateRules) -> Moment | None:
    """The day of a line: as its feature has it, else in its name or the name of its file; None without."""
    for written in (ring.date, *DATE.findall(ring.feature), *DATE.findall(file)):
        try:
            moment = rules.moment(written, "") if written else None
        except ParseError:
            continue
        if moment:
            return moment
    return None


def _tracks(source: Source, remarks: Remarks) -> Outline | None:
    """Tracks and routes of a GPX file, each dated by its first time."""
    place = SourceRow(source.name)
    if declares_entities(source.data):
        tell_entities(source, remarks)
        return None
    rings: list[Ring] = []
    try:
        for _, element in ET.iterparse(io.BytesIO(source.data)):  # noqa: S314 - entities are refused above
            kind = _local(element.tag)
            if kind in {"trkseg", "rte"}:
                rings.append(_track(element))
            elif kind == "trk":
                name = next((child.text or "" for child in element if _local(child.tag) == "name"), "")
                segments = sum(_local(child.tag) == "trkseg" for child in element)
                rings[len(rings) - segments :] = [
                    replace(ring, feature=name) for ring in rings[len(rings) - segments :]
                ]
    except (ET.ParseError, ValueError, LookupError) as trouble:
        remarks.fault(place, f"this is not a GPX file ({trouble})", "Export the track again as GPX.")
        return None
    rings = [ring for ring in rings if len(ring.points)]
    if not rings or sum(len(ring.points) for ring in rings) > MAX_POINTS:
        remarks.fault(place, "the file holds no track, or far too long a one", "Export the walk along the edge alone.")
        return None
    return Outline(source.name, tuple(rings), WGS84)


def _track(element: ET.Element) -> Ring:
    spots = [child for child in element if _local(child.tag) in {"trkpt", "rtept"}]
    points = np.array([[float(s.get("lon", "nan")), float(s.get("lat", "nan"))] for s in spots], float).reshape(-1, 2)
    if not np.isfinite(points).all():
        raise ValueError("a point without longitude and latitude")
    times = (child.text or "" for spot in spots for child in spot if _local(child.tag) == "time")
    return Ring("", points, is_area=False, says_island=False, date=next(times, "").strip())


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]
