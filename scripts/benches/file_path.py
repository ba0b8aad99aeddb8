"""The bed on the path that people use: sheets as clubs keep them, the command, the GeoTIFF, against the truth.

    .venv/bin/python -m pip install -e ".[bench]"
    .venv/bin/python -m scripts.benches.file_path --out data/pictures [--cases exact phone] [--lake NAME] [--peers ...]

Every survey is written as a venue folder in which nothing is declared (``scripts/benches/club_sheets.py``), built with
``lakeplumb build`` and read back from ``depth.tif``. Peers get the readings of the same sheets where their pegs,
directions and distances put them, at one water level. Writes ``file-path.md`` there, and rows as JSON into
``out/bench``; rows that are there already are kept. Constants may be chosen on lakes marked ``choosing``.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from scipy.ndimage import distance_transform_edt, map_coordinates
from scipy.spatial import cKDTree

from scripts.benches.club_sheets import AT, Case, Written, truth_at, write_survey
from scripts.benches.file_path_report import FileRow, report
from scripts.benches.lakes import MOST_ASKED, all_lakes, asked_points
from scripts.benches.measure import measured
from scripts.benches.peers import PEERS, Peer, merged, present
from scripts.benches.waters import FloatArray, Lake
from survey.fieldbook import read_fieldbook
from survey.geometry.water import WaterGeometry
from survey.reduction.reduce import reduce_soundings

ROWS = Path("out/bench/file-path.json")
WITHIN_M = 36.0
"""Errors count within this of a peg."""
SHORE_SPACING_M = 5.0
LIMIT_S = 120.0
Z_95 = 1.959964
WITH_PEERS = ("exact", "phone")
CASES: dict[str, Case] = {
    "exact": Case(),
    "phone": Case(peg_sd_m=4.0),
    "half": Case(spreads=(("peg_phone_m", 2.5), ("estimated_distance", 0.05))),
    "twice": Case(spreads=(("peg_phone_m", 10.0), ("estimated_distance", 0.2))),
    "sparse": Case(dense=False),
    "sparse phone": Case(dense=False, peg_sd_m=4.0),
    "4 m back": Case(set_back_m=4.0),
    "8 m back": Case(set_back_m=8.0),
    "outline 3 m off": Case(outline_off_m=3.0),
}
"""Exact points of pegs; points by a phone; sizes declared half and twice as large as they are taken to be; few casts;
pegs that stand back from the water, and an outline traced outside the shore."""


@dataclass(frozen=True)
class Asked:
    """Spots within reach of a peg and the truth there."""

    at: FloatArray
    truth: FloatArray


def rows_of(lake: Lake, case: str, seed: int, peers: dict[str, Peer]) -> Iterator[FileRow]:
    """The bed, and the peers where they are asked for, on one survey."""
    with tempfile.TemporaryDirectory() as name:
        written = write_survey(lake, Path(name) / "venue", seed, CASES[case])
        at = asked_points(lake, max(2.0, (lake.water.area / MOST_ASKED) ** 0.5)) + AT
        at = at[cKDTree(written.pegs).query(at)[0] < WITHIN_M]
        asked = Asked(at, truth_at(lake, at))
        head = {"lake": lake.name, "kind": lake.kind, "case": case, "choosing": lake.choosing, "seed": seed}
        head["readings"] = written.readings
        yield FileRow(method="bed", **head, **_built(written, Path(name) / "built", asked))
        for method, scores in _peers(written, asked, peers) if case in WITH_PEERS else ():
            yield FileRow(method=method, **head, **scores)


def _built(written: Written, out: Path, asked: Asked) -> dict[str, float | str]:
    begun = time.perf_counter()
    command = [sys.executable, "-m", "maps", "build", str(written.folder), "--out", str(out)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 (our own command)
    if done.returncode:
        return {"error_m": float("nan"), "fault": done.stderr.strip()[-200:]}
    depth, sd = read_bands(out / "depth.tif", asked.at)
    off = depth - asked.truth
    return {
        "error_m": float(np.sqrt(np.mean(off**2))),
        "bias_m": float(off.mean()),
        "holds95": float(np.mean(np.abs(off) <= Z_95 * sd)),
        "seconds": time.perf_counter() - begun,
        **_pegs(out / "venue.gpkg", written),
    }


def read_bands(path: Path, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Depth and its standard deviation at spots, between cell centres; cells beyond the outline take the nearest."""
    with rasterio.open(path) as source:
        bands = source.read((1, 2), masked=True).astype(float)
        column, row = _cells(source.transform, at)
    dry = np.ma.getmaskarray(bands)[0]
    nearest = distance_transform_edt(dry, return_distances=False, return_indices=True)
    filled = [band.filled(np.nan)[tuple(nearest)] for band in bands]
    depth, sd = (map_coordinates(band, [row, column], order=1, mode="nearest") for band in filled)
    return depth, sd


def _cells(transform: rasterio.Affine, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Column and row of spots, counted from cell centres."""
    inverse = ~transform
    column = inverse.a * at[:, 0] + inverse.b * at[:, 1] + inverse.c
    row = inverse.d * at[:, 0] + inverse.e * at[:, 1] + inverse.f
    return column - 0.5, row - 0.5


def _pegs(path: Path, written: Written) -> dict[str, float]:
    table = gpd.read_file(path, layer="pegs").set_index("name")
    table = table.loc[[str(k + 1) for k in range(len(written.pegs))]]
    at = np.column_stack([table.geometry.x, table.geometry.y])
    off, moved = at - written.pegs, table[["moved_east_m", "moved_north_m"]].to_numpy(float)
    azimuth = np.radians(table["out_azimuth_deg"].to_numpy(float))
    out = np.column_stack([np.sin(azimuth), np.cos(azimuth)])
    along = np.column_stack([out[:, 1], -out[:, 0]])
    z2 = ((off * out).sum(axis=1) / table["across_sd_m"]) ** 2 + ((off * along).sum(axis=1) / table["along_sd_m"]) ** 2
    return {
        "pegs_written_m": float(np.sqrt(((off - moved) ** 2).sum(axis=1).mean())),
        "pegs_adjusted_m": float(np.sqrt((off**2).sum(axis=1).mean())),
        # Chi-squared with two degrees of freedom: -2 ln 0.05.
        "pegs_inside": float(np.mean(z2 <= -2 * np.log(0.05))),
    }


def _peers(written: Written, asked: Asked, peers: dict[str, Peer]) -> Iterator[tuple[str, dict[str, float | str]]]:
    book = read_fieldbook(written.folder)
    soundings, _ = reduce_soundings(book)
    used = (soundings.table["use"].astype(bool) & (soundings.table["kind"] == "depth")).to_numpy()
    alone = merged(soundings.xy[used] - AT, soundings.table["depth_m"].to_numpy(float)[used])
    shore = WaterGeometry(book.venue.water).shore_points(SHORE_SPACING_M) - AT
    with_shore = merged(np.vstack([alone[0], shore]), np.append(alone[1], np.zeros(len(shore))))
    for name, peer in peers.items():
        for case, data in (("", alone), (" + shore", with_shore)):
            cost = measured(lambda p=peer, d=data: p(*d, asked.at - AT), LIMIT_S)
            if cost.fault:
                yield name + case, {"error_m": float("nan"), "fault": cost.fault}
                continue
            depth, sd = cost.result
            off = depth - asked.truth
            held = float("nan") if sd is None else float(np.mean(np.abs(off) <= Z_95 * sd))
            scores = {"error_m": float(np.sqrt(np.mean(off**2))), "bias_m": float(off.mean())}
            yield name + case, {**scores, "holds95": held, "seconds": cost.seconds}


def main() -> None:
    """Measure what is asked for, and write rows and page after each survey."""
    asked, begun = _asked(), time.perf_counter()
    warnings.simplefilter("ignore")
    peers = {name: peer for name, peer in present().items() if name in asked.peers}
    rows = [] if asked.anew or not ROWS.exists() else [FileRow(**row) for row in json.loads(ROWS.read_text("utf-8"))]
    if asked.bed:
        peers, rows = {}, [row for row in rows if row.method != "bed" or row.case not in asked.cases]
    done = {(row.lake, row.case, row.seed) for row in rows if row.method == "bed"}
    for case in asked.cases:
        for seed in asked.seeds:
            for lake in all_lakes():
                if asked.lake in lake.name and (lake.name, case, seed) not in done:
                    rows += rows_of(lake, case, seed, peers)
                    print(f"{(time.perf_counter() - begun) / 60:5.1f} min  {lake.name}, {case}", flush=True)
                    _write(rows, asked.out)


def _write(rows: list[FileRow], out: Path) -> None:
    ROWS.parent.mkdir(parents=True, exist_ok=True)
    ROWS.write_text(json.dumps([asdict(row) for row in rows], indent=1), encoding="utf-8")
    out.mkdir(parents=True, exist_ok=True)
    command = " ".join(["python", "-m", "scripts.benches.file_path", *sys.argv[1:]])
    (out / "file-path.md").write_text(report(rows, command), encoding="utf-8")


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", nargs="+", choices=list(CASES), default=list(CASES))
    parser.add_argument("--seeds", nargs="+", type=int, default=[1])
    parser.add_argument("--lake", default="", help="only lakes whose name holds this")
    parser.add_argument("--peers", nargs="*", choices=list(PEERS), default=list(PEERS))
    parser.add_argument("--bed", action="store_true", help="measure the bed anew beside the peers' rows there are")
    parser.add_argument("--anew", action="store_true", help="keep no earlier rows")
    parser.add_argument("--out", type=Path, default=ROWS.parent)
    return parser.parse_args()


if __name__ == "__main__":
    main()
