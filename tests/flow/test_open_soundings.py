"""Real soundings with real strays, read from their file as a club would hand them over.

Lake 227, Ontario: C. R. J. Hay, IISD-ELA, CC BY 4.0, doi 10.5281/zenodo.18237230 (data/open/ORIGINS.md). Its first six
rows lie some four kilometres from the lake.
"""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
import shapely

from survey.bed.gridding import make_bed
from survey.checks.residuals import DOUBTFUL_FROM, figures_m, residuals
from survey.depth_model.fitting import fit_lake
from survey.depth_model.observations import observations_from
from survey.fieldbook import read_fieldbook
from survey.findings import Grade
from survey.geometry.water import WaterGeometry
from survey.reduction.reduce import reduce_soundings

SOUNDINGS = Path(__file__).resolve().parents[2] / "data" / "open" / "iisd_ela_227" / "227_LA.csv"
STRAY_ROWS = [2, 3, 4, 5, 6, 7]
EVERY = 4
"""A quarter of the soundings is plenty, and quick."""


@pytest.fixture(scope="module")
def rows() -> list[tuple[float, float, float]]:
    with SOUNDINGS.open(encoding="utf-8", newline="") as file:
        read = [(float(r["x"]), float(r["y"]), -float(r["z"])) for r in csv.DictReader(file)]
    return [*read[:6], *read[6::EVERY]]


def venue_folder(folder: Path, rows: list[tuple[float, float, float]]) -> Path:
    lonlat = np.array(rows)[6:, :2]
    # No outline came with the soundings: their hull, grown by some ten metres (1e-4 degrees).
    hull = shapely.concave_hull(shapely.multipoints(lonlat), ratio=0.3).buffer(1.5e-4)
    folder.mkdir()
    (folder / "venue.toml").write_text('name = "Lake 227"\ncrs = "EPSG:32615"\n', encoding="utf-8")
    (folder / "outline.geojson").write_text(json.dumps(shapely.geometry.mapping(hull)), encoding="utf-8")
    (folder / "pegs.csv").write_text(f"peg,lon,lat\n1,{lonlat[0, 0]},{lonlat[0, 1]}\n", encoding="utf-8")
    lines = [f"{lon},{lat},{depth},sounder" for lon, lat, depth in rows]
    (folder / "readings.csv").write_text("\n".join(["lon,lat,depth_m,method", *lines]) + "\n", encoding="utf-8")
    return folder


def test_six_strays_are_named_by_row_and_all_else_is_used(
    tmp_path: Path, rows: list[tuple[float, float, float]]
) -> None:
    book = read_fieldbook(venue_folder(tmp_path / "lake", rows))
    soundings, findings = reduce_soundings(book)
    left_out = sorted({f.place.row for f in (*book.findings, *findings) if f.grade is Grade.ERROR})
    assert left_out == STRAY_ROWS
    assert int(soundings.table["use"].sum()) == len(rows) - len(STRAY_ROWS)


def test_feet_in_a_metre_column_are_found_and_the_unit_is_named(
    tmp_path: Path, rows: list[tuple[float, float, float]]
) -> None:
    spoilt = [(lon, lat, depth / 0.3048 if k % 25 == 0 else depth) for k, (lon, lat, depth) in enumerate(rows[6:])]
    book = read_fieldbook(venue_folder(tmp_path / "lake", [*rows[:6], *spoilt]))
    soundings, _ = reduce_soundings(book)
    frame = WaterGeometry(book.venue.water)
    model = fit_lake(frame, observations_from(book.venue, soundings, frame))
    left = residuals(soundings, model, make_bed(book.venue, model, 4.0), figures_m(book, soundings))
    wrong = (soundings.table["row"].to_numpy() - 8) % 25 == 0
    doubtful = left["doubtful"].to_numpy(bool)
    assert doubtful[wrong].mean() >= 0.9
    # One in fifty; the sounder itself is out in some (ten of 496 rows where the receiver's error is learned).
    assert doubtful[~wrong].mean() <= 0.025
    assert (left.loc[wrong & doubtful, "mistaken"] >= DOUBTFUL_FROM).mean() >= 0.9
    # With a place known to five metres only those in deep, even water can be told from any other mistake.
    assert (left.loc[wrong, "unit"] == 0).sum() >= 3
    assert (left.loc[wrong, "unit"] <= 0).all()
    assert (left.loc[~wrong, "unit"] >= 0).mean() <= 0.02
