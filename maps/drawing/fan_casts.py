"""The casts of a peg's fan: its arcs, its spokes and where their figures stand, as degrees and metres.

Worked out once: the still fan and, sent along, the page's map draw the same casts. Knows nothing of how they look.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from survey.units.club_units import DistanceUnit

Cast = tuple[float, float]
"""Degrees from straight out, positive to the right, and metres from the peg."""
NOTHING_M = 1e-6
"""Water as wide as an arc is far is seen to that arc, whatever the last digit says."""


@dataclass(frozen=True)
class FanCasts:
    """What a fan consists of.

    Parameters
    ----------
    arcs : tuple of (float, float, float)
        Metres from the peg, first and last degree: one for each stretch of water in sight.
    spokes : tuple of Cast
        From the peg to there.
    distances, hours : tuple of Cast
        Where the figures of arcs and of spokes stand.
    """

    arcs: tuple[tuple[float, float, float], ...]
    spokes: tuple[Cast, ...]
    distances: tuple[Cast, ...]
    hours: tuple[Cast, ...]


def fan_casts(seen_m: dict[int, float], reach_m: float, described: dict[str, Any], counted: DistanceUnit) -> FanCasts:
    """The casts of one peg.

    Parameters
    ----------
    seen_m : dict
        For each whole degree how far out the peg sees.
    reach_m : float
    described : dict
        The fan's description.
    counted : DistanceUnit
        What distances are shown in: arcs are whole numbers of it apart.
    """
    step_m = arc_step(reach_m, described, counted) * counted.worth_m
    radii = [k * step_m for k in range(1, int(reach_m / step_m + NOTHING_M) + 1)]
    beside = ((next((d for d in described["beside_deg"] if seen_m[d] > radius), None), radius) for radius in radii)
    return FanCasts(
        tuple((radius, *ends) for radius in radii for ends in _stretches(seen_m, radius)),
        tuple((d, round(seen_m[d], 2)) for d in described["hours_deg"] if seen_m[d] > 0),
        tuple((d, radius) for d, radius in beside if d is not None),
        tuple(
            (d, round(seen_m[d] - described["label_inset_m"], 2))
            for d in described["labelled_deg"]
            if seen_m[d] >= described["least_spoke_m"]
        ),
    )


def arc_step(reach_m: float, described: dict[str, Any], counted: DistanceUnit) -> int:
    """How many units of distance lie between two arcs."""
    least_m = described["arc_least_m"][reach_m > described["far_reach_m"]]
    steps = described["arc_steps"]
    return next((step for step in steps if step * counted.worth_m >= least_m), steps[-1])


def _stretches(seen_m: dict[int, float], radius: float) -> list[tuple[int, int]]:
    """First and last degree of each stretch that is seen at least so far out."""
    grouped = groupby(sorted(seen_m), key=lambda degree: seen_m[degree] >= radius - NOTHING_M)
    stretches = [list(degrees) for seen, degrees in grouped if seen]
    return [(degrees[0], degrees[-1]) for degrees in stretches if len(degrees) > 1]


def along_arc(first_deg: float, last_deg: float, chord_deg: float) -> list[float]:
    """Degrees along an arc, ends included, no further apart than a chord.

    Examples
    --------
    >>> along_arc(0, 5, 2)
    [0.0, 1.6666666666666665, 3.333333333333333, 5.0]
    """
    count = max(math.ceil((last_deg - first_deg) / chord_deg), 1)
    return [first_deg + (last_deg - first_deg) * (k / count) for k in range(count + 1)]
