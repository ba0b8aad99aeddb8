"""The command that writes the list of words, for a club that wants to word them itself."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from maps.cli.console import refusals
from maps.language.catalogue import english
from survey.errors import SurveyError

ListFile = Annotated[Path, typer.Option("--out", metavar="FILE", help="The list to be written; must not exist yet.")]


def words(out: ListFile) -> None:
    """Write all the words of pages, guide and files, to be put into another language.

    Put the file into the venue folder and name it in venue.toml: [publish] words = "words.json". Keys stay as they
    are; what you leave out stays English.
    """
    with refusals():
        if out.exists():
            raise SurveyError(f"{out} is there already. Give another name, so that no work of yours is lost.")
        out.write_text(json.dumps(english(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
        typer.echo(f'{out}: {len(english())} texts. Word them, then: [publish] words = "{out.name}" in venue.toml.')
