"""The small page at a peg's old address, which leads on to the peg under its name of today: printed codes stay good.

It works from a disk and without a script.
"""

from __future__ import annotations

from markupsafe import Markup

from maps.language.catalogue import catalogue_of
from maps.page.shell import filled, own_style
from survey.records.venue import Peg, Venue


def moved_page(venue: Venue, peg: Peg, to: str) -> str:
    """The page as one text.

    Parameters
    ----------
    venue : Venue
    peg : Peg
        As it is called today.
    to : str
        Address of its page, relative to this one.
    """
    said = catalogue_of(venue)
    values = {
        "w": said.texts, "to": to, "title": said.say("peg_page_of", peg=peg.name, venue=venue.name),
        "moved": said.say("peg_moved", peg=peg.name),
        "style": Markup(own_style("page", "peg")),  # noqa: S704 - the page's own
    }  # fmt: skip
    return filled("moved.html", values)
