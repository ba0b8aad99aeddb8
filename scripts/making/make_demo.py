"""Write the demo venue data/sallowby-pit: an invented lake, plumbed by invented people, from a known bed.

The same bytes every time. The list of planted mistakes goes beside the venue folder, not into it.

Run as ``.venv/bin/python -m scripts.making.make_demo [FOLDER]``; without a folder, data.
"""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

import numpy as np
from numpy.random import Generator

from scripts.making import demo_bed, demo_blunders, demo_sheets, demo_survey
from scripts.making.demo_sheets import Table, csv_bytes, xlsx_bytes
from scripts.making.demo_survey import GEOMETRY, OBSERVERS, DemoPeg, FloatSeen
from survey.geometry.magnetic import declination_deg

ROOT = Path(__file__).resolve().parents[2]
SEED = 20260328
VENUE, TRUTH = "sallowby-pit", "sallowby-pit-truth"

VENUE_TOML = """\
# Sallowby Pit is invented: the lake, its bed, its pegs and the people who plumbed it.
# No water lies at this place. scripts/making/make_demo.py writes this folder.

name = "Sallowby Pit"
crs = "EPSG:32630"
timezone = "Europe/London"
shows = "feet"
credit = "Invented for lakeplumb: no such lake exists, and no depth here is real."
licence = "BSD-3-Clause"
emergency = "An invented place has no address: write your own access point here."

[level]
kind = "board"
datum = 0.60
unit = "m"
outline_level = 0.60

[units]
stick_spacing = "12 ft"
pole_section = "1.45 m"

[floats."Maud's peacock"]
length = "10 in"
tip = "2 cm"
mark = "3 No 4"

[floats."Len's stick"]
length = "14 cm"
tip = "1.5 cm"
mark = "6 No 10"

[floats."clear insert"]
length = "20 cm"
tip = "2 cm"
mark = "2 AAA + 2 BB loaded"
"""


def main(folder: Path) -> None:
    """Write the venue and the list of its planted mistakes into a folder."""
    rng = np.random.default_rng(SEED)
    pegs = demo_survey.place_pegs(rng)
    seen = demo_blunders.plant(demo_survey.observe(pegs, rng), rng)
    sheets = _by_sheet(seen)
    levels, misread = _levels(rng)
    files = {
        "venue.toml": VENUE_TOML.encode(),
        "outline.geojson": _outline(),
        "pegs.csv": csv_bytes(_pegs(pegs)),
        "levels.csv": csv_bytes(levels),
        **{name: _write(name, rows, pegs) for name, rows in sheets.items()},
    }
    for name, data in files.items():
        _put(folder / VENUE / name, data)
    _put(folder / TRUTH / "blunders.csv", csv_bytes(_blunders(sheets, pegs, misread)))
    print(f"{len(pegs)} pegs, {len(seen)} readings, {sum(bool(s.blunder) for s in seen)} mistakes planted in them")


def _put(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)


def _by_sheet(seen: list[FloatSeen]) -> dict[str, list[FloatSeen]]:
    """Each observer's observations in the order of the day's work, under the sheet's file name."""
    names = ("readings-ettery.csv", "readings-hasker.xlsx", "readings-dolan.csv", "readings-crake.xlsx")
    return {name: [s for s in seen if s.observer is o] for name, o in zip(names, OBSERVERS, strict=True)}


def _write(name: str, rows: list[FloatSeen], pegs: tuple[DemoPeg, ...]) -> bytes:
    """One sheet in its observer's manner."""
    if name == "readings-ettery.csv":
        return csv_bytes(demo_sheets.ettery(rows))
    if name == "readings-dolan.csv":
        return csv_bytes(demo_sheets.dolan(rows), ";")
    table = demo_sheets.hasker(rows, _compass(pegs)) if name == "readings-hasker.xlsx" else demo_sheets.crake(rows)
    return xlsx_bytes(table, "Readings")


def _compass(pegs: tuple[DemoPeg, ...]) -> dict[str, float]:
    """What a compass shows straight out of each peg, degrees magnetic, in the middle of the season."""
    when = datetime.combine(demo_survey.DAYS[1], time(12), UTC)
    return {p.name: p.straight_out_deg - declination_deg(p.lon, p.lat, when) for p in pegs}


def _pegs(pegs: tuple[DemoPeg, ...]) -> Table:
    header = ("Peg", "Lon", "Lat", "Position by", "Facing", "Aliases", "Access", "Status", "Note")
    return header, [
        (
            *(p.name, f"{p.lon:.6f}", f"{p.lat:.6f}", "surveyed", "" if p.facing is None else str(p.facing)),
            *(demo_survey.NAMED.get(p.name, ""), "yes" if p.name in demo_survey.ACCESSIBLE else ""),
            *("closed" if p.name == demo_survey.CLOSED else "", demo_survey.NOTES.get(p.name, "")),
        )
        for p in pegs
    ]


def _levels(rng: Generator) -> tuple[Table, int]:
    """The board, morning and evening of each day and once between; that one is misread. And its row."""
    rows: list[tuple[datetime, float]] = []
    for day in demo_survey.DAYS:
        for hour in (time(8, 30), time(18)):
            when = datetime.combine(day, hour)
            rows.append((when, demo_survey.board_m(when) + rng.normal(0, 0.004)))
    between = datetime.combine(demo_survey.DAYS[1], time(10)) + timedelta(days=45)
    true_m = float(np.mean(demo_survey.BOARD_AT_NOON[1:]))
    rows.append((between, true_m + 0.2))
    rows.sort()
    table = [(f"{when:%d/%m/%Y}", f"{when:%H:%M}", f"{shown:.2f}") for when, shown in rows]
    return (("Date", "Time", "Level (m)"), table), rows.index((between, true_m + 0.2)) + 2


def _outline() -> bytes:
    """Water as one polygon with its island, RFC 7946: WGS 84, outer ring counterclockwise, holes clockwise."""
    rings = [_ring(demo_bed.shoreline()), _ring(demo_bed.island()[::-1])]
    feature = {
        "type": "Feature",
        "properties": {"name": "Sallowby Pit", "note": "invented"},
        "geometry": {"type": "Polygon", "coordinates": rings},
    }
    return (json.dumps({"type": "FeatureCollection", "features": [feature]}) + "\n").encode()


def _ring(local: demo_bed.Numbers) -> list[list[float]]:
    lon, lat = GEOMETRY.lonlat(*(local + demo_bed.ORIGIN).T)
    points = [[round(float(a), 7), round(float(b), 7)] for a, b in zip(lon, lat, strict=True)]
    return [*points, points[0]]


def _blunders(sheets: dict[str, list[FloatSeen]], pegs: tuple[DemoPeg, ...], misread: int) -> Table:
    """Every planted mistake: where it stands, what it is, and what it does to the depth."""
    found = [
        (name, row, s.peg, s.blunder, f"{demo_blunders.error_m(s, pegs):.2f}")
        for name, rows in sheets.items()
        for row, s in enumerate(rows, start=2)
        if s.blunder
    ]
    return ("file", "row", "peg", "kind", "error_m"), [*found, ("levels.csv", misread, "", "board misread", "0.20")]


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "data")
