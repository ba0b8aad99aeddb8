"""``lakeplumb new``: starts a venue folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from maps.cli.console import refusals
from maps.starter.new_venue import new_venue


def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to create; it must be empty or not exist.")],
    name: Annotated[str | None, typer.Option(help="Name of the water; default the folder's name.")] = None,
) -> None:
    """Start a venue folder, with example sheets and two pages to print."""
    with refusals():
        for path in new_venue(folder, name):
            typer.echo(path)
        typer.echo("The rows are invented examples, and are never used.")
        typer.echo(f'Replace them, then run: lakeplumb check "{folder}"')
