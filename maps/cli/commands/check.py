"""``lakeplumb check``: lists what is wrong or doubtful, by sheet and row."""

from __future__ import annotations

from pathlib import Path

import typer

from maps.cli.console import FOUND_ERRORS, AsJson, VenueFolder, print_json, progress, refusals
from maps.cli.venues import open_venue, worked_up
from maps.replies.check_report import Report
from survey.checks.decisions import tagged
from survey.errors import BedError, SourceRow
from survey.findings import Finding, Grade, ordered
from survey.reduction.past_readings import softened, without_past
from survey.reduction.reduce import reduce_soundings


def check(venue: VenueFolder, as_json: AsJson = False) -> None:
    """Check the sheets and list what is wrong or doubtful, by row.

    Exit code 0: no errors; 1: errors found; 2: the venue cannot be read.
    """
    with refusals(as_json=as_json):
        report = _checked(venue)
        if as_json:
            print_json(report.as_json())
        else:
            typer.echo("\n".join(report.as_text()))
        if report.has_errors:
            raise typer.Exit(FOUND_ERRORS)


def _checked(venue: Path) -> Report:
    """A check that still reports its findings when no bed can be made."""
    fieldbook = open_venue(venue)
    try:
        with progress() as tell:
            worked = worked_up(fieldbook, None, tell)
            return Report(worked.fieldbook, worked.findings, worked.crossovers)
    except BedError as error:
        no_bed = Finding(Grade.ERROR, "no-bed", SourceRow(venue.resolve().name), str(error).rstrip("."))
        fieldbook, past = without_past(fieldbook)
        reduced = softened(reduce_soundings(fieldbook)[1], fieldbook)
        found = [*fieldbook.findings, *past, *reduced, no_bed]
        return Report(fieldbook, ordered(tagged(found, fieldbook.tags)))
