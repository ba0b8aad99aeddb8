"""How fast shot, bait and feed sink: spheres at the Reynolds number they reach.

Formula sources stand beside the numbers. Knows nothing of beds or rigs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from survey.errors import SurveyError

GRAVITY = 9.80665
"""Metres per second squared (standard acceleration, CGPM 1901)."""
WATER_DENSITY = 999.1
WATER_VISCOSITY = 1.139e-6
"""Fresh water at 15 °C, kg/m³ and m²/s (IAPWS tables; from memory)."""
SHOT_DENSITY = 10000.0
"""Shot that is not lead, kg/m³: between tin and lead (ours)."""
BAIT_DENSITY = 1050.0
BAIT_M = 0.005
"""A small bait as a sphere: kg/m³ and metres (ours)."""
MOST_REYNOLDS = 3e5
"""Above, the drag of a sphere drops suddenly and the formula ends."""
HALVINGS = 60
FASTEST_MS = 100.0
"""Nothing here falls faster: where the search for a speed begins."""
DRAG = (0.15, 0.687, 0.42, 42500.0, -1.16)
"""Coefficients and powers of :func:`drag_coefficient`, in the order of its formula."""


@dataclass(frozen=True)
class Sphere:
    """Something that sinks.

    Parameters
    ----------
    diameter_m : float
    density : float
        kg/m³.
    """

    diameter_m: float
    density: float

    @property
    def weight_n(self) -> float:
        """Weight in water, newtons, positive down."""
        return (self.density - WATER_DENSITY) * GRAVITY * math.pi / 6 * self.diameter_m**3


def shot_sphere(weight_g: float, density: float = SHOT_DENSITY) -> Sphere:
    """Shot of a weight as a sphere.

    Examples
    --------
    >>> round(1000 * shot_sphere(0.4).diameter_m, 2)
    4.24
    """
    return Sphere((6 * weight_g / 1000 / density / math.pi) ** (1 / 3), density)


def drag_coefficient(reynolds: float) -> float:
    """Drag coefficient of a smooth sphere.

    Parameters
    ----------
    reynolds : float
        By the diameter; more than zero, up to 3e5.

    Notes
    -----
    ``24/Re (1 + 0.15 Re^0.687) + 0.42/(1 + 42500 Re^-1.16)``: Schiller and Naumann (1933, Zeitschrift des VDI 77,
    318) with the term of Clift and Gauvin (1971, Canadian Journal of Chemical Engineering 49, 439) beyond Re 1000.
    """
    inertia, power, turbulent, late, late_power = DRAG
    creeping = 24 / reynolds * (1 + inertia * math.pow(reynolds, power))
    return creeping + turbulent / (1 + late * math.pow(reynolds, late_power))


def sinking_speed(falling: Sequence[Sphere]) -> float:
    """Terminal velocity of spheres that fall as one, metres per second.

    Their weights in water add up and so do their drags; the line's drag and their wakes are left out,
    so a real rig is slower.

    Raises
    ------
    SurveyError
        What floats, or falls beyond the formula.
    """
    weight = sum(sphere.weight_n for sphere in falling)
    if weight <= 0:
        raise SurveyError("This floats: it does not sink.")
    low, high = 0.0, FASTEST_MS
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if sum(_drag_n(sphere, middle) for sphere in falling) < weight:
            low = middle
        else:
            high = middle
    if max(low * sphere.diameter_m / WATER_VISCOSITY for sphere in falling) > MOST_REYNOLDS:
        raise SurveyError("This falls faster than the drag formula holds (Reynolds number over 300 000).")
    return low


def _drag_n(sphere: Sphere, speed: float) -> float:
    reynolds = speed * sphere.diameter_m / WATER_VISCOSITY
    area = math.pi / 4 * sphere.diameter_m**2
    return 0.5 * WATER_DENSITY * speed**2 * area * drag_coefficient(reynolds)


def fall_s(shot: Sequence[tuple[float, float]], hook_depth_m: float, bait: Sphere) -> float:
    """Least time for the bait to reach its depth, seconds.

    Parameters
    ----------
    shot : sequence of (float, float)
        Distance from the hook along the line, metres, and weight, grams; any order.
    hook_depth_m : float
        Depth of the hook when the float stands, metres.
    bait : Sphere

    Notes
    -----
    Each shot draws what hangs below it down until it hangs at its own depth and stops; then the next goes on
    with what is left, at last the bait alone. Every stage is at terminal velocity. Line, hook and the swing
    of the line are left out, so it takes no less than this (ours).

    Examples
    --------
    >>> bulk, spread = ([(0.5, 0.8), (0.3, 0.1)], [(1.5, 0.3), (1.0, 0.3), (0.5, 0.3)])
    >>> [round(fall_s(shot, 2.0, Sphere(0.005, 1050.0))) for shot in (bulk, spread)]
    [6, 9]
    """
    hanging = sorted(shot, reverse=True)
    seconds = reached = 0.0
    for k, (from_hook, _) in enumerate(hanging):
        own = max(hook_depth_m - from_hook, reached)
        if own > reached:
            seconds += (own - reached) / sinking_speed([bait, *(shot_sphere(w) for _, w in hanging[k:])])
        reached = own
    return seconds + max(hook_depth_m - reached, 0.0) / sinking_speed([bait])
