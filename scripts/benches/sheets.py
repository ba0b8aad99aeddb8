"""What a large survey costs to read and to reduce: seconds, processor seconds and memory, the bed left out.

    .venv/bin/python -m scripts.benches.sheets [--rows 100000] [--as csv|xlsx] [--keep FOLDER]

Four people plumb an invented lake of two islands from 60 pegs on 40 days: by the clock, by angles and by magnetic
bearings, in yards, wraps and metres, with floats and with a pole, two rows in a hundred wrong.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import openpyxl
import shapely
from shapely.affinity import translate
from shapely.geometry import Polygon

from scripts.benches.measure import measured
from scripts.benches.waters import blob
from survey.checks.row_account import account
from survey.fieldbook import read_fieldbook
from survey.geometry.geodesy import Geodesy
from survey.reduction.reduce import reduce_soundings
from survey.units import FOOT_M, INCH_M, YARD_M, clock_text

CRS = "EPSG:32630"
CORNER = np.array([545_000.0, 5_994_000.0])
PEGS, DAYS, FIRST_DAY = 60, 40, date(2026, 4, 4)
WRONG = 0.02
RISES_M_A_DAY = 0.002
SHORT_M, LONG_M = 0.25, 0.6
"""By so much a setting is too short where the float went under, too long where it lay flat."""
STICK_M = 12 * FOOT_M
FLOAT_M, TIP_M = 10 * INCH_M, INCH_M
LIMIT_S = 600.0
VENUE = """name = "Wide Marl"
dates = "dmy"
[level]
kind = "board"
datum = "0.4 m"
[units]
stick_spacing = "12 ft"
[floats.wag]
length = "10 in"
tip = "1 in"
"""
Row = list[str]


@dataclass(frozen=True)
class Plumb:
    """One true plumb: peg (from 0), degrees to the right, metres out, depth on the day, day and what was felt."""

    peg: int
    angle_deg: float
    distance_m: float
    depth_m: float
    when: date
    number: int

    @property
    def setting_m(self) -> float:
        """With the float standing, its tip showing as usual."""
        return max(self.depth_m - FLOAT_M + TIP_M, 0.0)

    @property
    def minute(self) -> str:
        """Time of day."""
        return f"{7 + self.number // 60 % 12:02d}:{self.number % 60:02d}"


def bed(xy: np.ndarray) -> np.ndarray:
    """Depth at datum at points of the CRS, shape (n, 2), metres: deeper the further from any shore."""
    water, _, _ = lake()
    return np.asarray(0.3 + 2.6 * -np.expm1(-shapely.distance(water.boundary, shapely.points(xy)) / 12))


def plumbs(rows: int, pegs: np.ndarray, facing: np.ndarray, seed: int) -> list[Plumb]:
    """So many casts with their depths; a few written down as much too far."""
    rng = np.random.default_rng(seed)
    angle, distance = rng.uniform(-60, 60, rows), rng.uniform(3, 45, rows)
    peg, day = rng.integers(PEGS, size=rows), 4 * rng.integers(DAYS, size=rows)
    turned = np.radians(facing[peg] + angle)
    there = pegs[peg] + distance[:, None] * np.column_stack([np.sin(turned), np.cos(turned)])
    depth = bed(there) + RISES_M_A_DAY * day + rng.normal(0, 0.05, rows)
    distance = np.where(rng.random(rows) < WRONG, distance * 5, distance)
    return [
        Plumb(int(peg[k]), angle[k], distance[k], depth[k], FIRST_DAY + timedelta(days=int(day[k])), k)
        for k in range(rows)
    ]


def by_clock(p: Plumb) -> Row:
    """Half hours, wraps, feet and inches."""
    seen, more_m = (("stands", 0.0), ("stands", 0.0), ("stands", 0.0), ("sunk", -SHORT_M), ("flat", LONG_M))[
        p.number % 5
    ]
    feet, half_inches = divmod(round(max(p.setting_m + more_m, 0.0) / INCH_M * 2), 24)
    place = [f"Peg {p.peg + 1}", clock_text(15 * round(p.angle_deg / 15)), f"{p.distance_m / STICK_M:.1f}"]
    return [*place, f"{feet}' {half_inches / 2:g}\"", "wag", seen, f"{p.when:%d/%m/%Y}", "Hollin"]


def by_angle(p: Plumb) -> Row:
    """Whole degrees, metres to a tenth with a decimal comma, depths in metres by pole."""
    place = [str(p.peg + 1), f"{p.angle_deg:.0f}", f"{p.distance_m:.1f}".replace(".", ",")]
    return [*place, f"{p.depth_m:.2f} m", "pole", p.when.isoformat(), "Marl", "" if p.number % 50 else "no"]


def by_bearing(p: Plumb, facing: np.ndarray) -> Row:
    """Magnetic bearings, yards guessed, inches."""
    place = [str(p.peg + 1), f"{(facing[p.peg] + p.angle_deg) % 360:.0f}", "magnetic", f"{p.distance_m / YARD_M:.0f}"]
    return [*place, f"{p.setting_m / INCH_M:.1f}", "wag", f"{p.when:%-d %B %Y}", "Tansy"]


def as_it_came(p: Plumb) -> Row:
    """Feet here and metres there, angles with sides, a marker rod."""
    side = "left" if p.angle_deg < 0 else "right"
    depth = f"{p.depth_m:.2f} m" if p.number % 2 else f"{p.depth_m / FOOT_M:.1f} ft"
    far = f"{p.distance_m:.1f} m" if p.number % 3 else f"{p.distance_m / YARD_M:.0f} yd"
    return [str(p.peg + 1), f"{abs(p.angle_deg):.0f} {side}", far, depth, "marker", f"{p.when:%d.%m.%Y}", "Wray"]


def felt(p: Plumb) -> Row:
    """What every sheet ends with: time, bottom, a remark."""
    return [p.minute, ("silt", "weed", "", "gravel")[p.number % 4], "" if p.number % 9 else f"cast {p.number}"]


def written(rows: int, pegs: np.ndarray, facing: np.ndarray, seed: int = 1) -> dict[str, list[Row]]:
    """The sheets by name, header first: the readings in four parts, pegs and levels."""
    quarters = [
        ("hollin", by_clock, "peg;clock;distance (wraps);setting;float;seen;date;observer"),
        ("marl", by_angle, "peg;angle;distance (m);depth;method;date;observer;use"),
        ("tansy", lambda p: by_bearing(p, facing), "peg;bearing;north;distance (yd);setting (in);float;date;observer"),
        ("wray", as_it_came, "peg;angle;distance;depth;method;date;observer"),
    ]
    whole = plumbs(rows, pegs, facing, seed)
    sheets = {
        f"readings-{who}": [[*header.split(";"), "time", "bottom", "note"], *([*how(p), *felt(p)] for p in whole[k::4])]
        for k, (who, how, header) in enumerate(quarters)
    }
    west_north = zip(*Geodesy(CRS).lonlat(*pegs.T), facing, strict=True)
    sheets["pegs"] = [
        ["peg", "lon", "lat", "facing", "position by", "aliases"],
        *(
            [str(k), f"{lon:.7f}", f"{lat:.7f}", f"{out:.1f}", "surveyed", f"Peg {k}"]
            for k, (lon, lat, out) in enumerate(west_north, start=1)
        ),
    ]
    shown = [
        [(FIRST_DAY + timedelta(days=10 * k)).isoformat(), f"{0.4 + RISES_M_A_DAY * 10 * k:.2f}"] for k in range(18)
    ]
    sheets["levels"] = [["date", "level (m)"], *shown]
    return sheets


def lake() -> tuple[Polygon, np.ndarray, np.ndarray]:
    """Outline with its islands in the grid, pegs on its shore (shape (n, 2)) and where they face."""
    shore = blob(7, 120.0, 0.18)
    islands = [translate(blob(seed, 9.0, 0.1), east, north) for seed, east, north in ((3, 40, 10), (5, -50, -15))]
    along = np.linspace(0, shore.length, PEGS, endpoint=False)
    pegs, ahead = (shapely.get_coordinates(shore.exterior.interpolate(along + step)) for step in (0.0, 2.0))
    east, north = (ahead - pegs).T
    # The ring runs anticlockwise: the water lies to the left.
    facing = (np.degrees(np.arctan2(east, north)) - 90) % 360
    water = shore.difference(shapely.union_all(islands))
    return shapely.transform(water, lambda xy: xy + CORNER), pegs + CORNER, facing


def as_csv(rows: Sequence[Row]) -> bytes:
    """Text with semicolons."""
    stream = io.StringIO()
    csv.writer(stream, delimiter=";").writerows(rows)
    return stream.getvalue().encode()


def as_xlsx(rows: Sequence[Row]) -> bytes:
    """A workbook, figures as figures."""
    book, stream = openpyxl.Workbook(write_only=True), io.BytesIO()
    page = book.create_sheet("readings")
    for row in rows:
        page.append([_stored(cell) for cell in row])
    book.save(stream)
    return stream.getvalue()


def _stored(cell: str) -> str | float:
    try:
        return float(cell)
    except ValueError:
        return cell


WRITERS: dict[str, Callable[[Sequence[Row]], bytes]] = {"csv": as_csv, "xlsx": as_xlsx}


def make_folder(folder: Path, rows: int, kind: str) -> None:
    """Write the venue folder."""
    folder.mkdir(parents=True, exist_ok=True)
    water, pegs, facing = lake()
    outline = shapely.transform(water, lambda xy: np.column_stack(Geodesy(CRS).lonlat(*xy.T)))
    (folder / "venue.toml").write_text(VENUE, encoding="utf-8")
    (folder / "outline.geojson").write_text(json.dumps(shapely.geometry.mapping(outline)), encoding="utf-8")
    for name, sheet in written(rows, pegs, facing).items():
        ending = kind if name.startswith("readings") else "csv"
        (folder / f"{name}.{ending}").write_bytes(WRITERS[ending](sheet))


def worked(folder: Path) -> tuple[float, float, str]:
    """Processor seconds of reading and of reducing, and what came of the rows."""
    begun = time.process_time()
    book = read_fieldbook(folder)
    between = time.process_time()
    soundings, findings = reduce_soundings(book)
    told = account(book, soundings, [*book.findings, *findings])
    ended = time.process_time()
    came = f"{told.rows} rows: {told.as_depths} depths, {told.as_bounds} bounds, {told.in_findings} in findings"
    return between - begun, ended - between, came if told.adds_up else f"{came}; {len(told.lost)} LOST"


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--as", dest="kind", choices=sorted(WRITERS), default="csv")
    parser.add_argument("--keep", type=Path, help="where to write the venue, and leave it")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = asked.keep or Path(made) / "venue"
        make_folder(folder, asked.rows, asked.kind)
        cost = measured(lambda: worked(folder), LIMIT_S)
    if cost.fault:
        print(cost.fault, file=sys.stderr)
        return 1
    reading, reducing, came = cost.result
    print(came)
    print(f"reading {reading:.1f} s and reducing {reducing:.1f} s of processor time")
    print(f"{cost.seconds:.1f} s by the clock, {cost.memory_mb:.0f} MB above the loaded libraries")
    return 0


if __name__ == "__main__":
    sys.exit(main())
