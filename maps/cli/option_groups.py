"""Options that belong together: a command takes them as one record, though they are typed one by one.

Each group is a dataclass whose fields are options; their values are parsed where they are used. Knows nothing of any
one command.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import typer

from maps.cli.console import AsJson, Cell, Level, OutFolder
from survey.records.readings import DistanceBy
from survey.spots.float_setting import RigStyle
from survey.tackle.balance import USUAL_SHOT

Month = Annotated[
    int | None, typer.Option(min=1, max=12, help="Month when you plumbed, for the usual level; default this month.")
]


@dataclass(frozen=True)
class SpotOptions:
    """Where the cast goes."""

    peg: Annotated[str, typer.Option(metavar="P", help="Peg name as painted, or an alias.")]
    distance: Annotated[
        str,
        typer.Option(
            metavar="D", help='Distance in what the club counts them in, or with a unit: "30 yd", "20 wraps".'
        ),
    ]
    clock: Annotated[str | None, typer.Option(metavar="C", help="Direction on the clock face; 12 is straight out.")] = (
        None
    )
    angle: Annotated[str | None, typer.Option(metavar="A", help="Degrees from straight out; + is right.")] = None
    bearing: Annotated[str | None, typer.Option(metavar="B", help="True bearing in degrees.")] = None
    distance_by: Annotated[
        DistanceBy | None, typer.Option(help="How the distance was measured; default by its unit.")
    ] = None


@dataclass(frozen=True)
class TodayOptions:
    """Today's conditions: the level, read or plumbed, and the wind."""

    level: Level = None
    plumb: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SET",
            help='Your plumbed setting here, to correct the level; for another spot: "P; C; D; SET". Repeatable.',
        ),
    ] = None
    month: Month = None
    wind: Annotated[
        str | None, typer.Option(metavar="W", help='Wind speed and where it blows from: "5 m/s SW", "12 mph 225".')
    ] = None


@dataclass(frozen=True)
class FloatOptions:
    """The float: one of the venue's, one of your own file, or as measured."""

    float_name: Annotated[str | None, typer.Option("--float", metavar="NAME", help="A float named in venue.toml.")] = (
        None
    )
    floats: Annotated[
        Path | None,
        typer.Option("--floats", metavar="FILE", help="File of your own floats, laid out as in venue.toml."),
    ] = None
    float_length: Annotated[str | None, typer.Option(metavar="L", help="Float length above where it is fixed.")] = None
    tip: Annotated[str | None, typer.Option(metavar="T", help="Tip that usually shows above the water.")] = None


@dataclass(frozen=True)
class TackleOptions(FloatOptions):
    """The float and all below it, and the fish sought."""

    mark: Annotated[str | None, typer.Option(metavar="M", help='Weight printed on the float: "3 No 4", "1.2 g".')] = (
        None
    )
    rig: Annotated[RigStyle | None, typer.Option(help="Rig to show first.")] = None
    fish: Annotated[
        str | None,
        typer.Option(metavar="F", help="Fish you want, or surface, mid-water, bottom: sorts what to try next."),
    ] = None
    shot: Annotated[str, typer.Option(metavar="S", help='Shot you have: "10 No 4, 6 BB, No 8".')] = USUAL_SHOT
    lock: Annotated[str | None, typer.Option(metavar="S", help='Shot holding the float: "2 No 4".')] = None
    hook_length: Annotated[str | None, typer.Option(metavar="L", help="Hook length (carries no shot).")] = None
    bait: Annotated[str | None, typer.Option(metavar="L", help="How far the bait hangs below the hook.")] = None
    rod: Annotated[
        str | None,
        typer.Option("--rod-length", metavar="L", help="Rod length, to warn when a sliding float is needed."),
    ] = None


@dataclass(frozen=True)
class GridOptions:
    """From which grid the answer comes, and how it is given."""

    out: OutFolder = None
    cell: Cell = None
    as_json: AsJson = False


@dataclass(frozen=True)
class AnswerOptions(GridOptions):
    """The same for a spot, or for a line of them."""

    every: Annotated[
        str | None, typer.Option(metavar="STEP", help="Also list spots along this cast, this far apart.")
    ] = None


def grouped(command: Callable[..., None]) -> Callable[..., None]:
    """A command whose option groups are spread out on the command line, and gathered again for the command."""
    hints = get_type_hints(command, include_extras=True)
    groups = {name: kind for name, kind in hints.items() if is_dataclass(kind)}

    def run(**typed: Any) -> None:  # noqa: ANN401 - whatever the options are
        records = {
            name: kind(**{field.name: typed.pop(field.name) for field in fields(kind)}) for name, kind in groups.items()
        }
        command(**typed, **records)

    spread = list(_spread(inspect.signature(command, eval_str=True), groups))
    # The parser of commands looks at a function's signature and nothing else.
    run.__signature__ = inspect.Signature(spread)  # type: ignore[attr-defined]
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in spread}
    run.__name__, run.__doc__, run.__module__ = command.__name__, command.__doc__, command.__module__
    return run


def _spread(signature: inspect.Signature, groups: dict[str, Any]) -> Iterator[inspect.Parameter]:
    for name, parameter in signature.parameters.items():
        if name in groups:
            hints = get_type_hints(groups[name], include_extras=True)
            yield from (_option(field, hints[field.name]) for field in fields(groups[name]))
        else:
            yield parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY)


def _option(field: Field[Any], hint: object) -> inspect.Parameter:
    default = inspect.Parameter.empty if field.default is MISSING else field.default
    return inspect.Parameter(field.name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=hint)
