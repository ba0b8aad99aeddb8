"""``lakeplumb level``: finds today's water level from one or more plumbed spots."""

from __future__ import annotations

from datetime import date
from typing import Annotated

import typer

from maps.cli.console import VenueFolder, print_answer, print_json, refusals
from maps.cli.option_groups import FloatOptions, GridOptions, Month, grouped
from maps.cli.venues import grid_of, open_venue, with_own_floats
from maps.replies.levels import from_datum, level_of
from maps.replies.plumbs import Plumbing, plumbed, plumbing_json, plumbing_lines
from maps.replies.question import TypedOptions, float_from
from maps.replies.rig_text import float_words
from survey.records.floats import Float
from survey.records.venue import Venue
from survey.units import Z_95
from survey.units.club_units import level_figure


@grouped
def level(
    venue: VenueFolder,
    plumb: Annotated[
        list[str],
        typer.Option(
            metavar="P", help='"PEG; DIRECTION; DISTANCE; SETTING", like "12; 12:30; 15; 5 ft 2". Repeatable.'
        ),
    ],
    held: FloatOptions,
    grid: GridOptions,
    month: Month = None,
) -> None:
    """Find today's water level by plumbing one spot, or better two."""
    with refusals(as_json=grid.as_json):
        book = with_own_floats(open_venue(venue), held.floats)
        named, long, tip = held.float_name, held.float_length, held.tip
        held_by = float_from(book.venue, TypedOptions("", "", float_name=named, float_length=long, tip=tip))
        stored = grid_of(venue, book, grid.out, grid.cell)
        book = stored.applied_to(book)
        found = plumbed(book, stored.bed, plumb, held_by, month or date.today().month)  # noqa: DTZ011 - the bank's day
        if grid.as_json:
            print_json(plumbing_json(found, book.venue))
        else:
            print_answer(*_told(book.venue, found, held_by, any_records=bool(book.levels)))


def _told(venue: Venue, plumbing: Plumbing, held_by: Float, *, any_records: bool) -> tuple[str, list[str]]:
    mark, found, half = venue.mark, plumbing.found, plumbing.half_range_m
    lead = f"The water is {from_datum(venue, found.rise_m)}, ± {level_of(venue, half)} (95 %)."
    shown = sorted(mark.shown_m(found.rise_m + k * half) for k in (-1, 1))
    lines = []
    if mark.kind is not None:
        lines.append(
            f"Level    the {mark.kind} would show {level_of(venue, mark.shown_m(found.rise_m))}, "
            f"95 % {level_figure(shown[0], mark.unit)} to {level_figure(shown[1], mark.unit)} {mark.unit}"
        )
    prior = plumbing.prior
    lines.append(
        f"Expected {from_datum(venue, prior.rise_m)}, ± {level_of(venue, Z_95 * prior.sd_m)} (95 %), "
        f"{'from the level records' if any_records else 'with no level records'}"
    )
    return lead, [*lines, f"Float    {float_words(held_by, venue.shows)}", *plumbing_lines(plumbing, venue)]
