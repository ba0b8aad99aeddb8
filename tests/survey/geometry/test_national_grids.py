"""Where on Earth a venue lies: zones south of the equator, the turn of the date, and national grids.

Expected values: lon -2.31, lat 54.10 on the British grid (EPSG:27700) as the Helmert shift gives it, good to some
metres without a grid file; UTM zone 60 south is EPSG:32760 (EPSG register).
"""

import json
from pathlib import Path

import numpy as np
import pytest

from survey.fieldbook import read_fieldbook
from survey.geometry.geodesy import Geodesy


def folder(where: Path, corner: tuple[float, float], crs: str = "", size: float = 0.002) -> Path:
    lon, lat = corner
    ring = [(lon, lat), (lon + size, lat), (lon + size, lat + size), (lon, lat + size), (lon, lat)]
    ring = [((x + 180) % 360 - 180, y) for x, y in ring]
    where.mkdir()
    (where / "venue.toml").write_text(f'name = "Far Mere"\n{crs}\n', encoding="utf-8")
    (where / "outline.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}), encoding="utf-8")
    (where / "pegs.csv").write_text(f"peg,lon,lat\n1,{ring[0][0]},{lat + size / 2}\n", encoding="utf-8")
    (where / "readings.csv").write_text("peg,clock,distance (m),depth (m)\n1,12,10,2.0\n", encoding="utf-8")
    return where


def test_south_of_the_equator_the_southern_zone_is_used(tmp_path: Path) -> None:
    venue = read_fieldbook(folder(tmp_path / "south", (174.8, -36.9))).venue
    assert venue.crs == "EPSG:32760"
    assert venue.pegs[0].northing == pytest.approx(5_914_000, abs=3_000)
    assert venue.water.area == pytest.approx(178 * 222, rel=0.03)


def test_across_the_turn_of_the_date_a_lake_is_two_hundred_metres_wide(tmp_path: Path) -> None:
    venue = read_fieldbook(folder(tmp_path / "turn", (179.999, -17.0))).venue
    west, _, east, _ = venue.water.bounds
    assert venue.crs in {"EPSG:32760", "EPSG:32701"}
    assert east - west == pytest.approx(213, abs=10)


def test_the_national_grid_is_never_met_without_its_shift_of_datum(tmp_path: Path) -> None:
    east, north = (float(v) for v in np.ravel(Geodesy("EPSG:27700").xy(-2.31, 54.10)))
    assert (east, north) == (pytest.approx(379_825.5, abs=5.0), pytest.approx(467_167.5, abs=5.0))
    venue = read_fieldbook(folder(tmp_path / "grid", (-2.31, 54.10), 'crs = "EPSG:27700"')).venue
    assert venue.pegs[0].easting == pytest.approx(379_825.5, abs=5.0)
