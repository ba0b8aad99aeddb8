"""Findings on what the adjustment moved: pegs, straight out and distances that are off by a mistake's size."""

from __future__ import annotations

from collections.abc import Iterator

from survey.adjustment.found import Adjusted
from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.records.soundings import Soundings
from survey.records.venue import Peg, Venue
from survey.units import shown_length

OFF_BY = 3.0
"""Told from this many standard deviations of what such errors usually are at this venue."""
LEAST_M, LEAST_DEG, LEAST_SHARE = 2.0, 10.0, 0.05
"""Nothing less than this is told: it is smaller than a swim."""


def adjustment_findings(venue: Venue, adjusted: Adjusted, soundings: Soundings) -> Iterator[Finding]:
    """Findings on pegs and observers.

    Parameters
    ----------
    venue : Venue
        With its pegs as adjusted.
    adjusted : Adjusted
    soundings : Soundings
    """
    for peg in venue.pegs:
        yield from _moved(peg, adjusted, venue.shows)
        yield from _turned(peg, adjusted)
    table = soundings.table
    observers = {(who or file): file for who, file in zip(table["observer"], table["file"], strict=True)}
    for who, file in sorted(observers.items()):
        scale = adjusted.scale(who)
        if abs(scale) >= LEAST_SHARE and abs(adjusted.off_by("distance scale", who)) >= 1.0:
            side = "longer" if scale > 0 else "shorter"
            yield Finding(
                Grade.NOTE,
                "distances-scaled",
                SourceRow(file),
                f"the distances of {who} are {abs(scale):.0%} {side} than where the readings fit; allowed for",
                "Check what a wrap, rod length or pace of theirs is worth.",
            )


def _moved(peg: Peg, adjusted: Adjusted, shows: str) -> Iterator[Finding]:
    across, along = adjusted.moved_m(peg)
    far = (along**2 + across**2) ** 0.5
    off = max(abs(adjusted.off_by(kind, peg.name)) for kind in ("peg across", "peg along"))
    if off < OFF_BY or far < LEAST_M:
        return
    if abs(along) >= abs(across):
        # It was moved to the right if it was written too far to the left.
        where = f"{shown_length(abs(along), shows)} along the bank to the {'left' if along > 0 else 'right'} of"
    else:
        where = f"{shown_length(abs(across), shows)} {'behind' if across > 0 else 'in front of'}"
    yield Finding(
        Grade.WARNING,
        "peg-misplaced",
        SourceRow(peg.place.file, peg.place.row, "peg"),
        f"the point of peg {peg.name} lies {where} where its readings fit, looking over the water; it was moved",
        "Check the point, and whether its readings are from another peg.",
        peg.name,
    )


def _turned(peg: Peg, adjusted: Adjusted) -> Iterator[Finding]:
    turned = adjusted.turned_deg(peg.name)
    if abs(adjusted.off_by("facing", peg.name)) >= OFF_BY and abs(turned) >= LEAST_DEG:
        yield Finding(
            Grade.WARNING,
            "facing-off",
            SourceRow(peg.place.file, peg.place.row, "facing"),
            f"straight out at peg {peg.name} is {abs(turned):.0f}° further {'right' if turned > 0 else 'left'} by its "
            "readings than was assumed; allowed for",
            "Write its true bearing under facing.",
            peg.name,
        )
