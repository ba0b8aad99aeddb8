"""Marks on floats: what people read off them, and what is refused because it could mean two things."""

import pytest

from survey.errors import ParseError
from survey.units.float_ratings import FloatMark, read_mark


@pytest.mark.parametrize(
    ("text", "balance", "load"),
    [
        ("3 No 4", 0.6, 0), ("2BB", 0.8, 0), ("2 x BB", 0.8, 0), ("1.2 g", 1.2, 0), ("1,2g", 1.2, 0),
        ("0.35 grams", 0.35, 0),
        ("3 no.8", 0.18, 0), ("No 10", 0.04, 0), ("BB", 0.4, 0), ("2 AAA + 1 BB", 2.0, 0), ("2SSG", 3.2, 0),
        ("1 g + 2 BB", 1.8, 0), ("½ g", 0.5, 0),
        ("2 AAA + 2 BB loaded", 0.8, 1.6), ("loaded 2AAA + 2BB", 0.8, 1.6), ("load 2 AAA, balance 2 BB", 0.8, 1.6),
        ("balance 2 BB, load 2 AAA", 0.8, 1.6), ("4 g loaded + 2 BB", 0.8, 4.0), ("2 BB to add; 2 AAA load", 0.8, 1.6),
    ],
)  # fmt: skip
def test_marks_as_people_read_them(text, balance, load):
    assert read_mark(text) == FloatMark(pytest.approx(balance), pytest.approx(load))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("4", "4 of what"), ("0.4", "0.4 of what"), ("4x14", "maker's code or a range"),
        ("2-3", "maker's code or a range"),
        ("4 AAA loaded", "a loaded float has two weights"), ("2 AAA + 2 BB + 1 No 4 loaded", "has two weights"),
        ("loaded", "has two weights"), ("3gr", "grams or grains"), ("2 AA", "is not a shot size"),
        ("2.5BB", "is not a shot size"), ("", "is not a float marking"), ("three BB", "is not a shot size"),
        ("0 BB", "more than 0"),
        ("40 g", "at most 30 g"), ("1 2 g", "more than one way"), ("2 BB 3 AAA", "is not a shot size"),
    ],
)  # fmt: skip
def test_what_could_mean_two_things_is_refused_with_what_to_write(text, says):
    with pytest.raises(ParseError, match=says):
        read_mark(text)
