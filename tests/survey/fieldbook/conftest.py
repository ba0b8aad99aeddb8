"""An invented venue, Quillmere, written anew for each test: 200 by 120 m, its west bank at easting 545000."""

from collections.abc import Callable
from pathlib import Path

import pytest

from survey.errors import FieldbookError
from survey.fieldbook import read_fieldbook
from survey.records.fieldbook import Fieldbook

OUTLINE = """{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"Quillmere"},
"geometry":{"type":"Polygon","coordinates":[[[-2.3118210,54.1011979],[-2.3087627,54.1011803],
[-2.3087448,54.1022588],[-2.3118032,54.1022763],[-2.3118210,54.1011979]]]}}]}"""
PEGS = """peg,lon,lat,position by,facing,aliases
1,-2.3118121,54.1017371,surveyed,90,Stump; Old 1
2,-2.3118195,54.1013,surveyed,90,
4,-2.311808,54.102,surveyed,90,
5,-2.3118065,54.1021,surveyed,90,
6,-2.311806,54.1022,surveyed,90,
A,-2.3118150,54.1016,surveyed,90,
"""
READINGS = "peg,angle,distance (m),depth (m),date\n1,0,20,1.4,2026-05-03\n"

Venue = Callable[..., Fieldbook]


@pytest.fixture
def folder(tmp_path):
    """Writes a venue folder; files given replace those of the same stem, None leaves one out."""

    def written(toml: str = "", **files: str | bytes | Path | None) -> Path:
        named = {name.replace("__", "."): content for name, content in files.items()}
        usual = {"outline.geojson": OUTLINE, "pegs.csv": PEGS, "readings.csv": READINGS}
        stems = {name.split(".")[0] for name in named}
        contents = {n: c for n, c in usual.items() if n.split(".")[0] not in stems} | named
        target = tmp_path / "quillmere"
        target.mkdir(exist_ok=True)
        for old in target.iterdir():
            old.unlink()
        (target / "venue.toml").write_text(toml or 'name = "Quillmere"\n', encoding="utf-8")
        for name, content in contents.items():
            if isinstance(content, Path):
                (target / name).write_bytes(content.read_bytes())
            elif content is not None:
                data = content if isinstance(content, bytes) else content.encode()
                (target / name).write_bytes(data)
        return target

    return written


@pytest.fixture
def read(folder) -> Venue:
    """Reads such a folder."""
    return lambda toml="", **files: read_fieldbook(folder(toml, **files))


@pytest.fixture
def refusal(folder) -> Callable[..., str]:
    """The message with which such a folder is refused."""

    def said(toml: str = "", **files: str | bytes | Path | None) -> str:
        with pytest.raises(FieldbookError) as raised:
            read_fieldbook(folder(toml, **files))
        return str(raised.value)

    return said
