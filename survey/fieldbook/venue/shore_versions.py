"""Areas from several outline files: lines that make one ring, and which of two drawings of one shore is used.

Works in metres. Knows nothing of file formats, and not which area is water.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from pyproj import Transformer
from shapely.geometry import Polygon

from survey.arrays import FloatArray
from survey.errors import SourceRow
from survey.fieldbook.files.geojson import Ring
from survey.fieldbook.remarks import Remarks
from survey.units.club_units import DistanceUnit

GAP_SHARE = 0.05
"""A track is closed, and lines are joined, where the ends are nearer than this share of the length."""
SAME_SHARE = 0.6
"""Two areas draw one shore from this share of what they cover together."""
TOLD_SHARE, TOLD_M = 0.02, 10.0
"""Two versions of a shore that differ by so much of their area, or anywhere by so many metres, are a warning."""
COMPARED_STEP_M = 2.0
MOST_LINES = 12


@dataclass(frozen=True)
class DrawnArea:
    """An area of an outline file.

    Parameters
    ----------
    area : Polygon
    ring : Ring
    file : str
    scatter_m : float or None
        Of the points of a walk about its line, metres; None where it was drawn.
    """

    area: Polygon
    ring: Ring
    file: str
    scatter_m: float | None = None

    @property
    def called(self) -> str:
        """Its file, and its name where it has one."""
        return f'{self.file} ("{self.ring.feature}")' if self.ring.feature else self.file


def one_of_each(
    drawn: Sequence[DrawnArea], to_lonlat: Transformer, spans: DistanceUnit, remarks: Remarks
) -> list[DrawnArea]:
    """Areas without those that draw a shore again: of two versions the drawn one stands, then the less scattered walk.

    Parameters
    ----------
    drawn : sequence of DrawnArea
    to_lonlat : Transformer
        From their CRS, for messages.
    spans : DistanceUnit
        Likewise.
    remarks : Remarks
        Told which version is used, and how far the two differ.
    """
    kept: list[DrawnArea] = []
    for one in sorted(drawn, key=_exactness):
        used = next((other for other in kept if _draw_one_shore(one, other)), None)
        if used is None:
            kept.append(one)
        else:
            _tell_versions(used, one, to_lonlat, spans, remarks)
    return kept


def _exactness(one: DrawnArea) -> tuple[bool, float, float, str, tuple[float, ...]]:
    closeness = -len(one.area.exterior.coords) / one.area.length
    return one.scatter_m is not None, one.scatter_m or 0.0, closeness, one.file, one.area.bounds


def _draw_one_shore(one: DrawnArea, other: DrawnArea) -> bool:
    """Whether two areas are versions of one shore; in one file, where rings lie in each other, only crossing walks."""
    walked = one.scatter_m is not None and other.scatter_m is not None
    if one.ring.says_island != other.ring.says_island or (one.file == other.file and not walked):
        return False
    if one.area.intersection(other.area).area < SAME_SHARE * one.area.union(other.area).area:
        return False
    return one.file != other.file or bool(one.area.exterior.crosses(other.area.exterior))


def _tell_versions(
    used: DrawnArea, other: DrawnArea, to_lonlat: Transformer, spans: DistanceUnit, remarks: Remarks
) -> None:
    share = other.area.area / used.area.area - 1.0
    far, spot = _furthest_apart(used.area, other.area)
    lon, lat = to_lonlat.transform(*spot)
    why = {
        (True, False): "a drawn line before a walked one",
        (True, True): "the drawing with more points",
        (False, False): "the walk that scatters less",
    }[used.scatter_m is None, other.scatter_m is None]
    size = (
        f"{abs(share):.1%} {'larger' if share > 0 else 'smaller'} ({spans.area(abs(other.area.area - used.area.area))})"
    )
    tell = remarks.warning if abs(share) >= TOLD_SHARE or far >= TOLD_M else remarks.note
    tell(
        "outline-versions",
        SourceRow(other.file),
        f"it draws the same shore as {used.called}, which is used ({why}); this one is {size}, and the two lie up to "
        f"{spans.whole(far)} apart, near lon {lon:.5f}, lat {lat:.5f}",
        f'To use this one, name the outline files you want in venue.toml: [files] outline = ["{other.file}"]. '
        'An island needs the word "island" in its name.',
    )


def _furthest_apart(one: Polygon, other: Polygon) -> tuple[float, tuple[float, float]]:
    """Where two shores lie furthest apart: metres, and the point of either of them."""
    found: list[tuple[float, tuple[float, float]]] = []
    for line, beside in ((one.exterior, other.exterior), (other.exterior, one.exterior)):
        points = shapely.get_coordinates(shapely.segmentize(line, COMPARED_STEP_M))
        far = shapely.distance(shapely.points(points), beside)
        k = int(np.argmax(far))
        found.append((float(far[k]), (float(points[k, 0]), float(points[k, 1]))))
    return max(found)


def joined_lines(rings: Sequence[tuple[Ring, str]], spans: DistanceUnit, remarks: Remarks) -> list[tuple[Ring, str]]:
    """Rings and their files, with open lines that follow each other round the water made one.

    Lines are joined end to end, the longest first and always the nearest end next, if no gap is wider than
    :data:`GAP_SHARE` of their length together; else all are left as they are.
    """
    is_open = [not r.is_area and _gap_m(r.points) > GAP_SHARE * _length_m(r.points) for r, _ in rings]
    lines = [one for one, opened in zip(rings, is_open, strict=True) if opened]
    if not 1 < len(lines) <= MOST_LINES:
        return list(rings)
    (longest, file), *rest = sorted(lines, key=lambda one: (-_length_m(one[0].points), one[0].points.tolist()))
    points, gaps = longest.points, list[float]()
    while rest:
        ends = [(float(np.hypot(*(r.points[e] - points[-1]))), k, e) for k, (r, _) in enumerate(rest) for e in (0, -1)]
        gap, k, end = min(ends)
        following = rest.pop(k)[0].points
        gaps.append(gap)
        points = np.vstack([points, following if end == 0 else following[::-1]])
    if max([*gaps, _gap_m(points)]) > GAP_SHARE * _length_m(points):
        return list(rings)
    widest = spans.whole(max(gaps))
    told = f"{len(lines)} lines follow each other round the water and were joined, over gaps of up to {widest}"
    remarks.note("lines-joined", SourceRow(", ".join(sorted({name for _, name in lines}))), told)
    others = [one for one, opened in zip(rings, is_open, strict=True) if not opened]
    return [*others, (replace(longest, points=points), file)]


def _gap_m(points: FloatArray) -> float:
    return float(np.hypot(*(points[-1] - points[0])))


def _length_m(points: FloatArray) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())
