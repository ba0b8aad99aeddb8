"""Whether a change to the code changes what it says: depths, findings and settings, before and after.

    .venv/bin/python -m scripts.making.compare_results BEFORE [--keep FOLDER] [--only NAME]

BEFORE is a checkout of the code as it was. Both work up the demo and ten other venue folders, written anew from
seeds: readings in metres, by float and by pole, angles and bearings; some with mistakes that a whole sheet shares,
one large enough to be worked up in patches, one with pegs that stand back from the bank. Depths are compared before
they are rounded to the grid's millimetre; findings by code, grade and row, and how many are worded otherwise. Exit
code 1: a depth moved by more than 0.01 mm, or a finding or a setting changed.
"""

from __future__ import annotations

import argparse
import csv
import json
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from scripts.benches.club_surveys import club_survey, feet_for_metres, mirrored, without_float
from scripts.benches.lakes import lakes
from scripts.benches.large_surveys import large_survey
from scripts.benches.venue_folders import write_folder
from survey.geometry.geodesy import Geodesy
from survey.records.fieldbook import Fieldbook
from survey.records.readings import Reading

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data" / "sallowby-pit"
MOST_MM = 0.01
"""Depths that agree so far are the same: a hundredth of the millimetre that the grid keeps."""
LARGE_READINGS, LARGE_HECTARES = 3000, 4.0
SET_BACK_M = (0.0, 4.0, 8.0)
"""In one venue pegs stand so far from the water, in turn."""

WORK_UP = """
import sys, json, numpy as np
from pathlib import Path
from survey.fieldbook import read_fieldbook
from survey.workup import work_up
worked = work_up(read_fieldbook(Path(sys.argv[1])))
bed, grid = worked.bed, worked.bed.grid
x, y = np.meshgrid(grid.eastings, grid.northings)
wet = bed.on_water
model = bed.sampler.args[0]
depth, sd = model.predict(np.column_stack([x[wet], y[wet]]))
left = worked.residuals
np.savez(sys.argv[2], depth=depth, sd=sd, fitted=left["fitted_m"].to_numpy(float), z=left["z"].to_numpy(float))
"""


@dataclass(frozen=True)
class Said:
    """What one version of the code says of a venue.

    Parameters
    ----------
    numbers : dict of str to ndarray
        Depth and standard deviation of every cell, and each reading's fitted depth, metres, unrounded; z.
    findings : list of str
        As ``check --json`` has them, one JSON text each.
    settings : list of tuple
        Rows of ``settings.csv``.
    """

    numbers: dict[str, np.ndarray]
    findings: list[str]
    settings: list[tuple[str, ...]]


def venues(folder: Path) -> Iterator[tuple[str, Path]]:
    """The demo, and ten venue folders written below a folder, by name."""
    yield "demo", DEMO
    for name, book in _books():
        path = folder / name
        if not path.exists():
            write_folder(book, path)
        yield name, path


def _books() -> Iterator[tuple[str, Fieldbook]]:
    spoil: list[Callable[[Reading], Reading] | None] = [None, feet_for_metres, mirrored, None, without_float, None]
    for k, lake in enumerate(lakes(8)):
        book = club_survey(lake, seed=20 + k, dense=k % 2 == 0).book
        turned = spoil[k % len(spoil)]
        if turned is not None:
            book = replace(book, readings=tuple(turned(r) if "hollin" in r.place.file else r for r in book.readings))
        yield f"{k}-{lake.name.replace(' ', '-')}", book
    yield "8-set-back", set_back(club_survey(lakes(1)[0], seed=31, dense=False).book)
    yield "9-large", large_survey(LARGE_READINGS, LARGE_HECTARES).book


def set_back(book: Fieldbook) -> Fieldbook:
    """The same with pegs some metres behind the bank, and casts as much longer."""
    geometry = Geodesy(book.venue.crs)
    back = {peg.name: SET_BACK_M[k % len(SET_BACK_M)] for k, peg in enumerate(book.venue.pegs)}
    pegs = []
    for peg in book.venue.pegs:
        east, north = geometry.cast(peg.lon, peg.lat, peg.facing_deg + 180.0, back[peg.name])
        lon, lat = geometry.lonlat(float(east), float(north))
        pegs.append(replace(peg, easting=float(east), northing=float(north), lon=float(lon), lat=float(lat)))
    readings = tuple(
        replace(r, where=replace(r.where, distance_m=r.where.distance_m + back[r.peg])) for r in book.readings
    )
    return replace(book, venue=replace(book.venue, pegs=tuple(pegs)), readings=readings)


def said_by(code: Path, venue: Path, work: Path) -> Said:
    """What a checkout says of a venue, by its own command and its own model."""
    work.mkdir(parents=True, exist_ok=True)
    if not (work / "numbers.npz").exists():
        checked = _run(code, ["-m", "maps", "check", str(venue), "--json"], allowed=(0, 1))
        _run(code, ["-m", "maps", "build", str(venue), "--out", str(work / "out")])
        (work / "check.json").write_text(checked, encoding="utf-8")
        _run(code, ["-c", WORK_UP, str(venue), str(work / "numbers.npz")])
    findings = json.loads((work / "check.json").read_text(encoding="utf-8"))["findings"]
    with (work / "out" / "settings.csv").open(encoding="utf-8-sig", newline="") as file:
        settings = [tuple(row) for row in csv.reader(file)]
    with np.load(work / "numbers.npz") as kept:
        return Said(dict(kept), sorted(json.dumps(f, sort_keys=True, ensure_ascii=False) for f in findings), settings)


def _run(code: Path, words: list[str], allowed: tuple[int, ...] = (0,)) -> str:
    # Run from the checkout, so that its packages are the ones found first.
    ran = subprocess.run([sys.executable, *words], cwd=code, capture_output=True, text=True, check=False)  # noqa: S603
    if ran.returncode not in allowed:
        raise SystemExit(f"{code}: {' '.join(words[:3])} ... failed:\n{ran.stderr}")
    return ran.stdout


def differences(before: Said, after: Said) -> Iterator[str]:
    """What the two say otherwise, a line each; nothing where they agree."""
    for name, was in before.numbers.items():
        now = after.numbers[name]
        if was.shape != now.shape or not np.array_equal(np.isnan(was), np.isnan(now)):
            yield f"{name}: other cells or readings"
        elif name != "z" and (most := 1000 * np.nanmax(np.abs(was - now), initial=0.0)) > MOST_MM:
            yield f"{name}: up to {most:.4f} mm"
    was, now = ({_what(text): text for text in said.findings} for said in (before, after))
    yield from (f"finding - {was[key]}" for key in was.keys() - now.keys())
    yield from (f"finding + {now[key]}" for key in now.keys() - was.keys())
    for mark, some, others in (("-", before, after), ("+", after, before)):
        yield from (f"setting {mark} {','.join(row)}" for row in some.settings if row not in others.settings)


def _what(text: str) -> tuple[str, ...]:
    """What a finding is about, whatever its words: code, grade, file, row and column."""
    found = json.loads(text)
    return tuple(str(found[key]) for key in ("code", "grade", "file", "row", "column"))


def reworded(before: Said, after: Said) -> int:
    """How many findings say the same of the same row in other words."""
    was, now = ({_what(text): text for text in said.findings} for said in (before, after))
    return sum(was[key] != now[key] for key in was.keys() & now.keys())


def main() -> None:
    """Print a line a venue, and every difference."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("before", type=Path, help="checkout of the code as it was")
    parser.add_argument("--keep", type=Path, help="folder for venues and what was said; what was said before is reused")
    parser.add_argument("--only", default="", help="venues whose name holds this")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as gone:
        work = (asked.keep or Path(gone)).resolve()
        changed = 0
        for name, venue in venues(work / "venues"):
            if asked.only not in name:
                continue
            before = said_by(asked.before.resolve(), venue, work / "before" / name)
            after_folder = work / "after" / name
            (after_folder / "numbers.npz").unlink(missing_ok=True)
            after = said_by(ROOT, venue, after_folder)
            most = 1000 * float(np.nanmax(np.abs(before.numbers["depth"] - after.numbers["depth"]), initial=0.0))
            found = list(differences(before, after))
            changed += bool(found)
            cells, findings, settings = len(after.numbers["depth"]), len(after.findings), len(after.settings) - 1
            print(f"{name}: {cells} cells to {most:.5f} mm, {findings} findings, {settings} settings", flush=True)
            print("\n".join(f"    {line}" for line in found) or "    the same", flush=True)
            print(f"    {reworded(before, after)} findings in other words", flush=True)
    raise SystemExit(1 if changed else 0)


if __name__ == "__main__":
    main()
