"""Low-water edges to soundings: on a day of known level the water's edge is a contour of the bed.

Knows nothing of files.
"""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import shapely
from shapely.geometry import LineString

from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.records.fieldbook import Edge, Fieldbook
from survey.records.readings import Fix, Reading
from survey.reduction.past_readings import new_from
from survey.reduction.positions import Placed, VenueGeometry
from survey.reduction.sounding import Sounding
from survey.reduction.water_levels import LevelAt, LevelHistory
from survey.units.lengths import shown_length

EDGE_SD_M = 0.05
"""Of where the water ends on a gently shelving bed with ripples about (ours)."""
SPACING_M = 6.0
LEAST_LOW_M = 0.02
"""An edge less far below the datum adds nothing to the outline."""
MOST_POINTS = 200


def edge_soundings(
    fieldbook: Fieldbook, venue_geometry: VenueGeometry, levels: LevelHistory
) -> tuple[list[Sounding], list[Finding]]:
    """Points along every edge, at the depth below datum given by its day's level.

    Depth at datum = level of datum less level of the day. Points stand further apart than the line may
    lie off, so that the wanderings of one walk do not count as many readings; their error is across the line.

    Returns
    -------
    list of Sounding
        Method ``edge``; the row is the number of the point in its file.
    list of Finding
        Edges that cannot be used, and points that lie ashore of the outline.
    """
    soundings: list[Sounding] = []
    findings: list[Finding] = []
    numbered: Counter[str] = Counter()
    for edge in sorted(fieldbook.edges, key=lambda edge: edge.place):
        level = levels.rise(edge.when)
        if not level.known or level.rise_m > -LEAST_LOW_M:
            findings.append(_unused(edge, level, fieldbook.venue.shows))
            continue
        points, ashore = _points(edge, venue_geometry)
        if ashore:
            findings.append(_ashore(edge, ashore, len(points) + ashore))
        xy = np.array([point[:2] for point in points], float).reshape(-1, 2)
        past = new_from(fieldbook.changes, np.full(len(points), edge.when.day), xy)
        for point, day in zip(points, past, strict=True):
            numbered[edge.place.file] += 1
            place = SourceRow(edge.place.file, numbered[edge.place.file])
            soundings.append(_sounding(edge, level, place, point, day))
    return soundings, findings


def _points(edge: Edge, venue_geometry: VenueGeometry) -> tuple[list[tuple[float, float, float]], int]:
    """Easting, northing and azimuth across the line of thinned points on the water; how many lay ashore."""
    line = LineString(edge.points)
    spacing = max(SPACING_M, 2.0 * edge.sd_m, line.length / MOST_POINTS)
    count = max(2, round(line.length / spacing))
    found, ashore = [], 0
    for k in range(count):
        at = (k + 0.5) / count * line.length
        before, here, after = (shapely.get_coordinates(line.interpolate(at + step))[0] for step in (-1.0, 0.0, 1.0))
        east, north = after - before
        if venue_geometry.shore.outside_m(here[0], here[1]) > 0:
            ashore += 1
        else:
            found.append((float(here[0]), float(here[1]), math.degrees(math.atan2(north, -east)) % 180.0))
    return found, ashore


def _sounding(edge: Edge, level: LevelAt, place: SourceRow, point: tuple[float, float, float], past: str) -> Sounding:
    easting, northing, across_deg = point
    reading = Reading(
        place=place,
        peg="",
        where=Fix(easting, northing, "venue", edge.sd_m),
        depth_m=0.0,
        when=edge.when,
        method="edge",
        note=edge.name,
        use=not past,
        new_from=past,
    )
    return Sounding(
        reading=reading,
        placed=Placed(easting, northing, 0.0, across_deg, edge.sd_m, 0.0, 0.0, 0.0),
        level=level,
        kind="depth",
        depth_m=-level.rise_m,
        sd_m=EDGE_SD_M,
        hard_depth_m=math.nan,
        use=not past,
    )


def _unused(edge: Edge, level: LevelAt, shows: str) -> Finding:
    if not level.known:
        return Finding(
            Grade.WARNING,
            "edge-level-unknown",
            edge.place,
            f"the level of {edge.when.day} is not known, so this edge is no contour and was not used",
            "Add a record of that day to the levels sheet.",
        )
    return Finding(
        Grade.NOTE,
        "edge-not-low",
        edge.place,
        f"on {edge.when.day} the water stood {shown_length(level.rise_m, shows)} above the datum: this edge says "
        "nothing that the outline does not, and was not used",
    )


def _ashore(edge: Edge, ashore: int, count: int) -> Finding:
    return Finding(
        Grade.WARNING if 2 * ashore > count else Grade.NOTE,
        "edge-ashore",
        edge.place,
        f"{ashore} of {count} points lie outside the outline, though the water was low; they were left out",
        "Check the line, its day and the outline there.",
    )
