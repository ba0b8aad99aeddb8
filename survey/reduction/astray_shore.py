"""Readings that found water where the outline has land: many of several pegs, side by side, speak against the outline.

Knows nothing of depths.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LinearRing, Polygon

from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.geometry.geodesy import Geodesy
from survey.records.readings import Reading
from survey.records.venue import Venue
from survey.reduction.positions import Placed, RejectedReadingError

LEAST_READINGS, LEAST_PEGS = 5, 2
"""Fewer, or those of one peg, are as likely to be mistakes of their own."""
STRETCH_GAP_M = 30.0
"""Readings further apart along the shore belong to different stretches."""
MOST_PEGS_NAMED = 6
SIDES = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


class AshoreError(RejectedReadingError):
    """A reading that landed on shore.

    Parameters
    ----------
    finding : Finding
    reading : Reading
    spot : Placed
    outside_m : float
        How far from the water.
    """

    def __init__(self, finding: Finding, reading: Reading, spot: Placed, outside_m: float) -> None:
        super().__init__(finding)
        self.reading = reading
        self.spot = spot
        self.outside_m = outside_m


@dataclass(frozen=True)
class _Shore:
    """One ring of the outline: of a piece of water, or of an island in it."""

    ring: LinearRing
    water: Polygon
    is_island: bool


def outline_findings(venue: Venue, ashore: Iterable[AshoreError], answered: frozenset[SourceRow]) -> list[Finding]:
    """One finding for each stretch of shore, and each island, that many readings say is water.

    Parameters
    ----------
    venue : Venue
    ashore : iterable of AshoreError
    answered : frozenset of SourceRow
        Rows that keep a finding of their own, because somebody decided about them.

    Returns
    -------
    list of Finding
        Each stands for all rows it counts.
    """
    judged = [one for one in ashore if one.reading.use and one.reading.place not in answered and one.reading.peg]
    shores = [
        _Shore(ring, water, is_island)
        for water in venue.water.geoms
        for ring, is_island in [(water.exterior, False), *((inner, True) for inner in water.interiors)]
    ]
    if not judged:
        return []
    points = shapely.points([(one.spot.easting, one.spot.northing) for one in judged])
    nearest = np.argmin([shapely.distance(shore.ring, points) for shore in shores], axis=0)
    geodesy, found = Geodesy(venue.crs), list[Finding]()
    for k, shore in enumerate(shores):
        here = np.flatnonzero(nearest == k)
        along = shapely.line_locate_point(shore.ring, points[here])
        told = [(float(at), judged[n]) for at, n in zip(along, here.tolist(), strict=True)]
        stretches = [told] if shore.is_island else _stretches(told, shore.ring.length)
        found += [_finding(shore, stretch, geodesy) for stretch in stretches if _is_many(stretch)]
    return found


Stretch = list[tuple[float, AshoreError]]
"""Places along a ring, metres, and what landed beside them."""


def _stretches(told: Stretch, round_m: float) -> Iterator[Stretch]:
    """Readings that follow each other along a ring, parted at wide gaps; places may run on past its start."""
    told = sorted(told, key=lambda one: (one[0], one[1].reading.place))
    if not told:
        return
    at = np.array([place for place, _ in told])
    gaps = np.diff(np.append(at, at[0] + round_m))
    first = (int(np.argmax(gaps)) + 1) % len(told)
    turned = [*told[first:], *((place + round_m, one) for place, one in told[:first])]
    stretch = turned[:1]
    for one in turned[1:]:
        if one[0] - stretch[-1][0] > STRETCH_GAP_M:
            yield stretch
            stretch = []
        stretch.append(one)
    yield stretch


def _is_many(stretch: Stretch) -> bool:
    return len(stretch) >= LEAST_READINGS and len({one.reading.peg for _, one in stretch}) >= LEAST_PEGS


def _finding(shore: _Shore, stretch: Stretch, geodesy: Geodesy) -> Finding:
    rows = sorted(one.reading.place for _, one in stretch)
    off = np.array([one.outside_m for _, one in stretch])
    pegs = _pegs([one.reading.peg for _, one in stretch])
    if shore.is_island:
        middle, size = shapely.point_on_surface(Polygon(shore.ring)), Polygon(shore.ring).area
        code, where = "island-astray", f"an island of {size:.0f} m²"
        remedy = "Is it a shoal, or drawn too large? Correct the outline. Else check these directions and distances."
    else:
        begins, ends = stretch[0][0], stretch[-1][0]
        middle = shore.ring.interpolate((begins + ends) / 2 % shore.ring.length)
        code, where = "shore-astray", f"land: along {ends - begins:.0f} m of the {_side(shore.water, middle)} shore"
        remedy = (
            "Was the outline drawn along a road, a hedge or reeds there? Draw it at the water's edge. "
            "If it is right, check these pegs' points and distances."
        )
    lon, lat = geodesy.lonlat(middle.x, middle.y)
    return Finding(
        Grade.ERROR,
        code,
        rows[0],
        f"{len(rows)} readings of {pegs} found water where the outline has {where}, near lon {lon:.5f}, "
        f"lat {lat:.5f}; half of them {np.median(off):.0f} m ashore or more, at most {off.max():.0f} m; none was used",
        remedy,
        also=tuple(rows[1:]),
    )


def _pegs(names: Sequence[str]) -> str:
    counted: defaultdict[str, int] = defaultdict(int)
    for name in names:
        counted[name] += 1
    most = sorted(counted, key=lambda name: (-counted[name], name))[:MOST_PEGS_NAMED]
    more = f" and {len(counted) - len(most)} more" if len(counted) > len(most) else ""
    return f"pegs {', '.join(sorted(most))}{more}"


def _side(water: Polygon, at: shapely.Point) -> str:
    """Which shore of a water, by the direction from its middle."""
    azimuth = np.degrees(np.arctan2(at.x - water.centroid.x, at.y - water.centroid.y))
    return SIDES[round(float(azimuth) / 45.0) % len(SIDES)]
