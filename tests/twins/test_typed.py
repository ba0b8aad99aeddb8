"""What is typed is read alike by page and program: thousands of spellings, sound ones and nonsense."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import product
from typing import Any

import numpy as np
import pytest

from survey.errors import SurveyError
from survey.units import Sizes, normalised, read_clock, read_length, read_number
from survey.units.float_ratings import read_mark
from survey.units.lengths import UNIT_WORDS
from survey.units.numbers import LOOK_ALIKES
from survey.units.shot_sizes import SIZES_G, read_shot

LAST_BIT = 1e-9
"""Metres or grams. Both sides work the same sum in the same order; a power or a quotient may differ in its last bit."""
AMOUNTS = (
    "5", "0", "12", "007", "58", "1.58", "1,58", "1.", ".5", ",5", "½", "5½", "5 ½", "2¼", "3¾", "10⅞", "1/2", "5 1/2",
    "11 3/4", "1/0", "1e2", "2E-1", "1.234,5", "1,234.5",
    "１２", "１，５", "５．５", "１/２", "٣", "५", "½½", "²", "1234567890123456",
)  # fmt: skip
UNITS = (
    *UNIT_WORDS, "", "FT", "Ft.", "In.", "M", "cM", "′", "″", "’", "”", "‘", "“", "´", "`", "ʹ", "ʺ", "ʼ",
    "''", "′′", "´´", "〃",
    "pints", "constructor", "metros", "k", "°", "''' ", "ſ", "ｍ",
)  # fmt: skip
GAPS = ("", " ", "\u00a0", "\u2009", "\u202f", "  ", "\t", "\u200b", "\x85", "\x1f")
JOINS = ("", " ", ", ", " and ", ", and ", ",", "\u00a0", ". ", " & ")
SIGNS = ("", "", "", "", "-", "\u2212", "\u2013", "+", "- ", "+-", "--")
OWN_UNITS = (None, "m", "ft", "in", "cm", "yd", "wrap", "rod")
SIZES = (Sizes(), Sizes(3.66, 3.96, None))


def or_none(read: Callable[..., Any], *values: object) -> Any:
    """What a reader gives; None where it refuses, as the page does."""
    try:
        return read(*values)
    except SurveyError:
        return None


def picked(rng: np.random.Generator, of: tuple[Any, ...]) -> Any:
    return of[rng.integers(len(of))]


def spellings(rng: np.random.Generator, count: int) -> Iterator[str]:
    """Every amount with every unit, then lengths of one to three terms at random."""
    for amount, unit in product(AMOUNTS, UNITS):
        yield f"{amount}{picked(rng, GAPS)}{unit}"
    for _ in range(count):
        terms = [f"{picked(rng, AMOUNTS)}{picked(rng, GAPS)}{picked(rng, UNITS)}" for _ in range(rng.integers(1, 4))]
        yield picked(rng, SIGNS) + picked(rng, JOINS).join(terms) + picked(rng, GAPS)


def common_spellings() -> Iterator[str]:
    """Feet and inches, metres and centimetres, yards, as the bank writes them, in every mix of signs."""
    feet, inches = (
        ("'", "′", "’", " ft", "ft", " feet", " ft.", "´"),
        ('"', "″", "”", "''", " in", "in", " ins", " inches", ""),
    )
    small = ("2", "2½", "2 ½", "2 1/2", "2.5", "11", "11¾", "12", "0")
    for foot, inch, amount, join in product(feet, inches, small, ("", " ", "\u00a0", ", ", " and ")):
        yield f"5{foot}{join}{amount}{inch}"
    for metre, amount, cm in product(
        ("m", " m", " metres", " mtr"), ("58", "5", "5.5", "99", "100"), (" cm", "cm", "", " mm")
    ):
        yield f"1{metre} {amount}{cm}"
    for yards, rest in product(("1 yd", "2yds", "25 yards"), ("", " 1 ft", " 6 in", " 2'", " 3 ft", " 40 in", " 2")):
        yield yards + rest


def nonsense(rng: np.random.Generator, count: int) -> list[str]:
    """Signs thrown together: what a reader knows, and a few that it does not."""
    signs = (
        *"0123456789",
        *"0123456789",
        *" .,/+-'\"xgmftcin",
        *map(chr, LOOK_ALIKES),
        "×",
        "é",
        "\u0000",
        "Ａ",
        "½",
        "No ",
        "BB",
        "g",
    )
    return ["".join(picked(rng, signs) for _ in range(rng.integers(0, 9))) for _ in range(count)]


def assert_alike(formulas, call: str, read: Callable[..., Any], asked: list[list[Any]], least_read: float) -> None:
    """The page reads what the program reads, to the last bit, and refuses what it refuses."""
    assert len(asked) >= 2000
    ours, told = [read(*one) for one in asked], formulas.each(call, asked)
    unlike = [(one, a, b) for one, a, b in zip(asked, ours, told, strict=True) if not alike(a, b)]
    assert unlike == [], f"{len(unlike)} of {len(asked)}"
    assert np.mean([value is not None for value in ours]) > least_read


def alike(one: object, other: object) -> bool:
    if isinstance(one, dict):
        return isinstance(other, dict) and list(one) == list(other) and all(alike(one[key], other[key]) for key in one)
    if isinstance(one, int | float) and isinstance(other, int | float):
        return abs(one - other) <= LAST_BIT * max(1.0, abs(one))
    return one == other


def test_lengths_in_every_spelling_are_read_by_both_or_by_neither(formulas):
    rng = np.random.default_rng(17)
    texts = [*common_spellings(), *spellings(rng, 6000), *nonsense(rng, 3000)]
    asked = [[text, picked(rng, OWN_UNITS), int(rng.integers(2))] for text in texts]

    def read(text: str, unit: str | None, own: int) -> float | None:
        found = or_none(read_length, text, unit, SIZES[own])
        return None if found is None else found.metres

    sizes = [{"wrap": s.wrap_m, "rod": s.rod_m, "section": s.section_m} for s in SIZES]
    call = f"(text, unit, own) => readLength(text, unit, {sizes}[own])".replace("None", "null")
    assert_alike(formulas, call, read, asked, 0.2)


def test_numbers_are_read_by_both_or_by_neither(formulas):
    rng = np.random.default_rng(18)
    made = [picked(rng, SIGNS) + picked(rng, GAPS) + picked(rng, AMOUNTS) + picked(rng, GAPS) for _ in range(2000)]
    asked = [[text] for text in [*made, *nonsense(rng, 2000)]]
    assert_alike(formulas, "readNumber", lambda text: or_none(read_number, text), asked, 0.2)


def test_signs_are_made_plain_alike(formulas):
    figures = [chr(code) for code in range(0x30000) if chr(code).isdecimal()]
    others = [chr(code) for code in range(0x20, 0x3100)]
    asked = [[f"1{sign}2"] for sign in [*figures, *others]]
    assert_alike(formulas, "plain", normalised, asked, 0.9)


def test_a_clock_face_that_a_script_gives_is_the_survey_s(formulas):
    """The page takes figures alone, no words: what it takes it reads as the survey does, and all such figures."""
    rng = np.random.default_rng(21)
    figures = ("0", "00", "1", "9", "11", "12", "13", "012", "１２", "٣")
    rest = ("", ":00", ":05", ":30", ":59", ":60", ".5", ",5", ".25", ".75", ".0", ".00", ".3", ":5")
    asked = [[gap + hour + more + gap] for hour, more, gap in product(figures, rest, GAPS)]
    asked += [[text] for text in nonsense(rng, 1000)]

    def read(text: str) -> float | None:
        found = or_none(read_clock, text) if OF_A_SCRIPT.fullmatch(normalised(text)) else None
        return None if found is None else found.angle_deg

    assert_alike(formulas, "readClock", read, asked, 0.2)


OF_A_SCRIPT = re.compile(r"\d+|\d{1,2}:\d{2}|\d{1,2}[.,]\d{1,2}")
"""What is longer is a spreadsheet's time of day."""
SHOT_WORDS = (
    *SIZES_G, "no.4", "nos 8", "#10", "size 6", "number 1", "swan", "Swans", "bb", "Bb.", "aaa", "No 2", "No 7",
    "lead", "7", "no４",
)  # fmt: skip
COUNTS = ("", "", "2", "10", "3 ", "2x", "2 x ", "2X", "4×", "0 ", "1000", "½", "12x 1")


def shot_texts(rng: np.random.Generator, count: int) -> list[str]:
    commas = (", ", ",", "; ", " + ", "+", ",,", " and ")
    return [
        picked(rng, commas).join(f"{picked(rng, COUNTS)}{picked(rng, SHOT_WORDS)}" for _ in range(rng.integers(1, 4)))
        for _ in range(count)
    ]


def test_shot_at_hand_is_read_by_both_or_by_neither(formulas):
    rng = np.random.default_rng(19)
    asked = [[text] for text in [*shot_texts(rng, 3000), *nonsense(rng, 1000)]]
    assert_alike(formulas, "readShot", lambda text: or_none(read_shot, text), asked, 0.2)


def test_marks_of_floats_are_read_by_both_or_by_neither(formulas):
    rng = np.random.default_rng(20)
    weights = (
        "1.2 g",
        "1,2g",
        "½ g",
        "2 1/2 grams",
        "40 g",
        "-1 g",
        "1e1 g",
        "3gr",
        "4 grains",
        "4",
        "4x14",
        "2-3BB",
        "1/128 g",
        ".4 gm.",
    )
    words = ("", "", "", " loaded", "load ", " load:", " balance", "balance ", " to add", "Loaded ")
    joins = (" + ", ", ", "; ", " and ", " & ", ",")
    made = [
        picked(rng, joins).join(
            word + text if (word := picked(rng, words)).endswith(" ") else text + word
            for text in (picked(rng, (picked(rng, weights), shot_texts(rng, 1)[0])) for _ in range(rng.integers(1, 4)))
        )
        for _ in range(4000)
    ]  # fmt: skip

    def read(text: str) -> dict[str, float] | None:
        mark = or_none(read_mark, text)
        return None if mark is None else {"balance_g": mark.balance_g, "load_g": mark.load_g}

    assert_alike(formulas, "readMark", read, [[text] for text in [*made, *nonsense(rng, 1000)]], 0.05)


@pytest.mark.parametrize(
    ("text", "metres"),
    [("１.５ m", 1.5), ("１/２ m", 0.5), ("٣ ft", 0.9144), ("५′ ２½″", 1.5875), ("1 m 58", 1.58),
     ("1e2 cm", 1.0), ("5´ 2´´", 1.5748)],
)  # fmt: skip
def test_figures_of_other_scripts_and_rarer_spellings_are_lengths(text, metres):
    assert read_length(text).metres == pytest.approx(metres)


@pytest.mark.parametrize("text", ["load -1 g, balance 2 BB", "-1 g loaded + 2 BB"])
def test_a_load_is_no_less_than_nothing(text):
    assert or_none(read_mark, text) is None


def test_a_capital_x_counts_shot():
    assert read_shot("2X AAA, 3 x BB") == {"AAA": 2, "BB": 3}
