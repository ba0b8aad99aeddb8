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
    format_metres,
    read_length,
    shown_length,
    unit_named,
)
from survey.units.numbers import normalised, read_number

Z_95 = 1.959964
"""Two-sided 95 % point of the normal distribution."""


__all__ = [
    "FOOT_M",
    "FULL_TURN",
    "INCH_M",
    "YARD_M",
    "Z_95",
    "ClockFace",
    "Length",
    "Sizes",
    "UndeclaredSizeError",
    "clock_text",
    "feet_inches",
    "format_metres",
    "normalised",
    "read_angle",
    "read_bearing",
    "read_clock",
    "read_length",
    "read_number",
    "shown_length",
    "unit_named",
]
