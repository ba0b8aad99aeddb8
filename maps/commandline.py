"""What a person types: each command carries its arguments to one call, writes, and prints.

Nothing is worked out here. Exit codes: 0 well, 1 findings of error grade, 2 cannot be done.
"""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path
from typing import Annotated

import typer

import survey
from maps.console import (
    FOUND_ERRORS,
    AsJson,
    Cell,
    Level,
    OutFolder,
    VenueFolder,
    opened,
    print_json,
    progress,
    refusals,
    worked_up,
)
from maps.depthcommand import depth
from maps.exports import checked_folder, write_all
from maps.levelcommand import level
from maps.making import made_up
from maps.newvenue import new_venue
from maps.publishcommand import publish
from maps.report import Report
from maps.shotcommand import shot
from maps.summary import SUMMARY_FILE
from maps.windcommand import wind
from maps.wordscommand import words
from survey.errors import BedError, Place
from survey.findings import Finding, Grade, ordered
from survey.reduction import reduce
from survey.workup import Settings, WorkedSurvey

app = typer.Typer(
    name="lakeplumb",
    help="From depths plumbed at the bank to a map of the lake bed, and a float setting for every peg.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
main = app


@app.callback(invoke_without_command=True)
def _root(
    version: Annotated[bool, typer.Option("--version", is_eager=True, help="Print the version and stop.")] = False,
) -> None:
    for stream in (sys.stdout, sys.stderr):
        # A console that lacks ½ or ± shows a question mark; it does not lose the answer.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    if version:
        typer.echo(f"lakeplumb {survey.__version__}")
        raise typer.Exit


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="To be made; must not hold anything yet.")],
    name: Annotated[str | None, typer.Option(help="Name of the water; default: that of the folder.")] = None,
) -> None:
    """Start a venue folder: example sheets and two pages to print."""
    with refusals():
        for path in new_venue(folder, name):
            typer.echo(path)
        typer.echo(f'The rows in it are invented examples. Replace them, then: lakeplumb check "{folder}"')


@app.command()
def check(venue: VenueFolder, as_json: AsJson = False) -> None:
    """Name what is wrong or doubtful, by sheet and row.

    Exit code 0: nothing to mend; 1: errors; 2: the venue cannot be read.
    """
    with refusals(as_json=as_json):
        report = _checked(venue)
        if as_json:
            print_json(report.as_json())
        else:
            typer.echo("\n".join(report.as_text()))
        if report.has_errors:
            raise typer.Exit(FOUND_ERRORS)


@app.command()
def build(
    venue: VenueFolder, out: OutFolder = None, level: Level = None, cell: Cell = None, as_json: AsJson = False
) -> None:
    """Work a survey up; write map, files and settings."""
    with refusals(as_json=as_json):
        target = checked_folder(venue, out)
        with made_up(venue, level, cell) as made:
            made.tell("writing the files")
            written = write_all(made.worked, target, made.shown_m, made.backdrop)
        if as_json:
            print_json(json.loads((target / SUMMARY_FILE).read_text(encoding="utf-8")) | {"out": str(target)})
        else:
            typer.echo("\n".join([_sum_of(made.worked, venue), *map(str, written)]))


for _command in (publish, depth, level, shot, wind, words):
    app.command()(_command)


def _checked(venue: Path) -> Report:
    """A check that still tells what it found where no bed can be made."""
    fieldbook = opened(venue)
    try:
        with progress() as tell:
            worked = worked_up(fieldbook, Settings(), tell)
            return Report(fieldbook, worked.findings, worked.crossovers)
    except BedError as error:
        no_bed = Finding(Grade.ERROR, "no-bed", Place(venue.resolve().name), str(error).rstrip("."))
        return Report(fieldbook, ordered([*fieldbook.findings, *reduce(fieldbook)[1], no_bed]))


def _sum_of(worked: WorkedSurvey, venue: Path) -> str:
    report = Report(worked.fieldbook, worked.findings)
    remedy = f' See them: lakeplumb check "{venue}"' if report.has_errors else ""
    return f"{report.as_text()[-1]}{remedy}"
