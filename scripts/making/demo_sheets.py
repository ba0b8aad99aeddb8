"""How each of the demo's observers writes a sheet, and files that come out the same byte for byte.

Knows nothing of the bed.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Sequence
from datetime import date, time

from openpyxl import Workbook

from scripts.making.demo_survey import INCH_M, NAMED, FloatSeen

Cell = str | float | int | date | time | None
Table = tuple[tuple[str, ...], list[tuple[Cell, ...]]]

QUARTERS = ("", "¼", "½", "¾")
EPOCH = (2026, 1, 1, 0, 0, 0)


def ettery(seen: Sequence[FloatSeen]) -> Table:
    """Clock, wraps, feet and inches; calls pegs by their names."""
    header = (
        *("Peg", "Clock", "Distance (wraps)", "Setting", "Float", "Seen", "Tip"),
        *("Date", "Time", "Observer", "Bottom", "Use", "Note"),
    )
    return header, [
        (
            *(NAMED.get(s.peg, s.peg).split(";")[0], _clock(s.angle_deg), f"{s.units:g}", _feet(s.setting_m)),
            *(_held_by(s), s.seen, _feet(s.tip_m), f"{s.when:%d/%m/%Y}", f"{s.when:%H:%M}"),
            *(s.observer.name, s.bottom, "" if s.use else "no", s.note),
        )
        for s in seen
    ]


def hasker(seen: Sequence[FloatSeen], bearings: dict[str, float]) -> Table:
    """Magnetic bearings, paced-out yards guessed, inches; no time of day."""
    header = (
        *("Peg", "Bearing", "North", "Distance (yd)", "Distance by", "Setting (in)", "Float", "Seen"),
        *("Tip (in)", "Date", "Observer", "Bottom"),
    )
    return header, [
        (
            *(_peg(s), round(bearings[s.peg] + s.angle_deg) % 360, "magnetic", s.units, "estimated"),
            *(_inches(s.setting_m), _held_by(s), s.seen, _inches(s.tip_m)),
            *(s.when.date(), s.observer.name, s.bottom or None),
        )
        for s in seen
    ]


def dolan(seen: Sequence[FloatSeen]) -> Table:
    """Angles, taped metres, centimetres with decimal commas; a marker rod for the far casts."""
    header = (
        *("peg", "angle", "direction by", "distance (m)", "distance by", "setting (cm)", "float", "seen", "tip (cm)"),
        *("depth (m)", "method", "date", "time", "observer", "bottom", "note"),
    )
    return header, [
        (
            *(s.peg, f"{s.angle_deg:g}", "aimed", f"{s.units:g}", "tape", _comma(s.setting_m, 100, 1)),
            *("" if s.setting_m is None else _held_by(s), s.seen, _comma(s.tip_m, 100, 1)),
            *(_comma(s.depth_m, 1, 2), s.method, f"{s.when:%Y-%m-%d}", f"{s.when:%H:%M}"),
            *(s.observer.name, s.bottom, s.note),
        )
        for s in seen
    ]


def crake(seen: Sequence[FloatSeen]) -> Table:
    """Pole sections by the clock, as a spreadsheet keeps them: half past eleven has become a time of day."""
    header = (
        *("Peg", "Clock", "Distance (pole sections)", "Depth (m)", "Hard depth (m)", "Method"),
        *("Date", "Time", "Observer", "Bottom"),
    )
    return header, [
        (
            *(_peg(s), _clock_cell(s.angle_deg), int(s.units), _rounded(s.depth_m), _rounded(s.hard_depth_m)),
            *(s.method, s.when.date(), s.when.time(), s.observer.name, s.bottom or None),
        )
        for s in seen
    ]


def csv_bytes(table: Table, delimiter: str = ",") -> bytes:
    """A table as CSV with UTF-8 and plain line ends."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    writer.writerow(table[0])
    writer.writerows(table[1])
    return out.getvalue().encode()


def xlsx_bytes(table: Table, title: str) -> bytes:
    """A table as a workbook of one sheet, without the clock of the machine that wrote it."""
    book = Workbook()
    sheet = book.active
    sheet.title = title
    sheet.freeze_panes = "A2"
    sheet.append(table[0])
    for row in table[1]:
        sheet.append(row)
    raw = io.BytesIO()
    book.save(raw)
    return _timeless(raw.getvalue())


def _timeless(workbook: bytes) -> bytes:
    """The same workbook with every date of making fixed, and stored, as deflate differs between machines."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as new:
        for name in sorted(old.namelist()):
            data = old.read(name)
            if name == "docProps/core.xml":
                data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2026-01-01T00:00:00Z", data)
            new.writestr(zipfile.ZipInfo(name, EPOCH), data)
    return out.getvalue()


def _peg(seen: FloatSeen) -> int | str:
    return int(seen.peg) if seen.peg.isdigit() else seen.peg


def _held_by(seen: FloatSeen) -> str:
    return seen.observer.held_by.name if seen.observer.held_by else ""


def _clock(angle_deg: float) -> str:
    hour, minute = divmod(round(angle_deg * 2) % 720, 60)
    return f"{hour or 12}:{minute:02d}" if minute else str(hour or 12)


def _clock_cell(angle_deg: float) -> int | time:
    hour, minute = divmod(round(angle_deg * 2) % 720, 60)
    return time(hour or 12, minute) if minute else hour or 12


def _feet(length_m: float | None) -> str:
    """Feet and inches to a quarter: 5' 2½"."""
    if length_m is None:
        return ""
    feet, quarters = divmod(round(length_m / INCH_M * 4), 48)
    inches = f"{quarters // 4 or ''}{QUARTERS[quarters % 4]}" or "0"
    return f"{feet}' {inches}\"" if feet else f'{inches}"'


def _inches(length_m: float | None) -> float | None:
    return None if length_m is None else round(length_m / INCH_M * 4) / 4


def _comma(value: float | None, times: float, places: int) -> str:
    if value is None:
        return ""
    text = f"{value * times:.{places}f}"
    return (text.rstrip("0").rstrip(".") if times > 1 else text).replace(".", ",")


def _rounded(length_m: float | None) -> float | None:
    return None if length_m is None else round(float(length_m), 2)
