"""What a survey leaves out: levels that are missing, stale or jump, swims with few casts, sides never cast to.

Knows nothing of the bed.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import Shoreline
from survey.records.fieldbook import Fieldbook, LevelRecord
from survey.records.soundings import Soundings
from survey.records.venue import Peg, Venue
from survey.units.club_units import shown_level
from survey.units.dates import written_day

FEW_CASTS = 4
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
    straight = peg.facing_deg - Geodesy(venue.crs).convergence_deg(peg.easting, peg.northing)
    turned = (azimuths - straight + 180.0) % 360.0 - 180.0
    missing = [
        words
        for words, side in SIDES.items()
        if not (np.abs(turned - side) <= SIDE_DEG).any() and _open_water(peg, straight + side, shore)
    ]
    if missing:
        yield Finding(
            Grade.NOTE,
            "side-unplumbed",
            peg.place,
            f"peg {peg.name} has no cast {' or '.join(missing)}, where there is water in sight",
            "Cast there too; the bed is known best between casts.",
        )


def _open_water(peg: Peg, azimuth_deg: float, shore: Shoreline) -> bool:
    turn = math.radians(azimuth_deg)
    spot = (peg.easting + NEEDED_M * math.sin(turn), peg.northing + NEEDED_M * math.cos(turn))
    return shore.outside_m(*spot) == 0 and shore.sight.from_peg((peg.easting, peg.northing), spot)


def _stale(fieldbook: Fieldbook) -> Iterator[Finding]:
    """Days whose level lies between records more than a fortnight apart."""
    times = np.array([record.when.instant.timestamp() for record in fieldbook.levels]) / 86400.0
    if len(times) < 2 or fieldbook.venue.mark.kind is None:  # noqa: PLR2004 - between two
        return
    days: dict[str, list[float]] = defaultdict(list)
    first: dict[str, SourceRow] = {}
    for reading in fieldbook.readings:
        if reading.when and times[0] < (at := reading.when.instant.timestamp() / 86400.0) < times[-1]:
            after = int(np.searchsorted(times, at))
            days[reading.when.day].append(float(times[after] - times[after - 1]))
            first.setdefault(reading.when.day, reading.place)
    for day, gaps in sorted(days.items()):
        if max(gaps) > STALE_DAYS:
            yield Finding(
                Grade.NOTE,
                "level-stale",
                first[day],
                f"the level of {written_day(day)} is interpolated between records {max(gaps):.0f} days apart",
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
