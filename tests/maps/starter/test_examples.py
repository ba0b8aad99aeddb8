"""Example rows of a new venue are named and left out, until they are changed or their mark is taken out."""

import io
import re
import shutil

import openpyxl
import pytest

from maps.starter.new_venue import TEMPLATES
from survey.errors import FieldbookError
from survey.fieldbook import read_fieldbook
from survey.findings import Grade
from tests.made.findings import found
from tests.made.own_venue import make_own

EXAMPLES = {"pegs": 4, "readings": 18, "levels": 3}
SHEETS = [f"{name}.csv" for name in EXAMPLES]


@pytest.fixture
def new(tmp_path):
    """A new venue's sheets and outline as they are written, under a name."""
    for name in (*SHEETS, "outline.geojson", "venue.toml"):
        shutil.copy(TEMPLATES / name, tmp_path / name)
    toml = tmp_path / "venue.toml"
    toml.write_text(toml.read_text("utf-8").replace("@NAME@", '"Kettle Mere"'), encoding="utf-8")
    return tmp_path


def own(folder, *names):
    """Only some of its files made the club's own."""
    kept = {path: path.read_bytes() for path in folder.iterdir() if path.name not in {*names, "venue.toml"}}
    make_own(folder)
    for path, data in kept.items():
        path.write_bytes(data)


def test_a_new_venue_is_no_survey(new):
    with pytest.raises(FieldbookError) as raised:
        read_fieldbook(new)
    said = str(raised.value)
    assert "outline.geojson: this is the example of a new venue, which is never used" in said
    assert "pegs.csv: all its pegs are examples, which are never used" in said


def test_every_example_row_is_known_and_left_out(new):
    own(new, "outline.geojson")
    with (new / "pegs.csv").open("a") as pegs:
        pegs.write("9,-4.600350,53.749927,,,,,,ours\n")
    book = read_fieldbook(new)
    assert (len(book.readings), book.levels, [peg.name for peg in book.venue.pegs], book.rows) == (0, (), ["9"], 0)
    told = {f.place.file: f.problem for f in found(book, "example-left-out")}
    assert set(told) == set(SHEETS)
    assert all(f"{count} rows (" in told[f"{name}.csv"] for name, count in EXAMPLES.items())
    assert {f.grade for f in found(book, "example-left-out")} == {Grade.WARNING}
    assert found(book, "empty-rows") == []


def test_without_their_marks_they_are_the_clubs_own(new):
    make_own(new)
    book = read_fieldbook(new)
    assert (len(book.readings), len(book.levels), len(book.venue.pegs)) == (18, 3, 4)
    assert [f for f in book.findings if f.code.startswith("example")] == []


@pytest.mark.parametrize(
    ("sheet", "was", "now", "counts"),
    [
        ("readings.csv", "1,11,5,2 ft 6 in", "1,11,5,2 ft 7 in", (1, 0, 4)),
        ("readings.csv", "1,11,5,2 ft 6 in", "2,11,5,2 ft 6 in", (1, 0, 4)),
        ("readings.csv", "2026-05-02,09:05", "2026-06-02,09:05", (1, 0, 4)),
        ("levels.csv", "08:30,0.45", "08:30,0.52", (0, 1, 4)),
        ("pegs.csv", "53.750299", "53.750300", (0, 0, 1)),
    ],
)
def test_a_changed_row_is_the_clubs_own_and_its_mark_is_named(new, sheet, was, now, counts):
    own(new, "outline.geojson", *({"pegs.csv"} - {sheet}))
    text = (new / sheet).read_text()
    assert was in text
    (new / sheet).write_text(text.replace(was, now, 1))
    book = read_fieldbook(new)
    assert (len(book.readings), len(book.levels), len(book.venue.pegs)) == counts
    (told,) = found(book, "example-mark")
    assert (told.grade, told.place.file, told.place.row) == (Grade.WARNING, sheet, 2)


def as_workbook(path, moved):
    """A sheet as a spreadsheet saves it: figures as figures, rows and columns in another order."""
    lines = [line.split(",") for line in path.read_text().splitlines()]
    order = sorted(range(len(lines[0])), key=lambda k: lines[0][k], reverse=moved)
    book = openpyxl.Workbook()
    for line in [lines[0], *sorted(lines[1:], reverse=moved)]:
        cells = [line[k] for k in order]
        book.active.append([float(c) if re.fullmatch(r"-?\d+(\.\d+)?", c) else c or None for c in cells])
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


@pytest.mark.parametrize("moved", [False, True])
def test_examples_are_known_in_a_workbook_and_in_any_order(new, moved):
    own(new, "outline.geojson", "pegs.csv")
    for name in ("readings", "levels"):
        (new / f"{name}.xlsx").write_bytes(as_workbook(new / f"{name}.csv", moved))
        (new / f"{name}.csv").unlink()
    book = read_fieldbook(new)
    assert (book.readings, book.levels) == ((), ())
    assert len(found(book, "example-left-out")) == 2


def test_examples_are_known_with_dates_as_a_british_spreadsheet_saves_them(new):
    own(new, "outline.geojson", "pegs.csv")
    for name in ("readings.csv", "levels.csv"):
        turned = re.sub(r"2026-(\d\d)-(\d\d)", r"\2/\1/2026", (new / name).read_text())
        (new / name).write_text(turned)
    book = read_fieldbook(new)
    assert (book.readings, book.levels) == ((), ())


def test_an_example_outline_beside_ones_own_is_left_out(new):
    make_own(new)
    ours = (new / "outline.geojson").read_text()
    example = (TEMPLATES / "outline.geojson").read_text()
    alone = read_fieldbook(new).venue.water
    features = [re.search(r'\[(\{"type": "Feature",.*\})\]\}', text, re.DOTALL)[1] for text in (ours, example)]
    moved = features[0].replace("53.7499", "53.7498")
    (new / "outline.geojson").write_text(f'{{"type":"FeatureCollection","features":[{moved},{features[1]}]}}')
    book = read_fieldbook(new)
    assert len(found(book, "example-left-out")) == 1
    (new / "outline.geojson").write_text(f'{{"type":"FeatureCollection","features":[{moved}]}}')
    assert book.venue.water.equals(read_fieldbook(new).venue.water)
    assert not book.venue.water.equals(alone)
