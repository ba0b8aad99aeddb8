"""An invented pond kept in feet, yards and inches: its sheets, as a club without a metric rule would have them."""

from __future__ import annotations

import json
import math
from pathlib import Path

FOOT, YARD, INCH = 0.3048, 0.9144, 0.0254
LON, LAT = -2.3, 54.1
"""Of the middle."""
EAST_M, NORTH_M = 65300.0, 111300.0
"""Metres in a degree there, near enough."""
WIDE_M, HIGH_M = 70.0, 45.0
"""Half its length and half its breadth."""
VENUE = """
name = "Mossop Dub (invented)"
timezone = "Europe/London"
shows = "feet"
emergency = "An invented place has no address"
[level]
kind = "board"
datum = "24 in"
[units]
stick_spacing = "12 ft"
rod_length = "13 ft"
[publish]
address = "https://example.org/mossop/"
"""
LEVELS = "Date,Time,Level (in)\n2026-05-02,08:30,24\n2026-05-02,18:00,23½\n2026-06-20,09:00,27\n"
PER_UNIT = {"yd": YARD, "ft": FOOT, "wrap": 12 * FOOT, "rod": 13 * FOOT}
HEADERS = {"yd": "Distance (yd)", "ft": "Distance (ft)", "wrap": "Distance (wraps)", "rod": "Distance (rods)"}
PEG_DEGREES = (0, 60, 120, 180, 240, 300)


def depth_m(east_m: float, north_m: float) -> float:
    """Depth below the datum of the made pond."""
    out = math.hypot(east_m / WIDE_M, north_m / HIGH_M)
    return 2.6 * (1 - out**2) + 0.25


def imperial_venue(folder: Path, unit: str = "yd", *, levels: str = LEVELS, venue: str = VENUE) -> Path:
    """The folder of the pond, its distances kept in a unit.

    Parameters
    ----------
    folder : Path
        To be filled.
    unit : {"yd", "ft", "wrap", "rod"}
    levels, venue : str
        The sheet of levels and ``venue.toml``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "venue.toml").write_text(venue, encoding="utf-8")
    (folder / "levels.csv").write_text(levels, encoding="utf-8")
    ring = [_lonlat(*_on_shore(turn)) for turn in (*range(0, 360, 6), 0)]
    area = {"type": "Polygon", "coordinates": [ring]}
    (folder / "outline.geojson").write_text(json.dumps({"type": "Feature", "properties": {}, "geometry": area}))
    pegs = [f"{k},{lon:.7f},{lat:.7f}" for k, (lon, lat) in enumerate(_pegs(), start=1)]
    (folder / "pegs.csv").write_text("\n".join(["peg,lon,lat,position by", *(f"{row},surveyed" for row in pegs)]))
    rows = [row for k, turn in enumerate(PEG_DEGREES, start=1) for row in _casts(k, turn, PER_UNIT[unit])]
    head = f"Peg,Bearing,{HEADERS[unit]},Depth (ft),Method,Date,Time,Observer,Bottom"
    (folder / "readings.csv").write_text("\n".join([head, *rows]), encoding="utf-8")
    return folder


def _on_shore(turn_deg: float) -> tuple[float, float]:
    return WIDE_M * math.sin(math.radians(turn_deg)), HIGH_M * math.cos(math.radians(turn_deg))


def _lonlat(east_m: float, north_m: float) -> tuple[float, float]:
    return LON + east_m / EAST_M, LAT + north_m / NORTH_M


def _pegs() -> list[tuple[float, float]]:
    return [_lonlat(*_on_shore(turn)) for turn in PEG_DEGREES]


def _casts(peg: int, turn_deg: float, worth_m: float) -> list[str]:
    """Three ways and four distances from a peg; one depth in feet for metres among them."""
    east, north = _on_shore(turn_deg)
    straight = math.degrees(math.atan2(-east, -north))
    rows = []
    for side in (-30, 0, 30):
        for k, far_m in enumerate((6.0, 13.0, 21.0, 30.0)):
            number = round(far_m / worth_m)
            bearing = (straight + side) % 360
            x = east + number * worth_m * math.sin(math.radians(bearing))
            y = north + number * worth_m * math.cos(math.radians(bearing))
            feet = depth_m(x, y) / FOOT / (3.28 if (peg, side, k) == (2, 0, 3) else 1.0)
            rows.append(f"{peg},{bearing:.0f},{number},{feet:.2f},pole,2026-05-02,10:{5 * k:02d},Ann,clay")
    return rows
