"""The answer for one spot in the words of the bank, and the same answer for a program.

Knows nothing of how it was worked out or where it is printed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from maps.content.breakdown import terms
from maps.content.rounding import to_mm
from maps.language.catalogue import ENGLISH
from maps.replies.levels import far_level, from_datum, level_of
from maps.replies.plumbs import Plumbing, plumbing_json
from maps.replies.rig_text import NO_ADVICE_JSON, advice_json, advice_lines, fine, float_words, table_lines
from survey.bed.margins import is_steep
from survey.records.floats import BARE_LINE
from survey.records.venue import Venue
from survey.spots.answer import CAUTION, Answer
from survey.spots.float_setting import FloatSetting, RigStyle, rounded
from survey.spots.questions import Question
from survey.tackle.advice import Advice, Tackle, advised
from survey.tackle.wind import Wind
from survey.units import INCH_M, clock_text, feet_inches, format_metres, shown_length

TRIES_SHOWN = 5
HERE_M = 0.5
"""A plumb this near counts as the chosen spot (ours)."""
STRAIGHT_OUT_DEG = 0.5


@dataclass(frozen=True)
class Reply:
    """An answer with its question.

    Parameters
    ----------
    venue : Venue
    question : Question
    answer : Answer
    days : (str, str) or None
        First and last day of the readings.
    rig : RigStyle or None
        The one asked for; None: all, the first leads.
    level_given : bool
    facing_matters : bool
        The direction was said from straight out.
    margin_upper_m : float or None
        How deep the water at the peg's edge may be at datum; None: not known.
    recorded_m : (float, float) or None
        The lowest and highest level recorded, metres.
    tackle : Tackle
    wind : Wind or None
    plumbing : Plumbing or None
        What the level was plumbed from; None: it was read off the mark, or taken.
    """

    venue: Venue
    question: Question
    answer: Answer
    days: tuple[str, str] | None
    rig: RigStyle | None = None
    tackle: Tackle = field(default_factory=Tackle)
    wind: Wind | None = None
    plumbing: Plumbing | None = None
    level_given: bool = True
    facing_matters: bool = True
    margin_upper_m: float | None = None
    recorded_m: tuple[float, float] | None = None

    @property
    def chosen(self) -> FloatSetting | None:
        """The setting shown first: of the rig chosen, else of the first."""
        wanted = self.rig or next(iter(RigStyle))
        return next((setting for setting in self.answer.settings if setting.rig is wanted), None)

    @cached_property
    def advice(self) -> dict[RigStyle, Advice | None]:
        """What is shown about each rig beyond its setting."""
        return {s.rig: advised(self.venue, self.answer, s, self.tackle, self.wind) for s in self.answer.settings}

    def cautions(self) -> list[str]:
        """What the angler should know, in the order it should be read."""
        return [
            words for words in (*self._about_place(), *self._about_setting(), *self.venue.cautions, CAUTION) if words
        ]

    def _about_place(self) -> list[str]:
        peg, mark, answer = self.question.peg, self.venue.mark, self.answer
        said = [answer.state]
        if peg.is_closed:
            said.append(f"Peg {peg.name} is closed.")
        if self.facing_matters and not peg.facing_declared:
            said.append(
                f"Facing of peg {peg.name} estimated from the bank: usually within {peg.facing_sd_deg:.0f}°, "
                f"sometimes {2 * peg.facing_sd_deg:.0f}°."
            )
        if is_steep(self.margin_upper_m, answer.rise_m):
            deep = shown_length(self.margin_upper_m + answer.rise_m, self.venue.shows)
            said.append(f"Steep margin: up to {deep} of water at the edge.")
        if self.plumbing is not None:
            return [*said, *self._about_own_plumb(self.plumbing)]
        if mark.kind is None:
            said.append("No level mark is declared: depths are not corrected for today's level.")
        elif not self.level_given:
            said.append(
                f"No --level given: assumed at the datum, the {mark.kind} at {level_of(self.venue, mark.datum_m)}."
            )
        else:
            said.append(far_level(self.venue, self.recorded_m, self.question.shown_m))
        return said

    def _about_own_plumb(self, plumbing: Plumbing) -> list[str]:
        """Where this very spot was plumbed, the plumb counts for more than the bed."""
        spot = self.answer.spot
        return [
            "You plumbed this spot: use your own depth here, "
            f"{_shown(self, feet_inches(p.found_m), format_metres(p.found_m))} of water."
            for k, p in enumerate(plumbing.plumbs)
            if k != plumbing.found.wrong and math.hypot(p.easting - spot.easting, p.northing - spot.northing) < HERE_M
        ]

    def _about_setting(self) -> list[str]:
        setting = self.chosen
        if setting is None or setting.setting_m is None:
            return []
        said = []
        if self.answer.held_by == BARE_LINE:
            said.append("No float chosen: the setting is the length from hook to surface.")
        advice = self.advice[setting.rig]
        if advice is not None and advice.sliding:
            said.append(f"{advice.sliding[:1].upper()}{advice.sliding[1:]}.")
        return said


def reply_json(reply: Reply) -> dict[str, Any]:
    """The answer as one object; lengths in metres to the millimetre, depths positive down."""
    answer, spot, peg = reply.answer, reply.answer.spot, reply.question.peg
    chosen = reply.chosen
    return {
        "venue": reply.venue.name,
        "peg": peg.name,
        "clock": clock_text(spot.angle_deg),
        "angle_deg": round(spot.angle_deg, 2) + 0.0,
        "bearing_deg": round(answer.bearing_deg, 2) % 360.0,
        "distance_m": to_mm(spot.distance_m),
        "lon": round(answer.lon, 7),
        "lat": round(answer.lat, 7),
        "easting_m": to_mm(spot.easting),
        "northing_m": to_mm(spot.northing),
        "depth_m": to_mm(answer.depth_m),
        "datum_depth_m": to_mm(answer.datum_depth_m),
        "sd_m": to_mm(answer.sd_m),
        "lower_m": to_mm(answer.lower_m),
        "upper_m": to_mm(answer.upper_m),
        "setting_m": to_mm(chosen.setting_m) if chosen else None,
        "rig": chosen.rig.value if chosen else None,
        "surveyed": answer.surveyed,
        "state": answer.state,
        "level_m": to_mm(reply.question.shown_m),
        "rise_m": to_mm(answer.rise_m),
        "datum": ENGLISH.datum(reply.venue.mark),
        "days": list(reply.days) if reply.days else None,
        "level_sd_m": to_mm(answer.rise_sd_m),
        "float": answer.held_by.name,
        "float_length_m": to_mm(answer.held_by.length_m),
        "tip_m": to_mm(answer.held_by.tip_m),
        "cautions": reply.cautions(),
        "settings": [_setting_json(reply, setting) for setting in answer.settings],
        "plumbing": None if reply.plumbing is None else plumbing_json(reply.plumbing, reply.venue),
    }


def _setting_json(reply: Reply, setting: FloatSetting) -> dict[str, Any]:
    value, advice = setting.setting_m, reply.advice[setting.rig]
    return {
        "rig": setting.rig.value,
        "setting_m": to_mm(value),
        "lower_m": to_mm(setting.lower_m),
        "upper_m": to_mm(setting.upper_m),
        "off_bottom_m": to_mm(setting.off_bottom_m),
        "set_ft_in": None if value is None else _feet(value, setting.rig),
        "set_m": None if value is None else to_mm(_cm(value, setting.rig)),
        "why_not": setting.why_not,
        "try_next_m": [] if advice is None else [to_mm(tried) for tried in advice.tries],
        **(NO_ADVICE_JSON if advice is None else advice_json(advice)),
    }


def _feet(setting_m: float, rig: RigStyle) -> str:
    return feet_inches(rounded(setting_m, rig, INCH_M / 2))


def _cm(setting_m: float, rig: RigStyle) -> float:
    return rounded(setting_m, rig, 0.01)


def reply_text(reply: Reply) -> tuple[str, list[str]]:
    """The answer for a reader: the line that leads, and the lines that follow."""
    rest = [
        _where(reply),
        "",
        *_why(reply),
        _level(reply),
        f"Float    {float_words(reply.answer.held_by, reply.venue.shows)}",
        f"Survey   {ENGLISH.days(reply.days)}; depths are for {ENGLISH.datum(reply.venue.mark)}",
    ]
    if reply.answer.settings:
        rest += ["", *_table(reply)]
    advice = reply.chosen and reply.advice[reply.chosen.rig]
    if advice:
        rest += ["", *advice_lines(advice, reply.answer, reply.venue)]
    return _lead(reply), [*rest, "", *reply.cautions()]


def _shown(reply: Reply, feet: str, metric: str) -> str:
    return f"{feet} ({metric})" if reply.venue.shows == "feet" else f"{metric} ({feet})"


def _span(reply: Reply, lower_m: float, upper_m: float) -> str:
    feet = f"{feet_inches(lower_m)} to {feet_inches(upper_m)}"
    return _shown(reply, feet, f"{lower_m:.2f} to {format_metres(upper_m)}")


def _lead(reply: Reply) -> str:
    setting, answer = reply.chosen, reply.answer
    if setting is None:
        return answer.state or "No setting here."
    if setting.setting_m is None or setting.lower_m is None or setting.upper_m is None:
        return f"No {setting.rig.value} setting here: {_why_not(setting)}."
    set_to = _shown(reply, _feet(setting.setting_m, setting.rig), format_metres(_cm(setting.setting_m, setting.rig)))
    return f"Set {set_to}. Expect {_span(reply, setting.lower_m, setting.upper_m)}. Plumb before you fish."


def _why_not(setting: FloatSetting) -> str:
    return setting.why_not.removeprefix("not here: ")


def _where(reply: Reply) -> str:
    answer, spot = reply.answer, reply.answer.spot
    off = spot.angle_deg
    side = "straight out" if abs(off) < STRAIGHT_OUT_DEG else f"{abs(off):.0f}° {'right' if off > 0 else 'left'}"
    aim = f"{clock_text(off)} ({side}, bearing {answer.bearing_deg:.0f}°)"
    far = reply.venue.distances.shown(spot.distance_m)
    how = "" if reply.question.by in far else f" ({reply.question.by})"
    return f"{reply.venue.name}, peg {reply.question.peg.name}, {aim}, {far}{how}"


def _why(reply: Reply) -> list[str]:
    setting, depth = reply.chosen, reply.answer.depth
    if depth is None:
        return []
    if depth.depth_m <= 0:
        return [
            (
                f"Depth    {shown_length(-depth.depth_m, reply.venue.shows)} above the water at this level; "
                f"bed ± {shown_length(depth.sd_m, reply.venue.shows)} (1 sd)"
            )
        ]
    today = _shown(reply, feet_inches(depth.depth_m), format_metres(depth.depth_m))
    met = _span(reply, depth.lower_m, depth.upper_m)
    deep = f"Depth    {today} today; a cast may find {met}; bed ± {shown_length(depth.sd_m, reply.venue.shows)} (1 sd)"
    if setting is None or setting.setting_m is None:
        return [deep]
    return [deep, f"Why      {_sum(reply, setting)}"]


def _sum(reply: Reply, setting: FloatSetting) -> str:
    """The setting as a sum that adds up as it stands."""
    shows = reply.venue.shows
    parts, total = terms(reply.answer, setting, shows)
    first, *rest = parts
    words = f"{fine(first.value_m, shows)} {first.words}" + "".join(
        f" {'+' if term.value_m >= 0 else '−'} {fine(abs(term.value_m), shows)} {term.words}" for term in rest
    )
    return f"{words} = {fine(total, shows)}"


def _level(reply: Reply) -> str:
    mark, rise = reply.venue.mark, reply.answer.rise_m
    shown_now = level_of(reply.venue, reply.question.shown_m)
    side = from_datum(reply.venue, rise)
    if reply.plumbing is not None:
        shown = "" if mark.kind is None else f"; the {mark.kind} would show {shown_now}"
        return f"Level    by your plumb {side}, ± {level_of(reply.venue, reply.plumbing.half_range_m)} (95 %){shown}"
    if mark.kind is None:
        return "Level    not known: no level mark"
    return f"Level    the {mark.kind} shows {shown_now}: {side}"


def _table(reply: Reply) -> list[str]:
    return table_lines([("Rig", "Set", "Expect", "Try next"), *(_row(reply, s) for s in reply.answer.settings)])


def _row(reply: Reply, setting: FloatSetting) -> tuple[str, str, str, str]:
    rig = setting.rig
    if setting.setting_m is None or setting.lower_m is None or setting.upper_m is None:
        return rig.value, "none", _why_not(setting), ""
    advice = reply.advice[rig]
    tries = advice.tries[:TRIES_SHOWN] if advice else ()
    if reply.venue.shows == "feet":
        expect = f"{feet_inches(setting.lower_m)} to {feet_inches(setting.upper_m)}"
        return rig.value, _feet(setting.setting_m, rig), expect, ", ".join(_feet(tried, rig) for tried in tries)
    expect = f"{setting.lower_m:.2f} to {format_metres(setting.upper_m)}"
    return (
        rig.value,
        format_metres(_cm(setting.setting_m, rig)),
        expect,
        ", ".join(f"{_cm(tried, rig):.2f}" for tried in tries),
    )
