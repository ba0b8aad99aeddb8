"""``lakeplumb publish``: carries what was typed to one call, and says what was written."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from maps.cli.console import AsJson, Cell, Level, VenueFolder, print_json, refusals
from maps.cli.worked import made_up
from maps.files.output_folder import checked_folder
from maps.privacy.own_frame import in_own_frame
from maps.site import PEGS, Copy
from maps.site import publish as publish_site

PLACE_HIDDEN = (
    "Where the lake lies is left out, and with it GeoJSON, KML and GPX. Names, notes, access and emergency words stand "
    "as you wrote them: read them for what tells the place."
)
SiteFolder = Annotated[Path, typer.Option("--out", metavar="DIR", help="The folder to publish; need not exist.")]


def publish(
    venue: VenueFolder, out: SiteFolder, level: Level = None, cell: Cell = None, as_json: AsJson = False
) -> None:
    """Write a folder for everybody: map, a page for each peg, the guide to print, files.

    Left out: who plumbed, notes on readings, names of sheets, columns marked private, and what
    [publish] in venue.toml hides.
    """
    with refusals(as_json=as_json):
        target = checked_folder(venue, out)
        with made_up(venue, level, cell, in_own_frame) as made:
            written = publish_site(made.worked, target, Copy(made.shown_m, made.backdrop), made.tell)
        if as_json:
            print_json({"out": str(target), "files": [str(path.relative_to(target)) for path in written]})
            return
        pages = sum(path.parent.name == PEGS for path in written)
        if made.worked.venue.publishing.hides_place:
            typer.echo(PLACE_HIDDEN)
        typer.echo(f"{target / 'index.html'}: a map, {pages} pages of pegs, a guide to print; {len(written)} files.")
