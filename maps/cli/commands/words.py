"""``lakeplumb words``: writes out the texts for a club to translate or reword."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from maps.cli.console import refusals
from maps.language.catalogue import english
from survey.errors import SurveyError

ListFile = Annotated[Path, typer.Option("--out", metavar="FILE", help="File to write; it must not exist yet.")]


def words(out: ListFile) -> None:
    """Write out all the page, guide and file texts for translation.

    Put the file in the venue folder and name it in venue.toml: [publish] words = "words.json". Leave the keys as
    they are; any text you leave out stays English.
    """
    with refusals():
        if out.exists():
            raise SurveyError(f"{out} already exists. Give another name, so that your work is not overwritten.")
        out.write_text(json.dumps(english(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
        typer.echo(
            f'{out}: {len(english())} texts. Translate them, then add [publish] words = "{out.name}" to venue.toml.'
        )
