"""What the commands share: opening a venue, the stored grid, progress, refusals, and printing.

Knows nothing of any one command. Exit codes: 0 done, 1 errors found, 2 could not be done.
"""

from __future__ import annotations

import json
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from maps.replies.refusals import refusal_json, refusal_text
from survey.errors import SurveyError

FOUND_ERRORS, CANNOT = 1, 2
QUIET_FOR_S = 1.0
"""Work shorter than this shows no progress."""

VenueFolder = Annotated[Path, typer.Argument(metavar="VENUE", help="Venue folder (holds venue.toml).")]
OutFolder = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Folder for results; default VENUE-out, beside VENUE.")
]
Level = Annotated[
    str | None,
    typer.Option(
        metavar="SHOWN", help="What the level mark shows today, plain numbers in its own unit; default the datum."
    ),
]
Cell = Annotated[float | None, typer.Option(metavar="M", min=0.1, max=50.0, help="Grid cell size in metres.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for a program.")]

Tell = Callable[[str], None]


@contextmanager
def progress() -> Iterator[Tell]:
    """Progress, shown on a terminal once work takes long; nothing is written to a pipe."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console  # noqa: PLC0415 - only a terminal is worth its start-up
    from rich.markup import escape  # noqa: PLC0415

    console = Console(stderr=True)
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
    """Errors shown as plain messages, without a traceback."""
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
