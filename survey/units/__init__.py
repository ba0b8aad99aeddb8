"""Lengths, angles and the clock face: read and shown. The only place with conversion factors.

Inside everything is metres and degrees. In reading order: numbers, lengths, directions.
"""

from survey.units.directions import FULL_TURN, ClockFace, clock_text, read_angle, read_bearing, read_clock
from survey.units.lengths import (
    FOOT_M,
    INCH_M,
    YARD_M,
    Length,
    Sizes,
    UndeclaredSizeError,
    feet_inches,
    metres,
    read_length,
    unit_named,
)
from survey.units.numbers import plain, read_number

RANGE_Z = 1.959964
"""Two-sided 95 % point of the normal distribution."""


__all__ = [
    "FOOT_M",
    "FULL_TURN",
    "INCH_M",
    "RANGE_Z",
    "YARD_M",
    "ClockFace",
    "Length",
    "Sizes",
    "UndeclaredSizeError",
    "clock_text",
    "feet_inches",
    "metres",
    "plain",
    "read_angle",
    "read_bearing",
    "read_clock",
    "read_length",
    "read_number",
    "unit_named",
]
