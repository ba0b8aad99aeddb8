"""A sounding on its way to the table, and how bounds of one cast become one depth.

Knows nothing of floats, places or levels: it takes soundings at datum.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Sequence
from dataclasses import replace

from survey.findings import Finding, Grade
from survey.records.readings import Cast, Intersection
from survey.reduction.sounding import Sounding
from survey.units.lengths import shown_length

CROSSED_SDS = 3.0
"""A lower bound this many of its sd above the upper is a finding."""


def joined(soundings: Sequence[Sounding], shows: str) -> tuple[list[Sounding], list[Finding]]:
    """Join lower and upper bounds of the same peg, cast, day and observer.

    The tightest of each side bracket the depth in [a, b]: the value is (a + b)/2, its variance
    (b - a)²/12 (rectangular distribution, GUM, JCGM 100:2008, 4.3.7) and the readings' own.
    Bounds without a date, and rows that are not to be used, stay as they are.

    Parameters
    ----------
    soundings : sequence of Sounding
        In the order of the sheets.
    shows : str
        Unit of lengths in the findings, as in :class:`survey.records.venue.Venue`.

    Returns
    -------
    list of Sounding
        In the same order, each bracket in the row of its first bound.
    list of Finding
        A note ``bracketed`` for each row that went into another; a warning where bounds cross.
    """
    kept: list[Sounding] = []
    groups: dict[Hashable, list[Sounding]] = defaultdict(list)
    for sounding in soundings:
        if sounding.use and sounding.kind != "depth" and sounding.day:
            groups[_cast_key(sounding)].append(sounding)
        else:
            kept.append(sounding)
    findings: list[Finding] = []
    for bounds in groups.values():
        rows, said = _join(bounds, shows)
        kept += rows
        findings += said
    return kept, findings


def _cast_key(sounding: Sounding) -> Hashable:
    reading, where = sounding.reading, sounding.reading.where
    # Blank observers are one person within a sheet, not across sheets.
    name = reading.observer.strip().casefold()
    observer = (name, "" if name else reading.place.file)
    if isinstance(where, Cast):
        direction = where.direction
        bearing = (direction.north,) if direction.kind == "bearing" else ()
        turned = round(direction.value_deg % 360.0, 3)
        return (reading.peg, sounding.day, observer, bearing, turned, round(where.distance_m, 3), where.distance_from)
    if isinstance(where, Intersection):
        return (reading.peg, sounding.day, observer, where)
    return (reading.peg, sounding.day, observer, where.frame, where.x, where.y)


def _join(bounds: list[Sounding], shows: str) -> tuple[list[Sounding], list[Finding]]:
    lower = [b for b in bounds if b.kind == "at_least"]
    upper = [b for b in bounds if b.kind == "at_most"]
    if not lower or not upper:
        return bounds, []
    low = max(lower, key=lambda b: b.depth_m)
    high = min(upper, key=lambda b: b.depth_m)
    if low.depth_m - high.depth_m > CROSSED_SDS * math.hypot(low.sd_m, high.sd_m):
        return bounds, [_crossed(low, high, shows)]
    depths = f"between {shown_length(low.depth_m, shows)} and {shown_length(high.depth_m, shows)}"
    return [_between(low, high, bounds)], [_bracketed(bounds[0], other, depths) for other in bounds[1:]]


def _between(low: Sounding, high: Sounding, bounds: list[Sounding]) -> Sounding:
    width = high.depth_m - low.depth_m
    variance = width**2 / 12 + (low.sd_m**2 + high.sd_m**2) / 2
    return replace(
        bounds[0],
        kind="depth",
        depth_m=(low.depth_m + high.depth_m) / 2,
        sd_m=math.sqrt(variance),
        level=max((low.level, high.level), key=lambda level: level.sd_m),
        hard_depth_m=next((b.hard_depth_m for b in bounds if not math.isnan(b.hard_depth_m)), math.nan),
    )


def _bracketed(first: Sounding, other: Sounding, depths: str) -> Finding:
    return Finding(
        Grade.NOTE,
        "bracketed",
        other.place,
        f"bounds of one cast used as one depth with {first.place}: {depths} at datum",
    )


def _crossed(low: Sounding, high: Sounding, shows: str) -> Finding:
    return Finding(
        Grade.WARNING,
        "bracket-crossed",
        max(low.place, high.place, key=lambda place: (place.file, place.row or 0)),
        f"of one cast, {low.place} says deeper than {shown_length(low.depth_m, shows)} and "
        f"{high.place} no deeper than {shown_length(high.depth_m, shows)}; both are kept as bounds",
        "Check what was seen and the settings; set use to no on the wrong one.",
    )
