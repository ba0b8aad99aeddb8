"""A venue folder opened, worked up, or answered from its stored grid.

The model is imported only where a survey is worked up: a stored grid answers at once.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from maps.cli.console import Tell, progress
from maps.files.output_folder import usual_folder
from maps.files.stored_bed import BED_FILE, StoredBed, pegs_of, stored_bed
from maps.language.club_words import with_club_words
from survey.fieldbook import read_fieldbook
from survey.fieldbook.venue.float_keys import read_floats_file
from survey.records.fieldbook import Fieldbook

if TYPE_CHECKING:
    from survey.workup import WorkedSurvey


def with_own_floats(book: Fieldbook, path: Path | None) -> Fieldbook:
    """The fieldbook with an angler's own floats first among the venue's."""
    if path is None:
        return book
    own = read_floats_file(path)
    named = {held_by.name.casefold() for held_by in own}
    others = (held_by for held_by in book.venue.floats if held_by.name.casefold() not in named)
    return replace(book, venue=replace(book.venue, floats=(*own, *others)))


def open_venue(venue: Path) -> Fieldbook:
    """The fieldbook of a venue folder, in the club's own words where it gives any."""
    return with_club_words(venue, read_fieldbook(venue))


def worked_up(book: Fieldbook, cell_m: float | None, tell: Tell) -> WorkedSurvey:
    """A survey worked up, with progress shown."""
    from survey import workup  # noqa: PLC0415 - see above

    return workup.work_up(book, workup.Settings(cell_m=cell_m), tell)


def grid_of(venue: Path, book: Fieldbook, out: Path | None, cell: float | None) -> StoredBed:
    """The built grid where it is of these sources, else a fresh one that is not kept."""
    kept = stored_bed((out or usual_folder(venue)) / BED_FILE, book.digest, cell)
    if kept is not None:
        return kept
    with progress() as tell:
        worked = worked_up(book, cell, tell)
    return StoredBed(worked.bed, worked.days, pegs_of(worked))
