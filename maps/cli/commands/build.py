"""``lakeplumb build``: builds the map, files and float settings."""

from __future__ import annotations

import json
from pathlib import Path

import typer

from maps.build import write_all
from maps.cli.console import AsJson, Cell, Level, OutFolder, VenueFolder, print_json, refusals
from maps.cli.worked import made_up
from maps.files.output_folder import checked_folder
from maps.files.summary import SUMMARY_FILE
from maps.replies.check_report import Report
from survey.workup import WorkedSurvey


def build(
    venue: VenueFolder, out: OutFolder = None, level: Level = None, cell: Cell = None, as_json: AsJson = False
) -> None:
    """Build the map, files and float settings from a venue folder."""
    with refusals(as_json=as_json):
        target = checked_folder(venue, out)
        with made_up(venue, level, cell) as made:
            written = write_all(made.worked, target, made.shown_m, made.backdrop, made.tell)
        if as_json:
            print_json(json.loads((target / SUMMARY_FILE).read_text(encoding="utf-8")) | {"out": str(target)})
        else:
            typer.echo("\n".join([_sum_of(made.worked, venue), *map(str, written)]))


def _sum_of(worked: WorkedSurvey, venue: Path) -> str:
    report = Report(worked.fieldbook, worked.findings)
    remedy = f' See them: lakeplumb check "{venue}"' if report.has_errors else ""
    return f"{report.as_text()[-1]}{remedy}"
