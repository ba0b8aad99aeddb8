"""Split shot: what each size weighs, and every way to make up a weight from the shot at hand.

Weights are common practice (trade tables). Knows nothing of floats, lines or depths.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import islice

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
        counted = re.fullmatch(r"(\d{1,3}) ?[x×]? ?(\D.*)", body)
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


@dataclass(frozen=True)
class Balances:
    """The ways to make a weight.

    Parameters
    ----------
    target_g : float
    made_g : float
        The weight that can be made: the target, or the nearest to it.
    at_hand : dict
        Count by size, None for plenty.
    """

    target_g: float
    made_g: float
    at_hand: dict[str, int | None]

    @property
    def difference_g(self) -> float:
        """What is made, less what was wanted, grams; 0 where it is exact."""
        return round(self.made_g - self.target_g, 6)

    def ways(self) -> Iterator[Way]:
        """Every way, fewest shot first; heavier sizes first among ways of as many shot."""
        sizes, counts = _bounded(self.at_hand, in_grains(self.made_g))
        reach = _reachable(sizes, counts, in_grains(self.made_g))
        for pieces in range(MOST_SHOT + 1):
            for picked in _picked(sizes, counts, reach, (0, in_grains(self.made_g), pieces)):
                yield {size: n for size, n in zip(sizes, picked, strict=True) if n}

    def first(self, most: int) -> tuple[Way, ...]:
        """The first ways."""
        return tuple(islice(self.ways(), most))


def balances(target_g: float, at_hand: Mapping[str, int | None]) -> Balances:
    """The ways to make a weight from the shot at hand, exact or as near as can be.

    Parameters
    ----------
    target_g : float
        Grams, more than zero.
    at_hand : mapping
        Count by size; None: as many as are wanted.

    Raises
    ------
    UnitError
        A weight that no float takes.

    Notes
    -----
    Of two weights equally near the lighter is taken: a float that rides high still works.
    """
    if not 0 < target_g <= MOST_WEIGHT_G:
        raise UnitError(f"{target_g:g} g is nothing to make up with shot. Give more than 0 and at most 30 g")
    target = target_g * 1000 / GRAIN_MG
    furthest = int(2 * target) + max(in_grains(SIZES_G[size]) for size in at_hand) + 1
    sizes, counts = _bounded(dict(at_hand), furthest)
    sums = [s for s, pieces in enumerate(_reachable(sizes, counts, furthest)[0]) if s and pieces]
    made = min(sums, key=lambda s: (round(abs(s - target), 6), s))
    return Balances(target_g, made * GRAIN_MG / 1000, {size: at_hand[size] for size in SIZES_G if size in at_hand})


def _bounded(at_hand: Mapping[str, int | None], most: int) -> tuple[list[str], list[int]]:
    """Sizes, heaviest first, and how many of each can matter."""
    sizes = [size for size in SIZES_G if size in at_hand]
    fitting = [min(most // in_grains(SIZES_G[size]), MOST_SHOT) for size in sizes]
    have = [at_hand[size] for size in sizes]
    return sizes, [fit if n is None else min(fit, n) for fit, n in zip(fitting, have, strict=True)]


def _reachable(sizes: list[str], counts: list[int], most: int) -> list[list[int]]:
    """For the sizes from each on and each sum, the numbers of shot that make it, as bits."""
    allowed = (1 << (MOST_SHOT + 1)) - 1
    tables = [[1] + [0] * most]
    for size, count in zip(reversed(sizes), reversed(counts), strict=True):
        heavy, below = in_grains(SIZES_G[size]), tables[0]
        here = below.copy()
        for n in range(1, count + 1):
            for s in range(n * heavy, most + 1):
                here[s] |= (below[s - n * heavy] << n) & allowed
        tables.insert(0, here)
    return tables


def _picked(
    sizes: list[str], counts: list[int], reach: list[list[int]], left: tuple[int, int, int]
) -> Iterator[tuple[int, ...]]:
    """Counts for the sizes from one on that make the sum left with the shot left; no branch is a dead end."""
    at, total, pieces = left
    if not reach[at][total] >> pieces & 1:
        return
    if at == len(sizes):
        yield ()
        return
    heavy = in_grains(SIZES_G[sizes[at]])
    for n in range(min(counts[at], total // heavy, pieces), -1, -1):
        for rest in _picked(sizes, counts, reach, (at + 1, total - n * heavy, pieces - n)):
            yield (n, *rest)
