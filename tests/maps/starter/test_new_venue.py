"""A new venue: complete, honest about its examples, printable, and never laid over other things."""

import json
import re
import shutil
import subprocess
import tomllib

import pytest

from maps.print.forms import printed
from maps.starter.new_venue import PRINTED, new_venue
from survey.errors import SurveyError

HOSTILE = 'Fry\'s "Deep" #emph[Mere] $x$ \\ <b>&amp;'


def read(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def shown(pdf, tmp_path):
    """The text of a PDF as a reader would copy it."""
    path = tmp_path / "page.pdf"
    path.write_bytes(pdf)
    return subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True).stdout


needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")


def test_it_holds_sheets_outline_and_pages(tmp_path):
    written = new_venue(tmp_path / "mere", "Kettle Mere")
    assert {path.name for path in written} == {
        *("venue.toml", "outline.geojson", "pegs.csv", "readings.csv", "levels.csv"),
        *("bank-sheet.pdf", "taking-readings.pdf"),
    }
    assert all(path.is_file() for path in written)
    assert [path.name for path in tmp_path.iterdir()] == ["mere"]


@pytest.mark.parametrize("name", ["Kettle Mere", HOSTILE, "Žďár – Ålands 7`a"])
def test_the_name_arrives_whole(tmp_path, name):
    new_venue(tmp_path / "mere", name)
    assert tomllib.loads((tmp_path / "mere" / "venue.toml").read_text(encoding="utf-8"))["name"] == name


def test_without_a_name_it_is_called_after_its_folder(tmp_path):
    new_venue(tmp_path / "Kettle Mere")
    assert 'name = "Kettle Mere"' in (tmp_path / "Kettle Mere" / "venue.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["", "  ", "x" * 81, "bell\a"])
def test_a_name_that_cannot_stand_on_a_sheet_is_refused(tmp_path, name):
    with pytest.raises(SurveyError, match="give the water a name of 1 to 80 printable characters"):
        new_venue(tmp_path / "mere", name)
    assert list(tmp_path.iterdir()) == []


def test_every_example_row_says_that_it_is_one(tmp_path):
    new_venue(tmp_path / "mere")
    for sheet in ("pegs.csv", "readings.csv", "levels.csv"):
        rows = (tmp_path / "mere" / sheet).read_text(encoding="utf-8").splitlines()[1:]
        assert rows
        assert all(re.search(r",EXAMPLE\b", row) for row in rows), sheet
    outline = json.loads((tmp_path / "mere" / "outline.geojson").read_text(encoding="utf-8"))
    assert outline["features"][0]["properties"]["note"].startswith("EXAMPLE")


def test_a_folder_that_holds_something_is_left_alone(tmp_path):
    (tmp_path / "readings.csv").write_text("years of work")
    with pytest.raises(SurveyError, match="holds other files, so it was left alone"):
        new_venue(tmp_path)
    assert read(tmp_path) == {"readings.csv": b"years of work"}


def test_an_empty_folder_is_filled(tmp_path):
    (tmp_path / "mere").mkdir()
    assert len(new_venue(tmp_path / "mere")) == 7


def test_a_failure_leaves_nothing_behind(tmp_path, monkeypatch):
    monkeypatch.setattr("maps.starter.new_venue.printed", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        new_venue(tmp_path / "mere")
    assert list(tmp_path.iterdir()) == []


def test_the_same_name_makes_the_same_bytes(tmp_path):
    new_venue(tmp_path / "one", "Kettle Mere")
    new_venue(tmp_path / "two", "Kettle Mere")
    assert read(tmp_path / "one") == read(tmp_path / "two")


@pytest.mark.parametrize("page", PRINTED)
@pytest.mark.parametrize("name", ["M", HOSTILE, "W" * 80, "Long words of a name " * 4, "湖"])
def test_each_page_is_one_page_whatever_the_name(page, name):
    pdf = printed(page, name.strip())
    assert pdf.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    # A4 is 210 by 297 mm, 595.28 by 841.89 points (ISO 216).
    (box,) = re.findall(rb"/MediaBox\s*\[([^\]]*)\]", pdf)
    assert sorted(float(side) for side in box.split()[2:]) == pytest.approx([595.28, 841.89], abs=0.01)


@needs_poppler
def test_the_name_is_shown_and_never_run(tmp_path):
    for page in PRINTED:
        assert HOSTILE in shown(printed(page, HOSTILE), tmp_path).replace("’", "'").replace("“", '"').replace("”", '"')


@needs_poppler
def test_the_pages_say_what_a_reader_must_know(tmp_path):
    how = shown(printed("taking-readings", "M"), tmp_path)
    for words in ("Stands", "Sunk", "Flat", "Usual", "30 m from overhead lines", "Never on ice", "not swimming"):
        assert words in how
    sheet = shown(printed("bank-sheet", "M"), tmp_path)
    for words in ("Peg", "Clock", "Distance", "Setting", "Seen", "Tip", "Time", "Water level"):
        assert words in sheet
