"""Waypoints of a GPX file as a sheet of pegs.

Knows nothing of pegs beyond the columns they have.
"""

from __future__ import annotations

import io
from xml.etree import ElementTree as ET

from survey.errors import SourceRow
from survey.fieldbook.files.archives import declares_entities, tell_entities
from survey.fieldbook.files.sources import Source
from survey.fieldbook.files.text_sheets import MAX_ROWS, Sheet, tell_too_large
from survey.fieldbook.remarks import Remarks

HEADER = ("peg", "lon", "lat", "note")


def read_waypoints(source: Source, remarks: Remarks) -> Sheet | None:
    """Name, position and description of each waypoint (GPX 1.0 and 1.1, ``wpt``); None with a fault if it is no GPX.

    The first waypoint is row 2, below the header that stands for it. Times are not needed and not read.
    """
    place = SourceRow(source.name)
    if declares_entities(source.data):
        tell_entities(source, remarks)
        return None
    rows: list[tuple[str, ...]] = [HEADER]
    try:
        for _, element in ET.iterparse(io.BytesIO(source.data)):  # noqa: S314 - entities are refused above
            if _local(element.tag) == "wpt":
                said = {_local(child.tag): (child.text or "").strip() for child in element}
                note = said.get("desc") or said.get("cmt") or ""
                rows.append((said.get("name", ""), element.get("lon", ""), element.get("lat", ""), note))
                element.clear()
            if len(rows) > MAX_ROWS:
                tell_too_large(place, remarks)
                return None
    except (ET.ParseError, ValueError, LookupError) as trouble:
        remarks.fault(place, f"this is not a GPX file ({trouble})", "Export the waypoints again, or write a CSV.")
        return None
    if len(rows) == 1:
        remarks.fault(place, "the file holds no waypoint", "Mark each peg as a waypoint with its painted name.")
        return None
    remarks.note("waypoints-taken", place, f"its {len(rows) - 1} waypoints are the pegs; the first counts as row 2")
    return Sheet(source.name, source.name, "", tuple(rows))


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]
