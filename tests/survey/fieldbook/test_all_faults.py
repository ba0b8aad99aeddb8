"""All that is wrong with a folder comes in one run, and nothing that is only the consequence of something else."""

import itertools

import pytest

from survey.errors import FieldbookError
from survey.fieldbook import read_fieldbook
from tests.survey.fieldbook.conftest import OUTLINE, PEGS

OPEN_OUTLINE = (
    '{"type":"LineString","coordinates":[[-2.3118210,54.1011979],[-2.3087627,54.1011803],[-2.3087448,54.1022588]]}'
)
UNKNOWN_KEY = 'name = "Quillmere"\nemergancy = "999"\n'
TWO_OF_A_NAME = PEGS + "1,-2.3118150,54.1015,surveyed,90,\n"
NO_UNIT = "peg,clock,distance,depth (m),date\n1,12,20,1.4,2026-05-03\n"
IN_WRAPS = NO_UNIT.replace("distance", "distance (wraps)")
IN_METRES = OUTLINE.replace("-2.3", "5451").replace("54.1", "5995")
BY_FLOAT = "peg,clock,distance (m),setting (m),float\n1,12,9,1,W\n"
NO_DEPTH = "peg,clock,distance (m),date\n1,12,20,2026-05-03\n"
NO_ORDER = "date,level (m)\n03/05/2026,0.4\n"
UNDATED_EDGE = "this is no GPX"
FAULTS = {
    "venue.toml": (UNKNOWN_KEY, "emergancy"),
    "outline.geojson": (OPEN_OUTLINE, "a line whose ends lie"),
    "pegs.csv": (TWO_OF_A_NAME, "two pegs have this name"),
    "readings-a.csv": (NO_UNIT, "the numbers have no unit"),
    "readings-b.csv": (NO_DEPTH, "the sheet has no depth"),
    "levels.csv": (NO_ORDER, "whether day or month comes first"),
    "edges.gpx": (UNDATED_EDGE, "is not a GPX"),
}
SOUND = {
    "venue.toml": 'name = "Quillmere"\n',
    "outline.geojson": OUTLINE,
    "pegs.csv": PEGS,
    "readings-a.csv": "peg,clock,distance (m),depth (m),date\n1,12,20,1.4,2026-05-03\n",
}


def refused(tmp_path, files) -> FieldbookError:
    folder = tmp_path / "quillmere"
    folder.mkdir(exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    with pytest.raises(FieldbookError) as raised:
        read_fieldbook(folder)
    return raised.value


@pytest.mark.parametrize("wrong", [*itertools.combinations(FAULTS, 2), tuple(FAULTS)])
def test_every_file_that_is_wrong_is_named_in_one_run(tmp_path, wrong):
    error = refused(tmp_path, SOUND | {name: FAULTS[name][0] for name in wrong})
    assert {fault.place.file for fault in error.faults} == set(wrong)
    assert len(error.faults) == len(wrong)
    assert all(FAULTS[name][1] in str(error) for name in wrong)


@pytest.mark.parametrize(
    ("toml", "files", "only"),
    [
        ('name = "Q"\n[units]\ndepth = "fathom"\n', {"readings-a.csv": NO_UNIT.replace("(m)", "")}, "[units] depth"),
        ('name = "Q"\n[unit]\ndistance = "m"\n', {"readings-a.csv": NO_UNIT}, "unit"),
        ('name = "Q"\n[units]\nstick_spacing = "far"\n', {"readings-a.csv": IN_WRAPS}, "stick"),
        ('name = "Q"\ndates = "european"\n', {"levels.csv": NO_ORDER}, "dates"),
        ('name = "Q"\ncrs = "EPSG:1"\n', {"outline.geojson": IN_METRES}, "crs"),
        ('name = "Q"\n[level]\nunit = "fathom"\n', {"levels.csv": "date,level\n2026-05-03,0.4\n"}, "[level] unit"),
        ('name = "Q"\n[files]\npegs = "posts.csv"\n', {"pegs.csv": None}, "[files] pegs"),
        ('name = "Q"\n[files]\noutline = "shore.kml"\n', {"outline.geojson": None}, "[files] outline"),
        ('name = "Q\n', {"readings-a.csv": NO_UNIT.replace("distance", "distance (m)")}, ""),
        ('name = "Q"\n[floats.W]\nlength = "long"\n', {"readings-a.csv": BY_FLOAT}, "floats"),
    ],
)  # fmt: skip
def test_what_follows_from_a_fault_of_the_settings_is_not_told_as_another(tmp_path, toml, files, only):
    files = {name: text for name, text in (SOUND | {"venue.toml": toml} | files).items() if text is not None}
    error = refused(tmp_path, files)
    assert {fault.place.file for fault in error.faults} == {"venue.toml"}
    assert only in str(error)
    assert error.also == ()


def test_missing_files_are_named_together(tmp_path):
    error = refused(tmp_path, {"notes.txt": "", "levels.csv": "date,height\n"})
    assert {fault.place.file for fault in error.faults} == {"venue.toml", "outline", "pegs", "readings", "levels.csv"}


def test_two_files_for_one_role_hide_nothing_else(tmp_path):
    files = SOUND | {"pegs.txt": PEGS, "readings-a.csv": NO_UNIT}
    error = refused(tmp_path, files)
    assert [fault.place.file for fault in error.faults] == ["pegs.csv", "readings-a.csv"]


def test_rows_with_errors_are_told_beside_the_faults(tmp_path):
    bad = "peg,clock,distance (m),depth (m)\nZed,12,9,1\n1,12,far,1\n"
    error = refused(tmp_path, SOUND | {"readings-a.csv": bad, "levels.csv": NO_ORDER})
    assert [fault.place.file for fault in error.faults] == ["levels.csv"]
    assert len(error.also) == 2
    assert "Zed" in " ".join(error.also)
