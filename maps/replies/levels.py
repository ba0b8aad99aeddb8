"""A level as typed: refused where it is impossible, and given against the datum."""

from __future__ import annotations

import numpy as np

from maps.replies.options import length_of
from survey.bed.grid import Bed
from survey.errors import QueryError
from survey.records.venue import Venue
from survey.reduction.water_levels import level_fault
from survey.units import format_metres


def level_shown(venue: Venue, typed: str | None) -> float:
    """What the level mark shows today; the datum where nothing was typed.

    Raises
    ------
    QueryError
        A level typed for a venue without a mark.
    """
    if typed is None:
        return venue.mark.datum_m
    if venue.mark.kind is None:
        raise QueryError(
            "--level: no level mark is declared in venue.toml, so a level cannot be used. "
            'Add [level] with kind = "board" or "dip" and its datum, or leave --level out.'
        )
    return length_of("--level", typed)


def refuse_level(venue: Venue, shown_m: float, bed: Bed) -> None:
    """Refuse a level at which nothing can be answered.

    Raises
    ------
    QueryError
        The water would stand above any outline, or the lake would be empty.
    """
    rise = venue.mark.rise_m(shown_m)
    fault = level_fault(rise, float(np.nanmax(bed.depth_m)))
    if not fault:
        return
    says = f"--level: with the {venue.mark.kind or 'level'} at {format_metres(shown_m)} the water would be "
    if fault == "flooded":
        raise QueryError(
            f"{says}{format_metres(rise)} above the datum, over the mapped banks. Read the mark again, in metres."
        )
    raise QueryError(
        f"{says}{format_metres(-rise)} below the datum and the lake empty. Read the mark again, in metres."
    )


SHOWN_AS_NOTHING_M = 0.005


def from_datum(rise_m: float) -> str:
    """A level against the datum.

    Examples
    --------
    >>> from_datum(-0.234), from_datum(0.001)
    ('0.23 m below the datum', 'at the datum')
    """
    if abs(rise_m) < SHOWN_AS_NOTHING_M:
        return "at the datum"
    return f"{format_metres(abs(rise_m))} {'above' if rise_m > 0 else 'below'} the datum"
