"""A level, datum or outline level in another unit, or with its point lost, is named before it moves a depth."""

import io
import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.fieldbook import read_fieldbook
from survey.fieldbook.files.sources import Source
from survey.fieldbook.observations.level_slips import tell_far_levels
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.venue.settings import read_settings
from survey.findings import Finding, Grade
from survey.records.water_level import LevelMark
from survey.units.club_units import shown_level
from tests.made.readings import level

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


def declared(unit: str = "m"):
    return read_settings(Source("venue.toml", f'name = "Q"\n[level]\nunit = "{unit}"\n'.encode()), Remarks())


def told(shown_m, datum_m: float = 0.6, outline_m: float | None = None, unit: str = "m") -> list[Finding]:
    """What is said of levels a week apart, a datum and an outline level, all in metres."""
    remarks = Remarks()
    first = datetime(2026, 4, 11, 10, tzinfo=UTC)
    records = [level(one, first + timedelta(days=7 * k), 2 + k) for k, one in enumerate(shown_m)]
    tell_far_levels(records, replace(declared(unit), mark=LevelMark("board", datum_m, outline_m, unit)), remarks)
    return remarks.findings


RECORDS = (0.71, 0.60, 0.58, 0.66)


@pytest.mark.parametrize(
    ("datum_m", "unit", "slip"),
    [
        (6.0, "m", "with its decimal point one place to the left it would be 0.60 m"),
        (0.06, "m", "with its decimal point one place to the right it would be 0.60 m"),
        (60.0, "m", "with its decimal point two places to the left, or in centimetres, it would be 0.60 m"),
        (0.006, "m", "with its decimal point two places to the right it would be 0.60 m"),
        (2.0, "m", "in feet, not metres, it would be 0.61 m"),
        (24.0, "m", "in inches, not metres, it would be 0.61 m"),
        (24 * 0.3048, "ft", "in inches, not feet, it would be 2 ft"),
        (3.0, "ft", ""),
        (-0.6, "m", ""),
    ],
)
def test_a_datum_far_from_all_records_is_told_with_both_figures_and_the_likely_slip(datum_m, unit, slip):
    (finding,) = told(RECORDS, datum_m, unit=unit)
    assert (finding.grade, finding.code, str(finding.place)) == (
        Grade.WARNING, "datum-far", 'venue.toml, column "[level] datum"',
    )  # fmt: skip
    given, low, high = (shown_level(level_m, unit, "feet") for level_m in (datum_m, min(RECORDS), max(RECORDS)))
    assert finding.problem.startswith(f"{given} is ")
    assert f"of the levels recorded, {low} to {high}; it moves every depth" in finding.problem
    assert slip in finding.problem
    assert ("would be" in finding.problem) == bool(slip)


def test_where_the_records_differ_much_the_datum_may_lie_further_off():
    assert told((0.2, 0.7, 1.3, 1.9), 3.5) == []
    assert [f.code for f in told((1.7, 1.8, 1.8, 1.9), 3.5)] == ["datum-far"]


def test_a_datum_that_was_never_written_is_told_where_the_mark_counts_from_the_sea():
    (finding,) = told((62.3, 62.4), 0.0)
    assert "Without the line it counts as 0." in finding.remedy
    assert told((0.71, 0.60), 0.0) == []


def test_an_outline_level_far_from_all_records_is_told():
    (finding,) = told(RECORDS, 0.6, 6.5)
    assert (finding.code, finding.place.column) == ("outline-level-far", "[level] outline_level")
    assert "it moves the margins" in finding.problem
    assert "it would be 0.65 m" in finding.problem


@pytest.mark.parametrize(
    ("at", "shown_m", "said"),
    [
        (0, 7.1, "the levels are mostly near 0.63 m (2 ft 1 in); with its decimal point one place to the left"),
        (1, 0.06, "the records before and after it are 0.58 m (1 ft 11 in) to 0.71 m (2 ft 4 in); with its decimal"),
        (3, 2.2, "in feet, not metres, it would be 0.67 m"),
        (2, 1.9, "the records before and after it are 0.60 m"),
    ],
)
def test_one_record_far_from_its_neighbours_is_told_with_the_likely_slip(at, shown_m, said):
    (finding,) = told([shown_m if k == at else one for k, one in enumerate(RECORDS)])
    assert (finding.code, finding.place.row) == ("level-far", 2 + at)
    assert said in finding.problem


def test_a_record_that_is_not_believed_does_not_excuse_the_datum():
    assert [f.code for f in told((6.0, *RECORDS), 6.0)] == ["level-far", "datum-far"]


@given(st.lists(st.floats(0.3, 0.75), max_size=8), st.floats(0.3, 0.75), st.floats(0.3, 0.75) | st.none())
def test_levels_that_differ_by_less_than_half_a_metre_are_never_doubted(shown, datum, outline):
    assert told(shown, datum, outline) == []


@given(st.floats(2.0, 6.0), st.integers(3, 30))
def test_a_reservoir_that_falls_week_by_week_is_not_a_slip(high, weeks):
    """Down by two metres at most, and its datum at the top."""
    shown = [high - min(2.0, 0.2 * week) for week in range(weeks)]
    assert told(shown, high) == []


def test_two_levels_for_one_time_name_the_tab_of_the_other(read):
    book, stream = openpyxl.Workbook(), io.BytesIO()
    for title, shown in (("spring", 0.62), ("summer", 0.63)):
        tab = book.active if title == "spring" else book.create_sheet(title)
        tab.title = title
        for cells in (["date", "level"], ["2026-06-08", shown]):
            tab.append(cells)
    book.save(stream)
    toml = 'name = "Q"\n[level]\nkind = "board"\nunit = "m"\ndatum = 0.6\n'
    (twice,) = [f for f in read(toml, levels__xlsx=stream.getvalue()).findings if f.code == "level-twice"]
    where = 'in levels.xlsx, sheet "spring", row 2'
    assert twice.problem == f"0.63 m (2 ft 1 in) here and 0.62 m (2 ft ½ in) {where} are for the same time"
