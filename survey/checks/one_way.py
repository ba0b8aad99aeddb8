"""Casts of one hand that all go to one side, as if a sign were lost.

Knows nothing of depths.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from survey.checks.coverage import SIDES, STRAIGHT_DEG, has_open_water, straight_azimuth_deg
from survey.errors import runs_of_rows
from survey.findings import Finding, Grade
from survey.geometry.shoreline import Shoreline
from survey.records.fieldbook import Fieldbook
from survey.records.readings import Cast, Reading
from survey.records.venue import Peg, Venue

LEAST_CASTS = 10
"""To one side by chance once in 500, were both sides cast to alike (ours)."""
LEAST_PEGS = 3
"""Pegs with water to either side; at one or two of them there may be a reason (ours)."""

_WRITE = {
    "angle": "write those to the left with a minus sign or with left, like -30 or 30 left",
    "clock": "write those to the left of 12 as 11, 10 or 9",
}


def casts_one_way(fieldbook: Fieldbook) -> Iterator[Finding]:
    """A note for each sheet and observer whose casts all go to one side, where there is water to either.

    Parameters
    ----------
    fieldbook : Fieldbook
    """
    venue, shore = fieldbook.venue, Shoreline(fieldbook.venue.water)
    hands: defaultdict[tuple[str, str, str], list[Reading]] = defaultdict(list)
    for reading in fieldbook.readings:
        if isinstance(reading.where, Cast) and reading.where.direction.kind in _WRITE:
            hands[reading.place.file, reading.observer.strip(), reading.where.direction.kind].append(reading)
    for (_, observer, kind), readings in sorted(hands.items()):
        aside = [r for r in readings if abs(_angle_deg(r)) >= STRAIGHT_DEG]
        sides = {"right" if _angle_deg(r) > 0 else "left" for r in aside}
        if len(aside) < LEAST_CASTS or len(sides) > 1:
            continue
        side, other = ("right", "left") if sides == {"right"} else ("left", "right")
        pegs = _with_water(aside, other, venue, shore)
        if len(pegs) >= LEAST_PEGS:
            who = f" by {observer}" if observer else ""
            yield Finding(
                Grade.NOTE,
                "casts-one-way",
                min(r.place for r in aside),
                f"all {len(aside)} casts{who} that are not straight out go to the {side} "
                f"({runs_of_rows(r.place for r in aside)}), though there is water to the {other} at {len(pegs)} pegs",
                f"If none went to the {other}, cast there too. If some did, {_WRITE[kind]}.",
            )


def _angle_deg(reading: Reading) -> float:
    """Degrees from straight out, positive to the right."""
    value = reading.where.direction.value_deg if isinstance(reading.where, Cast) else 0.0
    return (value + 180.0) % 360.0 - 180.0


def _with_water(readings: Sequence[Reading], side: str, venue: Venue, shore: Shoreline) -> list[Peg]:
    """Pegs of some readings with water in sight on a side."""
    names = {reading.peg for reading in readings}
    return [
        peg
        for peg in venue.pegs
        if peg.name in names and has_open_water(peg, straight_azimuth_deg(peg, venue) + SIDES[side], shore)
    ]
