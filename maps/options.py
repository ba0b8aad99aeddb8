"""Options as they are typed: read with the option's name in every complaint.

Knows nothing of spots and answers.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np

from survey.bed import Bed
from survey.errors import QueryError, UnitError
from survey.units import metres, read_length
from survey.venue import Venue
from survey.waterlevel import level_fault

Read = TypeVar("Read")


def option(name: str, text: str, read: Callable[[str], Read]) -> Read:
    """Read what was typed for an option; the error names the option."""
    try:
        return read(text)
    except UnitError as error:
        raise QueryError(f"{name}: {error}.") from None


def length_of(name: str, text: str) -> float:
    """A length typed for an option, metres; bare numbers are metres."""
    return option(name, text, lambda typed: read_length(typed, "m")).metres


def rod_length(typed: str) -> float:
    """The length of a rod, metres, more than nothing."""
    length_m = length_of("--rod-length", typed)
    if length_m <= 0:
        raise QueryError(f'--rod-length: "{typed}" is no rod. Give its length, like 13 ft or 3.96.')
    return length_m


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
            "--level: venue.toml declares no level mark, so a level has no meaning. "
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
    says = f"--level: with the {venue.mark.kind or 'level'} at {metres(shown_m)} the water would stand "
    if fault == "flooded":
        raise QueryError(
            f"{says}{metres(rise)} above the datum, where no outline holds. Read the mark again, in metres."
        )
    raise QueryError(f"{says}{metres(-rise)} below the datum, and the lake be empty. Read the mark again, in metres.")
