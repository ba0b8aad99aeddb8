"""What a person types: each command carries its arguments to one call, writes, and prints.

Nothing is worked out here. Exit codes: 0 well, 1 findings of error grade, 2 cannot be done.
"""

from __future__ import annotations

import io
import json
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.markup import escape

import survey
from maps.enquiry import Asked, level_shown, question_asked, rod_length, water_along
from maps.exports import checked_folder, usual_folder, write_all
from maps.newvenue import new_venue
from maps.report import Report, refusal_json, refusal_text
from maps.store import BED_FILE, StoredBed, stored_bed
from maps.summary import SUMMARY_FILE
from maps.wording import Reply, reply_json, reply_text
from survey.errors import BedError, Place, SurveyError
from survey.fieldbook import read_fieldbook
from survey.findings import Finding, Grade, ordered
from survey.floats import Rig
from survey.margins import margin_upper_m
from survey.readings import DistanceBy, Fieldbook
from survey.reduction import reduce
from survey.spots import OFF_WATER
from survey.workup import Settings, WorkedSurvey, work_up

FOUND_ERRORS, CANNOT = 1, 2
QUIET_FOR_S = 1.0
"""Work shorter than this shows no progress."""

app = typer.Typer(
    name="lakeplumb",
    help="From depths plumbed at the bank to a map of the lake bed, and a float setting for every peg.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
main = app

VenueFolder = Annotated[Path, typer.Argument(metavar="VENUE", help="The venue folder: the one with venue.toml.")]
OutFolder = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Results; default: beside VENUE, VENUE-out.")
]
Level = Annotated[
    str | None, typer.Option(metavar="SHOWN", help="What the venue's level mark shows today; default: the datum.")
]
Cell = Annotated[float | None, typer.Option(metavar="M", min=0.1, max=50.0, help="Side of a grid cell in metres.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object for a program.")]


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
    with _refusals():
        for path in new_venue(folder, name):
            typer.echo(path)
        typer.echo(f'The rows in it are invented examples. Replace them, then: lakeplumb check "{folder}"')


@app.command()
def check(venue: VenueFolder, as_json: AsJson = False) -> None:
    """Name what is wrong or doubtful, by sheet and row.

    Exit code 0: nothing to mend; 1: errors; 2: the venue cannot be read.
    """
    with _refusals(as_json=as_json):
        report = _checked(venue)
        if as_json:
            _print(report.as_json())
        else:
            typer.echo("\n".join(report.as_text()))
        if report.has_errors:
            raise typer.Exit(FOUND_ERRORS)


@app.command()
def build(
    venue: VenueFolder, out: OutFolder = None, level: Level = None, cell: Cell = None, as_json: AsJson = False
) -> None:
    """Work a survey up; write map, files and settings."""
    with _refusals(as_json=as_json):
        target = checked_folder(venue, out)
        fieldbook = read_fieldbook(venue)
        shown_m = None if level is None else level_shown(fieldbook.venue, level)
        with _progress() as tell:
            worked = work_up(fieldbook, Settings(cell_m=cell), tell)
            tell("writing the files")
            written = write_all(worked, target, shown_m)
        if as_json:
            _print(json.loads((target / SUMMARY_FILE).read_text(encoding="utf-8")) | {"out": str(target)})
        else:
            typer.echo("\n".join([_sum_of(worked, venue), *map(str, written)]))


@app.command()
def depth(  # noqa: PLR0913, PLR0917 - one parameter for each option a person may give
    venue: VenueFolder,
    peg: Annotated[str, typer.Option(metavar="P", help="Painted name or alias.")],
    distance: Annotated[str, typer.Option(metavar="D", help='Metres, or with a unit: "30 yd", "20 wraps".')],
    clock: Annotated[str | None, typer.Option(metavar="C", help="By the clock face; 12 is straight out.")] = None,
    angle: Annotated[str | None, typer.Option(metavar="A", help="Degrees from straight out, right positive.")] = None,
    bearing: Annotated[str | None, typer.Option(metavar="B", help="True bearing in degrees.")] = None,
    distance_by: Annotated[DistanceBy | None, typer.Option(help="How D was measured; default: by its unit.")] = None,
    level: Level = None,
    float_name: Annotated[str | None, typer.Option("--float", metavar="NAME", help="A float of venue.toml.")] = None,
    float_length: Annotated[str | None, typer.Option(metavar="L", help="Float above its hold point.")] = None,
    tip: Annotated[str | None, typer.Option(metavar="T", help="Of that, what shows above the water.")] = None,
    rig: Annotated[Rig | None, typer.Option(help="The rig that leads the answer.")] = None,
    rod: Annotated[
        str | None, typer.Option("--rod-length", metavar="L", help="Says when to use a sliding float.")
    ] = None,
    out: OutFolder = None,
    cell: Cell = None,
    as_json: AsJson = False,
) -> None:
    """Depth and float setting at one spot.

    Lengths may carry a unit ("5 ft 2", "10 in"); bare numbers are metres.
    """
    asked = Asked(peg, distance, clock, angle, bearing, distance_by, level, float_name, float_length, tip)
    with _refusals(as_json=as_json):
        fieldbook = read_fieldbook(venue)
        question = question_asked(fieldbook.venue, asked)
        rod_m = None if rod is None else rod_length(rod)
        stored = _grid(venue, fieldbook, out, cell)
        answer = question.answered(fieldbook.venue, stored.bed)
        reply = Reply(
            fieldbook.venue,
            question,
            answer,
            stored.days,
            rig=rig,
            rod_length_m=rod_m,
            level_given=level is not None,
            facing_matters=bearing is None,
            margin_upper_m=margin_upper_m(stored.bed, question.peg),
        )
        if as_json:
            _print(reply_json(reply))
        elif answer.state != OFF_WATER:
            _tell(*reply_text(reply))
        if answer.state == OFF_WATER:
            typer.echo(f"{OFF_WATER} {water_along(fieldbook.venue, question)}", err=True)
            raise typer.Exit(CANNOT)


def _checked(venue: Path) -> Report:
    """A check that still tells what it found where no bed can be made."""
    fieldbook = read_fieldbook(venue)
    try:
        with _progress() as tell:
            worked = work_up(fieldbook, Settings(), tell)
            return Report(fieldbook, worked.findings, worked.crossovers)
    except BedError as error:
        no_bed = Finding(Grade.ERROR, "no-bed", Place(venue.resolve().name), str(error).rstrip("."))
        return Report(fieldbook, ordered([*fieldbook.findings, *reduce(fieldbook)[1], no_bed]))


def _grid(venue: Path, fieldbook: Fieldbook, out: Path | None, cell: float | None) -> StoredBed:
    """The built grid where it is of these sources, else a fresh one that is not kept."""
    kept = stored_bed((out or usual_folder(venue)) / BED_FILE, fieldbook.digest, cell)
    if kept is not None:
        return kept
    with _progress() as tell:
        worked = work_up(fieldbook, Settings(cell_m=cell), tell)
    return StoredBed(worked.bed, worked.days)


def _sum_of(worked: WorkedSurvey, venue: Path) -> str:
    report = Report(worked.fieldbook, worked.findings)
    remedy = f' See them: lakeplumb check "{venue}"' if report.has_errors else ""
    return f"{report.as_text()[-1]}{remedy}"


@contextmanager
def _progress() -> Iterator[Callable[[str], None]]:
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
def _refusals(*, as_json: bool = False) -> Iterator[None]:
    """What cannot be done is said in words, without a traceback."""
    try:
        yield
    except BrokenPipeError:
        raise
    except (SurveyError, OSError) as error:
        if as_json:
            _print(refusal_json(error))
        typer.echo(refusal_text(error), err=True)
        raise typer.Exit(CANNOT) from None


def _print(said: dict[str, Any]) -> None:
    typer.echo(json.dumps(said, indent=2, allow_nan=False))


def _tell(lead: str, rest: list[str]) -> None:
    typer.secho(lead, bold=True)
    for line in rest:
        typer.echo(line)
