"""Shot, fall, feed, wind and plumbed levels in words, and the same for a program.

Knows nothing of how they were worked out or where they are printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from maps.content.rounding import to_mm
from maps.replies.shot_text import shot_lines, shotting_json
from survey.records.floats import BARE_LINE, Float
from survey.records.venue import Venue
from survey.spots.answer import Answer
from survey.tackle.advice import Advice, Blown
from survey.tackle.wind import RETURN_FLOW, SIDE_WORDS
from survey.units import feet_inches, format_metres

NO_ADVICE_JSON: dict[str, Any] = {"shot": None, "least_fall_s": None, "feed": None, "feed_lands_m": None, "wind": None}


def table_lines(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Rows in columns as wide as their widest cell."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def fine(length_m: float, shows: str) -> str:
    """A term of a sum: quarter inches or centimetres."""
    return feet_inches(length_m, 0.25) if shows == "feet" else format_metres(length_m)


def float_words(held_by: Float, shows: str) -> str:
    """A float as a ruler and what it takes."""
    if held_by == BARE_LINE:
        return "none: the setting is from hook to surface"
    kind = "" if held_by.kind == "fixed" else f", {'slides' if held_by.kind == 'sliding' else 'on a pole'}"
    text = (
        f"{held_by.name}: {fine(held_by.length_m, shows)} above where it is fixed, {fine(held_by.tip_m, shows)} showing"
    )
    if held_by.mark is None:
        return f"{text}{kind}"
    load = f", {held_by.mark.load_g:g} g in its body" if held_by.mark.is_loaded else ""
    return f"{text}{kind}; takes {held_by.mark.balance_g:g} g{load}"


def advice_lines(advice: Advice, answer: Answer, venue: Venue) -> list[str]:
    """Shot, fall, feed and wind of one rig, a line each."""
    lines = []
    if advice.shotting is None:
        lines.append('Shot     enter the shot it takes to see where it goes: --mark "3 No 4"')
    else:
        lines += shot_lines(advice.shotting, venue.shows)
    if advice.least_fall_s is not None:
        lines.append(f"Fall     the bait takes {advice.least_fall_s:.0f} s or more to sink")
    lines.append(f"Feed     {advice.feed}; enough to hold fish, not to fill them")
    lines.append(f"         loose feed {landing_words(advice, venue)}")
    if advice.blown is not None:
        lines += wind_lines(advice.blown, venue)
    return lines if answer.settings else []


def landing_words(advice: Advice, venue: Venue) -> str:
    """How long loose feed sinks and where it lands."""
    lands = advice.landing
    sinks = f"sinks for {lands.least_s:.0f} to {lands.most_s:.0f} s"
    if lands.most_m == 0:
        return f"{sinks}; add --wind to see the drift"
    return f"{sinks} and lands up to {venue.spans.shown(lands.most_m)} downwind of where it is thrown"


def wind_lines(blown: Blown, venue: Venue) -> list[str]:
    """What the wind does at a spot."""
    fetch = "" if blown.fetch_m is None else f"; {venue.spans.whole(blown.fetch_m)} of effective fetch"
    lines = [
        f"Wind     {SIDE_WORDS[blown.side]}{fetch}",
        f"Drift    a free float drifts {drift_words(*blown.drift_m_per_min, venue)}. {RETURN_FLOW}",
    ]
    if blown.over_depth_m is None:
        return [*lines, "         Too shallow here to hold it with line on the bottom."]
    low, high = (fine(over, venue.shows) for over in blown.over_depth_m)
    return [*lines, f"         To hold it, lay {low} to {high} of line on the bottom."]


def drift_words(least_m: float, most_m: float, venue: Venue) -> str:
    """How far a float drifts, from least to most."""
    return f"{least_m / venue.spans.worth_m:.0f} to {venue.spans.whole(most_m)} a minute at most"


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


def _blown_json(blown: Blown) -> dict[str, Any]:
    return {
        "fetch_m": None if blown.fetch_m is None else round(blown.fetch_m, 1),
        "side": blown.side,
        "drift_m_per_min": [round(drift, 2) for drift in blown.drift_m_per_min],
        "over_depth_m": None if blown.over_depth_m is None else [to_mm(over) for over in blown.over_depth_m],
    }
