"""``lakeplumb shot``: chooses shot for a float and places it; it needs no venue."""

from __future__ import annotations

from typing import Annotated

import typer

from maps.cli.console import AsJson, print_answer, print_json, refusals
from maps.replies.options import length_of, option
from maps.replies.shot_text import RIG_SHOT, shot_lines, shotting_json
from survey.errors import QueryError
from survey.spots.float_setting import RIG_RULES, RigStyle
from survey.tackle.balance import USUAL_SHOT, balances
from survey.tackle.shotting import Line, Shotting, shotted, without
from survey.tackle.sinking import BAIT_DENSITY, BAIT_M, Sphere, fall_s
from survey.units import read_length
from survey.units.club_units import METRIC
from survey.units.float_ratings import read_mark
from survey.units.shot_sizes import read_shot, way_words

MOST_WAYS = 100


def shot(  # noqa: PLR0913, PLR0917 - one parameter for each option a person may give
    balance: Annotated[str, typer.Argument(metavar="MARK", help='Weight the float takes: "3 No 4", "2BB", "1.2 g".')],
    setting: Annotated[
        str,
        typer.Option(metavar="S", help="Line from hook to float; plain numbers are metres. Answers are in its unit."),
    ] = "2 m",
    rig: Annotated[RigStyle, typer.Option(help="Rig to set the shot out for.")] = RigStyle.SLOW,
    at_hand: Annotated[
        str, typer.Option("--shot", metavar="S", help='Shot you have: "10 No 4, 6 BB, No 8".')
    ] = USUAL_SHOT,
    lock: Annotated[str | None, typer.Option(metavar="S", help='Shot holding the float: "2 No 4".')] = None,
    hook_length: Annotated[str, typer.Option(metavar="L", help="Hook length (carries no shot).")] = "0",
    ways: Annotated[int, typer.Option(min=0, max=MOST_WAYS, help="How many ways to make the weight to list.")] = 0,
    as_json: AsJson = False,
) -> None:
    """Choose shot for a float and show where to put it."""
    with refusals(as_json=as_json):
        mark = option("MARK", balance, read_mark)
        tin = option("--shot", at_hand, read_shot)
        held = {size: count or 1 for size, count in (option("--lock", lock, read_shot) if lock else {}).items()}
        line = _line(setting, hook_length, rig)
        made = shotted(mark.balance_g, tin, rig, line, held)
        listed = balances(made.balance_g, without(tin, held)).first(ways)
        seconds = _fall_s(made, line)
        if as_json:
            more = {
                "rig": rig.value,
                "setting_m": line.length_m,
                "least_fall_s": round(seconds, 1),
                "load_g": mark.load_g,
            }
            print_json(shotting_json(made) | more | {"ways": [dict(way) for way in listed]})
        else:
            print_answer(*_told(made, rig, seconds, shows_of(setting), [way_words(way) for way in listed]))


def _line(setting: str, hook_length: str, rig: RigStyle) -> Line:
    length, hook = length_of("--setting", setting), length_of("--hook-length", hook_length)
    if length <= 0 or not 0 <= hook <= length:
        raise QueryError("--setting must be above zero, and --hook-length no longer than --setting.")
    return Line(length, hook, max(-RIG_RULES[rig].clearance_m, 0.0))


def shows_of(setting: str) -> str:
    """Whether a setting was typed in feet or in metres: places on the line are answered in the same."""
    return "metres" if read_length(setting, "m").unit in METRIC else "feet"


def _fall_s(made: Shotting, line: Line) -> float:
    hanging = [(max(p.from_hook_m - line.on_bed_m, 0.0), p.weight_g) for p in made.placed]
    return fall_s(hanging, line.length_m - line.on_bed_m, Sphere(BAIT_M, BAIT_DENSITY))


def _told(made: Shotting, rig: RigStyle, seconds: float, shows: str, listed: list[str]) -> tuple[str, list[str]]:
    lead = f"{way_words(made.way)} for {made.balance_g:g} g, {rig.value}: {RIG_SHOT[rig]}."
    lines = [*shot_lines(made, shows), f"Fall     a small bait takes {seconds:.0f} s or more to sink"]
    return lead, [*lines, *(f"Way {k}    {way}" for k, way in enumerate(listed, 1))]
