"""Fieldbooks as they would have been written without a mistake, one function a mistake.

Knows no words and no bed: which mistakes are tried, and what is said of them, is for
:mod:`survey.checks.systematic.hypotheses`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import Shoreline
from survey.records.fieldbook import Fieldbook
from survey.records.floats import Float
from survey.records.readings import Cast, Direction, Intersection, Reading
from survey.records.venue import North, Peg, Venue

Rewrite = Callable[[Fieldbook], Fieldbook | None]
"""A fieldbook as it would have been written without the mistake; None where the mistake is not possible."""
LEAST_DEGREES = 5.0
"""A mistake that turns a cast by less cannot be separated from the aim."""


def each(turned: Callable[[Reading], Reading | None]) -> Rewrite:
    """Every reading rewritten; None unless most of them can be."""

    def rewrite(book: Fieldbook) -> Fieldbook | None:
        new = [turned(reading) for reading in book.readings]
        able = sum(reading is not None for reading in new)
        if 2 * able <= len(new):
            return None
        kept = (given if made is None else made for given, made in zip(book.readings, new, strict=True))
        return replace(book, readings=tuple(kept))

    return rewrite


def turning(turned: Callable[[Direction], Direction | None]) -> Callable[[Reading], Reading | None]:
    """The direction of a cast, or both of a crossing, turned; None where neither can be."""

    def rewritten(reading: Reading) -> Reading | None:
        where = reading.where
        if isinstance(where, Cast):
            new = turned(where.direction)
            return None if new is None else replace(reading, where=replace(where, direction=new))
        if isinstance(where, Intersection):
            new, other = turned(where.direction), turned(where.other_direction)
            if new is None and other is None:
                return None
            both = replace(where, direction=new or where.direction, other_direction=other or where.other_direction)
            return replace(reading, where=both)
        return None

    return rewritten


def mirrored(direction: Direction) -> Direction | None:
    """A direction with left for right; None for a bearing, and straight out."""
    if direction.kind == "bearing" or abs(direction.value_deg) < 1.0:
        return None
    return replace(direction, value_deg=-direction.value_deg)


def mirrored_from(written: Venue) -> Rewrite:
    """Left with right, about each peg's straight out as it was before any adjustment: that turned it to suit them."""
    turned = each(turning(mirrored))
    return lambda book: turned(replace(book, venue=written))


def turned_round(direction: Direction) -> Direction | None:
    """A bearing taken the other way; None for angles and clock hours."""
    if direction.kind != "bearing":
        return None
    return replace(direction, value_deg=(direction.value_deg + 180.0) % 360.0)


def other_north(venue: Venue) -> Callable[[Direction], Direction | None]:
    """A bearing from true north for one from magnetic north, or back; None where the two are alike."""
    declination = venue.declination_deg

    def turned(direction: Direction) -> Direction | None:
        if direction.kind != "bearing" or direction.north == "grid":
            return None
        if declination is not None and abs(declination) < LEAST_DEGREES:
            return None
        other: North = "true" if direction.north == "magnetic" else "magnetic"
        return replace(direction, north=other)

    return turned


def further(factor: float) -> Callable[[Reading], Reading | None]:
    """A cast so many times as far."""

    def turned(reading: Reading) -> Reading | None:
        where = reading.where
        if not isinstance(where, Cast):
            return None
        return replace(reading, where=replace(where, distance_m=where.distance_m * factor))

    return turned


def deeper(factor: float) -> Callable[[Reading], Reading | None]:
    """What was written of the depth in another unit: of the setting where that is what was written."""

    def turned(reading: Reading) -> Reading | None:
        if reading.setting_m is not None:
            return replace(reading, setting_m=reading.setting_m * factor)
        return None if reading.depth_m is None else replace(reading, depth_m=reading.depth_m * factor)

    return turned


def deeper_by(by_m: float) -> Callable[[Reading], Reading | None]:
    """The setting, or else the depth, greater by so much."""

    def turned(reading: Reading) -> Reading | None:
        if reading.setting_m is not None:
            return replace(reading, setting_m=reading.setting_m + by_m)
        return None if reading.depth_m is None else replace(reading, depth_m=reading.depth_m + by_m)

    return turned


def of_setting(held_by: Float) -> Callable[[Reading], Reading | None]:
    """The setting stands in the column of the depth."""

    def turned(reading: Reading) -> Reading | None:
        if reading.setting_m is not None or reading.depth_m is None or reading.method != "float":
            return None
        return replace(reading, depth_m=reading.depth_m + held_by.below_surface_m)

    return turned


def float_length(venue: Venue, sign: float) -> Callable[[Reading], Reading | None]:
    """The setting with the length of its float added (sign 1), or taken off (-1)."""

    def turned(reading: Reading) -> Reading | None:
        held_by = venue.float_named(reading.float_name) if reading.float_name else None
        if reading.setting_m is None or held_by is None:
            return None
        return replace(reading, setting_m=reading.setting_m + sign * held_by.length_m)

    return turned


def from_peg(peg: Peg) -> Callable[[Reading], Reading | None]:
    """A cast made from another peg."""
    return lambda reading: replace(reading, peg=peg.name) if isinstance(reading.where, Cast) else None


def peg_facing_shore(name: str) -> Rewrite:
    """The peg's straight out as the shore has it, instead of as declared."""

    def rewrite(book: Fieldbook) -> Fieldbook | None:
        venue = book.venue
        peg = venue.peg(name)
        if peg is None or not peg.facing_declared:
            return None
        azimuth = Shoreline(venue.water).out_azimuth_deg(peg.easting, peg.northing)
        facing = (azimuth + Geodesy(venue.crs).convergence_deg(peg.easting, peg.northing)) % 360.0
        if abs(math.remainder(facing - peg.facing_deg, 360.0)) < 4 * LEAST_DEGREES:
            return None
        pegs = tuple(replace(p, facing_deg=facing) if p is peg else p for p in venue.pegs)
        return replace(book, venue=replace(venue, pegs=pegs))

    return rewrite


def level_off(by_m: float) -> Rewrite:
    """The levels as they were if every record of them shows so much too little, by the height of the water."""

    def rewrite(book: Fieldbook) -> Fieldbook | None:
        mark = book.venue.mark
        levels = tuple(replace(one, shown_m=mark.shown_m(mark.rise_m(one.shown_m) + by_m)) for one in book.levels)
        return replace(book, levels=levels) if levels and mark.kind is not None else None

    return rewrite


def mark_turned(book: Fieldbook) -> Fieldbook | None:
    """The level mark read the other way: a dip for a board, a board for a dip."""
    mark = book.venue.mark
    if mark.kind is None or not book.levels:
        return None
    turned = replace(mark, kind="board" if mark.kind == "dip" else "dip")
    return replace(book, venue=replace(book.venue, mark=turned))
