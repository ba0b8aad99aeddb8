"""Where the shot goes on the line: patterns for each rig, as distances from the hook.

Patterns are common practice put into numbers (ours). Knows nothing of beds or pegs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from survey.errors import QueryError
from survey.spots.float_setting import RigStyle
from survey.tackle.balance import balances
from survey.units import FOOT_M
from survey.units.shot_sizes import SIZES_G, Way, in_grains, weight_g

WAYS_LOOKED_AT = 400
"""The best way is chosen among this many, fewest shot first (ours)."""
SPREAD_MOST, SPREAD_LEAST = 8, 2
DROPPER_MOST_G = 0.2
LOWEST_SHARE, HIGHEST_SHARE = 0.25, 0.85
"""Spread shot lies between these shares of the line; the lowest a quarter up (common practice)."""
DROPPERS_M = (FOOT_M, 2 * FOOT_M)
"""Small shot under the bulk: within one to two feet of the hook (common practice)."""
DROPPER_SHARES = (0.2, 0.35)
"""On a short line, where those would reach the bulk."""
BULK_SHARE, BULK_MOST_SHARE = 0.4, 0.5
APART_M = 0.10


@dataclass(frozen=True)
class Placed:
    """Shot of one size at one place.

    Parameters
    ----------
    size : str
    count : int
    from_hook_m : float
        Along the line, metres.
    """

    size: str
    count: int
    from_hook_m: float

    @property
    def weight_g(self) -> float:
        """Its weight, grams."""
        return weight_g({self.size: self.count})


@dataclass(frozen=True)
class Shotting:
    """Shot on a line.

    Parameters
    ----------
    way : dict
        What goes down the line, count by size.
    locking : dict
        What holds the float; empty with stops.
    placed : tuple of Placed
        From the float down.
    balance_g : float
        What the float takes, less what holds it.
    difference_g : float
        What goes down the line, less that.
    ways : tuple of dict
        Other ways to make the same weight, the chosen one first.
    """

    way: Way
    locking: Way
    placed: tuple[Placed, ...]
    balance_g: float
    difference_g: float
    ways: tuple[Way, ...] = ()


def shotted(
    balance_g: float,
    at_hand: Mapping[str, int | None],
    rig: RigStyle,
    line: Line,
    locking: Mapping[str, int] | None = None,
) -> Shotting:
    """Make up a float's balance from the shot at hand and place it for a rig.

    Parameters
    ----------
    balance_g : float
        What the float takes on the line, grams.
    at_hand : mapping
        Count by size; None: in plenty.
    rig : RigStyle
    line : Line
    locking : mapping, optional
        Shot that holds the float, whose weight comes off what goes down the line.

    Raises
    ------
    QueryError
        Where the locking shot takes all there is, or is not at hand.
    """
    held = dict(locking or {})
    left_g = round(balance_g - weight_g(held), 6)
    if left_g <= 0:
        raise QueryError(
            f"The shot holding the float weighs {weight_g(held):g} g and the float takes {balance_g:g} g: "
            "none is left for the line. Hold it with smaller shot, or between stops."
        )
    found = balances(left_g, without(at_hand, held))
    ways = found.first(WAYS_LOOKED_AT)
    best = min(ways, key=lambda way: _fitness(way, rig))
    ordered = (best, *(way for way in ways if way is not best))
    return Shotting(best, held, placed(best, rig, line), left_g, found.difference_g, ordered)


@dataclass(frozen=True)
class Line:
    """The line below the float.

    Parameters
    ----------
    length_m : float
        Hook to where the float is held, metres.
    hook_length_m : float
        Length of the hook length, on which no shot is put; 0 where the hook is on the main line.
    on_bed_m : float
        Of the line, what lies on the bed.
    """

    length_m: float
    hook_length_m: float = 0.0
    on_bed_m: float = 0.0


def without(at_hand: Mapping[str, int | None], held: Mapping[str, int]) -> dict[str, int | None]:
    """What is left of the shot at hand once the float is held.

    Raises
    ------
    QueryError
        Where that shot is not there.
    """
    left = dict(at_hand)
    for size, count in held.items():
        have = left.get(size, 0)
        if have is not None and have < count:
            raise QueryError(f"{count} {size} are to hold the float, but you have {have}.")
        left[size] = None if have is None else have - count
    remaining = {size: count for size, count in left.items() if count is None or count > 0}
    if not remaining:
        raise QueryError("All the shot you have is holding the float.")
    return remaining


def _fitness(way: Way, rig: RigStyle) -> tuple[float, ...]:
    """How well a way suits a rig, least is best: ties are settled by the weights themselves."""
    pieces, grains = sum(way.values()), [in_grains(SIZES_G[size]) for size in way]
    tie = (pieces, *(-g for g in grains))
    if rig is RigStyle.SLOW:
        return (max(pieces - SPREAD_MOST, SPREAD_LEAST - pieces, 0), max(grains), len(way), *tie)
    small, few = min(grains), list(way.values())[-1] <= len(DROPPERS_M)
    has_dropper = pieces > 1 and few and small <= in_grains(DROPPER_MOST_G)
    return (0 if has_dropper else 1, *tie)


def placed(way: Way, rig: RigStyle, line: Line) -> tuple[Placed, ...]:
    """Shot of a way on a line, from the float down.

    Notes
    -----
    Slow-sinking: spread from 85 % of the line down to a quarter above the hook, the smallest lowest; one alone
    goes a quarter up. The others: one or two of the smallest within one to two feet of the hook, the rest
    together at 40 to 50 % of the line; where line lies on the bed the lowest lies where it leaves the bed.
    Nothing goes on the hook length.
    """
    single = [size for size, count in way.items() for _ in range(count)]
    if rig is RigStyle.SLOW:
        return _gathered(zip(single, _spread(len(single), line), strict=True))
    smallest = single[-1]
    droppers = min(way[smallest], len(DROPPERS_M)) if len(single) > 1 else 0
    low = _dropper_places(droppers, rig, line)
    bulk_m = min(max(BULK_SHARE * line.length_m, (low[0] if low else 0.0) + APART_M), BULK_MOST_SHARE * line.length_m)
    bulk_m = _on_line(max(bulk_m, low[0] if low else 0.0), line)
    bulk = [(size, bulk_m) for size in single[: len(single) - droppers]]
    return _gathered([*bulk, *((smallest, at) for at in low)])


def _spread(count: int, line: Line) -> list[float]:
    low, high = LOWEST_SHARE * line.length_m, HIGHEST_SHARE * line.length_m
    share = [k / (count - 1) if count > 1 else 1.0 for k in range(count)]
    return [_on_line(high + (low - high) * s, line) for s in share]


def _dropper_places(count: int, rig: RigStyle, line: Line) -> list[float]:
    """Places of the small shot, from the float down."""
    places = [min(m, share * line.length_m) for m, share in zip(DROPPERS_M, DROPPER_SHARES, strict=True)][:count]
    if rig is RigStyle.HELD and places:
        places[0] = min(line.on_bed_m, BULK_MOST_SHARE * line.length_m)
        places = sorted(places)
    return [_on_line(at, line) for at in reversed(places)]


def _on_line(at_m: float, line: Line) -> float:
    """No nearer the hook than the hook length, no higher than the float."""
    return min(max(at_m, line.hook_length_m), line.length_m)


def _gathered(shot: Iterable[tuple[str, float]]) -> tuple[Placed, ...]:
    """Shot of one size at one place as one, from the float down."""
    counts: dict[tuple[str, float], int] = {}
    for size, at in shot:
        counts[size, at] = counts.get((size, at), 0) + 1
    return tuple(Placed(size, count, at) for (size, at), count in counts.items())
