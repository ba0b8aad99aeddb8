"""A question about one spot, made of what a person typed, and its answer.

The bed answers; this module only turns words into a spot, a float and a level. Knows nothing of
how an answer is shown.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from difflib import get_close_matches

import shapely
from shapely.geometry import LineString, Point

from maps.replies.levels import level_shown
from maps.replies.options import length_of, option
from survey.errors import ParseError, QueryError
from survey.fieldbook.naming.matching import PegNames
from survey.geometry.geodesy import Geodesy
from survey.records.floats import Float
from survey.records.readings import DistanceBy
from survey.records.venue import Peg, Venue
from survey.spots.questions import Question, cast_spot, usual_float
from survey.units import Length, Sizes, read_angle, read_bearing, read_clock, read_length
from survey.units.float_ratings import read_mark

LOOKED_ALONG_M = 200.0
NAMES_SHOWN = 12
WAYS: dict[str, DistanceBy] = {"wrap": "wraps", "rod": "rod lengths", "section": "pole"}
"""How a distance was measured, by its unit; otherwise it counts as estimated."""
DECLARED_AS = {"wrap": 'stick_spacing = "12 ft"', "rod": 'rod_length = "13 ft"', "section": 'pole_section = "1.45 m"'}
"""The line of venue.toml that gives the length of a bank measure."""


@dataclass(frozen=True)
class TypedOptions:
    """What was typed, option by option; None where an option was not given.

    Parameters
    ----------
    peg, distance : str
        Name or alias; a length, bare numbers in what the venue counts distances in.
    clock, angle, bearing : str or None
        Exactly one of them.
    by : DistanceBy or None
    level : str or None
        What the level mark shows.
    float_name, float_length, tip : str or None
    mark : str or None
        What is printed on the float.
    """

    peg: str
    distance: str
    clock: str | None = None
    angle: str | None = None
    bearing: str | None = None
    by: DistanceBy | None = None
    level: str | None = None
    float_name: str | None = None
    float_length: str | None = None
    tip: str | None = None
    mark: str | None = None


def question_from(venue: Venue, typed: TypedOptions) -> Question:
    """The question that was typed.

    Raises
    ------
    QueryError
        Unknown peg or float, an option that cannot be read, too few or too many of them.
    """
    peg = peg_named(venue, typed.peg)
    angle, direction_sd = _direction(venue, peg, typed)
    length = option("--distance", typed.distance, lambda text: _distance(text, venue))
    try:
        spot = cast_spot(venue, peg, angle, length.metres)
    except QueryError as error:
        raise QueryError(f"--distance: {error}") from None
    return Question(
        spot=spot,
        peg=peg,
        bearing_deg=(peg.facing_deg + angle) % 360.0,
        direction_sd_deg=direction_sd,
        by=typed.by or WAYS.get(length.unit, "estimated"),
        shown_m=level_shown(venue, typed.level),
        held_by=float_from(venue, typed),
    )


def _distance(text: str, venue: Venue) -> Length:
    """A distance; for one in a measure of undeclared size, also which line to add."""
    try:
        return read_length(text, venue.distances.unit, venue.sizes)
    except ParseError as error:
        unit = read_length(text, "m", Sizes(1.0, 1.0, 1.0)).unit
        raise ParseError(f"{error}. Add [units] {DECLARED_AS[unit]} to venue.toml, or give metres") from None


def _direction(venue: Venue, peg: Peg, typed: TypedOptions) -> tuple[float, float]:
    """Degrees from straight out, and the standard deviation of such a cast."""
    if sum(said is not None for said in (typed.clock, typed.angle, typed.bearing)) != 1:
        raise QueryError(
            "Give one direction: --clock 1:30, --angle 45 (right of straight out; left is -45) or --bearing 210."
        )
    if typed.clock is not None:
        return option("--clock", typed.clock, read_clock).angle_deg, venue.standard_errors.half_hour_deg
    if typed.angle is not None:
        return option("--angle", typed.angle, read_angle), venue.standard_errors.compass_deg
    bearing, north = option("--bearing", typed.bearing or "", read_bearing)
    if north == "magnetic":
        raise QueryError(f'--bearing: "{typed.bearing}" is magnetic. Use a true bearing, --clock or --angle.')
    return bearing - peg.facing_deg, venue.standard_errors.compass_deg


def float_from(venue: Venue, typed: TypedOptions) -> Float:
    """The float named, the float measured, or the usual one; with the mark read off it."""
    if typed.float_name is not None and (typed.float_length, typed.tip) != (None, None):
        raise QueryError("Use --float, or --float-length with --tip, not both.")
    if typed.float_name is not None:
        held_by = float_named(venue, typed.float_name)
    elif typed.float_length is None and typed.tip is None:
        held_by = usual_float(venue)
    else:
        held_by = _measured(typed.float_length, typed.tip)
    return held_by if typed.mark is None else replace(held_by, mark=option("--mark", typed.mark, read_mark))


def _measured(length: str | None, tip: str | None) -> Float:
    if tip is None:
        raise QueryError("--tip is missing: give how much of the float shows above the water, like --tip 2cm.")
    if length is None:
        raise QueryError(
            "--float-length is missing: measure from where the float is fixed to its top, like --float-length 25cm."
        )
    return Float("as measured", length_of("--float-length", length), length_of("--tip", tip))


def peg_named(venue: Venue, name: str) -> Peg:
    """The peg of that name or alias, or the one peg whose name differs from it by a habit, such as "Peg 1" from "1".

    Raises
    ------
    QueryError
        With the nearest names.
    """
    matched = PegNames(venue.pegs).matched([name.strip()])
    peg = venue.peg(matched.painted.get(name.strip(), name))
    if peg is None:
        names = [known for p in venue.pegs for known in (p.name, *p.aliases)]
        why = "".join(f"{reason[:1].upper()}{reason[1:]}. " for reason in matched.unknown.values() if reason)
        raise QueryError(f'{venue.name} has no peg "{name}". {why}{nearest(name, names)}')
    return peg


def peg_taken(venue: Venue, name: str) -> str:
    """What a name was taken for, as a sentence; empty where it is a peg's own."""
    return "" if venue.peg(name) else f'"{name.strip()}" was taken for peg {peg_named(venue, name).name}.'


def float_named(venue: Venue, name: str) -> Float:
    """The venue's float of that name.

    Raises
    ------
    QueryError
        With the nearest names.
    """
    found = venue.float_named(name)
    if found is None:
        remedy = nearest(name, [f.name for f in venue.floats]) if venue.floats else "There are no floats in venue.toml."
        raise QueryError(f'{venue.name} has no float "{name}". {remedy} Or give --float-length and --tip.')
    return found


def nearest(name: str, known: list[str]) -> str:
    """Names like the one given, or the first few there are, as a sentence."""
    folded = {k.casefold(): k for k in reversed(known)}
    close = get_close_matches(name.strip().casefold(), list(folded), n=4, cutoff=0.5)
    if close:
        return f"Nearest: {', '.join(folded[c] for c in close)}."
    rest = " and others" if len(known) > NAMES_SHOWN else ""
    return f"It has {', '.join(known[:NAMES_SHOWN])}{rest}." if known else "It has none."


def water_along(venue: Venue, question: Question) -> str:
    """Where along a cast there is water, as a sentence for a spot off the water."""
    geometry, peg = Geodesy(venue.crs), question.peg
    ends = [geometry.cast(peg.lon, peg.lat, question.bearing_deg, far) for far in (0.0, LOOKED_ALONG_M)]
    line = LineString(ends)
    to_ground = LOOKED_ALONG_M / line.length
    wet = [part for part in shapely.get_parts(line.intersection(venue.water)) if part.length > 0]
    shores = [[line.project(Point(part.coords[end])) * to_ground for end in (0, -1)] for part in wet]
    counted = venue.distances
    runs = [f"{counted.figure(near)} to {counted.shown(far)}" for near, far in shores]
    if not runs:
        return f"There is no water on that line within {counted.whole(LOOKED_ALONG_M)}: check the direction."
    return f"On that line the water runs from {', and from '.join(runs)}."
