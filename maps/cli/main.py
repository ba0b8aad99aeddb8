"""The command line: finds the command typed, and imports it only then.

Exit codes: 0 done, 1 errors found, 2 could not be done.
"""

from __future__ import annotations

import io
import sys
from importlib import import_module
from typing import Annotated, Any

import typer
import typer.core
import typer.main

import survey

SUMMARIES = {
    "new": "Start a venue folder, with example sheets and two pages to print.",
    "check": "Check the sheets and list what is wrong or doubtful, by row.",
    "decisions": "Show the decisions sheet with the tags of its readings, and write it when told to.",
    "build": "Build the map, files and float settings from a venue folder.",
    "publish": "Make a folder to share: map, a page for each peg, printable guide and files.",
    "depth": "Show the depth, float setting and rig for one spot.",
    "level": "Find today's water level by plumbing one spot, or better two.",
    "shot": "Choose shot for a float and show where to put it.",
    "wind": "Rank pegs by shelter from today's wind, and show how a float will drift.",
    "words": "Write out all the page, guide and file texts for translation.",
}
"""Every command and its first sentence, so that the list of them needs none of them."""
SETTINGS: dict[str, Any] = {
    "add_completion": False,
    "rich_markup_mode": None,
    "pretty_exceptions_enable": False,
}


class Commands(typer.core.TyperGroup):
    """The commands, each a function of its own name in a module of that name."""

    def list_commands(self, ctx: typer.Context) -> list[str]:  # noqa: ARG002 - the same in any context
        """Their names, in the order of the work."""
        return list(SUMMARIES)

    def get_command(self, ctx: typer.Context, cmd_name: str) -> Any:  # noqa: ANN401, ARG002 - typer's own class
        """The command of that name, imported now; None if there is none."""
        if cmd_name not in SUMMARIES:
            return None
        alone = typer.Typer(**SETTINGS)
        alone.command(cmd_name)(getattr(import_module(f"maps.cli.commands.{cmd_name}"), cmd_name))
        return typer.main.get_command(alone)

    def format_commands(self, ctx: typer.Context, formatter: Any) -> None:  # noqa: ANN401, ARG002 - typer's own class
        """The list of commands, without importing one."""
        with formatter.section("Commands"):
            formatter.write_dl(list(SUMMARIES.items()))


app = typer.Typer(
    name="lakeplumb",
    cls=Commands,
    help="Turn depths plumbed from the bank into a map of the lake bed and a float setting for every peg.",
    no_args_is_help=True,
    **SETTINGS,
)
main = app


@app.callback(invoke_without_command=True)
def _root(
    version: Annotated[bool, typer.Option("--version", is_eager=True, help="Show the version.")] = False,
) -> None:
    for stream in (sys.stdout, sys.stderr):
        # A console that lacks ½ or ± shows a question mark; it does not lose the answer.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    if version:
        typer.echo(f"lakeplumb {survey.__version__}")
        raise typer.Exit
