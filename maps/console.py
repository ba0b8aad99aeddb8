"""What the commands share: opening a venue, the stored grid, progress, refusals, and printing.

Knows nothing of any one command. Exit codes: 0 well, 1 findings of error grade, 2 cannot be done.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.markup import escape

from maps.clubwords import with_club_words
from maps.exports import usual_folder
from maps.report import refusal_json, refusal_text
from maps.store import BED_FILE, StoredBed, stored_bed
from survey.errors import SurveyError
from survey.fieldbook import read_fieldbook
from survey.readings import Fieldbook
from survey.workup import Settings, WorkedSurvey, work_up

FOUND_ERRORS, CANNOT = 1, 2
QUIET_FOR_S = 1.0
"""Work shorter than this shows no progress."""

VenueFolder = Annotated[Path, typer.Argument(metavar="VENUE", help="The venue folder: the one with venue.toml.")]
OutFolder = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Results; default: beside VENUE, VENUE-out.")
]
Level = Annotated[
    str | None, typer.Option(metavar="SHOWN", help="What the venue's level mark shows today; default: the datum.")
]
Cell = Annotated[float | None, typer.Option(metavar="M", min=0.1, max=50.0, help="Side of a grid cell in metres.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object for a program.")]

Tell = Callable[[str], None]


def opened(venue: Path) -> Fieldbook:
    """The fieldbook of a venue folder, in the club's own words where it gives any."""
    return with_club_words(venue, read_fieldbook(venue))


def worked_up(book: Fieldbook, settings: Settings, tell: Tell) -> WorkedSurvey:
    """A survey worked up, with progress told."""
    return work_up(book, settings, tell)


def grid_of(venue: Path, book: Fieldbook, out: Path | None, cell: float | None) -> StoredBed:
    """The built grid where it is of these sources, else a fresh one that is not kept."""
    kept = stored_bed((out or usual_folder(venue)) / BED_FILE, book.digest, cell)
    if kept is not None:
        return kept
    with progress() as tell:
        worked = worked_up(book, Settings(cell_m=cell), tell)
    return StoredBed(worked.bed, worked.days)


@contextmanager
def progress() -> Iterator[Tell]:
    """What is being done, told on a terminal once it takes long; nothing is told into a pipe."""
    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda _: None
        return
    status = console.status("Reading the sheets", spinner_style="bold")
    later = threading.Timer(QUIET_FOR_S, status.start)
    later.daemon = True
    later.start()
    try:
        yield lambda step: status.update(escape(f"{step[:1].upper()}{step[1:]}"))
    finally:
        later.cancel()
        later.join()
        status.stop()


@contextmanager
def refusals(*, as_json: bool = False) -> Iterator[None]:
    """What cannot be done is said in words, without a traceback."""
    try:
        yield
    except BrokenPipeError:
        raise
    except (SurveyError, OSError) as error:
        if as_json:
            print_json(refusal_json(error))
        typer.echo(refusal_text(error), err=True)
        raise typer.Exit(CANNOT) from None


def print_json(said: dict[str, Any]) -> None:
    """One JSON object for a program."""
    typer.echo(json.dumps(said, indent=2, allow_nan=False))


def print_answer(lead: str, rest: list[str]) -> None:
    """The line that leads, strong on a terminal, and the lines that follow."""
    typer.secho(lead, bold=True)
    for line in rest:
        typer.echo(line)
