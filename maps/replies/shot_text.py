"""Shot on the line in words, and the same for a program."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from maps.content.rounding import to_mm
from survey.spots.float_setting import RigStyle
from survey.tackle.shotting import Placed, Shotting
from survey.units import feet_inches
from survey.units.shot_sizes import LEAD_RULE, MAKERS_DIFFER, way_words

WAYS_SHOWN = 3

STOPS = ", float between stops (two each side for a heavy float, a long cast or a head wind)"


def shot_lines(shotting: Shotting, shows: str) -> list[str]:
    """Where the shot goes, what else would do, and what to mind."""
    held = f"; {way_words(shotting.locking)} hold the float" if shotting.locking else STOPS
    lines = [f"Shot     {way_words(shotting.way)} down the line{held}{_difference(shotting)}"]
    lines += [f"         {words}" for words in place_words(shotting.placed, shows)]
    others = [way_words(way) for way in shotting.ways[1 : WAYS_SHOWN + 1]]
    if others:
        lines.append(f"         or {'; '.join(others)}")
    return [*lines, f"         {MAKERS_DIFFER}", f"         {LEAD_RULE}"]


def place_words(placed: Sequence[Placed], shows: str) -> list[str]:
    """Each place on the line with the shot at it, from the float down."""
    places: dict[str, list[str]] = {}
    for shot in placed:
        up = feet_inches(shot.from_hook_m) if shows == "feet" else f"{shot.from_hook_m * 100:.0f} cm"
        places.setdefault(up, []).append(f"{shot.count} {shot.size}")
    return [f"{place} from the hook: {' + '.join(shot)}" for place, shot in places.items()]


def _difference(shotting: Shotting) -> str:
    off = shotting.difference_g
    return "" if off == 0 else f" ({abs(off):.2g} g too {'much' if off > 0 else 'little'}: the nearest there is)"


def shotting_json(shotting: Shotting) -> dict[str, Any]:
    """Shot on the line for a program; weights in grams."""
    return {
        "way": shotting.way,
        "locking": shotting.locking,
        "balance_g": shotting.balance_g,
        "difference_g": shotting.difference_g,
        "placed": [{"size": p.size, "count": p.count, "from_hook_m": to_mm(p.from_hook_m)} for p in shotting.placed],
    }


RIG_SHOT: dict[RigStyle, str] = {
    RigStyle.SLOW: "spread along the line",
    RigStyle.FAST: "together in the lower half, small shot below",
    RigStyle.HELD: "together in the lower half, the last on the bottom",
}
