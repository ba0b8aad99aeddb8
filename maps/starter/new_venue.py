"""An empty venue: commented sheets with example rows, and two pages to print.

Copies templates and sets the water's name in them; knows nothing of how sheets are read.
"""

from __future__ import annotations

import json
from pathlib import Path

from maps.files.output_folder import whole_folder
from maps.print.forms import printed
from survey.errors import SurveyError

COPIED = ("outline.geojson", "pegs.csv", "readings.csv", "levels.csv")
PRINTED = ("bank-sheet", "taking-readings")
LONGEST_NAME = 80
TEMPLATES = Path(__file__).parent


def new_venue(folder: Path, name: str | None = None) -> tuple[Path, ...]:
    """Make a venue folder with example rows, whole or not at all.

    Parameters
    ----------
    folder : Path
        Must not exist, or be empty.
    name : str or None
        Name of the water; None: that of the folder.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    SurveyError
        The folder holds something, or the name cannot stand on a sheet.
    """
    target = folder.resolve()
    called = _name(target.name if name is None else name)
    with whole_folder(target, lambda _: None) as part:
        text = (TEMPLATES / "venue.toml").read_text(encoding="utf-8")
        _write(part / "venue.toml", text.replace("@NAME@", json.dumps(called, ensure_ascii=False)))
        for file in COPIED:
            _write(part / file, (TEMPLATES / file).read_text(encoding="utf-8"))
        for page in PRINTED:
            (part / f"{page}.pdf").write_bytes(printed(page, called))
        names = sorted(path.name for path in part.iterdir())
    return tuple(folder / written for written in names)


def _name(name: str) -> str:
    called = " ".join(name.split())
    if not called or not called.isprintable() or len(called) > LONGEST_NAME:
        raise SurveyError(f'--name "{name}": give the water a name of 1 to {LONGEST_NAME} printable characters.')
    return called


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
