"""Sentences about a peg, the same on its page and in the guide."""

from __future__ import annotations

from maps.content.level_words import level_words
from maps.content.peg_facts import DENSITY_WITHIN_M, PegFacts
from maps.content.spot_rows import spot_row
from maps.language.catalogue import Words, catalogue_of
from survey.bed.margins import is_steep
from survey.records.venue import Peg, Venue
from survey.spots.answer import Answer
from survey.spots.questions import usual_float
from survey.units import clock_text

STOPS_TOLD = 6
PLAIN_ACCESS = frozenset({"yes", "y", "true", "x", "1"})


def peg_row(venue: Venue, number: int, answer: Answer, bottom: str) -> list[tuple[str, str]]:
    """A row of the spots: each cell with its first line and what stands under it."""
    (name, where), (depth, second), *settings = spot_row(venue, answer)
    said = catalogue_of(venue)
    if not answer.state and answer.lower_m is not None and answer.upper_m is not None:
        second = f"({said.length(answer.lower_m, venue.shows)} – {said.length(answer.upper_m, venue.shows)})"
    return [(f"{number} {name}", ", ".join(filter(None, (where, bottom)))), (depth, second), *settings]


def spots_note(venue: Venue, shown_m: float) -> str:
    """For which float and level the settings beside it hold."""
    said, level = catalogue_of(venue), level_words(venue, shown_m).rstrip(".")
    return said.say("peg_spots_note", float=said.float_name(usual_float(venue)), level=level)


def urgent_words(venue: Venue, facts: PegFacts, shown_m: float) -> list[str]:
    """What must be seen before anything else: a closed peg, a steep margin."""
    found = [catalogue_of(venue)["peg_closed"]] if facts.peg.is_closed else []
    if is_steep(facts.margin["upper_m"], venue.mark.rise_m(shown_m)):
        found.append(margin_words(venue, facts, shown_m))
    return found


def facing_words(venue: Venue, peg: Peg) -> str:
    """How far the peg's straight out may be off where it was estimated; empty where it is declared."""
    if peg.facing_declared:
        return ""
    return catalogue_of(venue).say("facing_guessed", peg=peg.name, sd=f"{peg.facing_sd_deg:.0f}")


def margin_words(venue: Venue, facts: PegFacts, shown_m: float) -> str:
    """What is known of the depth at the angler's feet; never that it is safe."""
    upper, measured, said = facts.margin["upper_m"], facts.margin["measured"], catalogue_of(venue)
    rise = venue.mark.rise_m(shown_m)
    depth = "" if upper is None else said.length(max(upper + rise, 0.0), venue.shows)
    parts = []
    if is_steep(upper, rise):
        parts.append(said.say("margin_steep", depth=depth))
    elif measured and depth:
        parts.append(said.say("margin_measured", depth=depth))
    if not measured:
        parts.append(said["margin_unmeasured"])
    return " ".join(parts)


def fact_words(venue: Venue, facts: PegFacts, shown_m: float) -> list[tuple[str, str, str]]:
    """Terms, the text of each, and a name by which the program finds it (empty: it does not change)."""
    peg, said = facts.peg, catalogue_of(venue)
    bearing = f"{peg.facing_deg:.0f}°"
    straight = f"{bearing}." if peg.facing_declared else said.say("peg_straight_out_guessed", bearing=bearing)
    facts = [
        (said["peg_margin"], margin_words(venue, facts, shown_m), "margin"),
        (said["peg_access"], access_words(said, peg), ""),
        (said["peg_bottom"], bottom_words(said, facts), ""),
        (said["peg_readings"], readings_words(venue, facts), ""),
        (said["peg_straight_out"], straight, ""),
    ]
    return [(term, catalogue_of, key) for term, catalogue_of, key in facts if catalogue_of]


def bottom_words(said: Words, facts: PegFacts) -> str:
    """The bottom felt, and where weed or a snag kept the plummet from it."""
    felt = ", ".join(f"{word} ({count})" for word, count in facts.bottoms)
    parts = [f"{felt}." if felt else "", stop_words(said, facts.stops)]
    return " ".join(filter(None, parts)) or said["peg_bottom_none"]


def stop_words(said: Words, stops: tuple[tuple[str, float, float], ...]) -> str:
    """Each weed bed, snag and bed not reached with its place from the peg; empty where there is none."""
    places = [
        said.say(f"told_{stop}_at", clock=clock_text(angle), distance=said.metres(far, 1))
        for stop, angle, far in stops[:STOPS_TOLD]
    ]
    more = [said.say("told_more_stops", count=len(stops) - STOPS_TOLD)] if len(stops) > STOPS_TOLD else []
    return f"{'; '.join([*places, *more])}." if places else ""


def access_words(said: Words, peg: Peg) -> str:
    """How one gets there and what the club notes of the peg."""
    parts = [said["peg_closed"]] if peg.is_closed else []
    if peg.is_accessible:
        plain = peg.access.strip().casefold() in PLAIN_ACCESS
        parts.append(said["peg_accessible_plain"] if plain else said.say("peg_accessible", access=peg.access))
    if peg.aliases:
        parts.append(said.say("peg_aliases", aliases=", ".join(peg.aliases)))
    if peg.note:
        parts.append(f"{peg.note[:1].upper()}{peg.note[1:].rstrip('.')}.")
    return " ".join(parts) or said["peg_access_none"]


def readings_words(venue: Venue, facts: PegFacts) -> str:
    """How many readings there are, how old, how close together."""
    said, spans = catalogue_of(venue), venue.spans
    days = said.days((facts.first_day, facts.last_day) if facts.first_day else None)
    own = said.say("peg_readings_own", count=facts.own, days=days)
    parts = [own if facts.own else said["peg_readings_none"]]
    if facts.area_per_reading_m2 is not None:
        water, within = spans.area(facts.area_per_reading_m2), said.whole_distance(DENSITY_WITHIN_M, spans)
        parts.append(said.say("peg_readings_near", within=within, water=water))
    return " ".join(parts)
