"""Outlines brought into one metric grid: the one declared, else the UTM zone of their middle.

Knows nothing of what the rings enclose.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from survey.errors import SourceRow
from survey.fieldbook.files.geojson import WGS84, Ring
from survey.fieldbook.files.outlines import Outline
from survey.fieldbook.remarks import Remarks

FURTHEST_M = 1e8
"""No coordinate on the ground is larger."""
WIDEST_M = 50_000.0
HALF_TURN, TURN = 180.0, 360.0
LAT_LIMIT = 90.0


def in_metres(outlines: Sequence[Outline], declared_crs: str | None, remarks: Remarks) -> tuple[list[list[Ring]], str]:
    """The rings of each file in one metric CRS, and which: the one declared, else the UTM zone of their middle."""
    points = [np.concatenate([ring.points for ring in outline.rings]) for outline in outlines]
    own = [_own_crs(outline, xy, declared_crs, remarks) for outline, xy in zip(outlines, points, strict=True)]
    lonlat = [_moved(xy, crs, WGS84) for xy, crs in zip(points, own, strict=True) if crs is not None]
    if len(lonlat) < len(own):
        return [[] for _ in outlines], ""
    every = _unwrapped(np.concatenate(lonlat))
    crs = declared_crs or utm_zone(every)
    ends = np.cumsum([len(xy) for xy in points])[:-1]
    found = [
        _rings_in(crs, outline, (own_crs, xy, degrees), remarks)
        for outline, own_crs, xy, degrees in zip(outlines, own, points, np.split(every, ends), strict=True)
    ]
    placed = [ring.points for rings in found for ring in rings]
    across = float(np.ptp(np.concatenate(placed), axis=0).max()) if placed else 0.0
    if across > WIDEST_M:
        remarks.fault(
            SourceRow(", ".join(outline.file for outline in outlines)),
            f"the outline is {across / 1000:.0f} km across, too large to plumb from the bank",
            "Look for a stray point, or a shape that is not this water.",
        )
    return found, crs


def _rings_in(
    crs: str, outline: Outline, written: tuple[str | None, NDArray[np.float64], NDArray[np.float64]], remarks: Remarks
) -> list[Ring]:
    """Rings of one file in a CRS; ``written`` has the CRS of its numbers, those, and longitudes and latitudes."""
    own, points, lonlat = written
    in_degrees = CRS.from_user_input(own).is_geographic
    in_crs = _moved(lonlat, WGS84, crs) if in_degrees else _moved(points, str(own), crs)
    if not (np.abs(in_crs) < FURTHEST_M).all():
        remarks.fault(
            SourceRow(outline.file),
            f"the outline lies outside the area of {crs}",
            "Correct crs in venue.toml, or delete it.",
        )
        return []
    starts = np.cumsum([len(ring.points) for ring in outline.rings])[:-1]
    return [replace(ring, points=part) for ring, part in zip(outline.rings, np.split(in_crs, starts), strict=True)]


def _own_crs(outline: Outline, points: NDArray[np.float64], declared_crs: str | None, remarks: Remarks) -> str | None:
    """The CRS of the file's numbers: as named where possible, else degrees or the venue's; None with a fault."""
    in_degrees = bool((np.abs(points) <= [TURN, LAT_LIMIT]).all())
    if outline.crs and (in_degrees or not CRS.from_user_input(outline.crs).is_geographic):
        return outline.crs
    own = WGS84 if in_degrees else declared_crs
    if own is None:
        remarks.fault(
            SourceRow(outline.file),
            "the outline names no coordinate system, and its numbers are not longitude and latitude",
            'Add the line crs = "EPSG:..." of these coordinates to venue.toml: a UTM zone (EPSG:32630 for 30 north) '
            "or the national grid (EPSG:27700 in Great Britain).",
            f"{points[0][0]:.10g}, {points[0][1]:.10g}",
        )
        return None
    taken = "longitude and latitude, WGS 84" if in_degrees else own
    remarks.note(
        "outline-crs", SourceRow(outline.file), f"it names no coordinate system and was taken to be in {taken}"
    )
    return own


def _moved(points: NDArray[np.float64], source: str, target: str) -> NDArray[np.float64]:
    if CRS.from_user_input(source) == CRS.from_user_input(target):
        return points
    x, y = Transformer.from_crs(source, target, always_xy=True).transform(points[:, 0], points[:, 1])
    return np.column_stack([x, y])


def _unwrapped(lonlat: NDArray[np.float64]) -> NDArray[np.float64]:
    """Longitudes without a jump at 180 degrees."""
    lon = lonlat[:, 0]
    if lon.max() - lon.min() > HALF_TURN:
        lon = np.where(lon < 0, lon + TURN, lon)
    return np.column_stack([lon, lonlat[:, 1]])


def utm_zone(lonlat: NDArray[np.float64]) -> str:
    """The UTM zone of the middle of some points, as an EPSG code.

    Examples
    --------
    >>> utm_zone(np.array([[174.8, -36.9]])), utm_zone(np.array([[-2.31, 54.1]]))
    ('EPSG:32760', 'EPSG:32630')
    """
    lon, lat = (lonlat.min(axis=0) + lonlat.max(axis=0)) / 2
    zone = int(((lon + HALF_TURN) % TURN) // 6) + 1
    return f"EPSG:{32600 + zone if lat >= 0 else 32700 + zone}"
