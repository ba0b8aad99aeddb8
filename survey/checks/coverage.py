"""What a survey leaves out: levels that are missing, stale or jump, swims with few casts, sides never cast to.

Knows nothing of the bed.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from survey.errors import SourceRow, runs_of_rows
from survey.findings import Finding, Grade
from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import Shoreline
from survey.records.fieldbook import Fieldbook, LevelRecord
from survey.records.soundings import Soundings
from survey.records.venue import Peg, Venue
from survey.units.club_units import shown_level
from survey.units.dates import written_day

FEW_CASTS = 4
MANY_CASTS = 8
"""So many casts to one side of a peg are seldom chance (ours)."""
STRAIGHT_DEG = 2.5
"""What is aimed no further aside is straight out (ours)."""
SIDE_DEG = 20.0
SIDES = {"left": -40.0, "straight out": 0.0, "right": 40.0}
NEEDED_M = 12.0
"""A side needs a cast where this much water is in sight that way."""
STALE_DAYS = 14.0
JUMP_M = 0.15
"""A level that leaves its neighbours by so much and comes back is a slip more often than a flood (ours)."""
NEAR_DAYS = 10.0


def gaps_in_coverage(fieldbook: Fieldbook, soundings: Soundings) -> Iterator[Finding]:
    """Findings on what would be worth plumbing, and on levels."""
    shore = Shoreline(fieldbook.venue.water)
    table = soundings.table
    used = table.loc[table["use"].to_numpy(bool) & (table["distance_m"] > 0)]
    by_peg = {str(peg): rows for peg, rows in used.groupby("peg")}
    for peg in fieldbook.venue.pegs:
        if peg.name in by_peg and not peg.is_closed:
            azimuths = by_peg[peg.name]["radial_deg"].to_numpy(float)
            yield from _thin(peg, len(azimuths))
            yield from _sides(peg, azimuths, fieldbook.venue, shore)
    yield from _stale(fieldbook)
    yield from _jumps(fieldbook.levels, fieldbook.venue)


def _thin(peg: Peg, casts: int) -> Iterator[Finding]:
    if casts < FEW_CASTS:
        yield Finding(
            Grade.NOTE,
            "swim-thin",
            peg.place,
            f"peg {peg.name} has only {casts} cast{'s' if casts > 1 else ''} in use",
            f"From {FEW_CASTS} it would be well covered: near and far, and to both sides.",
        )


def _sides(peg: Peg, azimuths: np.ndarray, venue: Venue, shore: Shoreline) -> Iterator[Finding]:
    """Sides of a peg with water in sight that no cast went to."""
    if len(azimuths) < FEW_CASTS:
        return
    straight = straight_azimuth_deg(peg, venue)
    turned = (azimuths - straight + 180.0) % 360.0 - 180.0
    missing = [
        words
        for words, side in SIDES.items()
        if not (np.abs(turned - side) <= SIDE_DEG).any() and has_open_water(peg, straight + side, shore)
    ]
    if missing:
        yield Finding(
            Grade.NOTE,
            "side-unplumbed",
            peg.place,
            f"peg {peg.name} has no cast {' or '.join(missing)}, where there is water in sight",
            f"Cast there too; the bed is known best between casts.{_one_way(turned)}",
        )


def _one_way(turned_deg: np.ndarray) -> str:
    """What else to look at where all of many casts go to one side."""
    for side, turned in (("right", turned_deg), ("left", -turned_deg)):
        if (turned > -STRAIGHT_DEG).all() and (turned > STRAIGHT_DEG).sum() >= MANY_CASTS:
            return f" All go straight out or to the {side}: check that no minus sign is missing."
    return ""


def straight_azimuth_deg(peg: Peg, venue: Venue) -> float:
    """Grid azimuth of straight out, degrees clockwise from grid north."""
    return peg.facing_deg - float(Geodesy(venue.crs).convergence_deg(peg.easting, peg.northing))


def has_open_water(peg: Peg, azimuth_deg: float, shore: Shoreline) -> bool:
    """Whether there is water in sight of a peg on a grid azimuth, as far out as a side needs."""
    turn = math.radians(azimuth_deg)
    spot = (peg.easting + NEEDED_M * math.sin(turn), peg.northing + NEEDED_M * math.cos(turn))
    return shore.outside_m(*spot) == 0 and shore.sight.from_peg((peg.easting, peg.northing), spot)


def _stale(fieldbook: Fieldbook) -> Iterator[Finding]:
    """Days whose level lies between records more than a fortnight apart."""
    times = np.array([record.when.instant.timestamp() for record in fieldbook.levels]) / 86400.0
    if len(times) < 2 or fieldbook.venue.mark.kind is None:  # noqa: PLR2004 - between two
        return
    days: dict[str, list[tuple[float, int]]] = defaultdict(list)
    places: dict[str, list[SourceRow]] = defaultdict(list)
    for reading in fieldbook.readings:
        if reading.when and times[0] < (at := reading.when.instant.timestamp() / 86400.0) < times[-1]:
            after = int(np.searchsorted(times, at))
            days[reading.when.day].append((float(times[after] - times[after - 1]), after))
            places[reading.when.day].append(reading.place)
    for day, gaps in sorted(days.items()):
        apart, after = max(gaps)
        if apart > STALE_DAYS:
            before, next_one = (fieldbook.levels[k].place for k in (after - 1, after))
            yield Finding(
                Grade.NOTE,
                "level-stale",
                min(places[day]),
                f"the level of {written_day(day)} ({runs_of_rows(places[day])}) is interpolated between records "
                f"{apart:.0f} days apart ({runs_of_rows((before, next_one))})",
                "Note the level mark whenever you plumb.",
            )


def _jumps(levels: tuple[LevelRecord, ...], venue: Venue) -> Iterator[Finding]:
    """Records that leave both their neighbours while these agree."""
    for before, here, after in zip(levels, levels[1:], levels[2:], strict=False):
        span = (after.when.instant - before.when.instant).total_seconds() / 86400.0
        between = (before.shown_m + after.shown_m) / 2.0
        alike = abs(before.shown_m - after.shown_m) < JUMP_M / 2.0
        if alike and span <= NEAR_DAYS and abs(here.shown_m - between) > JUMP_M:
            low, odd, high = (shown_level(one.shown_m, venue.mark.unit, venue.shows) for one in (before, here, after))
            yield Finding(
                Grade.WARNING,
                "level-jump",
                here.place,
                f"{odd} stands out between {low} and {high} within {span:.0f} days; "
                "it shifts every reading of that day",
                "Check it against the level book.",
            )
