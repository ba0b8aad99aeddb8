"""What is printed on a float: the weight in its body and the weight still to add.

What could mean two things is refused, with what to write instead. Knows nothing of lines or depths.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from survey.errors import ParseError
from survey.units import normalised, read_number
from survey.units.shot_sizes import MOST_WEIGHT_G, SIZES_G, in_grains, size_named, unknown_size

_LOADED = r"\b(?:loaded|load)\b"
_BALANCE = r"\b(?:balance|to add)\b"


@dataclass(frozen=True)
class FloatMark:
    """What a float takes, grams.

    Parameters
    ----------
    balance_g : float
        Weight to add on the line so that the float cocks.
    load_g : float
        Weight built into its body; 0 for an unloaded float.
    """

    balance_g: float
    load_g: float = 0.0

    @property
    def is_loaded(self) -> bool:
        """Whether part of the weight is in the body."""
        return self.load_g > 0


def read_mark(text: str) -> FloatMark:
    """Read a float's mark (common practice of the trade).

    Parameters
    ----------
    text : str
        ``3 No 4``, ``2BB``, ``1.2 g``, ``2 AAA + 2 BB loaded`` (body first, then what is still to add),
        ``load 2 AAA, balance 2 BB``.

    Raises
    ------
    ParseError
        What is not a mark, or could mean two things.

    Examples
    --------
    >>> read_mark("3 No 4"), read_mark("2 AAA + 2 BB loaded")
    (FloatMark(balance_g=0.6, load_g=0.0), FloatMark(balance_g=0.8, load_g=1.6))
    """
    body = normalised(text).casefold()
    parts = [part.strip() for part in re.split(r"[+,;&]| and ", _point(body)) if part.strip()]
    load = [part for part in parts if re.search(_LOADED, part)]
    balance = [part for part in parts if re.search(_BALANCE, part)]
    if not load and not balance:
        return _made(text, _sum_g(parts, text), 0.0)
    plain_parts = [re.sub(f"{_LOADED}|{_BALANCE}", "", part).strip(" :") for part in parts]
    if len(parts) != 2 or not all(plain_parts):  # noqa: PLR2004 - a load and a balance
        raise ParseError(
            f'"{text.strip()}": a loaded float has two weights. Write both, the body\'s first: 2 AAA + 2 BB loaded'
        )
    first_is_load = not (load == [parts[1]] and balance == [parts[0]])
    in_body, to_add = plain_parts if first_is_load else reversed(plain_parts)
    return _made(text, _sum_g([to_add], text), _sum_g([in_body], text))


def _point(body: str) -> str:
    """A decimal comma between figures as a point, so that commas can part weights."""
    return re.sub(r"(?<=\d),(?=\d)", ".", body)


def _made(text: str, balance_g: float, load_g: float) -> FloatMark:
    if not (0 < balance_g <= MOST_WEIGHT_G and 0 <= load_g <= MOST_WEIGHT_G):
        raise ParseError(f'"{text.strip()}": a float takes more than 0 and at most {MOST_WEIGHT_G:g} g. Read it again')
    return FloatMark(balance_g, load_g)


def _sum_g(parts: list[str], text: str) -> float:
    if not parts:
        raise ParseError(f'"{text.strip()}" is not a float marking. Write it like 3 No 4, 2BB or 1.2 g')
    return round(sum(_part_g(part, text) for part in parts), 6)


def _part_g(part: str, text: str) -> float:
    """One term of a mark, grams."""
    if grams := re.fullmatch(r"([^a-z]+?) ?(?:g|gm|gms|gram|grams)\.?", part):
        try:
            return read_number(grams[1])
        except ParseError:
            raise _unclear(text, "write the grams as one number, like 1.2 g") from None
    if re.fullmatch(r"[\d.]+", part):
        raise _unclear(text, f"{part} of what? Write its unit or size: {part} g, {part} BB, or 1 No {part}")
    if re.fullmatch(r"\d+ ?[x×*/-] ?\d+", part):
        raise _unclear(text, "this is a maker's code or a range, not a weight. Write shot or grams: 3 No 4 or 0.6 g")
    if re.search(r"\d ?gr\b|\bgrains?\b", part):
        raise _unclear(text, "gr may be grams or grains. Write g for grams")
    counted = re.fullmatch(r"(\d{1,2}) ?[x×]? ?(\D.*)", part)
    named = size_named(counted[2] if counted else part)
    if named is None:
        raise unknown_size(counted[2] if counted else part)
    return (int(counted[1]) if counted else 1) * in_grains(SIZES_G[named]) / 100


def _unclear(text: str, remedy: str) -> ParseError:
    return ParseError(f'"{text.strip()}" can be read in more than one way: {remedy}')
