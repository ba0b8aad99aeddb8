"""A folder as a club keeps it, and what goes wrong in one: each planted mistake is named, nothing sound is lost."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from maps.cli.main import main
from survey.fieldbook import read_fieldbook
from survey.workup import work_up
from tests.made.kept_folder import DESILTED, IN_FEET, MIRRORED, write_folder

SHEETS = frozenset({"american dates", "header last", "feet for metres", "mirrored", "words"})


def checked(folder: Path, capsys) -> dict:
    """What ``lakeplumb check --json`` says."""
    main(["check", str(folder), "--json"], standalone_mode=False)
    return json.loads(capsys.readouterr().out)


def coded(told: dict, code: str) -> list[dict]:
    return [one for one in told["findings"] if one["code"] == code]


def test_every_mistake_of_the_sheets_is_named(tmp_path, capsys):
    slips = write_folder(tmp_path / "lake", SHEETS)
    told = checked(tmp_path / "lake", capsys)
    (dates,) = coded(told, "date-order-proved")
    assert (dates["file"], dates["value"]) != ("", None)
    assert "month first" in dates["problem"]
    (above,) = coded(told, "rows-above-header")
    assert above["file"] == "readings-tom.csv"
    (swapped,) = coded(told, "likely-mirrored")
    assert "pegs {}, {}".format(*MIRRORED) in swapped["problem"]
    rows = {one["row"] for one in coded(told, "misfit") if one["file"] == "readings-ada.csv"}
    found = rows & set(slips["readings-ada.csv"])
    # Close to the bank a foot and a metre differ by less than the bed does between two spots.
    assert len(found) >= IN_FEET - 2
    assert rows - set(slips["readings-ada.csv"]) <= set(range(2, 27)), "of peg 1, which is mirrored"
    said = {one["value"] for one in told["findings"] if one["file"] == "readings-tom.csv" and one["column"] == "Depth"}
    assert said == {"over 3 ft", "weed", "no bottom at 2 ft"}
    # What is told of names is a note: no row is lost by it.
    assert {one["file"] for one in coded(told, "pegs-taken")} == {"readings-ada.csv", "readings-tom.csv"}
    assert not coded(told, "peg-unknown")
    assert told["rows"] - told["used"] == sum(one["grade"] == "error" for one in told["findings"]) + 1


def test_a_bed_that_was_dug_out_is_named_with_its_pegs_and_days_and_so_is_what_it_cannot_be_told_from(tmp_path, capsys):
    """All newer readings are of one day and of that water alone: a wrong level of that day would look the same."""
    write_folder(tmp_path / "lake", frozenset({"desilted"}))
    told = checked(tmp_path / "lake", capsys)
    (change,) = (one for one in told["findings"] if "the bed there became" in one["problem"])
    assert f"pegs {', '.join(map(str, DESILTED))} from 12 September 2026 on" in change["problem"]
    assert "higher that day than the levels sheet shows" in change["problem"]
    assert 'date = "2026-09-12"' in change["remedy"]
    assert told["used"] == told["rows"]
    assert not [one for one in told["findings"] if one["grade"] == "error"]
    worked = work_up(read_fieldbook(tmp_path / "lake"))
    boxed = worked.soundings.table[worked.residuals["changed"].to_numpy()]
    assert set(boxed["peg"]) == set(map(str, DESILTED))
    assert set(boxed["day"]) == {"2026-09-12"}


def test_a_whole_sheet_in_feet_for_metres_is_named(tmp_path, capsys):
    """One who measures as badly as that would be believed, were there no limit to it."""
    write_folder(tmp_path / "lake", frozenset({"sheet in feet"}))
    told = checked(tmp_path / "lake", capsys)
    (unit,) = (one for one in told["findings"] if one["code"].startswith("likely-"))
    assert unit["code"] == "likely-depth-unit"
    assert unit["file"] == "readings-ada.csv"
    assert "the depths were feet, not metres" in unit["problem"]


def test_a_datum_that_nobody_believes_stands_first(tmp_path, capsys):
    write_folder(tmp_path / "lake", frozenset({"datum"}))
    told = checked(tmp_path / "lake", capsys)
    (datum,) = coded(told, "datum-far")
    assert "236¼ in" in datum["problem"]
    assert "21½ in to 26 in" in datum["problem"]


def test_nothing_is_said_of_sound_sheets_but_notes(tmp_path, capsys):
    write_folder(tmp_path / "lake", frozenset())
    told = checked(tmp_path / "lake", capsys)
    assert {one["grade"] for one in told["findings"]} == {"note"}
    assert told["used"] == told["rows"]


@pytest.mark.parametrize("seed", range(4))
def test_sorting_inserting_and_renaming_lose_no_reading(seed, tmp_path):
    write_folder(tmp_path / "lake", frozenset())
    before = read_fieldbook(tmp_path / "lake")
    rng = np.random.default_rng(seed)
    sheet = tmp_path / "lake" / "readings-ada.csv"
    with sheet.open(encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    rows = [rows[k] for k in rng.permutation(len(rows))]
    rows.insert(int(rng.integers(len(rows))), [""] * len(header))
    columns = rng.permutation(len(header))
    with (tmp_path / "lake" / "readings of Ada.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([line[k] for k in columns] for line in [header, *rows])
    sheet.unlink()
    after = read_fieldbook(tmp_path / "lake")
    assert len(after.readings) == len(before.readings)
    assert sorted(after.tags.values()) == sorted(before.tags.values())
