"""Wind as people give it: speeds with their unit and points of the compass, read and shown.

Speeds are metres per second and bearings degrees clockwise from true north, the way wind comes from.
"""

from __future__ import annotations

import re

from survey.errors import ParseError
from survey.units import FULL_TURN, normalised, read_bearing, read_number

SPEEDS_MS = {
    "m/s": 1.0, "ms": 1.0, "mps": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6, "mph": 0.44704,
    "kn": 1852 / 3600, "kt": 1852 / 3600, "kts": 1852 / 3600, "knot": 1852 / 3600, "knots": 1852 / 3600,
}  # fmt: skip
POINTS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")
_POINT_WORDS = {"NORTH": "N", "EAST": "E", "SOUTH": "S", "WEST": "W"}
MOST_WIND = 40.0


def read_wind_speed(text: str) -> float:
    """A wind speed in metres per second: ``5 m/s``, ``12 mph``, ``18 km/h``, ``10 kn``.

    ``ParseError`` for anything else, for a bare number too.

    Examples
    --------
    >>> read_wind_speed("5 m/s"), round(read_wind_speed("12mph"), 2), read_wind_speed("36 km/h")
    (5.0, 5.36, 10.0)
    """
    found = re.fullmatch(r"([\d.,]+) ?([a-z/]+)\.?", normalised(text).casefold())
    worth = SPEEDS_MS.get(found[2]) if found else None
    if not found or worth is None:
        raise ParseError(f'"{text.strip()}" is not a wind speed with its unit. Write it like 5 m/s, 12 mph or 10 kn')
    speed = read_number(found[1]) * worth
    if speed > MOST_WIND:
        raise ParseError(f'"{text.strip()}" is more than a hurricane. Read it again')
    return speed


def read_compass(text: str) -> float:
    """A bearing by its point (``SW``, ``south west``) or in degrees, clockwise from true north.

    ``ParseError`` for anything else.

    Examples
    --------
    >>> read_compass("SW"), read_compass("north-east"), read_compass("225°")
    (225.0, 45.0, 225.0)
    """
    word = re.sub(r"[\s-]", "", normalised(text).upper())
    for name, letter in _POINT_WORDS.items():
        word = word.replace(name, letter)
    if word in POINTS:
        return POINTS.index(word) * FULL_TURN / len(POINTS)
    try:
        return read_bearing(text)[0]
    except ParseError:
        raise ParseError(f'"{text.strip()}" is not a direction. Write a point like SW, or degrees from north') from None


def compass_point(bearing_deg: float) -> str:
    """The nearest of sixteen points.

    Examples
    --------
    >>> compass_point(225), compass_point(359)
    ('SW', 'N')
    """
    return POINTS[round(bearing_deg / FULL_TURN * len(POINTS)) % len(POINTS)]
