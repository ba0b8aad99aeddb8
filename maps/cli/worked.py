"""What commands that write folders share: a venue worked up with its options, checked before anything is written."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import typer

from maps.cli.console import Tell, progress
from maps.cli.venues import open_venue, worked_up
from maps.drawing.backdrop import Backdrop, backdrop_of
from maps.replies.levels import far_from_records, level_shown, refuse_level
from survey.records.fieldbook import Fieldbook
from survey.reduction.water_levels import recorded_m
from survey.workup import WorkedSurvey


@dataclass(frozen=True)
class Made:
    """What a folder is made of.

    Parameters
    ----------
    worked : WorkedSurvey
    shown_m : float or None
        What the level mark shows; None: nothing was said.
    backdrop : Backdrop or None
    tell : callable
        Told in words what is being done.
    """

    worked: WorkedSurvey
    shown_m: float | None
    backdrop: Backdrop | None
    tell: Tell


@contextmanager
def made_up(
    venue: Path, level: str | None, cell: float | None, moved: Callable[[Fieldbook], Fieldbook] | None = None
) -> Iterator[Made]:
    """A venue worked up, with progress shown while it is in use.

    Parameters
    ----------
    venue : Path
    level : str or None
        As typed.
    cell : float or None
    moved : callable, optional
        Takes the fieldbook into the frame in which it is to be worked up.
    """
    with progress() as tell:
        written_down = open_venue(venue)
        book = written_down if moved is None else moved(written_down)
        backdrop = backdrop_of(venue, written_down.venue, None if moved is None else book.venue)
        shown_m = None if level is None else level_shown(book.venue, level)
        far = "" if shown_m is None else far_from_records(book.venue, recorded_m(book.levels), shown_m)
        if far:
            typer.echo(f"--level: {far}", err=True)
        worked = worked_up(book, cell, tell)
        refuse_level(worked.venue, worked.venue.mark.datum_m if shown_m is None else shown_m, worked.bed)
        yield Made(worked, shown_m, backdrop, tell)
