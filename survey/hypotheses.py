"""What a group of readings may have got wrong as a whole, each as a way to write the readings anew.

Knows nothing of the bed; whether a hypothesis fits is for ``causes``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from survey.fieldbook.bank import Bank
from survey.fixes import Geometry
from survey.readings import Cast, Fieldbook, Reading
from survey.units import FOOT_M, YARD_M
from survey.venue import North, Peg, Venue

Rewrite = Callable[[Fieldbook], Fieldbook | None]
"""A fieldbook as it would have been written without the mistake; None where the mistake is not possible."""

PEGS_TRIED = 8
LEAST_DEGREES = 5.0
"""A mistake that turns a cast by less cannot be told from how it was aimed."""


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
    """

    code: str
    words: str
    remedy: str
    rewrite: Rewrite


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


def _mirrored(reading: Reading) -> Reading | None:
    where = reading.where
    if not isinstance(where, Cast) or where.direction.kind == "bearing" or abs(where.direction.value_deg) < 1.0:
        return None
    direction = replace(where.direction, value_deg=-where.direction.value_deg)
    return replace(reading, where=replace(where, direction=direction))


def _turned_round(reading: Reading) -> Reading | None:
    where = reading.where
    if not isinstance(where, Cast) or where.direction.kind != "bearing":
        return None
    direction = replace(where.direction, value_deg=(where.direction.value_deg + 180.0) % 360.0)
    return replace(reading, where=replace(where, direction=direction))


def _other_north(venue: Venue) -> Callable[[Reading], Reading | None]:
    declination = venue.declination_deg

    def turned(reading: Reading) -> Reading | None:
        where = reading.where
        if not isinstance(where, Cast) or where.direction.kind != "bearing" or where.direction.north == "grid":
            return None
        if declination is not None and abs(declination) < LEAST_DEGREES:
            return None
        other: North = "true" if where.direction.north == "magnetic" else "magnetic"
        return replace(reading, where=replace(where, direction=replace(where.direction, north=other)))

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
        azimuth = Bank(venue.water).out_azimuth_deg(peg.easting, peg.northing)
        facing = (azimuth + Geometry(venue.crs).convergence_deg(peg.easting, peg.northing)) % 360.0
        if abs(math.remainder(facing - peg.facing_deg, 360.0)) < 4 * LEAST_DEGREES:
            return None
        pegs = tuple(replace(p, facing_deg=facing) if p is peg else p for p in venue.pegs)
        return replace(book, venue=replace(venue, pegs=pegs))

    return rewrite


def of_sheets(venue: Venue) -> tuple[Hypothesis, ...]:
    """Mistakes that a sheet, an observer or a day makes as a whole."""
    sheet = "Correct it in the sheet, or write the unit or direction as it was meant."
    return (
        Hypothesis(
            "likely-mirrored",
            "left and right were exchanged",
            "Turn the signs of the angles, or the clock hours (11 for 1).",
            _each(_mirrored),
        ),
        Hypothesis(
            "likely-turned-round",
            "the bearings were taken toward the peg",
            "Add or take off 180° in this column.",
            _each(_turned_round),
        ),
        Hypothesis(
            "likely-north",
            "their bearings were from the other north (true for magnetic)",
            'Write the right word under "north".',
            _each(_other_north(venue)),
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
    )


def of_peg(venue: Venue, name: str) -> Iterator[Hypothesis]:
    """Mistakes that the readings of one peg share: written down for another, or its straight out is wrong."""
    own = venue.peg(name)
    if own is None:
        return
    yield Hypothesis(
        "likely-facing",
        f"peg {name} faced straight out from the shore",
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
        )
