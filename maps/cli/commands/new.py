"""``lakeplumb new``: starts a venue folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from maps.cli.console import refusals
from maps.starter.new_venue import new_venue


def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="To be made; must not hold anything yet.")],
    name: Annotated[str | None, typer.Option(help="Name of the water; default: that of the folder.")] = None,
) -> None:
    """Start a venue folder: example sheets and two pages to print."""
    with refusals():
        for path in new_venue(folder, name):
            typer.echo(path)
        typer.echo(f'The rows in it are invented examples. Replace them, then: lakeplumb check "{folder}"')
