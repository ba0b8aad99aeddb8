"""An invented lake as a club keeps it: 22 pegs by a phone's GPX, three people's sheets, and what goes wrong in them.

Each mistake can be left out, so that a test can look at one alone; ``PLANTED`` names them all.
"""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import openpyxl

LON, LAT = -2.61, 53.42
"""Of the middle."""
EAST_M, NORTH_M = 66400.0, 111300.0
"""Metres in a degree there, near enough."""
WIDE_M, HIGH_M = 150.0, 95.0
"""Half its length and half its breadth."""
PEGS = 22
FOOT = 0.3048
DAYS = ("2026-04-11", "2026-06-20", "2026-09-12")
SHOWN_IN = (24.0, 21.5, 26.0)
"""What the board showed, inches; the datum is 24."""
MIRRORED = (1, 8)
DESILTED, DUG_M = (15, 16, 17, 18, 19, 20), 0.5
IN_FEET = 8
VENUE = """name = "Threlsop Water (invented)"
timezone = "Europe/London"
shows = "feet"
dates = "dmy"
[level]
kind = "board"
datum = "{datum}"
"""
PLANTED = frozenset(
    {"american dates", "header last", "feet for metres", "sheet in feet", "mirrored", "desilted", "words", "datum"}
)


@dataclass(frozen=True)
class Cast:
    """One cast that fell on water."""

    peg: int
    day: int
    angle_deg: float
    distance_m: float
    depth_m: float
    """Below the datum."""

    @property
    def today_m(self) -> float:
        return self.depth_m + (SHOWN_IN[self.day] - 24.0) * FOOT / 12


def bed_m(east_m: float, north_m: float) -> float:
    """Depth below the datum: a bowl with a bar across it and a hole at one end."""
    out = math.hypot(east_m / WIDE_M, north_m / HIGH_M)
    bar = 0.7 * math.exp(-(((east_m - 0.6 * north_m + 35) / 14) ** 2))
    hole = 1.1 * math.exp(-(((east_m - 90) / 24) ** 2) - ((north_m + 30) / 20) ** 2)
    ripple = 0.25 * math.sin(east_m / 17) * math.cos(north_m / 13)
    return max(4.2 * (1 - out**1.6) - bar + hole + ripple * (1 - out), 0.05)


def _stand(peg: int) -> tuple[float, float, float]:
    """Where a peg stands, metres from the middle, and its straight out, degrees from north."""
    turn = 2 * math.pi * (peg - 1) / PEGS
    east, north = WIDE_M * math.sin(turn), HIGH_M * math.cos(turn)
    return east, north, math.degrees(math.atan2(-east / WIDE_M**2, -north / HIGH_M**2))


def _casts(planted: frozenset[str], rng: np.random.Generator) -> Iterable[Cast]:
    for peg in range(1, PEGS + 1):
        east, north, out = _stand(peg)
        day = 2 if peg in DESILTED else peg % 2
        for visit in (day, 0) if peg in DESILTED else (day,):
            for angle in (-50, -25, 0, 25, 50):
                for far in (6, 12, 19, 27, 35) if visit == day else (12, 27):
                    azimuth = math.radians(out + angle + rng.normal(0, 2))
                    went = far * (1 + rng.normal(0, 0.04))
                    at = east + went * math.sin(azimuth), north + went * math.cos(azimuth)
                    dug = DUG_M if "desilted" in planted and peg in DESILTED and visit == day else 0.0
                    depth = bed_m(*at) + dug + rng.normal(0, 0.04)
                    side = -1 if "mirrored" in planted and peg in MIRRORED else 1
                    yield Cast(peg, visit, side * angle, far, depth)


def write_folder(folder: Path, planted: frozenset[str] = PLANTED, seed: int = 1) -> dict[str, list[int]]:
    """Fill a folder, and tell in which rows of which sheet feet stand for metres."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(seed)
    datum = "6.0 m" if "datum" in planted else "24 in"
    (folder / "venue.toml").write_text(VENUE.format(datum=datum), encoding="utf-8")
    ring = [
        _lonlat(WIDE_M * math.sin(t), HIGH_M * math.cos(t)) for t in (math.radians(d) for d in (*range(0, 360, 3), 0))
    ]
    area = {"type": "Polygon", "coordinates": [ring]}
    (folder / "outline.geojson").write_text(json.dumps({"type": "Feature", "properties": {}, "geometry": area}))
    points = (_lonlat(*_stand(peg)[:2]) for peg in range(1, PEGS + 1))
    spots = "".join(
        f'<wpt lat="{y:.7f}" lon="{x:.7f}"><name>Peg {k}</name></wpt>' for k, (x, y) in enumerate(points, 1)
    )
    gpx = f'<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1">{spots}</gpx>'
    (folder / "pegs.gpx").write_text(gpx, encoding="utf-8")
    _csv(folder / "levels.csv", [["Date", "Level (in)"], *zip((_british(d) for d in DAYS), SHOWN_IN, strict=True)])
    casts = list(_casts(planted, rng))
    slips: dict[str, list[int]] = {}
    for name, theirs, write in _sheets(casts, planted):
        rows = theirs()
        if "feet for metres" in planted and name == "readings-ada.csv":
            at = sorted(rng.choice(np.arange(1, len(rows)), IN_FEET, replace=False).tolist())
            for k in at:
                rows[k][3] = f"{float(rows[k][3]) / FOOT:.2f}"
            slips[name] = [k + 1 for k in at]
        write(folder / name, rows)
    return slips


def _sheets(
    casts: list[Cast], planted: frozenset[str]
) -> Iterable[tuple[str, Callable[[], list[list[object]]], Callable]]:
    """Sheets by name: rows, header first, and how they are written."""
    by = [[c for c in casts if c.peg % 3 == k] for k in range(3)]

    def ida() -> list[list[object]]:
        rows = [[c.peg, c.angle_deg, c.distance_m, f"{max(c.today_m, 0.02):.2f}", _british(DAYS[c.day])] for c in by[0]]
        return [["Peg", "Angle", "Distance (m)", "Depth (m)", "Date"], *rows]

    def ada() -> list[list[object]]:
        date = _american if "american dates" in planted else _british
        worth = FOOT if "sheet in feet" in planted else 1.0
        rows = [
            [f"P{c.peg}", c.angle_deg, c.distance_m, f"{max(c.today_m, 0.02) / worth:.2f}", date(DAYS[c.day])]
            for c in by[1]
        ]
        return [["Peg", "Angle", "Distance (m)", "Depth (m)", "Date"], *rows]

    def tom() -> list[list[object]]:
        rows = [
            [
                f"Swim {c.peg}",
                c.angle_deg,
                round(c.distance_m / 0.9144),
                _feet(max(c.today_m, 0.02)),
                _british(DAYS[c.day]),
            ]
            for c in by[2]
        ]
        if "words" in planted:
            for k, said in ((3, "over 3 ft"), (9, "weed"), (14, "no bottom at 2 ft")):
                rows[k][3] = said
        head = ["Swim", "Angle", "Distance (yd)", "Depth", "Date"]
        return [*rows[:12], head, *rows[12:]] if "header last" in planted else [head, *rows]

    return [("readings-ida.xlsx", ida, _xlsx), ("readings-ada.csv", ada, _csv), ("readings-tom.csv", tom, _csv)]


def _british(day: str) -> str:
    year, month, of_month = day.split("-")
    return f"{of_month}/{month}/{year}"


def _american(day: str) -> str:
    year, month, of_month = day.split("-")
    return f"{month}/{of_month}/{year}"


def _feet(depth_m: float) -> str:
    feet, inches = divmod(round(depth_m / FOOT * 12), 12)
    return f"{feet} ft {inches} in"


def _lonlat(east_m: float, north_m: float) -> tuple[float, float]:
    return LON + east_m / EAST_M, LAT + north_m / NORTH_M


def _csv(path: Path, rows: Iterable[Iterable[object]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def _xlsx(path: Path, rows: Iterable[Iterable[object]]) -> None:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append([float(cell) if isinstance(cell, str) and _is_number(cell) else cell for cell in row])
    book.save(path)


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).replace("-", "", 1).isdigit()
