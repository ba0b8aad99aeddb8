"""A new venue as a club makes it its own: the marks of the examples taken out, the lines of venue.toml put in use."""

import re
from pathlib import Path

KEYS = r'\[level\]|kind = "board"|unit = |datum = |outline_level = |\[floats\.|length = |tip = |mark = '


def make_own(folder: Path) -> None:
    for name in ("pegs.csv", "readings.csv", "levels.csv", "outline.geojson"):
        path = folder / name
        path.write_text(re.sub(r"EXAMPLE [\w-]+: ", "", path.read_text("utf-8")), encoding="utf-8")
    toml = folder / "venue.toml"
    toml.write_text(re.sub(rf"^# (?={KEYS})", "", toml.read_text("utf-8"), flags=re.MULTILINE), encoding="utf-8")
