"""``lakeplumb publish``: makes a folder to share, and lists what was written."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from maps.cli.console import AsJson, Cell, Level, VenueFolder, print_json, refusals
from maps.cli.worked import made_up
from maps.files.output_folder import checked_folder
from maps.privacy.missing_details import missing_details
from maps.privacy.own_frame import in_own_frame
from maps.site import PEGS, Copy, page_name
from maps.site import publish as publish_site

PLACE_HIDDEN = (
    "The lake's location is left out, and so are GeoJSON, KML and GPX. Anyone comparing the outline with an aerial "
    "photo can find it. Check that names, notes, access and emergency texts do not give it away."
)
MISSING = "Not in it, because venue.toml does not say:"
SiteFolder = Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder to make and share; it need not exist.")]


def publish(
    venue: VenueFolder, out: SiteFolder, level: Level = None, cell: Cell = None, as_json: AsJson = False
) -> None:
    """Make a folder to share: map, a page for each peg, printable guide and files.

    Left out: observers' names, notes on readings, sheet names, columns marked private, and
    whatever [publish] in venue.toml hides. What the copy would be better with is listed at the end.
    """
    with refusals(as_json=as_json):
        target = checked_folder(venue, out)
        with made_up(venue, level, cell, in_own_frame) as made:
            written = publish_site(made.worked, target, Copy(made.shown_m, made.backdrop), made.tell)
        missing = missing_details(made.worked.venue)
        if as_json:
            files = [str(path.relative_to(target)) for path in written]
            print_json({"out": str(target), "files": files, "missing": list(missing)})
            return
        named = {page_name(peg.name) for peg in made.worked.venue.pegs}
        pages = sum(path.parent.name == PEGS and path.name in named for path in written)
        if made.worked.venue.publishing.hides_place:
            typer.echo(PLACE_HIDDEN)
        typer.echo(f"{target / 'index.html'}: a map, {pages} peg pages and a printable guide; {len(written)} files.")
        if missing:
            typer.echo("\n".join([MISSING, *(f"  {words}" for words in missing.values())]))
