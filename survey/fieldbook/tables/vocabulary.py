"""The words volunteers use in cells with a closed set of meanings.

Knows nothing of rows. Spelled in lower case, with spaces for dots, dashes and underscores.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, TypeVar

from survey.records.readings import DirectionBy, DistanceBy, FloatSeen, Method
from survey.records.venue import DistanceFrom, North

T = TypeVar("T")


def _spelled(meanings: Mapping[T, str]) -> dict[str, T]:
    return {word: meaning for meaning, words in meanings.items() for word in words.split(", ")}


SEEN: dict[str, FloatSeen] = _spelled(
    {
        FloatSeen.STANDS: "stands, standing, stood, upright, cocked, stands up, stood up",
        FloatSeen.SUNK: "sunk, sank, under, gone under, went under, pulled under, gone",
        FloatSeen.FLAT: "flat, lies flat, lay flat, lying flat, laid flat, lying",
        FloatSeen.USUAL: "usual, rides, usual height, rides as usual, normal, normal height",
    }
)
METHODS: dict[str, Method] = _spelled(
    {
        "float": "float, float and plummet, plummet, plumbed",
        "pole": "pole",
        "stick": "stick, measuring stick, staff",
        "marker": "marker, marker rod, marker float",
        "sounder": "sounder, echo sounder",
    }
)
DISTANCE_BY: dict[str, DistanceBy] = _spelled(
    {
        "pole": "pole",
        "tape": "tape, measured, laser",
        "wraps": "wraps, wrap",
        "rod lengths": "rod lengths, rods, rod length",
        "estimated": "estimated, estimate, guess, guessed, by eye, paced",
    }
)
DISTANCE_FROM: dict[str, DistanceFrom] = _spelled(
    {
        "peg": "peg, from peg",
        "edge": "edge, water's edge, bank, from edge",
        "rod tip": "rod tip, tip, from rod tip",
    }
)
DIRECTION_BY: dict[str, DirectionBy] = _spelled(
    {
        "aimed": "aimed, aimed mark, mark, sighted",
        "compass": "compass",
        "half hours": "half hours, half hour, clock in half hours",
        "hours": "hours, hour, clock in hours, clock",
    }
)
NORTHS: dict[str, North] = _spelled(
    {
        "true": "true, t",
        "magnetic": "magnetic, mag, m, compass",
        "grid": "grid, g",
    }
)
USED: dict[str, bool] = _spelled(
    {
        True: "yes, y, true, 1, use, used, ok",
        False: "no, n, false, 0, not used, do not use, leave out, exclude, excluded",
    }
)
DECISIONS: dict[str, Literal["out", "keep", "noted"]] = _spelled(
    {
        "out": "out, leave out, left out, no, not used, exclude, excluded, wrong",
        "keep": "keep, kept, right, correct, yes, confirmed",
        "noted": "noted, seen, later, open",
    }
)
HEADER_NORTHS: dict[str, North] = {
    "true bearing": "true",
    "bearing (true)": "true",
    "magnetic bearing": "magnetic",
    "bearing (magnetic)": "magnetic",
    "grid bearing": "grid",
    "bearing (grid)": "grid",
}
"""Headers of a bearing that name its north."""
UNIT_DISTANCE_BY: dict[str, DistanceBy] = {"wrap": "wraps", "rod": "rod lengths", "section": "pole"}
"""How a distance in the bank's own units was measured, where the sheet does not give it."""
