"""The page of one peg: one HTML file that works where it lies, and follows today's level with the map's own program.

What it says without a program is worked out here and stands in the page; the program only takes its place.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
from markupsafe import Markup

from maps.content.level_words import level_words
from maps.content.peg_facts import bottom_near, peg_facts
from maps.content.peg_words import facing_words, fact_words, peg_row, spots_note, urgent_words
from maps.content.rounding import finite
from maps.content.spot_rows import spot_answers
from maps.drawing.cross_section import Rigged, cast_profile, casts_of, profile_note, rigged
from maps.drawing.peg_fan import Fan, PublishedSurvey
from maps.drawing.projection import LocalProjection
from maps.language.catalogue import catalogue_of
from maps.page.data import grid_data, shared_data
from maps.page.program import program_of
from maps.page.shell import HASHES, embedded, filled, frame_values, own_style, with_policy
from survey.bed.grid import Bed
from survey.geometry.geodesy import Geodesy
from survey.records.venue import Peg
from survey.spots.answer import Answer
from survey.spots.cast import Spot
from survey.spots.float_setting import RigStyle
from survey.spots.questions import question_of_spot, usual_float
from survey.units import clock_text
from survey.workup import WorkedSurvey

ROOM = 1.3
"""The page's grid goes so many times as far as the reach, so that a stray cast still falls on it."""
ROOM_M = 6.0


Links = tuple[tuple[str, str], ...]
"""Where a page leads: addresses relative to it, and their words."""


def peg_page(lake: PublishedSurvey, frame: LocalProjection, peg: Peg, shown_m: float, links: Links) -> str:
    """The page of a peg as one text, the same for the same survey to the byte.

    Parameters
    ----------
    lake : PublishedSurvey
    frame : LocalProjection
    peg : Peg
    shown_m : float
        What the level mark shows for what stands in the page, metres.
    links : tuple of (str, str)
    """
    worked, said = lake.worked, catalogue_of(lake.worked.venue)
    venue = worked.venue
    facts = peg_facts(worked, peg)
    answers = tuple(answer for answer in spot_answers(worked, shown_m) if answer.spot.peg == peg.name)
    spots = tuple(answer.spot for answer in answers)
    bottoms = [bottom_near(worked, spot) for spot in spots]
    title = said.say("peg_page_of", peg=peg.name, venue=venue.name)
    values = {
        **frame_values(venue, worked.days), "title": title, "heading": said.say("peg_title", peg=peg.name),
        "policy": HASHES, "style": Markup(own_style("page", "peg")),  # noqa: S704 - the page's own
        "ways": links, "urgent": urgent_words(venue, facts, shown_m),
        "heads": [said["spot_where"], said["spot_water"], *(said.rig(rig) for rig in RigStyle)],
        "rows": [peg_row(venue, k, *pair) for k, pair in enumerate(zip(answers, bottoms, strict=True), start=1)],
        "facing": facing_words(venue, peg), "spots_note": spots_note(venue, shown_m),
        "fan": Markup(_fan(lake, peg, spots)),  # noqa: S704 - escaped there
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
    return f"(function () {{\n{thinned(program_of('peg'))}\n}})();"


def thinned(program: str) -> str:
    """A program without its indents, empty lines and lines of remark: a peg's page is kept small."""
    lines = (line.strip() for line in program.splitlines())
    return "\n".join(line for line in lines if line and not line.startswith("//"))


def _data(worked: WorkedSurvey, frame: LocalProjection, peg: Peg, shown_m: float, bottoms: list[str]) -> dict[str, Any]:
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


def _fan(lake: PublishedSurvey, peg: Peg, spots: tuple[Spot, ...]) -> str:
    return Fan(lake, peg, spots).drawn()


def _cast(worked: WorkedSurvey, peg: Peg, answer: Answer, shown_m: float) -> dict[str, Any]:
    question = question_of_spot(worked.venue, answer.spot, shown_m, usual_float(worked.venue))
    return _drawn(worked, peg, answer.spot, rigged(question, worked.venue, worked.bed), shown_m)


def _straight(worked: WorkedSurvey, peg: Peg, shown_m: float) -> dict[str, Any]:
    """For a peg without spots: the section straight out, without a rig."""
    far = worked.venue.limits.reach_m / 2
    e, n = Geodesy(worked.venue.crs).cast(peg.lon, peg.lat, peg.facing_deg, far)
    return _drawn(worked, peg, Spot(peg.name, "", 0.0, far, float(e), float(n)), None, shown_m)


def _drawn(worked: WorkedSurvey, peg: Peg, spot: Spot, rig: Rigged | None, shown_m: float) -> dict[str, Any]:
    said = catalogue_of(worked.venue)
    profile = cast_profile(worked, peg, spot, shown_m)
    title = said.say("peg_profile", clock=clock_text(spot.angle_deg))
    return {
        "angle_deg": spot.angle_deg, "far_m": profile.far_m, "title": title,
        "drawing": Markup(profile.drawn(f"{said.say('peg_title', peg=peg.name)}. {title}", rig)),  # noqa: S704
        "note": profile_note(worked.venue, profile, rig),
    }  # fmt: skip
