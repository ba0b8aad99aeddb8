"""Sentences about the water level, and about how far to trust the stated range."""

from __future__ import annotations

from maps.language.catalogue import catalogue_of
from survey.records.floats import BARE_LINE
from survey.records.venue import Venue
from survey.spots.questions import usual_float
from survey.units.lengths import SHOWN_AS_NOTHING_M
from survey.workup import WorkedSurvey


def level_words(venue: Venue, shown_m: float) -> str:
    """What the level mark shows and what that means against the map."""
    said = catalogue_of(venue)
    if venue.mark.kind is None:
        return said["level_none"]
    rise, mark = venue.mark.rise_m(shown_m), venue.mark
    key = "level_at" if abs(rise) < SHOWN_AS_NOTHING_M else "level_up" if rise > 0 else "level_down"
    return said.say("level_shown", shown=said.mark(shown_m, mark), level=said.say(key, rise=said.mark(abs(rise), mark)))


def _no_script_words(venue: Venue, level: str) -> str:
    held_by, said = usual_float(venue), catalogue_of(venue)
    bare = held_by == BARE_LINE
    named = said["no_script_bare"] if bare else said.say("no_script_float", name=held_by.name)
    return said.say("no_script", float=named, level=level.rstrip("."))


def _holdout_words(worked: WorkedSurvey) -> str:
    held, said = worked.holdout, catalogue_of(worked.venue)
    if held is None:
        return said["holdout_none"]
    inside, half = (round(held.readings * held.within[share]) for share in (0.95, 0.5))
    missed = said.both(held.rmse_m, worked.venue.shows)
    return said.say("holdout", pegs=held.pegs, readings=held.readings, inside=inside, half=half, rmse=missed)
