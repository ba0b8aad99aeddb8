"""What each command may load: libraries that take long to import only where their work is wanted."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from maps.cli.main import SUMMARIES, main
from maps.files.stored_bed import BED_FILE, write_bed

ROOT = Path(__file__).resolve().parents[3]
HEAVY = {
    "babel", "contourpy", "folium", "geopandas", "jinja2", "numpy", "openpyxl", "pandas", "pygeomag", "pyogrio",
    "pyproj", "python_calamine", "rasterio", "rich", "scipy", "shapely", "threadpoolctl", "typst",
}  # fmt: skip
"""Each takes 10 ms or more to import."""
A_SPOT = {"numpy", "shapely", "pyproj", "babel", "pygeomag", "python_calamine"}
"""To read a venue's sheets and its stored grid."""
RUN = """
import sys
from maps.cli.main import main
try:
    main(sys.argv[1:], standalone_mode=False)
finally:
    print("LOADED", *sorted({name.split(".")[0] for name in sys.modules}))
"""


def loaded(*words: str) -> set[str]:
    """Heavy libraries that a command has loaded when it is done."""
    ran = subprocess.run(
        [sys.executable, "-c", RUN, *words],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        check=True,
        text=True,
    )
    return set(ran.stdout.rsplit("LOADED ", 1)[1].split()) & HEAVY


@pytest.fixture(scope="module")
def built(demo_venue, demo_worked, tmp_path_factory) -> tuple[Path, Path]:
    """The demo venue and a folder with its stored grid."""
    out = tmp_path_factory.mktemp("built")
    write_bed(out / BED_FILE, demo_worked)
    return demo_venue, out


def test_what_needs_no_venue_loads_none_of_them():
    assert loaded("--version") == set()
    assert loaded("--help") == set()
    assert loaded("shot", "3 No 4") == set()


@pytest.mark.parametrize(
    "words",
    [
        ["depth", "--peg", "3", "--clock", "12", "--distance", "12"],
        ["depth", "--peg", "3", "--clock", "12", "--distance", "12", "--json"],
        ["level", "--plumb", "3; 12; 12; 7 ft", "--float-length", "25cm", "--tip", "2cm"],
    ],
    ids=["depth", "depth as JSON", "level"],
)
def test_a_stored_grid_answers_without_the_libraries_that_make_one(words, built):
    venue, out = built
    assert loaded(words[0], str(venue), *words[1:], "--out", str(out)) <= A_SPOT


def test_wind_needs_the_venue_alone(built):
    venue, _ = built
    assert loaded("wind", str(venue), "--speed", "5 m/s", "--from", "SW") <= A_SPOT


def test_the_list_of_commands_says_of_each_what_its_own_help_begins_with(capsys):
    for name, summary in SUMMARIES.items():
        main([name, "--help"], standalone_mode=False)
        said = " ".join(capsys.readouterr().out.split())
        assert summary in said, name
