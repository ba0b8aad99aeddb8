"""Directions as written: degrees from straight out, bearings, the clock face. Inside everything is degrees.

Knows nothing of pegs.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from survey.errors import ParseError
from survey.units.numbers import normalised, read_number

HOUR_DEG = 30.0
CLOCK_HOURS = 12
PART_OF_DAY_MINUTES = 0.75
"""A clock face stored as part of a day is one of whole minutes: this far off, rounded figures allowed for."""
FULL_TURN = 360.0

_HOURS = ("twelve", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven")
_PARTS = {"": 0.0, "half": 30.0, "half past": 30.0, "quarter past": 15.0, "quarter to": -15.0}


def clock_text(angle_deg: float) -> str:
    """Clock face of an angle from straight out, to the nearest five minutes of the face.

    Examples
    --------
    >>> clock_text(0), clock_text(-15), clock_text(30), clock_text(-90)
    ('12:00', '11:30', '1:00', '9:00')
    """
    minutes = round((angle_deg % 360.0) / HOUR_DEG * 12) * 5 % 720
    hour, minute = divmod(minutes, 60)
    return f"{hour or 12}:{minute:02d}"


@dataclass(frozen=True)
class ClockFace:
    """A direction by the clock: degrees from straight out, right positive, above -180 to 180.

    ``on_hour``: a full hour was written; ``half_word``: as "half twelve", 12:30 in British use.
    """

    angle_deg: float
    on_hour: bool
    half_word: bool = False


def read_angle(text: str) -> float:
    """Degrees from straight out, positive to the right ("30 left" is -30); ``ParseError`` for anything else."""
    figures, side = _figures_and_word(text, "left|right|l|r")
    try:
        value = read_number(figures)
    except ParseError:
        raise ParseError(f'"{text.strip()}" is not an angle. Write degrees, like 15, -30 or 30 left') from None
    if abs(value) > FULL_TURN or (side and normalised(text)[0] in "+-"):
        raise ParseError(f'"{text.strip()}" is not an angle from straight out: -180 to 180, or a size and a side')
    return -value if side in {"left", "l"} else value


def read_bearing(text: str) -> tuple[float, Literal["true", "magnetic"] | None]:
    """A bearing clockwise from north, 0 to 360, and which north if a letter gives it (``93T``, ``95 M``).

    ``ParseError`` for anything else.
    """
    figures, word = _figures_and_word(text, "true|magnetic|mag|t|m")
    try:
        value = read_number(figures)
    except ParseError:
        value = -1.0
    if not 0 <= value <= FULL_TURN:
        raise ParseError(f'"{text.strip()}" is not a bearing. Write degrees clockwise from north, 0 to 360')
    return value % FULL_TURN, None if not word else "true" if word.startswith("t") else "magnetic"


def read_clock(text: str) -> ClockFace:
    """A direction by the clock: 12 is straight out, an hour is 30 degrees (common practice).

    ``ParseError`` for what is on no clock face.

    Examples
    --------
    >>> read_clock("1 o'clock").angle_deg, read_clock("11.5").angle_deg, read_clock("half twelve").angle_deg
    (30.0, -15.0, 15.0)
    """
    body = _unstored(re.sub(r" ?o ?'? ?clock$", "", normalised(text).casefold()))
    found = re.fullmatch(rf"(half past|half|quarter past|quarter to)? ?(\d+|{'|'.join(_HOURS)})", body)
    if found:
        named = _HOURS.index(found[2]) if found[2] in _HOURS else found[2]
        hour, minute = float(named), _PARTS[found[1] or ""]
    elif found := re.fullmatch(r"(\d{1,2}):([0-5]\d)(?::[0-5]\d(?:\.0+)?)?", body):
        hour, minute = float(found[1]), float(found[2])
    elif found := re.fullmatch(r"(\d{1,2})[.,](0|00|5|25|75)", body):
        if not int(found[1]) and int(found[2]):
            raise ParseError(f'"{text.strip()}" could be part of a day, as a spreadsheet stores times, or past twelve')
        # 11.30 could be half past or three tenths: only shares of an hour that no minute looks like.
        hour, minute = float(found[1]), float(f"0.{found[2]}") * 60
    else:
        raise ParseError(f'"{text.strip()}" is not on a clock face. Write it like 12, 12:30 or 11.5')
    if hour > CLOCK_HOURS:
        raise ParseError(f'"{text.strip()}" is not on a clock face: the hours go from 1 to 12')
    angle = ((hour % CLOCK_HOURS) + minute / 60.0) * HOUR_DEG % FULL_TURN
    half_word = body.startswith("half ") and "past" not in body
    return ClockFace(angle - FULL_TURN if angle > FULL_TURN / 2 else angle, minute == 0, half_word)


def _unstored(body: str) -> str:
    """What was typed, where a spreadsheet stored the clock face as a time of day or as part of a day."""
    dated = re.fullmatch(r"(?:1899-12-3[01]|1900-01-0[01]|1904-01-01)[t ](\d{1,2}:.*)", body)
    half_day = re.fullmatch(r"(1[0-2]|0?[1-9])(:\d{2}(?::\d{2})?) ?[ap]\.?m\.?", dated[1] if dated else body)
    if half_day:
        return half_day[1] + half_day[2]
    if part := re.fullmatch(r"0?[.,](\d{3,17})", body):
        minutes = round(float(f"0.{part[1]}") * 24 * 60)
        if abs(float(f"0.{part[1]}") * 24 * 60 - minutes) <= PART_OF_DAY_MINUTES:
            return f"{minutes // 60}:{minutes % 60:02d}"
    return dated[1] if dated else body


def _figures_and_word(text: str, words: str) -> tuple[str, str]:
    """Degrees as figures, and the word or letter after them, empty if there is none."""
    found = re.fullmatch(rf"(.*?) ?(?:°|deg|degs|degrees?)? ?({words})?\.?", normalised(text).casefold())
    return (found[1], found[2] or "") if found else (text, "")
