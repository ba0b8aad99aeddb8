"""A bank survey written down as clubs do: three observers with their own habits and units, and nothing declared.

What no club writes is not in the folder: how far off points, directions and distances really are. Names are invented.
"""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from pyproj import Transformer

from scripts.benches.lakes import placed_pegs
from scripts.benches.waters import CRS, FloatArray, Lake
from survey.geometry.geodesy import Geodesy
from survey.geometry.water import WaterGeometry
from survey.units import FOOT_M, YARD_M

AT = np.array([560_000.0, 5_990_000.0])
"""Where the benchmark waters are put down, so that their pegs have a longitude and a latitude."""
PEGS, FAN, SPARSE_FAN = 40, 5, 3
NEAREST_M, FURTHEST_M, HALF_FAN_DEG = 4.0, 38.0, 60.0
DEPTH_SD_M, LEAST_M = 0.04, 0.03
FACING_SD_DEG = 3.0
NEARER, STANDS_M = 0.4, 0.1
"""Share of a spit behind which a peg stands at most; so far water is taken to reach over its edge."""
DAYS, SHOWN_M = ("2026-04-11", "2026-06-20", "2026-09-12"), (0.42, 0.35, 0.51)
DATUM_M = 0.40


@dataclass(frozen=True)
class Habits:
    """How one observer errs, and how he writes.

    Parameters
    ----------
    name : str
    aim_deg, distance_share : float
        Standard deviations of one direction, and of one distance as a share of it.
    long_by, deep_by_m : float
        What all his distances (a share) and depths have too much.
    header : tuple of str
        Of direction, distance and depth.
    """

    name: str
    aim_deg: float
    distance_share: float
    long_by: float
    deep_by_m: float
    header: tuple[str, str, str]

    def written(self, turn_deg: float, far_m: float, depth_m: float) -> tuple[str, str, str]:
        """A direction (degrees right of straight out), a distance and a depth in his units and to his rounding."""
        direction, distance, depth = self.header
        clock = 12 + round(turn_deg / 15.0) / 2
        return (
            _clock(clock) if direction == "Clock" else f"{5 * round(turn_deg / 5):g}",
            f"{far_m / YARD_M:.0f}" if "yd" in distance else f"{far_m:.1f}",
            _feet(depth_m) if depth == "Depth" else f"{depth_m:.2f}",
        )


OBSERVERS = (
    Habits("Ida Sorrel", 2.0, 0.03, 0.00, 0.00, ("Angle", "Distance (m)", "Depth (m)")),
    Habits("Tom Brindle", 3.0, 0.05, 0.03, 0.02, ("Clock", "Distance (yd)", "Depth")),
    Habits("Ada Quill", 4.0, 0.06, -0.03, -0.02, ("Angle", "Distance (m)", "Depth (m)")),
)


@dataclass(frozen=True)
class Written:
    """A survey that was written down, and what is true of it.

    Parameters
    ----------
    folder : Path
    pegs : ndarray, shape (k, 2)
        Where the pegs truly stand in the venue's CRS, metres.
    readings : int
    """

    folder: Path
    pegs: FloatArray
    readings: int


@dataclass(frozen=True)
class Case:
    """How a survey was made and written down.

    Parameters
    ----------
    peg_sd_m : float
        Error of the written points of pegs, each axis; nought: exact.
    set_back_m : float
        Pegs stand so far behind the water's edge; less on a spit that is narrower than twice that.
    outline_off_m : float
        The outline is traced so far outside the true shore.
    dense : bool
        Fans of five by five casts from each peg; else three by three.
    spreads : tuple of (str, float)
        Entries of ``[spreads]`` in ``venue.toml``.
    """

    peg_sd_m: float = 0.0
    set_back_m: float = 0.0
    outline_off_m: float = 0.0
    dense: bool = True
    spreads: tuple[tuple[str, float], ...] = ()


def write_survey(lake: Lake, folder: Path, seed: int, case: Case) -> Written:
    """Survey a lake from its bank and write the sheets; the folder must not exist."""
    rng = np.random.default_rng(seed)
    stand, facing = placed_pegs(lake.water, PEGS, rng)
    behind_m = np.minimum(case.set_back_m, _room_behind_m(lake, stand, facing, case.set_back_m))
    back = stand - behind_m[:, None] * _ahead(facing)
    casts = _casts(lake, back, facing, behind_m, rng, case)
    folder.mkdir(parents=True)
    lines = [f'name = "{lake.name}"', f'crs = "{CRS}"', 'timezone = "UTC"', 'dates = "ymd"', 'shows = "metres"']
    lines += ["[level]", 'kind = "board"', f'datum = "{DATUM_M} m"']
    lines += ["[spreads]", *(f"{name} = {value:g}" for name, value in case.spreads)] if case.spreads else []
    (folder / "venue.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "outline.geojson").write_text(_outline(lake, case.outline_off_m), encoding="utf-8")
    lon, lat = Geodesy(CRS).lonlat(*(back + rng.normal(0, 1, back.shape) * case.peg_sd_m + AT).T)
    pegs = [[k + 1, f"{x:.6f}", f"{y:.6f}"] for k, (x, y) in enumerate(zip(lon, lat, strict=True))]
    _write(folder / "pegs.csv", [["Peg", "Lon", "Lat"], *pegs])
    _write(
        folder / "levels.csv",
        [["Date", "Time", "Level (m)"], *([d, "12:00", h] for d, h in zip(DAYS, SHOWN_M, strict=True))],
    )
    for turn, who in enumerate(OBSERVERS):
        rows = [_row(who, cast, turn) for cast in casts if int(cast[0]) % len(OBSERVERS) == turn]
        _write(folder / f"readings-{who.name.split()[0].lower()}.csv", [["Peg", *who.header, "Date", "Time"], *rows])
    return Written(folder, back + AT, len(casts))


def _room_behind_m(lake: Lake, stand: FloatArray, facing: FloatArray, most_m: float) -> FloatArray:
    """How far back pegs may stand, shape (k,): no nearer to water behind them, or nobody knows which way they face."""
    ways = np.stack([stand, stand - 2 * most_m * _ahead(facing)], axis=1)
    lands = [shapely.LineString(way).difference(lake.water.buffer(STANDS_M)) for way in ways]
    return np.array([NEARER * land.length if not land.is_empty else 0.0 for land in lands])


def _casts(
    lake: Lake, stand: FloatArray, facing: FloatArray, behind_m: FloatArray, rng: np.random.Generator, case: Case
) -> FloatArray:
    """Casts that fell on water: peg, written turn (degrees) and distance, depth at datum."""
    frame, found, fan = WaterGeometry(lake.water), [], FAN if case.dense else SPARSE_FAN
    straight = facing + rng.normal(0, FACING_SD_DEG, len(facing))
    for k, (at, face) in enumerate(zip(stand, straight, strict=True)):
        who = OBSERVERS[k % len(OBSERVERS)]
        for turn in np.linspace(-HALF_FAN_DEG, HALF_FAN_DEG, fan) + rng.uniform(-4, 4):
            for far in behind_m[k] + np.linspace(NEAREST_M, FURTHEST_M, fan) * rng.uniform(0.85, 1.15, fan):
                aimed = face + turn + rng.normal(0, who.aim_deg)
                went = far * (1 - who.long_by) * (1 + rng.normal(0, who.distance_share))
                fell = at + went * _ahead(np.array([aimed]))[0]
                deep = rng.normal(who.deep_by_m, DEPTH_SD_M)
                if shapely.contains_xy(lake.water, *fell) and frame.sight.from_pegs(at[None], fell[None])[0]:
                    found.append((k, turn, far, max(float(lake.bed(fell[None])[0]) + deep, LEAST_M)))
    return np.array(found)


def _row(who: Habits, cast: FloatArray, day: int) -> list[object]:
    peg, turn, far, depth = cast
    today = max(depth + SHOWN_M[day] - DATUM_M, 0.0)
    return [int(peg) + 1, *who.written(turn, far, today), DAYS[day], "12:00"]


def _ahead(azimuth_deg: FloatArray) -> FloatArray:
    return np.column_stack([np.sin(np.radians(azimuth_deg)), np.cos(np.radians(azimuth_deg))])


def _clock(hours: float) -> str:
    whole, half = int(hours), hours % 1 > 0
    return f"{(whole - 1) % 12 + 1}:{'30' if half else '00'}"


def _feet(depth_m: float) -> str:
    inches = round(depth_m / FOOT_M * 12)
    return f"{inches // 12}' {inches % 12}\""


def _outline(lake: Lake, off_m: float) -> str:
    to_lonlat = Transformer.from_crs(CRS, 4326, always_xy=True)
    water = lake.water.buffer(off_m) if off_m else lake.water
    moved = shapely.transform(water, lambda xy: xy + AT)
    geometry = json.loads(shapely.to_geojson(shapely.transform(moved, to_lonlat.transform, interleaved=False)))
    return json.dumps({"type": "Feature", "properties": {}, "geometry": geometry})


def _write(path: Path, rows: list[list[object]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def truth_at(lake: Lake, xy: FloatArray) -> FloatArray:
    """Depth at spots of the venue's CRS, shape (n,), metres."""
    return lake.bed(np.asarray(xy, float) - AT)
