"""``lakeplumb decisions``: writes the tags of readings into the decisions sheet, once a person has seen the change."""

from __future__ import annotations

import difflib
from typing import Annotated

import typer

from maps.cli.console import VenueFolder, refusals
from maps.files.own_sheet import replaced_sheet
from survey.fieldbook import SheetChange, decisions_with_tags

Write = Annotated[bool, typer.Option("--write", help="Write the sheet; the version before is kept beside it.")]


def decisions(venue: VenueFolder, write: Write = False) -> None:
    """Show the decisions sheet with the tags of its readings, and write it when told to.

    A tag names a reading by what it says, wherever its row has gone. Look that each line says the reading you mean:
    a decision without a tag goes by its row number. Rows beside a tag are corrected. Only a text sheet is written.
    """
    with refusals():
        change = decisions_with_tags(venue)
        if change.new == change.old:
            typer.echo(f"{change.file}: every decision that applies has its tag. Nothing to write.")
            return
        typer.echo("\n".join(_difference(change)))
        if write:
            before = replaced_sheet(venue / change.file, change.old, change.new)
            typer.echo(f"\n{change.file} is written. The version before is {before.name}.")
        else:
            typer.echo("\nNothing is written yet. If this is right, add --write.")


def _difference(change: SheetChange) -> list[str]:
    before, after = change.before.splitlines(), change.after.splitlines()
    return list(difflib.unified_diff(before, after, change.file, f"{change.file} with tags", lineterm="", n=0))
