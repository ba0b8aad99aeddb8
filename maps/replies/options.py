"""Options as they are typed: read with the option's name in every complaint.

Knows nothing of spots and answers.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from survey.errors import ParseError, QueryError
from survey.units import Length, read_length

if TYPE_CHECKING:
    from survey.records.venue import Venue

Read = TypeVar("Read")


def option(name: str, text: str, read: Callable[[str], Read]) -> Read:
    """Read what was typed for an option; the error names the option."""
    try:
        return read(text)
    except ParseError as error:
        raise QueryError(f"{name}: {error}.") from None


def length_of(name: str, text: str) -> float:
    """A length typed for an option, metres; bare numbers are metres."""
    return option(name, text, lambda typed: read_length(typed, "m")).metres


def distance_of(name: str, text: str, venue: Venue) -> Length:
    """A distance over the water; bare numbers are in what the venue counts distances in."""
    return option(name, text, lambda typed: read_length(typed, venue.distances.unit, venue.sizes))


def rod_length(typed: str) -> float:
    """The length of a rod, metres, more than nothing."""
    length_m = length_of("--rod-length", typed)
    if length_m <= 0:
        raise QueryError(f'--rod-length: "{typed}" is not a rod length. Enter it like 13 ft or 3.96.')
    return length_m
