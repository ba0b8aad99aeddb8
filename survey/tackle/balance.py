"""Split shot: what each size weighs, and every way to make up a weight from the shot at hand.

Weights are common practice (trade tables). Knows nothing of floats, lines or depths.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice

from survey.errors import ParseError
from survey.units.shot_sizes import GRAIN_MG, MOST_SHOT, MOST_WEIGHT_G, SIZES_G, Way, in_grains

USUAL_SHOT = "SSG, AAA, BB, No 1, No 4, No 6, No 8, No 10"
"""A box of shot, assumed where none is given (ours)."""


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
    ParseError
        A weight that no float takes.

    Notes
    -----
    Of two weights equally near the lighter is taken: a float that rides high still works.
    """
    if not 0 < target_g <= MOST_WEIGHT_G:
        raise ParseError(f"{target_g:g} g cannot be made up with shot. Give more than 0 and at most 30 g")
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
