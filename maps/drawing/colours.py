"""Colours of the chart and how depths are cut into tinted bands.

One paper, one ink, one accent, and the water. Knows nothing of pages, pictures or grids.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

PAPER = "#F7F3EA"
INK = "#1E2A2F"
QUIET = "#5B6468"
ACCENT = "#9E3A14"

TINTS = ("#F1EBD3", "#BED8BD", "#8DC3B3", "#68ABA7", "#46929A", "#31798B", "#22607C", "#204768", "#1B2F55")
"""Shallow to deep in equal steps of lightness, so that they keep their order on a grey printer."""

WATER, SURFACE = TINTS[1], TINTS[5]
"""Of a section: the water, and the line of its surface."""
HALO = "#E4EEE0"
"""Round words that stand in a section's water: as light as the water there."""

NAMED = {
    "paper": PAPER,
    "ink": INK,
    "quiet": QUIET,
    "accent": ACCENT,
    "water": WATER,
    "surface": SURFACE,
    "halo": HALO,
}
"""What descriptions of drawings call them."""

FIRST_PALE_LINE = 5
"""Index of the first tint on which lines and numbers turn from ink to paper."""


@dataclass(frozen=True)
class Band:
    """Depths that share a tint.

    Parameters
    ----------
    from_m : float
        Shallow side, metres below datum.
    to_m : float or None
        Deep side; None: whatever is deeper.
    tint : int
        Index into :data:`TINTS`.
    """

    from_m: float
    to_m: float | None
    tint: int

    @property
    def colour(self) -> str:
        """``#RRGGBB``."""
        return TINTS[self.tint]

    @property
    def pale_line(self) -> bool:
        """True where lines over this tint are drawn in paper."""
        return self.tint >= FIRST_PALE_LINE


def bands(levels_m: Iterable[float]) -> tuple[Band, ...]:
    """Cut depths at contours: every one of them, or every second, third and so on.

    Parameters
    ----------
    levels_m : iterable of float
        Depths of the contours, metres below datum; repeats and order do not matter.

    Returns
    -------
    tuple of Band
        From the shallowest down, at most as many as there are tints, with no gaps.

    Examples
    --------
    >>> [(b.from_m, b.to_m, b.tint) for b in bands([1.0, 0.5])]
    [(0.0, 0.5, 0), (0.5, 1.0, 4), (1.0, None, 8)]
    """
    levels = sorted({float(level) for level in levels_m if level > 0})
    every = max(1, math.ceil(len(levels) / (len(TINTS) - 1)))
    cuts = levels[every - 1 :: every]
    ends: list[float | None] = [*cuts, None]
    starts = [0.0, *cuts]
    last = max(len(ends) - 1, 1)
    tints = [round(k * (len(TINTS) - 1) / last) for k in range(len(ends))]
    return tuple(Band(start, end, tint) for start, end, tint in zip(starts, ends, tints, strict=True))


def band_at(depth_m: float, cut: tuple[Band, ...]) -> Band:
    """The band a depth belongs to; a depth on a cut belongs to the deeper one."""
    return next((band for band in reversed(cut) if depth_m >= band.from_m), cut[0])


def rgb(colour: str) -> tuple[int, int, int]:
    """Red, green and blue, 0 to 255.

    Examples
    --------
    >>> rgb("#1E2A2F")
    (30, 42, 47)
    """
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
