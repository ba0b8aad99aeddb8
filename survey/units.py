"""Lengths, angles and the clock face: read and shown. The only place with conversion factors.

Inside everything is metres and degrees.
"""

from __future__ import annotations

import itertools
import math
import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

from survey.errors import UnitError

INCH_M = 0.0254
FOOT_M = 0.3048
YARD_M = 0.9144
HOUR_DEG = 30.0
CLOCK_HOURS = 12
PART_OF_DAY_MINUTES = 0.75
"""A clock face stored as part of a day is one of whole minutes: this far off, rounded figures allowed for."""
FULL_TURN = 360.0
TWO_FIGURES = 10

_FRACTIONS = {0: "", 1: "¼", 2: "½", 3: "¾"}

_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": FOOT_M, "in": INCH_M, "yd": YARD_M}
_LONG = {"wrap": "wrap", "rod": "rod length", "section": "pole section"}
_UNIT_WORDS = {
    word: unit
    for unit, words in {
        "m": "m metre metres meter meters mtr mtrs",
        "cm": "cm cms centimetre centimetres centimeter centimeters",
        "mm": "mm millimetre millimetres millimeter millimeters",
        "ft": "ft foot feet '",
        "in": 'in ins inch inches "',
        "yd": "yd yds yard yards",
        "wrap": "w wrap wraps",
        "rod": "rod rods rod_length rod_lengths",
        "section": "section sections pole_section pole_sections",
    }.items()
    for word in (w.replace("_", " ") for w in words.split())
}
_COMPOUNDS = {("ft", "in"), ("m", "cm"), ("yd", "ft"), ("yd", "in")}
_LOOK_ALIKES = str.maketrans(
    dict.fromkeys("\u00a0\u2007\u2009\u200a\u200b\u202f\u3000\ufeff", " ")
    | dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d", "-")
    | dict.fromkeys("\u2018\u2019\u201b\u2032\u02b9\u02bc\u00b4`", "'")
    | dict.fromkeys("\u201c\u201d\u2033\u02ba\u3003", '"')
    | dict.fromkeys("\u00ba\u02da\u2070", "°")
    | dict.fromkeys("\u2044\u2215", "/")
    | {mark: unicodedata.normalize("NFKC", f" {mark}").replace("\u2044", "/") for mark in "¼½¾⅓⅔⅛⅜⅝⅞"}
)
_NUMBER = r"(?:\d{1,15}(?:[.,]\d{1,20})?(?:e[-+]?\d{1,2})?|[.,]\d{1,20})"
_AMOUNT = rf"(?:{_NUMBER} )?\d{{1,4}}/[1-9]\d{{0,3}}|{_NUMBER}"
_TERM = re.compile(rf"({_AMOUNT}) ?((?:rod|pole) (?:lengths?|sections?)|[a-z]+|['\"])?\.?(?:,? (?:and )?)?")
_HOURS = ("twelve", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven")
_PARTS = {"": 0.0, "half": 30.0, "half past": 30.0, "quarter past": 15.0, "quarter to": -15.0}


def feet_inches(length_m: float, step_in: float = 0.5) -> str:
    """A length in feet and inches, to the nearest step.

    Parameters
    ----------
    length_m : float
        Metres.
    step_in : float
        Step in inches: a multiple of a quarter.

    Examples
    --------
    >>> feet_inches(1.5875), feet_inches(0.6096), feet_inches(-0.1143), feet_inches(0.2)
    ('5 ft 2½ in', '2 ft', '-4½ in', '8 in')
    """
    quarters = round(math.floor(abs(length_m) / INCH_M / step_in + 0.5) * step_in * 4)
    feet, rest = divmod(quarters, 48)
    inches, quarter = divmod(rest, 4)
    inch_text = f"{inches or ''}{_FRACTIONS[quarter]}"
    sign = "-" if length_m < 0 and quarters else ""
    words = [f"{feet} ft"] if feet else []
    if inch_text or not feet:
        words.append(f"{inch_text or '0'} in")
    return sign + " ".join(words)


def metres(length_m: float, places: int = 2) -> str:
    """A length in metres with its unit.

    Examples
    --------
    >>> metres(1.5751)
    '1.58 m'
    """
    return f"{length_m:.{places}f} m"


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


class UndeclaredSizeError(UnitError):
    """A wrap, rod length or pole section (``unit``) whose size the venue has not declared."""

    def __init__(self, unit: str) -> None:
        self.unit = unit
        super().__init__(f"a {_LONG[unit]} has no length of its own, and the venue declares none")


@dataclass(frozen=True)
class Sizes:
    """What the bank's own units are worth here, metres; None where the venue has not said."""

    wrap_m: float | None = None
    rod_m: float | None = None
    section_m: float | None = None

    def metres_per(self, unit: str) -> float:
        """Metres in one unit; ``UndeclaredSizeError`` where the venue has to say and has not."""
        own = {"wrap": self.wrap_m, "rod": self.rod_m, "section": self.section_m} | _METRES
        worth = own[unit]
        if worth is None:
            raise UndeclaredSizeError(unit)
        return worth


@dataclass(frozen=True)
class Length:
    """A length as read: metres, and the unit it was written in (``m``, ``ft``, ``wrap``, ...)."""

    metres: float
    unit: str


@dataclass(frozen=True)
class ClockFace:
    """A direction by the clock: degrees from straight out, right positive, above -180 to 180.

    ``on_hour``: a full hour was written; ``half_word``: as "half twelve", 12:30 in British use.
    """

    angle_deg: float
    on_hour: bool
    half_word: bool = False


def plain(text: str) -> str:
    """Text with look-alike signs made one: spaces, minus signs, primes, degree signs, fractions."""
    if not text.isascii() or "`" in text:
        text = text.translate(_LOOK_ALIKES)
    return " ".join(text.replace("''", '"').split())


def unit_named(word: str) -> str | None:
    """The unit a word or sign stands for, None if it is no unit of length.

    Examples
    --------
    >>> unit_named("Feet"), unit_named("pole sections"), unit_named("pints")
    ('ft', 'section', None)
    """
    return _UNIT_WORDS.get(plain(word).casefold().rstrip("."))


def read_number(text: str) -> float:
    """A plain number: decimal point or comma, any minus sign, simple fractions.

    ``UnitError`` for anything else; a comma is never dropped as a thousands mark.

    Examples
    --------
    >>> read_number("92,5"), read_number("−0.12"), read_number("2 1/2")
    (92.5, -0.12, 2.5)
    """
    found = re.fullmatch(rf"([-+]?) ?({_AMOUNT})", plain(text).casefold())
    if not found:
        raise UnitError(
            f'"{text.strip()}" is not a number. Write it with one decimal point or comma and no thousands mark'
        )
    return -_amount(found[2]) if found[1] == "-" else _amount(found[2])


def read_length(text: str, unit: str | None = None, sizes: Sizes = Sizes()) -> Length:
    """A length in any of the ways the bank writes one.

    Parameters
    ----------
    text : str
        ``5'2"``, ``5 ft 2``, ``5ft2in``, ``1.58 m``, ``158 cm``, ``1,58``, ``25 yd``, ``12 wraps``.
    unit : str or None
        Unit of a bare number; without one only zero can be read bare.
    sizes : Sizes
        Worth of wraps, rod lengths and pole sections.

    Raises
    ------
    UnitError
        Not a length, a bare number without a unit, or a unit of undeclared size.

    Examples
    --------
    >>> read_length("5′2″").metres == read_length("5 ft 2").metres == read_length("62", "in").metres
    True
    >>> read_length("1,58", "m"), read_length("-2½ in").unit
    (Length(metres=1.58, unit='m'), 'in')
    """
    body = plain(text).casefold()
    sign, body = (-1.0, body[1:].strip()) if body.startswith("-") else (1.0, body.removeprefix("+").strip())
    named = _named(_terms(body, text), unit, text)
    for (value, large), (less, small) in itertools.pairwise(named):
        ratio = sizes.metres_per(large) / sizes.metres_per(small)
        if value % 1 or less >= ratio * (1 - 1e-9) or (large, small) not in _COMPOUNDS:
            raise UnitError(f'"{text.strip()}" is not a length: {less:g} {small} cannot follow {value:g} {large}')
    return Length(sign * sum(value * sizes.metres_per(name) for value, name in named), named[0][1])


def _terms(body: str, text: str) -> list[tuple[float, str]]:
    """Figures and the word after each, empty if there is none; from left to right, nothing is tried twice."""
    terms: list[tuple[float, str]] = []
    at = 0
    while at < len(body) or not terms:
        found = _TERM.match(body, at)
        if not found or (terms and not terms[-1][1]):
            raise UnitError(f'"{text.strip()}" is not a length. Write it like 5\'2", 5 ft 2, 1.58 m or 158 cm')
        terms.append((_amount(found[1]), found[2] or ""))
        at = found.end()
    return terms


def _named(terms: list[tuple[float, str]], unit: str | None, text: str) -> list[tuple[float, str]]:
    """The terms with canonical units: the bare last term after feet is inches, a lone one takes the column's."""
    named: list[tuple[float, str]] = []
    for value, word in terms:
        name = _UNIT_WORDS.get(word)
        if word and name is None:
            raise UnitError(f'"{text.strip()}": "{word}" is not a unit of length known here')
        if not word:
            # "5 ft 2" and "1 m 58": two bare figures after metres are centimetres, one could be tenths.
            follows = {"ft": "in", "m": "cm" if TWO_FIGURES <= value < 100 else None}  # noqa: PLR2004 - two figures
            name = follows.get(named[-1][1]) if named else unit if len(terms) == 1 else None
            name = "m" if name is None and len(terms) == 1 and value == 0 else name
        if name is None:
            raise UnitError(f'"{text.strip()}" has no unit. Write it with one, like 5 ft 2 or 1.58 m')
        named.append((value, name))
    return named


def read_angle(text: str) -> float:
    """Degrees from straight out, positive to the right ("30 left" is -30); ``UnitError`` for anything else."""
    figures, side = _figures_and_word(text, "left|right|l|r")
    try:
        value = read_number(figures)
    except UnitError:
        raise UnitError(f'"{text.strip()}" is not an angle. Write degrees, like 15, -30 or 30 left') from None
    if abs(value) > FULL_TURN or (side and plain(text)[0] in "+-"):
        raise UnitError(f'"{text.strip()}" is not an angle from straight out: -180 to 180, or a size and a side')
    return -value if side in {"left", "l"} else value


def read_bearing(text: str) -> tuple[float, Literal["true", "magnetic"] | None]:
    """A bearing clockwise from north, 0 to 360, and which north if a letter says so (``93T``, ``95 M``).

    ``UnitError`` for anything else.
    """
    figures, word = _figures_and_word(text, "true|magnetic|mag|t|m")
    try:
        value = read_number(figures)
    except UnitError:
        value = -1.0
    if not 0 <= value <= FULL_TURN:
        raise UnitError(f'"{text.strip()}" is not a bearing. Write degrees clockwise from north, 0 to 360')
    return value % FULL_TURN, None if not word else "true" if word.startswith("t") else "magnetic"


def read_clock(text: str) -> ClockFace:
    """A direction by the clock: 12 is straight out, an hour is 30 degrees (common practice).

    ``UnitError`` for what is on no clock face.

    Examples
    --------
    >>> read_clock("1 o'clock").angle_deg, read_clock("11.5").angle_deg, read_clock("half twelve").angle_deg
    (30.0, -15.0, 15.0)
    """
    body = _unstored(re.sub(r" ?o ?'? ?clock$", "", plain(text).casefold()))
    found = re.fullmatch(rf"(half past|half|quarter past|quarter to)? ?(\d+|{'|'.join(_HOURS)})", body)
    if found:
        named = _HOURS.index(found[2]) if found[2] in _HOURS else found[2]
        hour, minute = float(named), _PARTS[found[1] or ""]
    elif found := re.fullmatch(r"(\d{1,2}):([0-5]\d)(?::[0-5]\d(?:\.0+)?)?", body):
        hour, minute = float(found[1]), float(found[2])
    elif found := re.fullmatch(r"(\d{1,2})[.,](0|00|5|25|75)", body):
        if not int(found[1]) and int(found[2]):
            raise UnitError(f'"{text.strip()}" could be part of a day, as a spreadsheet stores times, or past twelve')
        # 11.30 could be half past or three tenths: only shares of an hour that no minute looks like.
        hour, minute = float(found[1]), float(f"0.{found[2]}") * 60
    else:
        raise UnitError(f'"{text.strip()}" is not on a clock face. Write it like 12, 12:30 or 11.5')
    if hour > CLOCK_HOURS:
        raise UnitError(f'"{text.strip()}" is not on a clock face: the hours go from 1 to 12')
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
    found = re.fullmatch(rf"(.*?) ?(?:°|deg|degs|degrees?)? ?({words})?\.?", plain(text).casefold())
    return (found[1], found[2] or "") if found else (text, "")


def _amount(text: str) -> float:
    """The value of what ``_AMOUNT`` matched."""
    *whole, last = text.split()
    if "/" in last:
        top, bottom = last.split("/")
        last = str(int(top) / int(bottom))
    return sum(float(part.replace(",", ".")) for part in [*whole, last])
