"""Rings to water: closed, repaired, sorted by which lies in which, in the venue's metric CRS.

Knows nothing of file formats.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from pyproj import Transformer
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from survey.errors import SourceRow
from survey.fieldbook.files.geojson import WGS84, Ring
from survey.fieldbook.files.outlines import Outline
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.venue.outline_grid import in_metres
from survey.fieldbook.venue.shore_versions import GAP_SHARE, DrawnArea, joined_lines, one_of_each
from survey.fieldbook.venue.walked_shore import Walk, closing_part, is_walk, walked
from survey.records.declaration import Declaration
from survey.units.club_units import DistanceUnit

MEND_SHARE = 0.01
"""A repaired ring may differ in area from what was drawn by this share."""
SLIVER_M2 = 1.0
RING_POINTS = 4


def water_of(outlines: Sequence[Outline], declared: Declaration, remarks: Remarks) -> tuple[MultiPolygon, str]:
    """The water surface without islands.

    Rings are sorted by containment, whatever their file, order or winding: a ring inside another is an
    island, one inside an island is water again; an area that calls itself an island and crosses the
    shore is cut out. What overlaps otherwise is joined. Of two versions of one shore in different files one is used,
    see :func:`survey.fieldbook.venue.shore_versions.one_of_each`; walks are smoothed, see
    :func:`survey.fieldbook.venue.walked_shore.walked`.

    Parameters
    ----------
    outlines : sequence of Outline
    declared : Declaration
        Where it names no CRS: the UTM zone of the lake's centre, on its side of the equator.
    remarks : Remarks

    Returns
    -------
    water : MultiPolygon
        Valid, normalised, in ``crs``.
    crs : str

    Raises
    ------
    FieldbookError
        No CRS, a ring left open or crossing itself, no water.
    """
    files = [outline.file for outline in outlines]
    moved, crs = in_metres(outlines, declared.crs, remarks)
    remarks.stop_if_faulty()
    of_files = [(ring, file) for file, own in zip(files, moved, strict=True) for ring in own]
    rings = joined_lines(of_files, declared.spans, remarks)
    to_lonlat = Transformer.from_crs(crs, WGS84, always_xy=True)
    drawn = [area for ring, file in rings for area in _areas(ring, file, to_lonlat, declared.spans, remarks)]
    remarks.stop_if_faulty()
    parts = one_of_each(drawn, to_lonlat, declared.spans, remarks)
    water = _nested(parts, remarks)
    if water.is_empty:
        where = ", ".join(files)
        remarks.fault(SourceRow(where), "the outline encloses no water", "Draw the water's edge as a polygon.")
    remarks.stop_if_faulty()
    used = sorted({part.file for part in parts})
    if len(used) > 1:
        remarks.note("outline-parts", SourceRow(used[0]), f"the outline is put together from {', '.join(used)}")
    return water, crs


def area_within(rings: Sequence[Ring], file: str, crs: str, spans: DistanceUnit, remarks: Remarks) -> MultiPolygon:
    """What rings in a metric CRS enclose: a ring inside another is cut out of it.

    Raises
    ------
    FieldbookError
        A ring left open or crossing itself.
    """
    to_lonlat = Transformer.from_crs(crs, WGS84, always_xy=True)
    drawn = [area for ring in rings for area in _areas(ring, file, to_lonlat, spans, remarks)]
    remarks.stop_if_faulty()
    return _nested(drawn, remarks)


def _areas(ring: Ring, file: str, to_lonlat: Transformer, spans: DistanceUnit, remarks: Remarks) -> list[DrawnArea]:
    """What a ring encloses: closed, smoothed where it was walked, repaired."""
    is_walked = not ring.is_area and file.casefold().endswith(".gpx") and is_walk(ring.points)
    if is_walked:
        points, cut = closing_part(ring.points)
        if cut:
            told = f"{_called(ring)} has {spans.shown(cut)} of track before or after it closes; that was left out"
            remarks.note("walk-cut", SourceRow(file), told)
        ring = replace(ring, points=points)
    closed = _closed(ring, file, spans, remarks)
    if closed is None:
        return []
    scatter = None
    if is_walked:
        walk = walked(closed.points[:-1])
        _tell_walk(walk, ring, SourceRow(file), spans, remarks)
        closed, scatter = replace(closed, points=np.vstack([walk.points, walk.points[:1]])), walk.scatter_m
    return [DrawnArea(area, closed, file, scatter) for area in _mended(closed, file, to_lonlat, remarks)]


def _tell_walk(walk: Walk, ring: Ring, place: SourceRow, spans: DistanceUnit, remarks: Remarks) -> None:
    if walk.laps > 1:
        told = (
            f"{_called(ring)} goes round {walk.laps} times, {spans.shown(walk.apart_m)} apart; the line midway is used"
        )
        remarks.note("walk-laps", place, told)
    if walk.scatter_m:
        by = spans.shown(walk.scatter_m)
        told = f"{_called(ring)} was walked: its points scatter by {by}, and it was smoothed by that"
        remarks.note("walk-smoothed", place, told)


def _closed(ring: Ring, file: str, spans: DistanceUnit, remarks: Remarks) -> Ring | None:
    """The ring with its first point repeated at the end; None where it is no ring."""
    points = ring.points
    if len(np.unique(points, axis=0)) < RING_POINTS - 1:
        remarks.note("feature-ignored", SourceRow(file), f"{_called(ring)} has fewer than three points and was ignored")
        return None
    gap = float(np.hypot(*(points[-1] - points[0])))
    if gap == 0:
        return ring
    drawn = float(np.hypot(*np.diff(points, axis=0).T).sum())
    if not ring.is_area and gap > GAP_SHARE * drawn:
        remarks.fault(
            SourceRow(file),
            f"{_called(ring)} is a line whose ends lie {spans.whole(gap)} apart, of {spans.whole(drawn)} drawn",
            "Walk or draw it to where it began, or draw it as a polygon.",
        )
        return None
    remarks.note(
        "ring-closed",
        SourceRow(file),
        f"{_called(ring)} did not end where it began: a gap of {spans.whole(gap)} was closed with a straight line",
    )
    return replace(ring, points=np.vstack([points, points[:1]]))


def _called(ring: Ring) -> str:
    return f'"{ring.feature}"' if ring.feature else "a ring"


def _mended(ring: Ring, file: str, to_lonlat: Transformer, remarks: Remarks) -> list[Polygon]:
    """The area a ring encloses; repaired only if that changes almost nothing."""
    drawn = Polygon(ring.points)
    if drawn.is_valid:
        return [drawn]
    parts = [part for part in polygons_of(shapely.make_valid(drawn)) if part.area > 0]
    total = sum(part.area for part in parts)
    kept = [part for part in parts if part.area > MEND_SHARE * total]
    lon, lat = to_lonlat.transform(*_trouble_spot(drawn))
    where = f"{_called(ring)} crosses or touches itself near lon {lon:.5f}, lat {lat:.5f}"
    if abs(sum(part.area for part in kept) - drawn.area) > MEND_SHARE * drawn.area:
        remarks.fault(
            SourceRow(file),
            where,
            "Move the points there so that the line does not cross itself; no part of the lake is thrown away here.",
        )
        return []
    remarks.note(
        "outline-mended",
        SourceRow(file),
        f"{where}; {abs(total - sum(p.area for p in kept)):.2f} m² of loop was left out",
    )
    return kept


def _trouble_spot(polygon: Polygon) -> tuple[float, float]:
    found = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(polygon))
    return (float(found[1]), float(found[2])) if found else tuple(polygon.exterior.coords[0][:2])


def polygons_of(shape: BaseGeometry) -> list[Polygon]:
    """Only the areas of a shape, whatever lines and points a repair left beside them."""
    if shape.geom_type == "Polygon":
        return [shape] if not shape.is_empty else []
    return [part for child in getattr(shape, "geoms", ()) for part in polygons_of(child)]


def _nested(parts: Sequence[DrawnArea], remarks: Remarks) -> MultiPolygon:
    """Water from areas sorted by containment, largest first."""
    placed: list[DrawnArea] = []
    water: BaseGeometry = MultiPolygon()
    for one in sorted(parts, key=lambda part: (-part.area.area, part.area.bounds, part.ring.feature)):
        if any(one.area.symmetric_difference(other.area).area < MEND_SHARE * one.area.area for other in placed):
            continue
        if _is_land(one, placed):
            water = water.difference(one.area)
            _tell_island(one, placed, remarks)
        else:
            _tell_overlap(one, placed, remarks)
            if any(other.area.contains(one.area) for other in placed):
                told = f"{_called(one.ring)} lies within an island and was taken as water ({one.area.area:.0f} m²)"
                remarks.note("pond-taken", SourceRow(one.file), told)
            water = water.union(one.area)
        placed.append(one)
    whole = [part for part in polygons_of(shapely.make_valid(water)) if part.area >= SLIVER_M2]
    return shapely.normalize(MultiPolygon(whole))


def _is_land(one: DrawnArea, placed: Sequence[DrawnArea]) -> bool:
    """Whether an area lies in water, or calls itself an island and crosses the shore."""
    shares = [one.area.intersection(other.area).area / one.area.area for other in placed]
    inside = sum(share > 1 - MEND_SHARE for share in shares)
    crosses = any(MEND_SHARE < share <= 1 - MEND_SHARE for share in shares)
    return bool(inside % 2) or (one.ring.says_island and crosses)


def _tell_island(one: DrawnArea, placed: Sequence[DrawnArea], remarks: Remarks) -> None:
    """Say that a feature, or a file, of its own was taken as an island, unless it calls itself one."""
    around = [other for other in placed if other.area.contains(one.area)]
    own_feature = one.ring.feature and one.ring.feature not in [other.ring.feature for other in around]
    own_file = all(other.file != one.file for other in around)
    if (own_feature or own_file) and not one.ring.says_island:
        told = f"{_called(one.ring)} lies in the water and was taken as an island"
        remarks.note("island-taken", SourceRow(one.file), told)


def _tell_overlap(one: DrawnArea, placed: Sequence[DrawnArea], remarks: Remarks) -> None:
    """Say that areas of two files that overlap were joined."""
    for other in placed:
        both = one.area.intersection(other.area).area
        if other.file != one.file and MEND_SHARE * one.area.area < both <= (1 - MEND_SHARE) * one.area.area:
            remarks.warning(
                "outline-overlap",
                SourceRow(one.file),
                f"{_called(one.ring)} overlaps with the outline in {other.file} by {both:.0f} m²; both count as water",
                'Draw them edge to edge. If it is land, give it a name with the word "island".',
            )
