"""``lakeplumb depth``: depth, setting and rig for one spot, with the effect of wind and level."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import typer

from maps.cli.console import CANNOT, VenueFolder, print_answer, print_json, refusals
from maps.cli.option_groups import AnswerOptions, SpotOptions, TackleOptions, TodayOptions, grouped
from maps.cli.venues import grid_of, open_venue, with_own_floats
from maps.files.stored_bed import StoredBed
from maps.replies.levels import refuse_level
from maps.replies.line_reply import line_json, line_lines
from maps.replies.options import distance_of, length_of, option, rod_length
from maps.replies.plumbs import moved_to_level, plumbed, plumbing_lines
from maps.replies.question import TypedOptions, peg_taken, question_from, water_along
from maps.replies.spot_reply import Reply, reply_json, reply_text
from survey.bed.margins import margin_upper_m
from survey.errors import QueryError
from survey.records.fieldbook import Fieldbook
from survey.reduction.water_levels import recorded_m
from survey.spots.answer import OFF_WATER
from survey.spots.float_setting import HookEnd
from survey.spots.next_settings import FISH, Sought
from survey.spots.questions import Question
from survey.tackle.advice import MOST_BAIT_M, Tackle
from survey.tackle.wind import Wind, usual_over_depth
from survey.units import feet_inches
from survey.units.shot_sizes import read_shot
from survey.units.wind_speeds import read_compass, read_wind_speed


@grouped
def depth(
    venue: VenueFolder, where: SpotOptions, today: TodayOptions, tackle: TackleOptions, answer: AnswerOptions
) -> None:
    """Show the depth, float setting and rig for one spot.

    Give lengths with a unit ("5 ft 2", "10 in"). Plain numbers are metres; of --level the mark's own
    unit, of --distance and --every what the club counts distances in.
    """
    with refusals(as_json=answer.as_json):
        book = with_own_floats(open_venue(venue), tackle.floats)
        below, blows = tackle_from(tackle), None if today.wind is None else wind_from(today.wind)
        over = None if blows is None else usual_over_depth(blows.speed_ms)
        asked = _asked(where, today, tackle)
        question_from(book.venue, asked)  # refused before anything is worked up
        if taken := peg_taken(book.venue, where.peg):
            typer.echo(taken, err=True)
        if today.plumb and today.level is not None:
            raise QueryError("Give --level or --plumb, not both: plumbing replaces the level.")
        stored = grid_of(venue, book, answer.out, answer.cell)
        book = stored.applied_to(book)
        question = replace(question_from(book.venue, asked), end=HookEnd(below.bait_m, over))
        reply = replace(
            _reply(book, stored, question, today),
            rig=tackle.rig, tackle=below, wind=blows, facing_matters=where.bearing is None,
        )  # fmt: skip
        step = None if answer.every is None else distance_of("--every", answer.every, book.venue).metres
        _tell(reply, stored, step, as_json=answer.as_json)


def _asked(where: SpotOptions, today: TodayOptions, held: TackleOptions) -> TypedOptions:
    return TypedOptions(
        where.peg, where.distance, where.clock, where.angle, where.bearing, where.distance_by, today.level,
        held.float_name, held.float_length, held.tip, held.mark,
    )  # fmt: skip


def _reply(book: Fieldbook, stored: StoredBed, question: Question, today: TodayOptions) -> Reply:
    venue, found = book.venue, None
    if today.plumb:
        month = today.month or date.today().month  # noqa: DTZ011 - the bank's day
        found = plumbed(book, stored.bed, today.plumb, question.held_by, month, question)
        question = moved_to_level(question, venue, found.found)
    refuse_level(venue, question.shown_m, stored.bed)
    answer = question.answered(venue, stored.bed)
    margin, given = margin_upper_m(stored.bed, question.peg), today.level is not None
    return Reply(
        venue, question, answer, stored.days,
        plumbing=found, margin_upper_m=margin, level_given=given, recorded_m=recorded_m(book.levels),
    )  # fmt: skip


def _tell(reply: Reply, stored: StoredBed, step_m: float | None, *, as_json: bool) -> None:
    off_water = reply.answer.state == OFF_WATER
    if as_json:
        line = {} if step_m is None else {"line": line_json(reply, stored.bed, step_m)}
        print_json(reply_json(reply) | line)
    elif not off_water:
        lead, rest = reply_text(reply)
        if reply.plumbing is not None:
            rest = [*rest[:1], *plumbing_lines(reply.plumbing, reply.venue), *rest[1:]]
        if step_m is not None:
            rest = [*rest, "", *line_lines(reply, stored.bed, step_m)]
        print_answer(lead, rest)
    if off_water:
        typer.echo(f"{OFF_WATER} {water_along(reply.venue, reply.question)}", err=True)
        raise typer.Exit(CANNOT)


def wind_from(typed: str) -> Wind:
    """A wind typed as speed and direction."""
    found = re.fullmatch(r"([\d.,]+ ?[a-z/]+),? (.+)", typed.strip(), re.IGNORECASE)
    if not found:
        raise QueryError(f'--wind: "{typed}" is not a speed and direction. Enter it like "5 m/s SW" or "12 mph 225".')
    return Wind(option("--wind", found[1], read_wind_speed), option("--wind", found[2], read_compass))


def tackle_from(typed: TackleOptions) -> Tackle:
    """Tackle from options as typed."""
    held = {} if typed.lock is None else option("--lock", typed.lock, read_shot)
    bait_m = 0.0 if typed.bait is None else length_of("--bait", typed.bait)
    hook_m = 0.0 if typed.hook_length is None else length_of("--hook-length", typed.hook_length)
    if not 0 <= bait_m <= MOST_BAIT_M or hook_m < 0:
        most = f"{MOST_BAIT_M * 100:.0f} cm ({feet_inches(MOST_BAIT_M)})"
        raise QueryError(f"--bait must be 0 to {most}, and --hook-length cannot be negative.")
    return Tackle(
        at_hand=option("--shot", typed.shot, read_shot),
        locking={size: 1 if count is None else count for size, count in held.items()},
        hook_length_m=hook_m,
        bait_m=bait_m,
        rod_length_m=None if typed.rod is None else rod_length(typed.rod),
        sought=None if typed.fish is None else sought_from(typed.fish),
    )


def sought_from(typed: str) -> Sought:
    """Where to look for a fish: by its name, or the depth given directly."""
    word = typed.strip().casefold()
    try:
        return FISH[word] if word in FISH else Sought(word)
    except ValueError:
        known = ", ".join([*FISH, *(s.value for s in Sought)])
        raise QueryError(f'--fish: "{typed}" is not known here. Use one of {known}.') from None
