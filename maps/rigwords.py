"""Shot, fall, feed, wind and plumbed levels in words, and the same for a program.

Knows nothing of how they were worked out or where they are printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from maps.plumbing import Plumbing
from maps.tables import to_mm
from survey.floats import Rig
from survey.rigging import Advice, Blown
from survey.shot import LEAD_RULE, MAKERS_DIFFER, way_words
from survey.shotting import Placed, Shotting
from survey.spots import Answer
from survey.truncation import RANGE_Z
from survey.units import feet_inches, metres
from survey.venue import BARE_LINE, Float, Venue
from survey.wind import RETURN_FLOW, SIDE_WORDS

WAYS_SHOWN = 3
SHOWN_AS_NOTHING_M = 0.005
STOPS = ", float between stops (two each side for a heavy float, a long cast or a head wind)"
NO_ADVICE_JSON: dict[str, Any] = {"shot": None, "least_fall_s": None, "feed": None, "feed_lands_m": None, "wind": None}


def table_lines(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Rows in columns as wide as their widest cell."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def fine(length_m: float, shows: str) -> str:
    """A term of a sum: quarter inches or centimetres."""
    return feet_inches(length_m, 0.25) if shows == "feet" else metres(length_m)


def float_words(held_by: Float, shows: str) -> str:
    """A float as a ruler and what it takes."""
    if held_by == BARE_LINE:
        return "none: the setting is hook to surface"
    kind = "" if held_by.kind == "fixed" else f", {'slides' if held_by.kind == 'sliding' else 'on a pole'}"
    told = f"{held_by.name}: {fine(held_by.length_m, shows)} above its hold point, {fine(held_by.tip_m, shows)} showing"
    if held_by.mark is None:
        return f"{told}{kind}"
    load = f", {held_by.mark.load_g:g} g in its body" if held_by.mark.is_loaded else ""
    return f"{told}{kind}; takes {held_by.mark.balance_g:g} g{load}"


def advice_lines(advice: Advice, answer: Answer, shows: str) -> list[str]:
    """Shot, fall, feed and wind of one rig, a line each."""
    lines = []
    if advice.shotting is None:
        lines.append('Shot     say what the float takes to have it placed: --mark "3 No 4"')
    else:
        lines += shot_lines(advice.shotting)
    if advice.least_fall_s is not None:
        lines.append(f"Fall     the bait takes {advice.least_fall_s:.0f} s or more to get down")
    lines.append(f"Feed     {advice.feed}; enough to hold fish, not to fill them")
    lines.append(f"         loose feed {landing_words(advice)}")
    if advice.blown is not None:
        lines += wind_lines(advice.blown, shows)
    return lines if answer.settings else []


def landing_words(advice: Advice) -> str:
    """How long loose feed sinks and where it lands."""
    lands = advice.landing
    sinks = f"sinks for {lands.least_s:.0f} to {lands.most_s:.0f} s"
    if lands.most_m == 0:
        return f"{sinks}; say the wind to know how far it drifts"
    return f"{sinks} and lands up to {metres(lands.most_m, 1)} downwind of where it is thrown"


def shot_lines(shotting: Shotting) -> list[str]:
    """Where the shot goes, what else would do, and what to mind."""
    held = f"; {way_words(shotting.locking)} hold the float" if shotting.locking else STOPS
    lines = [f"Shot     {way_words(shotting.way)} down the line{held}{_difference(shotting)}"]
    lines += [f"         {words}" for words in place_words(shotting.placed)]
    others = [way_words(way) for way in shotting.ways[1 : WAYS_SHOWN + 1]]
    if others:
        lines.append(f"         or {'; '.join(others)}")
    return [*lines, f"         {MAKERS_DIFFER}", f"         {LEAD_RULE}"]


def place_words(placed: Sequence[Placed]) -> list[str]:
    """Each place on the line with the shot at it, from the float down."""
    places: dict[str, list[str]] = {}
    for shot in placed:
        places.setdefault(f"{shot.from_hook_m * 100:.0f} cm", []).append(f"{shot.count} {shot.size}")
    return [f"{place} from the hook: {' + '.join(shot)}" for place, shot in places.items()]


def _difference(shotting: Shotting) -> str:
    off = shotting.difference_g
    return "" if off == 0 else f" ({abs(off):.2g} g too {'much' if off > 0 else 'little'}: the nearest there is)"


def wind_lines(blown: Blown, shows: str) -> list[str]:
    """What the wind does at a spot."""
    least, most = blown.drift_m_per_min
    fetch = "" if blown.fetch_m is None else f"; {blown.fetch_m:.0f} m of effective fetch"
    lines = [
        f"Wind     {SIDE_WORDS[blown.side]}{fetch}",
        f"Drift    a float that nothing holds goes {least:.0f} to {most:.0f} m a minute at most. {RETURN_FLOW}",
    ]
    if blown.over_depth_m is None:
        return [*lines, "         To hold it with line on the bottom: not here, too shallow."]
    low, high = (fine(over, shows) for over in blown.over_depth_m)
    return [*lines, f"         To hold it lay {low} to {high} of line on the bottom."]


def advice_json(advice: Advice) -> dict[str, Any]:
    """The same for a program."""
    lands = advice.landing
    return {
        "shot": None if advice.shotting is None else shotting_json(advice.shotting),
        "least_fall_s": None if advice.least_fall_s is None else round(advice.least_fall_s, 1),
        "feed": advice.feed,
        "feed_lands_m": [0.0, round(lands.most_m, 2)],
        "wind": None if advice.blown is None else _blown_json(advice.blown),
    }


def shotting_json(shotting: Shotting) -> dict[str, Any]:
    """Shot on the line for a program; weights in grams."""
    return {
        "way": shotting.way,
        "locking": shotting.locking,
        "balance_g": shotting.balance_g,
        "difference_g": shotting.difference_g,
        "placed": [{"size": p.size, "count": p.count, "from_hook_m": to_mm(p.from_hook_m)} for p in shotting.placed],
    }


def _blown_json(blown: Blown) -> dict[str, Any]:
    return {
        "fetch_m": None if blown.fetch_m is None else round(blown.fetch_m, 1),
        "side": blown.side,
        "drift_m_per_min": [round(drift, 2) for drift in blown.drift_m_per_min],
        "over_depth_m": None if blown.over_depth_m is None else [to_mm(over) for over in blown.over_depth_m],
    }


def from_datum(rise_m: float) -> str:
    """A level against the datum.

    Examples
    --------
    >>> from_datum(-0.234), from_datum(0.001)
    ('0.23 m below the datum', 'at the datum')
    """
    if abs(rise_m) < SHOWN_AS_NOTHING_M:
        return "at the datum"
    return f"{metres(abs(rise_m))} {'above' if rise_m > 0 else 'below'} the datum"


def plumbing_lines(plumbing: Plumbing) -> list[str]:
    """Each plumb with what it says, and which of them cannot be right."""
    lines = []
    for k, (told, plumb, misfit) in enumerate(zip(plumbing.told, plumbing.plumbs, plumbing.found.misfits, strict=True)):
        wrong = "; set aside: it does not fit the others" if k == plumbing.found.wrong else ""
        far = "; outside what was to be expected in 19 of 20 cases" if abs(misfit) > RANGE_Z else ""
        lines.append(f"Plumb    {told}: the level {from_datum(plumb.rise_m)}{far}{wrong}")
    if plumbing.found.disagree:
        one = len(plumbing.plumbs) == 1
        lines.append(
            "This is far from any level recorded: plumb it again, and at a second spot."
            if one
            else "These do not agree: one is wrong. Plumb another spot to tell which."
        )
    return lines


def plumbing_json(plumbing: Plumbing, venue: Venue) -> dict[str, Any]:
    """A plumbed level for a program."""
    found = plumbing.found
    return {
        "rise_m": to_mm(found.rise_m),
        "sd_m": to_mm(found.sd_m),
        "level_m": None if venue.mark.kind is None else to_mm(venue.mark.shown_m(found.rise_m)),
        "prior": {"rise_m": to_mm(plumbing.prior.rise_m), "sd_m": to_mm(plumbing.prior.sd_m)},
        "plumbs": [
            {"told": told, "rise_m": to_mm(plumb.rise_m), "misfit_sd": round(misfit, 2), "set_aside": k == found.wrong}
            for k, (told, plumb, misfit) in enumerate(zip(plumbing.told, plumbing.plumbs, found.misfits, strict=True))
        ],
        "disagree": found.disagree,
    }


RIG_SHOT: dict[Rig, str] = {
    Rig.SLOW: "spread along the line",
    Rig.FAST: "together in the lower half, small shot below",
    Rig.HELD: "together in the lower half, the last on the bottom",
}
