"""Split shot: what each size weighs, read and written."""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import get_close_matches

from survey.errors import UnitError
from survey.units import plain

SIZES_G: dict[str, float] = {
    "SSG": 1.6, "AAA": 0.8, "AB": 0.6, "BB": 0.4, "No 1": 0.3, "No 3": 0.25, "No 4": 0.2, "No 5": 0.15, "No 6": 0.1,
    "No 8": 0.06, "No 9": 0.05, "No 10": 0.04, "No 11": 0.03, "No 12": 0.02, "No 13": 0.01,
}  # fmt: skip
"""Grams, heaviest first (common practice)."""

MAKERS_DIFFER = "Shot of one size differs by maker, the smallest most: the float in the water decides."

LEAD_BANNED_G = (0.06, 28.35)
"""Grams between which no lead may be used in Great Britain: Control of Pollution (Anglers' Lead Weights)
Regulations 1986, SI 1986/1992."""

LEAD_RULE = "No lead between 0.06 g and 28.35 g in Great Britain (SI 1986/1992): use shot that is not lead above No 8."

MOST_SHOT = 30
"""More shot than this on one line is no way to make a weight (ours)."""

GRAIN_MG = 10
"""Every size is a whole number of these."""

MOST_WEIGHT_G = 30.0


def in_grains(weight_g: float) -> int:
    """A size's weight in grains of ten milligrams."""
    return round(weight_g * 1000 / GRAIN_MG)


def size_named(text: str) -> str | None:
    """The size a word stands for, None if it is no size of shot.

    Examples
    --------
    >>> size_named("no.4"), size_named("bb"), size_named("#10"), size_named("swan"), size_named("7")
    ('No 4', 'BB', 'No 10', 'SSG', None)
    """
    word = plain(text).casefold().replace(".", " ").strip()
    numbered = re.fullmatch(r"(?:no|nos|number|num|#|size) ?(\d{1,2})", " ".join(word.split()))
    name = f"No {int(numbered[1])}" if numbered else "SSG" if word in {"swan", "swans"} else word.upper()
    return name if name in SIZES_G else None


def unknown_size(text: str) -> UnitError:
    """The error for what is no size of shot."""
    close = get_close_matches(text.strip().upper(), SIZES_G, n=1, cutoff=0.6)
    meant = f" Did you mean {close[0]}?" if close else ""
    return UnitError(f'"{text.strip()}" is no size of shot. Sizes are {", ".join(SIZES_G)}.{meant}')


def read_shot(text: str) -> dict[str, int | None]:
    """Shot at hand: ``10 No 4, 6 BB, No 8``; a size without a count is there in plenty.

    Returns
    -------
    dict
        Count by size, heaviest first; None: as many as are wanted.

    Raises
    ------
    UnitError
        An unknown size, or no size at all.

    Examples
    --------
    >>> read_shot("6 no 4, BB; 2x AAA")
    {'AAA': 2, 'BB': None, 'No 4': 6}
    """
    found: dict[str, int | None] = {}
    for part in re.split(r"[,;+]", plain(text)):
        body = part.strip()
        if not body:
            continue
        counted = re.fullmatch(r"(\d{1,3}) ?[xX×]? ?(\D.*)", body)
        named = size_named(counted[2] if counted else body)
        if named is None:
            raise unknown_size(counted[2] if counted else body)
        count = int(counted[1]) if counted else None
        old = found.get(named, 0)
        found[named] = None if count is None or old is None else old + count
    if not any(count is None or count > 0 for count in found.values()):
        raise UnitError(f'"{text.strip()}" names no shot. Write sizes with counts, like 10 No 4, 6 BB, or sizes alone')
    return {size: found[size] for size in SIZES_G if size in found}


def weight_g(way: Mapping[str, int]) -> float:
    """Weight of so many shot of each size, grams."""
    return sum(in_grains(SIZES_G[size]) * count for size, count in way.items()) * GRAIN_MG / 1000


def way_words(way: Mapping[str, int]) -> str:
    """A way in words.

    Examples
    --------
    >>> way_words({"BB": 2, "No 4": 1})
    '2 BB + 1 No 4'
    """
    return " + ".join(f"{count} {size}" for size, count in way.items()) or "no shot"


Way = dict[str, int]
"""Count by size, heaviest first; only sizes that are used."""
