"""The files: right to the cell, harmless, reproducible, and there whole or not at all."""

import csv
import hashlib
import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

import maps.build
from maps.build import write_all
from maps.content.rounding import to_mm
from maps.content.spot_rows import spot_answers
from maps.files.geopackage import write_geopackage
from maps.files.geotiff import NODATA, write_raster
from maps.files.output_folder import checked_folder, whole_folder
from maps.files.stored_bed import BED_FILE, stored_bed, write_bed
from maps.files.summary import our_files
from maps.files.tables import harmless, write_csv
from survey.bed.grid import NO_VALUE, Bed, Grid
from survey.errors import SourceRow, SurveyError
from survey.records.readings import Cast, Direction, FloatSeen, Reading
from survey.units.dates import Moment
from survey.workup import Settings
from tests.made.survey import CRS, made_survey, without_extras

FILES = {"bed.npz", "depth.tif", "map.html", "settings.csv", "summary.json", "venue.gpkg"}


@pytest.fixture(scope="module")
def worked():
    return made_survey(cell_m=2.0)


@pytest.fixture(scope="module")
def written(worked, tmp_path_factory):
    target = tmp_path_factory.mktemp("exports") / "pool-out"
    write_all(worked, target, None)
    return target


def digests(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.iterdir() if p.is_file()}


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


class TestRaster:
    @pytest.fixture
    def marked(self, tmp_path):
        """Three rows, four columns of 2 m; the south-west cell is marked, the north-east one is land."""
        depth = np.full((3, 4), 1500, np.int32)
        sd = np.full((3, 4), 80, np.int32)
        depth[0, 0], sd[0, 0] = 7123, 456
        depth[2, 3] = sd[2, 3] = NO_VALUE
        depth[2, 0] = 0
        water = MultiPolygon([box(100, 200, 108, 206).difference(box(106, 204, 108, 206))])
        bed = Bed(Grid(100.0, 200.0, 2.0, 3, 4), water, depth, sd, np.zeros((3, 4), bool), np.zeros((2, 3), bool))
        write_raster(tmp_path / "depth.tif", bed, CRS, {"sign": "down"})
        with rasterio.open(tmp_path / "depth.tif") as tif:
            yield tif

    def test_first_row_is_north_and_corners_are_corners(self, marked):
        assert marked.bounds == (100.0, 200.0, 108.0, 206.0)
        assert marked.transform.e == -2.0
        assert marked.xy(2, 0) == (101.0, 201.0)

    def test_marked_cell_is_met_over_the_whole_of_its_cell_and_nowhere_else(self, marked):
        inside = [(100.01, 200.01), (101.0, 201.0), (101.99, 201.99)]
        outside = [(102.01, 201.0), (101.0, 202.01)]
        values = [v.tolist() for v in marked.sample(inside + outside)]
        assert values[:3] == [pytest.approx([7.123, 0.456], abs=1e-6)] * 3
        assert values[3:] == [pytest.approx([1.5, 0.08], abs=1e-6)] * 2

    def test_land_is_nodata_and_zero_depth_is_a_depth(self, marked):
        depth = marked.read(1)
        assert depth[0, 3] == NODATA == marked.nodata
        assert depth[0, 0] == 0.0
        assert marked.read_masks(1)[0].tolist() == [255, 255, 255, 0]

    def test_it_says_what_it_holds(self, marked):
        assert (marked.count, set(marked.dtypes)) == (2, {"float32"})
        assert marked.units == ("m", "m")
        assert "positive down" in marked.descriptions[0]
        assert "standard deviation" in marked.descriptions[1]
        assert marked.crs.to_epsg() == 32630
        assert marked.tags()["sign"] == "down"
        assert marked.tags()["AREA_OR_POINT"] == "Area"

    def test_at_cell_centres_it_is_the_bed(self, worked, written):
        with rasterio.open(written / "depth.tif") as tif:
            rows, cols = np.nonzero(tif.read_masks(1))
            east, north = rasterio.transform.xy(tif.transform, rows, cols)
            said = tif.read()[:, rows, cols]
            tags = tif.tags()
        depth, sd, _ = worked.bed.at(east, north)
        assert len(rows) == worked.bed.on_water.sum()
        assert np.abs(said[0] - depth).max() < 1e-6
        assert np.abs(said[1] - sd).max() < 1e-6
        assert "the dip at 0.42 m" in tags["datum"]
        assert tags["surveyed"] == "2026-05-03 to 2026-06-14"


class TestTables:
    @given(st.text())
    def test_no_text_begins_like_a_formula(self, text):
        said = harmless(text)
        assert said.lstrip()[:1] not in {"=", "+", "-", "@"}
        assert said[:1] not in {"\t", "\r", "\n"}
        assert said in {text, f"'{text}"}

    @given(st.floats(allow_nan=False, allow_infinity=False))
    def test_numbers_stay_numbers(self, number):
        assert float(harmless(number)) == number

    @pytest.mark.parametrize("text", ["=1+1", "+44", "-1", "@now", "\t=1", "\r=1", " =1"])
    def test_a_formula_comes_back_as_text(self, tmp_path, text):
        write_csv(tmp_path / "t.csv", ["peg", "n"], [(text, -0.5)])
        (row,) = table(tmp_path / "t.csv")
        assert row == {"peg": f"'{text}", "n": "-0.5"}

    def test_names_are_kept_as_painted(self, tmp_path):
        names = ["NA", "007", "7", "1E2", 'The "Willow", left', "O'Neary"]
        write_csv(tmp_path / "t.csv", ["peg"], [(name,) for name in names])
        assert [row["peg"] for row in table(tmp_path / "t.csv")] == names

    @pytest.mark.parametrize(("length", "said"), [(None, None), (1.23456, 1.235), (-0.0001, 0.0)])
    def test_lengths_go_to_the_millimetre(self, length, said):
        assert to_mm(length) == said
        assert str(to_mm(length)) != "-0.0"


class TestSettings:
    def test_one_row_for_each_spot_with_a_setting_for_each_rig(self, worked, written):
        rows = table(written / "settings.csv")
        assert [(row["peg"], row["spot"]) for row in rows] == [(spot.peg, spot.name) for spot in worked.spots]
        settled = [row for row in rows if not row["state"] and row["held_setting_m"]]
        assert settled
        for row in settled:
            # Setting S = depth - L + p - c: float 0.254 m with 0.02 m showing, bait 6 in off, on, 4½ in over.
            length = float(row["depth_m"]) - 0.254 + 0.02
            assert float(row["slow_setting_m"]) == pytest.approx(length - 0.1524, abs=0.0011)
            assert float(row["fast_setting_m"]) == pytest.approx(length, abs=0.0011)
            assert float(row["held_setting_m"]) == pytest.approx(length + 0.1143, abs=0.0011)
            assert row["slow_set_ft_in"].isascii()
            assert float(row["lower_m"]) <= float(row["depth_m"]) <= float(row["upper_m"])

    def test_unsurveyed_spots_have_no_setting(self, worked, tmp_path):
        venue = replace(worked.venue, limits=replace(worked.venue.limits, sd_m=0.08, beyond_sd_m=0.08))
        strict = replace(worked, fieldbook=replace(worked.fieldbook, venue=venue))
        write_all(strict, tmp_path / "out", None)
        rows = table(tmp_path / "out" / "settings.csv")
        unsurveyed = [row for row in rows if float(row["sd_m"]) > 0.08]
        assert unsurveyed
        assert {row["state"] for row in unsurveyed} == {"Unsurveyed water: plumb here."}
        assert {row["slow_setting_m"] + row["fast_set_ft_in"] for row in unsurveyed} == {""}

    def test_higher_water_lifts_every_setting_by_as_much(self, worked):
        # A dip of 0.42 m is the datum; 0.22 m means water 0.20 m higher.
        both = zip(spot_answers(worked, 0.42), spot_answers(worked, 0.22), strict=True)
        lifts = [
            higher.setting_m - lower.setting_m
            for before, after in both
            for lower, higher in zip(before.settings, after.settings, strict=True)
            if lower.setting_m is not None
        ]
        assert len(lifts) > 50
        assert lifts == pytest.approx([0.2] * len(lifts))


class TestGeopackage:
    def test_layers_and_what_they_say(self, worked, written):
        path = written / "venue.gpkg"
        assert {name for name, _ in pyogrio.list_layers(path)} == {"outline", "pegs", "readings", "contours", "spots"}
        layers = {name: gpd.read_file(path, layer=name) for name, _ in pyogrio.list_layers(path)}
        assert {layer.crs.to_epsg() for layer in layers.values()} == {32630}
        assert layers["outline"].union_all().symmetric_difference(worked.venue.water).area < 1e-6
        assert list(layers["pegs"]["name"]) == [peg.name for peg in worked.venue.pegs]
        assert len(layers["contours"]) == len(worked.isobaths)
        assert len(layers["spots"]) == len(worked.spots)
        readings = layers["readings"]
        assert np.allclose(readings["residual_m"], worked.residuals["residual_m"])
        assert list(readings["doubtful"]) == list(worked.residuals["doubtful"])
        assert dict(zip(readings["row"], readings["flags"], strict=True))[5] == "unlike-neighbours"
        assert np.allclose(np.column_stack([readings.geometry.x, readings.geometry.y]), worked.soundings.xy)
        meta = pyogrio.read_info(path, layer="pegs")["dataset_metadata"]
        assert "positive down" in meta["sign"]
        assert "the dip at 0.42 m" in meta["datum"]

    def test_times_are_utc_text_beside_the_local_time(self, worked, tmp_path):
        # 4 July is summer time in London: one hour ahead of UTC.
        def reading(row, when):
            cast = Cast(Direction("clock", 0.0, "half hours"), 4.0, "wraps")
            return Reading(SourceRow("readings.csv", row), "1", cast, setting_m=1.5, seen=FloatSeen.STANDS, when=when)

        at_nine = datetime(2026, 7, 4, 9, tzinfo=UTC)
        timed = reading(2, Moment(at_nine, timedelta(0), "2026-07-04"))
        dated = reading(3, Moment(at_nine, timedelta(hours=12), "2026-07-04"))
        venue = replace(worked.venue, timezone="Europe/London")
        book = replace(worked.fieldbook, venue=venue, readings=(timed, dated))
        write_geopackage(tmp_path / "v.gpkg", replace(worked, fieldbook=book), (), {})
        rows = gpd.read_file(tmp_path / "v.gpkg", layer="readings").set_index("row")
        assert rows.loc[2, "when_utc"] == "2026-07-04T09:00:00Z"
        assert rows.loc[2, "when_local"] == "2026-07-04 10:00 Europe/London"
        assert rows.loc[3, "when_local"] == "2026-07-04, time not written"
        assert rows.loc[2, "seen"] == "stands"

    def test_the_file_is_a_sound_database(self, written):
        with closing(sqlite3.connect(f"file:{written / 'venue.gpkg'}?mode=ro", uri=True)) as base:
            assert base.execute("pragma integrity_check").fetchone() == ("ok",)


class TestStore:
    def test_what_comes_back_is_what_was_stored(self, worked, written):
        kept = stored_bed(written / BED_FILE, worked.fieldbook.digest, None)
        assert kept.days == worked.days
        assert kept.bed.grid == worked.bed.grid
        for name in ("depth_mm", "sd_mm", "beyond_reach", "split"):
            assert np.array_equal(getattr(kept.bed, name), getattr(worked.bed, name)), name
        assert kept.bed.water.equals_exact(worked.bed.water, 0)
        east, north = worked.soundings.xy.T
        assert all(
            np.array_equal(a, b) for a, b in zip(kept.bed.at(east, north), worked.bed.at(east, north), strict=True)
        )

    def test_it_answers_only_for_its_sources_its_cell_and_this_version(self, worked, tmp_path, monkeypatch):
        path = tmp_path / BED_FILE
        write_bed(path, replace(worked, settings=Settings(cell_m=1.0)))
        assert stored_bed(path, worked.fieldbook.digest, 1.0) is not None
        assert stored_bed(path, worked.fieldbook.digest, 2.0) is None
        assert stored_bed(path, "another", None) is None
        monkeypatch.setattr("survey.__version__", "0.0.0")
        assert stored_bed(path, worked.fieldbook.digest, 1.0) is None

    @pytest.mark.parametrize("damage", [b"", b"not a grid", None])
    def test_a_damaged_or_missing_file_is_no_answer(self, worked, written, tmp_path, damage):
        path = tmp_path / BED_FILE
        if damage is not None:
            path.write_bytes(damage)
        assert stored_bed(path, worked.fieldbook.digest, None) is None
        path.write_bytes((written / BED_FILE).read_bytes()[:2000])
        assert stored_bed(path, worked.fieldbook.digest, None) is None


class TestSummary:
    def test_it_counts_and_names_every_file_with_its_hash(self, worked, written):
        said = json.loads((written / "summary.json").read_text(encoding="utf-8"))
        assert said["name"] == 'Tansy Pool & "Sons"'
        assert said["crs"] == CRS
        assert said["datum"] == {"mark": "dip", "shown_m": 0.42, "words": "the dip at 0.42 m"}
        assert said["days"] == ["2026-05-03", "2026-06-14"]
        assert said["findings"] == {"error": 1, "warning": 1, "note": 0}
        assert said["counts"]["soundings"] - said["counts"]["soundings_used"] == 1
        assert said["holdout"]["within"] == {"0.5": 0.56, "0.8": 0.83, "0.95": 0.94}
        assert said["water"]["area_m2"] == pytest.approx(worked.venue.water.area, rel=2e-3)
        assert said["water"]["depth_max_m"] == worked.bed.depth_mm.max() / 1000
        assert said["stated"] == list(worked.venue.stated)
        hashes = {file["name"]: file["sha256"] for file in said["files"]}
        assert set(hashes) == FILES - {"summary.json"}
        assert hashes.items() <= digests(written).items()

    def test_a_survey_with_next_to_nothing_still_writes_everything(self, worked, tmp_path):
        write_all(without_extras(worked), tmp_path / "out", None)
        assert set(digests(tmp_path / "out")) == FILES
        said = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
        assert said["days"] is None
        assert said["holdout"] is None
        assert "no level mark" in said["datum"]["words"]


def test_same_sources_same_bytes(worked, written, tmp_path):
    write_all(worked, tmp_path / "again", None)
    assert set(digests(tmp_path / "again")) == FILES
    assert digests(tmp_path / "again").items() <= digests(written).items()


class TestWholeOrNotAtAll:
    @pytest.fixture(autouse=True)
    def _short_page(self, monkeypatch):
        monkeypatch.setattr(maps.build, "page_html", lambda *_, **__: "<!doctype html><title>Short</title>")

    @pytest.mark.parametrize("step", ["write_bed", "write_raster", "write_geopackage", "page_html", "summary"])
    def test_a_stop_in_the_middle_leaves_the_old_files_whole(self, worked, tmp_path, monkeypatch, step):
        target = tmp_path / "out"
        write_all(worked, target, None)
        before = digests(target)

        def stop(*_, **__):
            raise KeyboardInterrupt

        monkeypatch.setattr(maps.build, step, stop)
        with pytest.raises(KeyboardInterrupt):
            write_all(worked, target, 0.1)
        assert digests(target) == before
        assert [p.name for p in tmp_path.iterdir()] == ["out"]

    def test_a_stop_before_the_first_output_leaves_nothing(self, worked, tmp_path, monkeypatch):
        monkeypatch.setattr(maps.build, "page_html", lambda *_, **__: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            write_all(worked, tmp_path / "out", None)
        assert list(tmp_path.iterdir()) == []

    def test_what_a_killed_run_left_is_cleared_by_the_next(self, tmp_path):
        (tmp_path / ".out.part-1234").mkdir()
        (tmp_path / ".out.part-1234" / "half").write_text("half")
        with whole_folder(tmp_path / "out", our_files) as part:
            (part / "new").write_text("new")
        assert [p.name for p in tmp_path.iterdir()] == ["out"]

    def test_killed_between_the_two_renames_the_old_comes_back(self, tmp_path):
        old = tmp_path / ".out.old-1234"
        old.mkdir()
        (old / "mine.txt").write_text("kept")
        (old / "summary.json").write_text('{"made_by": "lakeplumb 0", "files": []}')
        with whole_folder(tmp_path / "out", our_files) as part:
            (part / "new").write_text("new")
        assert {p.name for p in (tmp_path / "out").iterdir()} == {"mine.txt", "new"}
        assert [p.name for p in tmp_path.iterdir()] == ["out"]

    def test_other_peoples_files_in_our_folder_are_kept(self, worked, tmp_path):
        target = tmp_path / "out"
        write_all(worked, target, None)
        (target / "notes.txt").write_text("ask Maud about peg 3")
        (target / "venue.gpkg.aux.xml").write_text("left by a program that looked at the old file")
        (target / "photos").mkdir()
        (target / "photos" / "a.txt").write_text("picture")
        write_all(worked, target, 0.3)
        assert (target / "notes.txt").read_text() == "ask Maud about peg 3"
        assert (target / "photos" / "a.txt").read_text() == "picture"
        assert not (target / "venue.gpkg.aux.xml").exists()
        assert json.loads((target / "summary.json").read_text(encoding="utf-8"))["level"]["rise_m"] == 0.12

    @pytest.mark.parametrize("summary", [None, '{"made_by": "another"}', '["made_by"]', "not json"])
    def test_a_folder_that_is_not_ours_is_left_alone(self, worked, tmp_path, summary):
        target = tmp_path / "out"
        target.mkdir()
        (target / "map.html").write_text("theirs")
        if summary is not None:
            (target / "summary.json").write_text(summary)
        before = digests(target)
        with pytest.raises(SurveyError, match="holds other files, so it was left alone"):
            write_all(worked, target, None)
        assert digests(target) == before

    def test_a_clash_with_a_file_put_there_by_hand_is_refused(self, worked, tmp_path):
        target = tmp_path / "out"
        target.mkdir()
        (target / "summary.json").write_text('{"made_by": "lakeplumb 0", "files": []}')
        (target / "map.html").write_text("by hand")
        with pytest.raises(SurveyError, match=r"holds map\.html, not written by an earlier build"):
            write_all(worked, target, None)
        assert (target / "map.html").read_text() == "by hand"

    def test_an_empty_folder_is_filled_and_stays_the_same_folder(self, tmp_path, monkeypatch):
        (tmp_path / "out").mkdir()
        monkeypatch.chdir(tmp_path / "out")
        with whole_folder(tmp_path / "out", our_files) as part:
            (part / "new").write_text("new")
            (part / "more").write_text("more")
        assert {path.name for path in Path().iterdir()} == {"new", "more"}
        assert [p.name for p in tmp_path.iterdir()] == ["out"]

    def test_the_folder_one_stands_in_is_not_replaced(self, worked, tmp_path, monkeypatch):
        write_all(worked, tmp_path / "out", None)
        monkeypatch.chdir(tmp_path / "out")
        with pytest.raises(SurveyError, match=r"you are in it\. Leave it first"):
            write_all(worked, tmp_path / "out", None)
        assert {path.name for path in Path().iterdir()} == FILES

    def test_a_file_in_the_place_of_the_folder_is_refused(self, worked, tmp_path):
        (tmp_path / "out").write_text("a file")
        with pytest.raises(SurveyError, match="is a file"):
            write_all(worked, tmp_path / "out", None)

    def test_results_go_beside_the_sources_never_among_them(self, tmp_path):
        home = tmp_path / "mere"
        home.mkdir()
        assert checked_folder(home, None) == tmp_path / "mere-out"
        for mixed in (home, home / "out", tmp_path):
            with pytest.raises(SurveyError, match="are one inside the other"):
                checked_folder(home, mixed)


def test_the_summary_grades_the_survey_by_the_hydrographic_orders(written):
    told = json.loads((written / "summary.json").read_text(encoding="utf-8"))["water"]["s44_share"]
    assert 0 <= told["exclusive"] <= told["special"] <= told["1a"] <= told["2"] <= 1
    assert told["2"] > 0
