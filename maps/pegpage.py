"""The page of one peg: one HTML file that works where it lies, and follows today's level with the map's own program.

What it says without a program is worked out here and stands in the page; the program only takes its place.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
from markupsafe import Markup

from maps.enquiry import question_of_spot, spot_answers, usual_float
from maps.fandrawing import Fan, Lake
from maps.frame import LocalFrame
from maps.page_body import embedded, filled, frame_values, level_words, own_text, spot_row
from maps.page_data import finite, grid_data, shared_data
from maps.pegfacts import DENSITY_WITHIN_M, PegFacts, bottom_near, peg_facts
from maps.section import Profile, Rigged, casts_of, rigged, section
from maps.webmap import HASHES, with_policy
from maps.words import Words, words_of
from survey.bed import Bed
from survey.fixes import Geometry
from survey.floats import Rig
from survey.margins import is_steep
from survey.spots import Answer, Spot
from survey.units import clock_text
from survey.venue import Peg, Venue
from survey.workup import WorkedSurvey

SCRIPTS = (
    "dom.js", "numbers.js", "reading.js", "bed.js", "settings.js", "shot.js", "fall.js", "wind.js", "level.js",
    "profile.js", "rigging.js", "answer.js", "tackle.js", "remember.js", "panel.js", "plumbform.js", "pegsheet.js",
)  # fmt: skip
ROOM = 1.3
"""The page's grid goes so many times as far as the reach, so that a stray cast still meets it."""
ROOM_M = 6.0
PLAIN_ACCESS = frozenset({"yes", "y", "true", "x", "1"})


Links = tuple[tuple[str, str], ...]
"""Where a page leads: addresses relative to it, and their words."""


def peg_page(lake: Lake, frame: LocalFrame, peg: Peg, shown_m: float, links: Links) -> str:
    """The page of a peg as one text, the same for the same survey to the byte.

    Parameters
    ----------
    lake : Lake
    frame : LocalFrame
    peg : Peg
    shown_m : float
        What the level mark shows for what stands in the page, metres.
    links : tuple of (str, str)
    """
    worked, said = lake.worked, words_of(lake.worked.venue)
    venue = worked.venue
    facts = peg_facts(worked, peg)
    answers = tuple(answer for answer in spot_answers(worked, shown_m) if answer.spot.peg == peg.name)
    spots = tuple(answer.spot for answer in answers)
    bottoms = [bottom_near(worked, spot) for spot in spots]
    title = said.say("peg_page_of", peg=peg.name, venue=venue.name)
    values = {
        **frame_values(venue, worked.days), "title": title, "heading": said.say("peg_title", peg=peg.name),
        "policy": HASHES, "style": Markup(own_text("page.css") + own_text("peg.css")),  # noqa: S704 - the page's own
        "ways": links, "urgent": urgent_words(venue, facts, shown_m),
        "heads": [said["spot_where"], said["spot_water"], *(said.rig(rig) for rig in Rig)],
        "rows": [peg_row(venue, k, *pair) for k, pair in enumerate(zip(answers, bottoms, strict=True), start=1)],
        "spots_note": spots_note(venue, shown_m), "fan": Markup(_fan(lake, peg, spots)),  # noqa: S704 - escaped there
        "fan_note": said.say("peg_fan_note", bearing=f"{peg.facing_deg:.0f}°"),
        "casts": [_cast(worked, peg, answer, shown_m) for answer in casts_of(answers)]
        or [_straight(worked, peg, shown_m)],
        "facts": fact_words(venue, facts, shown_m), "level": level_words(venue, shown_m),
        "newest": facts.last_day,
        "data": Markup(embedded(_data(worked, frame, peg, shown_m, bottoms))),  # noqa: S704 - holds no markup
        "program": Markup(_program()),  # noqa: S704 - the page's own
    }  # fmt: skip
    return with_policy(filled("peg.html", values))


@cache
def _program() -> str:
    head = '"use strict";\nconst DATA = JSON.parse(document.getElementById("survey-data").textContent);\n'
    parts = "\n".join(own_text(name) for name in SCRIPTS)
    return f"(function () {{\n{head}{thinned(parts)}\n}})();"


def thinned(program: str) -> str:
    """A program without its indents, empty lines and lines of remark: a peg's page is kept small."""
    lines = (line.strip() for line in program.splitlines())
    return "\n".join(line for line in lines if line and not line.startswith("//"))


def _data(worked: WorkedSurvey, frame: LocalFrame, peg: Peg, shown_m: float, bottoms: list[str]) -> dict[str, Any]:
    """The peg's own share of what the map's page knows; the grid is the same grid, cut round the peg."""
    alone = replace(worked.fieldbook, venue=replace(worked.venue, pegs=(peg,)))
    own = tuple(spot for spot in worked.spots if spot.peg == peg.name)
    shared = shared_data(replace(worked, fieldbook=alone, spots=own), shown_m, frame)
    spots = [{**spot, "bottom": bottom} for spot, bottom in zip(shared["spots"], bottoms, strict=True)]
    grid = grid_data(cut_round(worked.bed, peg, ROOM * worked.venue.limits.reach_m + ROOM_M), raw=False)
    deepest = float(np.nanmax(worked.bed.depth_m))
    return finite({**shared, "spots": spots, "grid": grid, "deepest_m": deepest})


def cut_round(bed: Bed, peg: Peg, room_m: float) -> Bed:
    """The cells of a bed within a square round a peg; what lies inside is answered as by the whole.

    Parameters
    ----------
    bed : Bed
    peg : Peg
    room_m : float
        Half the side of the square.
    """
    grid = bed.grid
    j0, j1 = _cells(peg.easting - grid.west, room_m, grid.cell_m, grid.nx)
    i0, i1 = _cells(peg.northing - grid.south, room_m, grid.cell_m, grid.ny)
    rows, columns = slice(i0, i1), slice(j0, j1)
    cut = replace(grid, west=grid.west + j0 * grid.cell_m, south=grid.south + i0 * grid.cell_m, ny=i1 - i0, nx=j1 - j0)
    return replace(
        bed, grid=cut, depth_mm=bed.depth_mm[rows, columns], sd_mm=bed.sd_mm[rows, columns],
        beyond_reach=bed.beyond_reach[rows, columns], split=bed.split[i0 : i1 - 1, j0 : j1 - 1],
    )  # fmt: skip


def _cells(middle_m: float, room_m: float, cell_m: float, count: int) -> tuple[int, int]:
    """First and past-last cell of a stretch, at least two of them."""
    first = min(max(int((middle_m - room_m) // cell_m), 0), max(count - 2, 0))
    return first, max(min(int((middle_m + room_m) // cell_m) + 1, count), min(first + 2, count))


def peg_row(venue: Venue, number: int, answer: Answer, bottom: str) -> list[tuple[str, str]]:
    """A row of the spots: each cell with what is said first and what stands under it."""
    (name, where), (depth, second), *settings = spot_row(venue, answer)
    said = words_of(venue)
    if not answer.state and answer.lower_m is not None and answer.upper_m is not None:
        second = f"({said.length(answer.lower_m, venue.shows)} – {said.length(answer.upper_m, venue.shows)})"
    return [(f"{number} {name}", ", ".join(filter(None, (where, bottom)))), (depth, second), *settings]


def spots_note(venue: Venue, shown_m: float) -> str:
    """For which float and level the settings beside it hold."""
    said, level = words_of(venue), level_words(venue, shown_m).rstrip(".")
    return said.say("peg_spots_note", float=said.float_name(usual_float(venue)), level=level)


def _fan(lake: Lake, peg: Peg, spots: tuple[Spot, ...]) -> str:
    return Fan(lake, peg, spots).drawn(words_of(lake.worked.venue).say("peg_fan_alt", peg=peg.name))


def _cast(worked: WorkedSurvey, peg: Peg, answer: Answer, shown_m: float) -> dict[str, Any]:
    question = question_of_spot(worked.venue, answer.spot, shown_m, usual_float(worked.venue))
    return _drawn(worked, peg, answer.spot, rigged(question, worked.venue, worked.bed), shown_m)


def _straight(worked: WorkedSurvey, peg: Peg, shown_m: float) -> dict[str, Any]:
    """For a peg without spots: the section straight out, without a rig."""
    far = worked.venue.limits.reach_m / 2
    e, n = Geometry(worked.venue.crs).cast(peg.lon, peg.lat, peg.facing_deg, far)
    return _drawn(worked, peg, Spot(peg.name, "", 0.0, far, float(e), float(n)), None, shown_m)


def _drawn(worked: WorkedSurvey, peg: Peg, spot: Spot, rig: Rigged | None, shown_m: float) -> dict[str, Any]:
    said = words_of(worked.venue)
    profile = cast_profile(worked, peg, spot, shown_m)
    title = said.say("peg_profile", clock=clock_text(spot.angle_deg))
    return {
        "angle_deg": spot.angle_deg, "far_m": profile.far_m, "title": title,
        "drawing": Markup(profile.drawn(f"{said.say('peg_title', peg=peg.name)}. {title}", rig)),  # noqa: S704
        "note": profile_note(worked.venue, profile, rig),
    }  # fmt: skip


def profile_note(venue: Venue, profile: Profile, rig: Rigged | None) -> str:
    """How a section is to be read, and which rig stands in it."""
    said = words_of(venue)
    times = said.decimal(f"{profile.exaggeration:.1f}")
    if rig is None or rig.setting is None:
        return said.say("peg_profile_bare", times=times)
    return said.say("peg_profile_note", times=times, rig=said.rig(rig.setting.rig, within=True))


def cast_profile(worked: WorkedSurvey, peg: Peg, spot: Spot, shown_m: float) -> Profile:
    """The drawing of the section through a spot."""
    venue = worked.venue
    rise = venue.mark.rise_m(shown_m)
    along = section(venue, worked.bed, peg, spot.angle_deg, spot.distance_m, rise)
    return Profile(along, peg.name, venue.shows, words_of(venue))


def urgent_words(venue: Venue, facts: PegFacts, shown_m: float) -> list[str]:
    """What must be seen before anything else: a closed peg, a steep margin."""
    found = [words_of(venue)["peg_closed"]] if facts.peg.is_closed else []
    if is_steep(facts.margin["upper_m"], venue.mark.rise_m(shown_m)):
        found.append(margin_words(venue, facts, shown_m))
    return found


def margin_words(venue: Venue, facts: PegFacts, shown_m: float) -> str:
    """What is known of the depth at the angler's feet; never that it is safe."""
    upper, measured, said = facts.margin["upper_m"], facts.margin["measured"], words_of(venue)
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
    """Terms, what is said of each, and a name by which the program finds it (empty: it does not change)."""
    peg, said = facts.peg, words_of(venue)
    straight = f"{peg.facing_deg:.0f}°."
    if not peg.facing_declared:
        straight += " " + said.say("facing_guessed", peg=peg.name, sd=f"{peg.facing_sd_deg:.0f}")
    bottom = ", ".join(f"{word} ({count})" for word, count in facts.bottoms)
    told = [
        (said["peg_margin"], margin_words(venue, facts, shown_m), "margin"),
        (said["peg_access"], access_words(said, peg), ""),
        (said["peg_bottom"], f"{bottom}." if bottom else said["peg_bottom_none"], ""),
        (said["peg_readings"], readings_words(said, facts), ""),
        (said["peg_straight_out"], straight, ""),
    ]
    return [(term, words_of, key) for term, words_of, key in told if words_of]


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


def readings_words(said: Words, facts: PegFacts) -> str:
    """How many readings there are, how old, how close together."""
    days = said.days((facts.first_day, facts.last_day) if facts.first_day else None)
    own = said.say("peg_readings_own", count=facts.own, days=days)
    parts = [own if facts.own else said["peg_readings_none"]]
    if facts.area_per_reading_m2 is not None:
        area = f"{facts.area_per_reading_m2:.0f}"
        parts.append(said.say("peg_readings_near", within=f"{DENSITY_WITHIN_M:g} m", area=area))
    return " ".join(parts)
