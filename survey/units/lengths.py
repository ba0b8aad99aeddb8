"""Lengths as the bank writes them: read and shown. The only place with conversion factors.

Inside everything is metres.
"""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import dataclass

from survey.errors import ParseError
from survey.units.numbers import AMOUNT, amount_of, normalised

INCH_M = 0.0254
FOOT_M = 0.3048
YARD_M = 0.9144
TWO_FIGURES = 10
NEXT_UNIT = 1 - 1e-9
"""From this share of the larger unit on, what follows it is too much: 5 ft 12 in."""
SHOWN_AS_NOTHING_M = 0.0005
"""A length below half a millimetre is said to be none."""

QUARTERS = {0: "", 1: "¼", 2: "½", 3: "¾"}

UNIT_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": FOOT_M, "in": INCH_M, "yd": YARD_M}
_LONG = {"wrap": "wrap", "rod": "rod length", "section": "pole section"}
UNIT_WORDS = {
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
COMPOUNDS = {("ft", "in"), ("m", "cm"), ("yd", "ft"), ("yd", "in")}
_TERM = re.compile(rf"({AMOUNT}) ?((?:rod|pole) (?:lengths?|sections?)|[a-z]+|['\"])?\.?(?:,? (?:and )?)?")


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
    inch_text = f"{inches or ''}{QUARTERS[quarter]}"
    sign = "-" if length_m < 0 and quarters else ""
    words = [f"{feet} ft"] if feet else []
    if inch_text or not feet:
        words.append(f"{inch_text or '0'} in")
    return sign + " ".join(words)


def shown_length(length_m: float, shows: str, step_in: float = 0.5) -> str:
    """A length in the units a venue shows first; inches to the nearest step.

    Examples
    --------
    >>> shown_length(1.58, "feet"), shown_length(1.58, "metres")
    ('5 ft 2 in', '1.58 m')
    """
    return feet_inches(length_m, step_in) if shows == "feet" else format_metres(length_m)


def in_unit(length_m: float, unit: str) -> str:
    """A length in a unit of its own, as a sheet has it; in metres where the unit has no length of its own.

    Examples
    --------
    >>> in_unit(12.192, "ft"), in_unit(0.35, "cm"), in_unit(7.3152, "wrap")
    ('40 ft', '35 cm', '7.315 m')
    """
    known = unit if unit in UNIT_METRES else "m"
    return f"{length_m / UNIT_METRES[known]:.4g} {known}"


def format_metres(length_m: float, places: int = 2) -> str:
    """A length in metres with its unit; what is rounded to nothing has no sign.

    Examples
    --------
    >>> format_metres(1.5751), format_metres(-0.001)
    ('1.58 m', '0.00 m')
    """
    return f"{length_m:z.{places}f} m"


class UndeclaredSizeError(ParseError):
    """A wrap, rod length or pole section (``unit``) whose size the venue has not declared."""

    def __init__(self, unit: str) -> None:
        self.unit = unit
        super().__init__(f"a {_LONG[unit]} has no length of its own, and the venue declares none")


@dataclass(frozen=True)
class Sizes:
    """What the bank's own units are worth here, metres; None where the venue does not give one."""

    wrap_m: float | None = None
    rod_m: float | None = None
    section_m: float | None = None

    def metres_per(self, unit: str) -> float:
        """Metres in one unit; ``UndeclaredSizeError`` where the venue has to say and has not."""
        own = {"wrap": self.wrap_m, "rod": self.rod_m, "section": self.section_m} | UNIT_METRES
        worth = own[unit]
        if worth is None:
            raise UndeclaredSizeError(unit)
        return worth


@dataclass(frozen=True)
class Length:
    """A length as read: metres, and the unit it was written in (``m``, ``ft``, ``wrap``, ...)."""

    metres: float
    unit: str


def unit_named(word: str) -> str | None:
    """The unit a word or sign stands for, None if it is no unit of length.

    Examples
    --------
    >>> unit_named("Feet"), unit_named("pole sections"), unit_named("pints")
    ('ft', 'section', None)
    """
    return UNIT_WORDS.get(normalised(word).casefold().rstrip("."))


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
    ParseError
        Not a length, a bare number without a unit, or a unit of undeclared size.

    Examples
    --------
    >>> read_length("5′2″").metres == read_length("5 ft 2").metres == read_length("62", "in").metres
    True
    >>> read_length("1,58", "m"), read_length("-2½ in").unit
    (Length(metres=1.58, unit='m'), 'in')
    """
    body = normalised(text).casefold()
    sign, body = (-1.0, body[1:].strip()) if body.startswith("-") else (1.0, body.removeprefix("+").strip())
    named = _named(_terms(body, text), unit, text)
    for (value, large), (less, small) in itertools.pairwise(named):
        ratio = sizes.metres_per(large) / sizes.metres_per(small)
        if value % 1 or less >= ratio * NEXT_UNIT or (large, small) not in COMPOUNDS:
            raise ParseError(f'"{text.strip()}" is not a length: {less:g} {small} cannot follow {value:g} {large}')
    return Length(sign * sum(value * sizes.metres_per(name) for value, name in named), named[0][1])


def _terms(body: str, text: str) -> list[tuple[float, str]]:
    """Figures and the word after each, empty if there is none; from left to right, nothing is tried twice."""
    terms: list[tuple[float, str]] = []
    at = 0
    while at < len(body) or not terms:
        found = _TERM.match(body, at)
        if not found or (terms and not terms[-1][1]):
            raise ParseError(f'"{text.strip()}" is not a length. Write it like 5\'2", 5 ft 2, 1.58 m or 158 cm')
        terms.append((amount_of(found[1]), found[2] or ""))
        at = found.end()
    return terms


def _named(terms: list[tuple[float, str]], unit: str | None, text: str) -> list[tuple[float, str]]:
    """The terms with canonical units: the bare last term after feet is inches, a lone one takes the column's."""
    named: list[tuple[float, str]] = []
    for value, word in terms:
        name = UNIT_WORDS.get(word)
        if word and name is None:
            raise ParseError(f'"{text.strip()}": "{word}" is not a unit of length known here')
        if not word:
            # "5 ft 2" and "1 m 58": two bare figures after metres are centimetres, one could be tenths.
            follows = {"ft": "in", "m": "cm" if TWO_FIGURES <= value < 100 else None}  # noqa: PLR2004 - two figures
            name = follows.get(named[-1][1]) if named else unit if len(terms) == 1 else None
            name = "m" if name is None and len(terms) == 1 and value == 0 else name
        if name is None:
            raise ParseError(f'"{text.strip()}" has no unit. Write it with one, like 5 ft 2 or 1.58 m')
        named.append((value, name))
    return named
