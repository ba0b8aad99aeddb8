"""The command that answers for one spot: depth, setting, rig, and what wind and level do to them."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from maps.console import (
    CANNOT,
    AsJson,
    Cell,
    Level,
    OutFolder,
    VenueFolder,
    grid_of,
    opened,
    print_answer,
    print_json,
    refusals,
)
from maps.enquiry import Asked, Question, question_asked, water_along
from maps.lineofspots import line_json, line_lines
from maps.options import length_of, option, refuse_level, rod_length
from maps.plumbing import moved_to_level, plumbed
from maps.rigwords import plumbing_lines
from maps.store import StoredBed
from maps.wording import Reply, reply_json, reply_text
from survey.errors import QueryError
from survey.fieldbook.floats import read_floats_file
from survey.floats import HookEnd, Rig
from survey.margins import margin_upper_m
from survey.readings import DistanceBy, Fieldbook
from survey.rigging import USUAL_SHOT, Tackle
from survey.shot import read_shot
from survey.spots import OFF_WATER
from survey.whatnext import FISH, Sought
from survey.wind import Wind, usual_over_depth
from survey.windwords import read_compass, read_wind_speed

FloatsFile = Annotated[
    Path | None, typer.Option("--floats", metavar="FILE", help="Your own floats, written like those of venue.toml.")
]
MOST_BAIT_M = 0.1
Month = Annotated[
    int | None, typer.Option(min=1, max=12, help="Month of the plumb, for the season's level; default: this one.")
]


def depth(  # noqa: PLR0913, PLR0917 - one parameter for each option a person may give
    venue: VenueFolder,
    peg: Annotated[str, typer.Option(metavar="P", help="Painted name or alias.")],
    distance: Annotated[str, typer.Option(metavar="D", help='Metres, or with a unit: "30 yd", "20 wraps".')],
    clock: Annotated[str | None, typer.Option(metavar="C", help="By the clock face; 12 is straight out.")] = None,
    angle: Annotated[str | None, typer.Option(metavar="A", help="Degrees from straight out, right positive.")] = None,
    bearing: Annotated[str | None, typer.Option(metavar="B", help="True bearing in degrees.")] = None,
    distance_by: Annotated[DistanceBy | None, typer.Option(help="How D was measured; default: by its unit.")] = None,
    level: Level = None,
    plumb: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SET",
            help='Setting at which you plumbed this spot, to set the level; elsewhere: "P; C; D; SET". Repeat it.',
        ),
    ] = None,
    month: Month = None,
    float_name: Annotated[str | None, typer.Option("--float", metavar="NAME", help="A float of venue.toml.")] = None,
    floats: FloatsFile = None,
    float_length: Annotated[str | None, typer.Option(metavar="L", help="Float above its hold point.")] = None,
    tip: Annotated[str | None, typer.Option(metavar="T", help="Of that, what shows above the water.")] = None,
    mark: Annotated[
        str | None, typer.Option(metavar="M", help='What is printed on the float: "3 No 4", "1.2 g".')
    ] = None,
    rig: Annotated[Rig | None, typer.Option(help="The rig that leads the answer.")] = None,
    fish: Annotated[
        str | None,
        typer.Option(metavar="F", help="Fish sought, or surface, mid-water, bottom: orders what to try next."),
    ] = None,
    shot: Annotated[str, typer.Option(metavar="S", help='Shot at hand: "10 No 4, 6 BB, No 8".')] = USUAL_SHOT,
    lock: Annotated[str | None, typer.Option(metavar="S", help='Shot that holds the float: "2 No 4".')] = None,
    hook_length: Annotated[str | None, typer.Option(metavar="L", help="Hook length: no shot goes on it.")] = None,
    bait: Annotated[str | None, typer.Option(metavar="L", help="How far the bait hangs below the hook.")] = None,
    rod: Annotated[
        str | None, typer.Option("--rod-length", metavar="L", help="Says when to use a sliding float.")
    ] = None,
    wind: Annotated[
        str | None, typer.Option(metavar="W", help='Speed and where from: "5 m/s SW", "12 mph 225".')
    ] = None,
    every: Annotated[
        str | None, typer.Option(metavar="STEP", help="Also a line of spots along this cast, so far apart.")
    ] = None,
    out: OutFolder = None,
    cell: Cell = None,
    as_json: AsJson = False,
) -> None:
    """Depth, float setting and rig at one spot.

    Lengths may carry a unit ("5 ft 2", "10 in"); bare numbers are metres.
    """
    asked = Asked(peg, distance, clock, angle, bearing, distance_by, level, float_name, float_length, tip, mark)
    with refusals(as_json=as_json):
        book = with_own_floats(opened(venue), floats)
        blows = None if wind is None else wind_asked(wind)
        tackle = tackle_asked(shot, lock, hook_length, bait, rod, fish)
        over = None if blows is None else usual_over_depth(blows.speed_ms)
        question = replace(question_asked(book.venue, asked), end=HookEnd(tackle.bait_m, over))
        if plumb and level is not None:
            raise QueryError("Give --level or --plumb, not both: a plumb sets the level.")
        stored = grid_of(venue, book, out, cell)
        reply = _reply(book, stored, question, plumb or [], month or date.today().month)  # noqa: DTZ011 - the bank's day
        reply = replace(
            reply, rig=rig, tackle=tackle, wind=blows, level_given=level is not None, facing_matters=bearing is None
        )
        step = None if every is None else length_of("--every", every)
        _tell(reply, stored, step, as_json=as_json)


def _reply(book: Fieldbook, stored: StoredBed, question: Question, plumb: list[str], month: int) -> Reply:
    venue, found = book.venue, None
    if plumb:
        found = plumbed(book, stored.bed, plumb, question.held_by, month, question)
        question = moved_to_level(question, venue, found.found)
    refuse_level(venue, question.shown_m, stored.bed)
    answer = question.answered(venue, stored.bed)
    margin = margin_upper_m(stored.bed, question.peg)
    return Reply(venue, question, answer, stored.days, plumbing=found, margin_upper_m=margin)


def _tell(reply: Reply, stored: StoredBed, step_m: float | None, *, as_json: bool) -> None:
    off_water = reply.answer.state == OFF_WATER
    if as_json:
        line = {} if step_m is None else {"line": line_json(reply, stored.bed, step_m)}
        print_json(reply_json(reply) | line)
    elif not off_water:
        lead, rest = reply_text(reply)
        if reply.plumbing is not None:
            rest = [*rest[:1], *plumbing_lines(reply.plumbing), *rest[1:]]
        if step_m is not None:
            rest = [*rest, "", *line_lines(reply, stored.bed, step_m)]
        print_answer(lead, rest)
    if off_water:
        typer.echo(f"{OFF_WATER} {water_along(reply.venue, reply.question)}", err=True)
        raise typer.Exit(CANNOT)


def with_own_floats(book: Fieldbook, path: Path | None) -> Fieldbook:
    """The fieldbook with an angler's own floats first among the venue's."""
    if path is None:
        return book
    own = read_floats_file(path)
    named = {held_by.name.casefold() for held_by in own}
    others = (held_by for held_by in book.venue.floats if held_by.name.casefold() not in named)
    return replace(book, venue=replace(book.venue, floats=(*own, *others)))


def wind_asked(typed: str) -> Wind:
    """A wind typed as speed and direction."""
    found = re.fullmatch(r"([\d.,]+ ?[a-z/]+),? (.+)", typed.strip(), re.IGNORECASE)
    if not found:
        raise QueryError(f'--wind: "{typed}" is no speed and direction. Write it like "5 m/s SW" or "12 mph 225".')
    return Wind(option("--wind", found[1], read_wind_speed), option("--wind", found[2], read_compass))


def tackle_asked(
    shot: str, lock: str | None, hook_length: str | None, bait: str | None, rod: str | None, fish: str | None
) -> Tackle:
    """Tackle from options as typed."""
    held = {} if lock is None else option("--lock", lock, read_shot)
    bait_m = 0.0 if bait is None else length_of("--bait", bait)
    hook_m = 0.0 if hook_length is None else length_of("--hook-length", hook_length)
    if not 0 <= bait_m <= MOST_BAIT_M or hook_m < 0:
        raise QueryError(f"--bait is 0 to {MOST_BAIT_M * 100:.0f} cm, and a hook length is no less than nothing.")
    return Tackle(
        at_hand=option("--shot", shot, read_shot),
        locking={size: 1 if count is None else count for size, count in held.items()},
        hook_length_m=hook_m,
        bait_m=bait_m,
        rod_length_m=None if rod is None else rod_length(rod),
        sought=None if fish is None else sought_asked(fish),
    )


def sought_asked(typed: str) -> Sought:
    """Where a fish is looked for, by its name or straight."""
    word = typed.strip().casefold()
    try:
        return FISH[word] if word in FISH else Sought(word)
    except ValueError:
        known = ", ".join([*FISH, *(s.value for s in Sought)])
        raise QueryError(f'--fish: "{typed}" is not known here. Give one of {known}.') from None
