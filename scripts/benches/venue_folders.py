"""A survey written down as a club keeps it: venue.toml, an outline, and sheets of pegs, readings and levels.

What no club writes down is not in the folder: how large the errors really were, and where pegs truly stand.
"""

from __future__ import annotations

import csv
import json
from collections import defaultdict
from pathlib import Path

import shapely
from pyproj import Transformer

from survey.records.fieldbook import Fieldbook
from survey.records.readings import Fix, Reading

Sheet = list[list[object]]


def write_folder(book: Fieldbook, folder: Path) -> None:
    """Write a fieldbook as the sheets it could have been read from; the folder must not exist.

    Parameters
    ----------
    book : Fieldbook
        Casts from pegs and fixes in the venue's CRS, dated; depths straight or by one of the venue's floats.
    folder : Path
    """
    folder.mkdir(parents=True)
    venue = book.venue
    lines = [f'name = "{venue.name}"', f'crs = "{venue.crs}"', 'timezone = "UTC"', 'dates = "ymd"']
    if venue.declination_deg is not None:
        east = venue.declination_deg >= 0
        lines += ["[units]", f'declination = "{abs(venue.declination_deg):g}{"E" if east else "W"}"']
    lines += ["[level]", f'kind = "{venue.mark.kind}"', f'datum = "{venue.mark.datum_m:.3f} m"']
    for held_by in venue.floats:
        lines += [
            f'[floats."{held_by.name}"]', f'length = "{held_by.length_m} m"', f'tip = "{held_by.tip_m} m"',
        ]  # fmt: skip
    (folder / "venue.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "outline.geojson").write_text(_outline(book), encoding="utf-8")
    pegs = [[peg.name, f"{peg.lon:.7f}", f"{peg.lat:.7f}"] for peg in venue.pegs]
    _write(folder / "pegs.csv", [["Peg", "Lon", "Lat"], *pegs])
    levels = [[level.when.day, "12:00", f"{level.shown_m:.2f}"] for level in book.levels]
    _write(folder / "levels.csv", [["Date", "Time", "Level (m)"], *levels])
    sheets = defaultdict(list)
    for reading in book.readings:
        sheets[reading.place.file].append(_row(reading))
    for name, rows in sheets.items():
        _write(folder / name, [HEADER, *rows])


HEADER = [
    "Peg", "Angle", "Bearing", "North", "Distance (m)", "Easting", "Northing",
    "Setting (m)", "Float", "Seen", "Depth (m)", "Method", "Date", "Time", "Observer",
]  # fmt: skip


def _row(reading: Reading) -> list[object]:
    return [
        reading.peg, *_where(reading), _metres(reading.setting_m), reading.float_name,
        reading.seen.value if reading.seen else "", _metres(reading.depth_m), reading.method,
        reading.when.day, f"{reading.when.instant:%H:%M}", reading.observer,
    ]  # fmt: skip


def _where(reading: Reading) -> list[str]:
    """Angle, bearing, north, distance, easting and northing: those that the reading has."""
    where = reading.where
    if isinstance(where, Fix):
        return ["", "", "", "", f"{where.x:.2f}", f"{where.y:.2f}"]
    turn, far = f"{where.direction.value_deg:.1f}", f"{where.distance_m:.1f}"
    if where.direction.kind == "bearing":
        return ["", turn, where.direction.north, far, "", ""]
    return [turn, "", "", far, "", ""]


def _metres(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"


def _outline(book: Fieldbook) -> str:
    to_lonlat = Transformer.from_crs(book.venue.crs, 4326, always_xy=True)
    water = shapely.transform(book.venue.water, to_lonlat.transform, interleaved=False)
    feature = {"type": "Feature", "properties": {}, "geometry": json.loads(shapely.to_geojson(water))}
    return json.dumps({"type": "FeatureCollection", "features": [feature]})


def _write(path: Path, rows: Sheet) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
