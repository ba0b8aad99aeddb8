"""Plumbs as they are typed, and the level of the lake that follows from them.

Turns words into plumbs and back; the update itself is the survey's.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from maps.content.rounding import to_mm
from maps.replies.levels import from_datum
from maps.replies.question import TypedOptions, question_from
from survey.bed.grid import Bed
from survey.errors import ParseError, QueryError
from survey.geometry.geodesy import Geodesy
from survey.records.fieldbook import Fieldbook
from survey.records.floats import Float
from survey.records.readings import FloatSeen
from survey.records.venue import Venue
from survey.reduction.depths import float_sd_m
from survey.spots.cast import met_by_cast
from survey.spots.level_by_plumbing import (
    LevelFound,
    LevelPrior,
    Plumb,
    found_depth_m,
    level_found,
    level_prior,
    plumb_at,
)
from survey.spots.questions import Question
from survey.units import Z_95, read_length, shown_length


def plumbing_lines(plumbing: Plumbing, venue: Venue) -> list[str]:
    """Each plumb with the level it gives, and which of them cannot be right."""
    lines = []
    for k, (labels, plumb, misfit) in enumerate(
        zip(plumbing.labels, plumbing.plumbs, plumbing.found.misfits, strict=True)
    ):
        wrong = "; set aside: it does not agree with the others" if k == plumbing.found.wrong else ""
        far = "; outside the expected 95 % range" if abs(misfit) > Z_95 else ""
        lines.append(f"Plumb    {labels}: the level {from_datum(venue, plumb.rise_m)}{far}{wrong}")
    if plumbing.found.disagree:
        one = len(plumbing.plumbs) == 1
        lines.append(
            "This is far from every recorded level. Plumb it again, and at a second spot."
            if one
            else "These do not agree, so one is wrong. Plumb another spot to find out which."
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
            {
                "told": labels,
                "rise_m": to_mm(plumb.rise_m),
                "misfit_sd": round(misfit, 2),
                "set_aside": k == found.wrong,
            }
            for k, (labels, plumb, misfit) in enumerate(
                zip(plumbing.labels, plumbing.plumbs, found.misfits, strict=True)
            )
        ],
        "disagree": found.disagree,
    }


HOW = (
    'Give the spot and your setting: "PEG; DIRECTION; DISTANCE; SETTING", like "12; 12:30; 15; 5 ft 2", '
    "then sunk, flat or the tip showing if not as usual."
)
FIELDS = (4, 5)


@dataclass(frozen=True)
class Plumbing:
    """Plumbs, and the level that follows.

    Parameters
    ----------
    labels : tuple of str
        Each plumb in words.
    plumbs : tuple of Plumb
    prior : LevelPrior
    found : LevelFound
    """

    labels: tuple[str, ...]
    plumbs: tuple[Plumb, ...]
    prior: LevelPrior
    found: LevelFound

    @property
    def half_range_m(self) -> float:
        """Half of the level's 95 % range, metres."""
        return Z_95 * self.found.sd_m


def plumbed(
    book: Fieldbook, bed: Bed, typed: Sequence[str], held_by: Float, month: int, here: Question | None = None
) -> Plumbing:
    """The level from plumbs as they were typed.

    Parameters
    ----------
    book : Fieldbook
    bed : Bed
    typed : sequence of str
        ``PEG; DIRECTION; DISTANCE; SETTING``; a setting alone was plumbed at ``here``.
    held_by : Float
    month : int
        1 to 12, for the season of the level records.
    here : Question, optional

    Raises
    ------
    QueryError
        What cannot be read, is off the water, or is no depth yet.
    """
    prior = level_prior(book.levels, book.venue.mark, book.venue.standard_errors, month)
    pairs = [_plumb(book.venue, bed, text, held_by, here) for text in typed]
    plumbs = tuple(plumb for _, plumb in pairs)
    return Plumbing(tuple(words for words, _ in pairs), plumbs, prior, level_found(plumbs, prior))


def moved_to_level(question: Question, venue: Venue, found: LevelFound) -> Question:
    """The same question at the level that was plumbed."""
    return replace(question, shown_m=venue.mark.shown_m(found.rise_m), level_sd_m=found.sd_m)


def _plumb(venue: Venue, bed: Bed, text: str, held_by: Float, here: Question | None) -> tuple[str, Plumb]:
    parts = [part.strip() for part in text.split(";")]
    if len(parts) == 1 and here is not None:
        question, parts = here, ["", "", "", *parts]
    elif len(parts) in FIELDS:
        question = question_from(venue, _asked(parts))
    else:
        raise QueryError(f'--plumb: "{text}" has {len(parts)} parts. {HOW}')
    found_m = _found(text, parts[3], parts[4] if len(parts) > FIELDS[0] else "", held_by, venue.shows)
    spot = question.spot
    azimuth = question.bearing_deg - Geodesy(venue.crs).convergence_deg(spot.easting, spot.northing)
    met = met_by_cast(bed, spot, azimuth, question.scatter(venue))
    if met is None:
        raise QueryError(f'--plumb: "{text}" is not on the water. Check the direction and distance.')
    far, found = venue.distances.shown(spot.distance_m), shown_length(found_m, venue.shows)
    words = f"peg {question.peg.name}, {far}: {found} of water"
    own_sd = float_sd_m(spot.distance_m, venue.standard_errors)
    return words, plumb_at((spot.easting, spot.northing), met, found_m, own_sd)


def _asked(parts: list[str]) -> TypedOptions:
    peg, direction, distance = parts[:3]
    by_clock = re.fullmatch(r"\d{1,2}(:\d\d)?", direction) and int(direction.split(":")[0]) in range(1, 13)
    return TypedOptions(peg, distance, clock=direction) if by_clock else TypedOptions(peg, distance, angle=direction)


def _found(text: str, setting: str, after: str, held_by: Float, shows: str) -> float:
    """Depth found, from the setting and what was seen."""
    try:
        set_m = read_length(setting, "m").metres
        seen = FloatSeen(after.casefold()) if after.casefold() in set(FloatSeen) else None
        tip_m = read_length(after, "m").metres if after and seen is None else None
        return found_depth_m(set_m, held_by, tip_m, seen or FloatSeen.STANDS, shows)
    except ParseError as error:
        raise QueryError(f'--plumb: in "{text}", {error}. {HOW}') from None
