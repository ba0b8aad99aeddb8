"""The printed guide as PDF: the map at a true scale, and a card for each peg, two on a sheet for cutting.

Words and drawings are made here and in the modules above; the page layout is ``guide.typ`` beside it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import segno
import typst
from babel import Locale

from maps.content.level_words import level_words
from maps.content.peg_facts import peg_facts
from maps.content.peg_words import (
    access_words,
    bottom_words,
    facing_words,
    margin_words,
    peg_row,
    readings_words,
    spots_note,
)
from maps.content.spot_rows import spot_answers
from maps.drawing.cross_section import cast_profile, casts_of, profile_note, rigged
from maps.drawing.peg_fan import Fan, PublishedSurvey
from maps.drawing.picture import Sheet, picture
from maps.drawing.projection import LocalProjection
from maps.drawing.still_map import Drawing, drawn_map
from maps.language.catalogue import catalogue_of
from maps.print.glyphs import Letters, letters_for, texts_in
from survey.errors import SurveyError
from survey.records.venue import Peg, Venue
from survey.spots.answer import Answer
from survey.spots.cast import Spot
from survey.spots.float_setting import RigStyle
from survey.spots.questions import question_of_spot, usual_float
from survey.units import clock_text
from survey.workup import WorkedSurvey

TEMPLATE = Path(__file__).with_name("guide.typ")
SCALES = tuple(step * power for power in (100, 1000, 10000) for step in (1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5, 8))
"""Scales that a ruler can be used with: 1 to so many."""
LETTER_MM = 3.6
"""Height of a letter on the printed map: ten points, so that none of its figures is under eight."""
MAP_MM = {False: (186.0, 238.0), True: (273.0, 152.0)}
"""Room for the map on A4, upright and lying: width, height."""
FAN_MM = (130.0, 72.0)
ROWS_BESIDE_FAN, ROW_MM = 3, 9.0
"""More spots than that take their room from the fan."""
MOST_WORDS, MOST_LETTERS = 120, 430
"""Letters of one term's words on a card, and of all together; the page of the peg has the rest."""


@dataclass(frozen=True)
class Printing:
    """What the guide is made of beside the survey.

    Parameters
    ----------
    frame : LocalProjection
    sheet : Sheet
    shown_m : float
        What the level mark shows, metres.
    addresses : dict of str
        For each peg the web address of its page; none: no code on the cards.
    """

    frame: LocalProjection
    sheet: Sheet
    shown_m: float
    addresses: dict[str, str]


def guide_pdf(lake: PublishedSurvey, printing: Printing) -> bytes:
    """The guide as tagged PDF (PDF/UA-1), the same bytes for the same survey.

    Letters that typst's own fonts lack are looked for among the machine's; what no font has is shown as a box and
    said on the first page.
    """
    data = _guide(lake, printing)
    letters = letters_for(texts_in(data))
    missing = catalogue_of(lake.worked.venue)["guide_missing"] if letters.missing else ""
    printed = _with_letters(data, letters) | {"missing": missing}
    return typst.compile(
        TEMPLATE,
        sys_inputs={"guide": json.dumps(printed, ensure_ascii=False)},
        ignore_system_fonts=letters.own_fonts,
        pdf_standards=["ua-1"],
    )


def _with_letters(value: Any, letters: Letters) -> Any:  # noqa: ANN401 - any JSON value
    if isinstance(value, str):
        return letters.shown(value)
    if isinstance(value, dict):
        return {key: _with_letters(inner, letters) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_with_letters(inner, letters) for inner in value]
    return value


def _guide(lake: PublishedSurvey, printing: Printing) -> dict[str, Any]:
    worked, said = lake.worked, catalogue_of(lake.worked.venue)
    venue = worked.venue
    answers = spot_answers(worked, printing.shown_m)
    return {
        "w": {key: said[key] for key in WORDS_USED},
        "language": _language(said["language"]),
        "title": said.say("guide_title", venue=venue.name),
        "venue": said.say("guide_map", venue=venue.name),
        "map": _map(lake, printing),
        "caution": said["cautions"][0],
        "emergency": emergency_words(venue),
        "credit": " ".join(f"{text.rstrip('.')}." for text in (venue.credit, venue.licence) if text),
        "missing": "",
        "pegs": [_card(lake, printing, peg, tuple(a for a in answers if a.spot.peg == peg.name)) for peg in venue.pegs],
    }


WORDS_USED = ("guide_closed", "guide_cut", "guide_code_note", "peg_no_spots", "caution")


def _language(code: str) -> list[str]:
    """A language and its country as typst needs them, empty where none is named."""
    locale = Locale.parse(code, sep="-")
    country = locale.territory or ""
    return [locale.language, country if country.isalpha() else ""]


def emergency_words(venue: Venue) -> str:
    """What to say in an emergency call."""
    said = catalogue_of(venue)
    place = venue.emergency.rstrip(".")
    return f"{said['emergency']} {place}." if place else said["emergency_none"]


def map_scale(drawing_of: Any, room_mm: tuple[float, float]) -> tuple[float, Drawing]:  # noqa: ANN401 - a callable
    """The largest scale of :data:`SCALES` at which a drawing fits a room.

    Parameters
    ----------
    drawing_of : callable
        Scale to drawing, since letters keep their size on paper.
    room_mm : tuple of float
        Width and height.

    Raises
    ------
    SurveyError
        The water is too large for any of them.
    """
    for scale in SCALES:
        drawing = drawing_of(scale)
        if all(1000 * side / scale <= room for side, room in zip(drawing.box[2:], room_mm, strict=True)):
            return scale, drawing
    raise SurveyError(f"The water is too large to be drawn on A4 at 1 : {SCALES[-1]:g}.")


def _map(lake: PublishedSurvey, printing: Printing) -> dict[str, Any]:
    worked, said = lake.worked, catalogue_of(lake.worked.venue)
    venue = worked.venue

    def drawing_of(scale: float) -> Drawing:
        return Drawing(printing.frame, printing.sheet, LETTER_MM / 1000 * scale)

    fits = {lying: map_scale(drawing_of, room) for lying, room in MAP_MM.items()}
    landscape = fits[True][0] < fits[False][0]
    scale, drawing = fits[landscape]
    image = picture(printing.sheet, lake.cut, worked.bed.grid.cell_m)
    alt = said.say("guide_map_alt", venue=venue.name, scale=f"{scale:g}")
    return {
        "svg": drawn_map(worked, image, drawing, lake.cut, lake.hatched, alt), "alt": alt, "landscape": landscape,
        "width": 1000 * drawing.box[2] / scale, "height": 1000 * drawing.box[3] / scale,
        "scale": said.say("guide_scale", scale=f"{scale:g}"), "note": said["guide_scale_note"],
        "hatched": said["guide_hatched"], "title_pt": _points(venue.name, 19.0, 40),
        "stamp": said.stamp(venue.mark, worked.days),
    }  # fmt: skip


def _points(name: str, most: float, letters: int) -> float:
    """Size of type at which a name of so many letters keeps to its line."""
    return max(9.0, most * min(1.0, letters / max(len(name), 1)))


def _card(lake: PublishedSurvey, printing: Printing, peg: Peg, answers: tuple[Answer, ...]) -> dict[str, Any]:
    worked, said = lake.worked, catalogue_of(lake.worked.venue)
    venue = worked.venue
    heading = said.say("peg_title", peg=peg.name)
    scale, fan = _fan(lake, peg, tuple(answer.spot for answer in answers))
    stamp = " ".join([f"{_cut(venue.name, 60)}.", *said.stamp(venue.mark, worked.days)])
    return {
        "heading": heading, "title_pt": _points(heading, 24.0, 20), "closed": peg.is_closed, "stamp": stamp,
        "fan": fan.drawn(),
        "fan_width": 1000 * fan.width_m / scale, "fan_height": 1000 * fan.height_m / scale,
        "fan_alt": fan.alt, "scale": said.say("guide_scale", scale=f"{scale:g}"),
        "fan_note": said.say("peg_fan_note", bearing=f"{peg.facing_deg:.0f}°"),
        "head": [said["spot_where"], said["spot_water"], *(said.rig(rig) for rig in RigStyle)],
        "rows": [peg_row(venue, k, answer, "") for k, answer in enumerate(answers, start=1)],
        **_section(worked, printing, peg, answers), "facts": _facts(worked, peg, printing.shown_m),
        "spots_note": spots_note(venue, printing.shown_m) if answers else level_words(venue, printing.shown_m),
        **_code(printing, peg, said.say("guide_code", peg=peg.name)),
    }  # fmt: skip


def _fan(lake: PublishedSurvey, peg: Peg, spots: tuple[Spot, ...]) -> tuple[float, Fan]:
    fan = Fan(lake, peg, spots)
    high_mm = FAN_MM[1] - ROW_MM * max(len(spots) - ROWS_BESIDE_FAN, 0)
    need = max(1000 * fan.width_m / FAN_MM[0], 1000 * fan.height_m / high_mm)
    return next((scale for scale in SCALES if scale >= need), need), fan


def _section(worked: WorkedSurvey, printing: Printing, peg: Peg, answers: tuple[Answer, ...]) -> dict[str, Any]:
    """The section along the cast that reaches furthest."""
    casts = casts_of(answers)
    if not casts:
        return {"section": "", "section_note": "", "section_alt": ""}
    venue, said = worked.venue, catalogue_of(worked.venue)
    spot = max(casts, key=lambda answer: answer.spot.distance_m).spot
    rig = rigged(question_of_spot(venue, spot, printing.shown_m, usual_float(venue)), venue, worked.bed)
    profile = cast_profile(worked, peg, spot, printing.shown_m)
    title = said.say("peg_profile", clock=clock_text(spot.angle_deg))
    note = f"{title}. {profile_note(venue, profile, rig)}"
    return {"section": profile.drawn(title, rig), "section_note": note, "section_alt": title}


def _facts(worked: WorkedSurvey, peg: Peg, shown_m: float) -> list[tuple[str, str]]:
    said, facts = catalogue_of(worked.venue), peg_facts(worked, peg)
    facts = [
        (said["peg_margin"], margin_words(worked.venue, facts, shown_m)),
        (said["peg_straight_out"], facing_words(worked.venue, peg)),
        (said["peg_access"], access_words(said, peg)),
        (said["peg_bottom"], bottom_words(said, facts)),
        (said["peg_readings"], readings_words(worked.venue, facts)),
        *((said["safety"], said.again(line)) for line in worked.venue.cautions),
    ]
    cut = [(term, _cut(text, MOST_WORDS)) for term, text in facts if text]
    room = np.cumsum([len(term) + len(text) for term, text in cut]) <= MOST_LETTERS
    kept = [fact for fact, fits in zip(cut, room, strict=True) if fits]
    return kept if len(kept) == len(cut) else [*kept, ("…", said["guide_more"])]


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def _code(printing: Printing, peg: Peg, alt: str) -> dict[str, str]:
    """A QR code (ISO/IEC 18004) that leads to the peg's page; empty where the club gives no address."""
    address = printing.addresses.get(peg.name, "")
    svg = segno.make(address, error="m", micro=False).svg_inline(border=4, dark="#000", light="#fff") if address else ""
    return {"code": svg, "code_alt": alt}
