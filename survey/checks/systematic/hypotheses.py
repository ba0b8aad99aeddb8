"""What a group of readings may have got wrong as a whole, each as a way to write the readings anew.

Knows nothing of the bed; whether one fits is for :mod:`survey.checks.systematic.testing`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from survey.findings import LEVEL_SIGN
from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import Shoreline
from survey.records.fieldbook import Fieldbook
from survey.records.floats import Float
from survey.records.readings import Cast, Direction, Intersection, Reading
from survey.records.venue import North, Peg, Venue
from survey.units import FOOT_M, YARD_M, format_metres

Rewrite = Callable[[Fieldbook], Fieldbook | None]
"""A fieldbook as it would have been written without the mistake; None where the mistake is not possible."""

PEGS_TRIED = 8
LEAST_SHIFT_M = 0.08
"""A smaller error of level cannot be separated from other errors that a day's readings share."""
LEAST_DEGREES = 5.0
"""A mistake that turns a cast by less cannot be separated from the aim."""


@dataclass(frozen=True)
class Hypothesis:
    """One mistake.

    Parameters
    ----------
    code : str
        Code of the finding that names it.
    words : str
        Follows "they would fit if".
    remedy : str
    rewrite : callable
    gives_way : bool
        Says by how much, not why: not named beside a mistake that explains as much.
    is_fitted : bool
        Holds a figure taken from the readings themselves: does not silence one that explains them without.
    is_expected : bool
        Something else points to it as well.
    """

    code: str
    words: str
    remedy: str
    rewrite: Rewrite
    gives_way: bool = False
    is_fitted: bool = False
    is_expected: bool = False


def _each(turned: Callable[[Reading], Reading | None]) -> Rewrite:
    """Every reading rewritten; None unless most of them can be."""

    def rewrite(book: Fieldbook) -> Fieldbook | None:
        new = [turned(reading) for reading in book.readings]
        able = sum(reading is not None for reading in new)
        if 2 * able <= len(new):
            return None
        kept = (given if made is None else made for given, made in zip(book.readings, new, strict=True))
        return replace(book, readings=tuple(kept))

    return rewrite


def _turning(turned: Callable[[Direction], Direction | None]) -> Callable[[Reading], Reading | None]:
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


def _mirrored(direction: Direction) -> Direction | None:
    if direction.kind == "bearing" or abs(direction.value_deg) < 1.0:
        return None
    return replace(direction, value_deg=-direction.value_deg)


def _turned_round(direction: Direction) -> Direction | None:
    if direction.kind != "bearing":
        return None
    return replace(direction, value_deg=(direction.value_deg + 180.0) % 360.0)


def _other_north(venue: Venue) -> Callable[[Direction], Direction | None]:
    declination = venue.declination_deg

    def turned(direction: Direction) -> Direction | None:
        if direction.kind != "bearing" or direction.north == "grid":
            return None
        if declination is not None and abs(declination) < LEAST_DEGREES:
            return None
        other: North = "true" if direction.north == "magnetic" else "magnetic"
        return replace(direction, north=other)

    return turned


def _further(factor: float) -> Callable[[Reading], Reading | None]:
    def turned(reading: Reading) -> Reading | None:
        where = reading.where
        if not isinstance(where, Cast):
            return None
        return replace(reading, where=replace(where, distance_m=where.distance_m * factor))

    return turned


def _deeper(factor: float) -> Callable[[Reading], Reading | None]:
    """What was written of the depth in another unit: of the setting where that is what was written."""

    def turned(reading: Reading) -> Reading | None:
        if reading.setting_m is not None:
            return replace(reading, setting_m=reading.setting_m * factor)
        return None if reading.depth_m is None else replace(reading, depth_m=reading.depth_m * factor)

    return turned


def _deeper_by(by_m: float) -> Callable[[Reading], Reading | None]:
    def turned(reading: Reading) -> Reading | None:
        if reading.setting_m is not None:
            return replace(reading, setting_m=reading.setting_m + by_m)
        return None if reading.depth_m is None else replace(reading, depth_m=reading.depth_m + by_m)

    return turned


def _of_setting(held_by: Float) -> Callable[[Reading], Reading | None]:
    """The setting stands in the column of the depth."""

    def turned(reading: Reading) -> Reading | None:
        if reading.setting_m is not None or reading.depth_m is None or reading.method != "float":
            return None
        return replace(reading, depth_m=reading.depth_m + held_by.below_surface_m)

    return turned


def _float_length(venue: Venue, sign: float) -> Callable[[Reading], Reading | None]:
    def turned(reading: Reading) -> Reading | None:
        held_by = venue.float_named(reading.float_name) if reading.float_name else None
        if reading.setting_m is None or held_by is None:
            return None
        return replace(reading, setting_m=reading.setting_m + sign * held_by.length_m)

    return turned


def _from_peg(peg: Peg) -> Callable[[Reading], Reading | None]:
    return lambda reading: replace(reading, peg=peg.name) if isinstance(reading.where, Cast) else None


def _peg_facing_shore(name: str) -> Rewrite:
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


def of_sheets(venue: Venue) -> tuple[Hypothesis, ...]:
    """Mistakes that a sheet, an observer or a day makes as a whole."""
    sheet = "Correct the sheet: write the unit or direction that was meant."
    return (
        Hypothesis(
            "likely-mirrored",
            "left and right were swapped",
            "Reverse the signs of the angles, or the clock hours (11 for 1).",
            _each(_turning(_mirrored)),
        ),
        Hypothesis(
            "likely-turned-round",
            "the bearings were taken towards the peg",
            "Add or subtract 180° in this column.",
            _each(_turning(_turned_round)),
        ),
        Hypothesis(
            "likely-north",
            "the bearings were from the other north (true for magnetic)",
            'Write the right word under "north".',
            _each(_turning(_other_north(venue))),
        ),
        Hypothesis("likely-distance-unit", "the distances were yards", sheet, _each(_further(YARD_M))),
        Hypothesis("likely-distance-unit", "the distances were metres, not yards", sheet, _each(_further(1 / YARD_M))),
        Hypothesis("likely-distance-unit", "the distances were feet", sheet, _each(_further(FOOT_M))),
        Hypothesis("likely-distance-unit", "the distances were metres, not feet", sheet, _each(_further(1 / FOOT_M))),
        Hypothesis("likely-depth-unit", "the depths were feet, not metres", sheet, _each(_deeper(FOOT_M))),
        Hypothesis("likely-depth-unit", "the depths were metres, not feet", sheet, _each(_deeper(1 / FOOT_M))),
        Hypothesis("likely-depth-unit", "the depths were centimetres, not metres", sheet, _each(_deeper(0.01))),
        Hypothesis("likely-depth-unit", "the depths were metres, not centimetres", sheet, _each(_deeper(100.0))),
        Hypothesis(
            "likely-float-length",
            "the settings were measured to the float's tip",
            'Write setting_to = "tip" for that float in venue.toml.',
            _each(_float_length(venue, -1.0)),
        ),
        Hypothesis(
            "likely-float-length",
            "the settings leave the float's length out",
            'Check setting_to and length of that float in venue.toml; "hold" is the bottom eye or stop knot.',
            _each(_float_length(venue, 1.0)),
        ),
        *(
            Hypothesis(
                "likely-float-length",
                f'they were settings, not depths, for a float like "{held_by.name}"',
                'Write them in a column "setting", and the float\'s name beside them.',
                _each(_of_setting(held_by)),
            )
            for held_by in _floats_apart(venue)
        ),
    )


def _floats_apart(venue: Venue) -> list[Float]:
    """Floats of which no two are about as long."""
    found: list[Float] = []
    for one in sorted(venue.floats, key=lambda one: (one.below_surface_m, one.name)):
        if one.setting_to == "hold" and (not found or one.below_surface_m > found[-1].below_surface_m + LEAST_SHIFT_M):
            found.append(one)
    return found


def _level_off(by_m: float) -> Rewrite:
    """The levels as they were if every record of them shows so much too little, by the height of the water."""

    def rewrite(book: Fieldbook) -> Fieldbook | None:
        mark = book.venue.mark
        levels = tuple(replace(one, shown_m=mark.shown_m(mark.rise_m(one.shown_m) + by_m)) for one in book.levels)
        return replace(book, levels=levels) if levels and mark.kind is not None else None

    return rewrite


def _mark_turned(book: Fieldbook) -> Fieldbook | None:
    mark = book.venue.mark
    if mark.kind is None or not book.levels:
        return None
    turned = replace(mark, kind="board" if mark.kind == "dip" else "dip")
    return replace(book, venue=replace(book.venue, mark=turned))


def of_day(deeper_m: float) -> tuple[Hypothesis, ...]:
    """A wrong record of the level, which moves all depths of a day alike: by what they are too deep, metres."""
    if abs(deeper_m) < LEAST_SHIFT_M:
        return ()
    return (
        Hypothesis(
            "likely-level",
            f"the water stood {format_metres(abs(deeper_m))} {'higher' if deeper_m > 0 else 'lower'} that day than the "
            "levels sheet shows",
            "Look up the level that day, and correct the levels sheet.",
            _level_off(deeper_m),
            is_fitted=True,
        ),
        Hypothesis(
            LEVEL_SIGN,
            "the level mark were read the other way round (a dip for a board, or a board for a dip)",
            "Check [level] kind in venue.toml.",
            _mark_turned,
        ),
    )


def of_hand(deeper_m: float) -> tuple[Hypothesis, ...]:
    """A way of measuring that reads all depths too deep, or too shallow, by the same: so many metres."""
    if abs(deeper_m) < LEAST_SHIFT_M:
        return ()
    return (
        Hypothesis(
            "likely-bias",
            f"every depth were {format_metres(abs(deeper_m))} {'less' if deeper_m > 0 else 'more'}",
            "Compare how they measure: slack line, hook height, where on the float or pole they read.",
            _each(_deeper_by(-deeper_m)),
            gives_way=True,
        ),
    )


def of_peg(venue: Venue, name: str, unplumbed: frozenset[str] = frozenset()) -> Iterator[Hypothesis]:
    """Mistakes that the readings of one peg share: written down for another, or its straight out is wrong.

    Parameters
    ----------
    venue : Venue
    name : str
        Of the peg.
    unplumbed : frozenset of str
        Pegs without a reading: one of them is the likelier to have lost its own.
    """
    own = venue.peg(name)
    if own is None:
        return
    yield Hypothesis(
        "likely-facing",
        f"peg {name} faced square to the bank",
        'Check "facing" of this peg: the true bearing of 12 o\'clock.',
        _peg_facing_shore(name),
    )

    def away(peg: Peg) -> float:
        return math.hypot(peg.easting - own.easting, peg.northing - own.northing)

    for peg in sorted(venue.pegs, key=lambda peg: (away(peg), peg.name))[1 : PEGS_TRIED + 1]:
        yield Hypothesis(
            "likely-peg",
            f"they were taken from peg {peg.name}",
            "Was the peg renumbered, or the name misread? Correct the rows, or add the alias in pegs.",
            _each(_from_peg(peg)),
            is_expected=peg.name in unplumbed,
        )
