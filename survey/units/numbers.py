"""Signs and figures as people and programs write them: look-alikes made one, plain numbers.

Knows nothing of units.
"""

from __future__ import annotations

import re
import unicodedata

from survey.errors import UnitError

LOOK_ALIKES = str.maketrans(
    dict.fromkeys("\u00a0\u2007\u2009\u200a\u200b\u202f\u3000\ufeff", " ")
    | dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d", "-")
    | dict.fromkeys("\u2018\u2019\u201b\u2032\u02b9\u02bc\u00b4`", "'")
    | dict.fromkeys("\u201c\u201d\u2033\u02ba\u3003", '"')
    | dict.fromkeys("\u00ba\u02da\u2070", "°")
    | dict.fromkeys("\u2044\u2215", "/")
    | {mark: unicodedata.normalize("NFKC", f" {mark}").replace("\u2044", "/") for mark in "¼½¾⅓⅔⅛⅜⅝⅞"}
)
_OTHER_FIGURES = re.compile(r"[^\D0-9]")
"""Figures of other scripts and widths."""
_NUMBER = r"(?:\d{1,15}(?:[.,]\d{1,20})?(?:e[-+]?\d{1,2})?|[.,]\d{1,20})"
AMOUNT = rf"(?:{_NUMBER} )?\d{{1,4}}/[1-9]\d{{0,3}}|{_NUMBER}"
"""Pattern of an unsigned amount: a number, a fraction, or both."""


def plain(text: str) -> str:
    """Text with look-alike signs made one: spaces, minus signs, primes, degree signs, fractions, figures."""
    if not text.isascii() or "`" in text:
        text = _OTHER_FIGURES.sub(lambda figure: str(int(figure[0])), text.translate(LOOK_ALIKES))
    return " ".join(text.replace("''", '"').split())


def read_number(text: str) -> float:
    """A plain number: decimal point or comma, any minus sign, simple fractions.

    ``UnitError`` for anything else; a comma is never dropped as a thousands mark.

    Examples
    --------
    >>> read_number("92,5"), read_number("−0.12"), read_number("2 1/2")
    (92.5, -0.12, 2.5)
    """
    found = re.fullmatch(rf"([-+]?) ?({AMOUNT})", plain(text).casefold())
    if not found:
        raise UnitError(
            f'"{text.strip()}" is not a number. Write it with one decimal point or comma and no thousands mark'
        )
    return -amount_of(found[2]) if found[1] == "-" else amount_of(found[2])


def amount_of(text: str) -> float:
    """The value of what ``AMOUNT`` matched."""
    *whole, last = text.split()
    if "/" in last:
        top, bottom = last.split("/")
        last = str(int(top) / int(bottom))
    return sum(float(part.replace(",", ".")) for part in [*whole, last])
