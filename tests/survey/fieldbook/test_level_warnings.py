"""A level typed in centimetres, or with its point lost, is named before it moves a whole day."""

import shutil
from pathlib import Path

from survey.fieldbook import read_fieldbook

DEMO = Path(__file__).resolve().parents[3] / "data" / "sallowby-pit"


def test_a_level_far_from_the_others_is_named_by_row(tmp_path):
    folder = tmp_path / "venue"
    shutil.copytree(DEMO, folder)
    levels = folder / "levels.csv"
    levels.write_text(levels.read_text(encoding="utf-8").replace("0.71", "71"), encoding="utf-8")
    found = [f for f in read_fieldbook(folder).findings if f.code == "level-far"]
    assert [(f.place.file, f.place.row) for f in found] == [("levels.csv", 2)]
    assert not [f for f in read_fieldbook(DEMO).findings if f.code == "level-far"]


def test_a_survey_without_levels_says_so_among_its_cautions(tmp_path):
    folder = tmp_path / "venue"
    shutil.copytree(DEMO, folder)
    (folder / "levels.csv").unlink()
    assert "No water level was recorded" in read_fieldbook(folder).venue.cautions[-1]
    assert not read_fieldbook(DEMO).venue.cautions
