"""Coordinates as written: degrees, minutes and seconds, national grid letters, declination.

Knows nothing of sheets.
"""

from __future__ import annotations

import math
import re
from typing import Literal

from survey.errors import ParseError
from survey.units import normalised, read_number

MINUTES = 60
_NUMBER = r"(?:\d+(?:[.,]\d+)?)"

GRID_LETTERS = "ABCDEFGHJKLMNOPQRSTUVWXYZ"
"""Squares of five by five from the north-west, row by row, without I (Ordnance Survey National Grid)."""
GRID_ORIGIN = 1_000_000, 500_000
FIGURES = 5
"""Figures of each half of a reference to the metre."""


def read_degrees(text: str, axis: Literal["lon", "lat"]) -> float:
    """Longitude or latitude, decimal or in degrees, minutes and seconds; west and south negative.

    Raises
    ------
    ParseError
        Not a coordinate of that axis; minutes or seconds of 60 and more; a sign with a letter.

    Examples
    --------
    >>> round(read_degrees("2°18′42.524″W", "lon"), 7), read_degrees("N 54 30", "lat")
    (-2.3118122, 54.5)
    """
    positive, negative, limit = ("e", "w", 180.0) if axis == "lon" else ("n", "s", 90.0)
    shown, body = f'"{text.strip()}"', normalised(text).casefold()
    letters = re.findall("[a-z]", body)
    found = re.fullmatch(
        rf"([-+]?) ?({_NUMBER})(?: ?[°: ] ?({_NUMBER}))?(?: ?[': ] ?({_NUMBER}))?[°'\" ]*", body.strip("nsew ")
    )
    if not found or len(letters) > 1 or not set(letters) <= {positive, negative}:
        raise ParseError(
            f"{shown} is not a {'longitude' if axis == 'lon' else 'latitude'}. Write it like -2.31181 or 2°18'42.5\"W"
        )
    if found[1] and letters:
        raise ParseError(f"{shown} has both a sign and a letter. Keep one of them")
    parts = [read_number(part) for part in found.groups()[1:] if part]
    if any(part >= MINUTES for part in parts[1:]) or any(part % 1 for part in parts[:-1]):
        raise ParseError(f"{shown}: minutes and seconds go from 0 to below 60, and only the last part has decimals")
    value = math.fsum(part / MINUTES**power for power, part in enumerate(parts))
    if value > limit:
        raise ParseError(f"{shown} is outside -{limit:g} to {limit:g} degrees")
    return -value if found[1] == "-" or negative in letters else value


def read_declination(text: str) -> float:
    """Magnetic declination, degrees, east positive: ``3E``, ``8 W``, ``-8``.

    Raises
    ------
    ParseError
        Without a side or sign, or not a declination.
    """
    found = re.fullmatch(rf"([-+]?) ?({_NUMBER}) ?°? ?([ew]|east|west)?", normalised(text).casefold())
    if not found or (bool(found[1]) == bool(found[3]) and read_number(found[2]) != 0):
        raise ParseError(f'"{text.strip()}" is not a declination. Write degrees and the side, like 3E or 8W')
    value = read_number(found[2])
    return -value if found[1] == "-" or (found[3] or "").startswith("w") else value


def read_gridref(text: str) -> tuple[float, float, float]:
    """A British National Grid reference, letters and figures.

    Returns
    -------
    easting, northing, cell_m : float
        Middle of the square that is named, OSGB36 / British National Grid metres, and its side.

    Raises
    ------
    ParseError
        Not such a reference.

    Examples
    --------
    >>> read_gridref("TG 51409 13177"), read_gridref("NN 166 712")
    ((651409.5, 313177.5, 1.0), (216650.0, 771250.0, 100.0))
    """
    found = re.fullmatch(r"([HJNOST])([A-HJ-Z]) ?(\d{2,10}|\d{1,5} \d{1,5})", normalised(text).upper())
    figures = re.sub(" ", "", found[3]) if found else ""
    halves = found[3].split() if found else []
    if not found or len(figures) % 2 or (len(halves) > 1 and len(halves[0]) != len(halves[1])):
        raise ParseError(f'"{text.strip()}" is not a grid reference. Write it like SD 79825 67167')
    half = len(figures) // 2
    cell = 10.0 ** (FIGURES - half)
    large, small = GRID_LETTERS.index(found[1]), GRID_LETTERS.index(found[2])
    east = (large % 5) * 500_000 + (small % 5) * 100_000 - GRID_ORIGIN[0]
    north = (4 - large // 5) * 500_000 + (4 - small // 5) * 100_000 - GRID_ORIGIN[1]
    return east + (int(figures[:half]) + 0.5) * cell, north + (int(figures[half:]) + 0.5) * cell, cell
