"""A level as typed: refused where it is impossible, and given against the datum."""

from __future__ import annotations

import numpy as np

from maps.language.catalogue import ENGLISH
from maps.replies.options import option
from survey.bed.grid import Bed
from survey.errors import QueryError
from survey.records.venue import Venue
from survey.reduction.water_levels import is_far_from, level_fault
from survey.units import read_length
from survey.units.club_units import shown_level


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
    return option("--level", typed, lambda text: read_length(text, venue.mark.unit)).metres


def far_from_records(venue: Venue, recorded: tuple[float, float] | None, shown_m: float) -> str:
    """That a level lies far outside those recorded, with both figures; empty where it does not."""
    if recorded is None or venue.mark.kind is None or not is_far_from(recorded, shown_m):
        return ""
    shown, low, high = (level_of(venue, level) for level in (shown_m, *recorded))
    return (
        f"The {venue.mark.kind} at {shown} is far outside the recorded levels, {low} to {high}. "
        f"Read the mark again: plain numbers are {_unit_words(venue)}."
    )


FAR_FROM_DATUM_M = 1.0
"""A level further than this from the datum is worth a second look (ours)."""


def far_level(venue: Venue, recorded: tuple[float, float] | None, shown_m: float) -> str:
    """What to mind about a level that cannot well be; empty where nothing is."""
    rise = venue.mark.rise_m(shown_m)
    far = far_from_records(venue, recorded, shown_m)
    if far or abs(rise) <= FAR_FROM_DATUM_M:
        return far
    return f"That level is {level_of(venue, abs(rise))} from the datum. Read the mark again."


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
    says = f"--level: with the {venue.mark.kind or 'level'} at {level_of(venue, shown_m)} the water would be "
    where = ", over the mapped banks" if fault == "flooded" else " and the lake empty"
    raise QueryError(f"{says}{from_datum(venue, rise)}{where}. Read the mark again, in {_unit_words(venue)}.")


SHOWN_AS_NOTHING_M = 0.005


def from_datum(venue: Venue, rise_m: float) -> str:
    """A level against the datum, in the mark's unit and as the venue shows depths."""
    if abs(rise_m) < SHOWN_AS_NOTHING_M:
        return "at the datum"
    return f"{level_of(venue, abs(rise_m))} {'above' if rise_m > 0 else 'below'} the datum"


def level_of(venue: Venue, level_m: float) -> str:
    """A level, or a change of it, in the mark's unit and as the venue shows depths."""
    return shown_level(level_m, venue.mark.unit, venue.shows)


def _unit_words(venue: Venue) -> str:
    return str(ENGLISH[f"unit_{venue.mark.unit}"])
