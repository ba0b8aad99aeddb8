"""``lakeplumb publish``: carries what was typed to one call, and says what was written."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from maps.backdrop import backdrop_of
from maps.console import AsJson, Cell, Level, VenueFolder, opened, print_json, progress, refusals, worked_up
from maps.exports import checked_folder
from maps.options import level_shown, refuse_level
from maps.placeless import in_own_frame
from maps.site import PEGS, Copy
from maps.site import publish as publish_site
from survey.workup import Settings

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
        written_down = opened(venue)
        fieldbook = in_own_frame(written_down)
        backdrop = backdrop_of(venue, written_down.venue, fieldbook.venue)
        shown_m = None if level is None else level_shown(fieldbook.venue, level)
        with progress() as tell:
            worked = worked_up(fieldbook, Settings(cell_m=cell), tell)
            refuse_level(worked.venue, worked.venue.mark.datum_m if shown_m is None else shown_m, worked.bed)
            written = publish_site(worked, target, Copy(shown_m, backdrop), tell)
        if as_json:
            print_json({"out": str(target), "files": [str(path.relative_to(target)) for path in written]})
            return
        pages = sum(path.parent.name == PEGS for path in written)
        if fieldbook.venue.publishing.hides_place:
            typer.echo(PLACE_HIDDEN)
        typer.echo(f"{target / 'index.html'}: a map, {pages} pages of pegs, a guide to print; {len(written)} files.")
