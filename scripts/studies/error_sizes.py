"""Sizes of errors that surveys find of themselves beside the true ones, on sheets as clubs write them.

    .venv/bin/python -m scripts.studies.error_sizes [--surveys N] [--out FILE]

Lakes of the benchmarks, three observers who err by known amounts, nothing declared
(``scripts/benches/club_sheets.py``). True sizes hold what rounding to whole yards, five degrees and half hours adds.
Writes a table in Markdown.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from scripts.benches.club_sheets import OBSERVERS, Case, Habits, write_survey
from scripts.benches.lakes import all_lakes
from scripts.benches.waters import Lake
from survey.adjustment.peg_points import pegs_on_bank
from survey.depth_model.fitting import fit_lake
from survey.depth_model.observations import Observations, observations_from
from survey.fieldbook import read_fieldbook
from survey.geometry.water import WaterGeometry
from survey.reduction.reduce import reduce_soundings
from survey.units import YARD_M

SEEDS = (1, 2)
Found = tuple[str, str, float, float]
"""Observer, kind, true and found size: degrees for directions, shares of the distance for distances."""


def observed(lake: Lake, seed: int) -> Observations:
    """A survey's readings as its bed was made from them."""
    with tempfile.TemporaryDirectory() as name:
        book = read_fieldbook(write_survey(lake, Path(name) / "venue", seed, Case()).folder)
    book = replace(book, venue=pegs_on_bank(book.venue))
    soundings, _ = reduce_soundings(book)
    frame = WaterGeometry(book.venue.water)
    return fit_lake(frame, observations_from(book.venue, soundings, frame)).observations


def sizes(observations: Observations) -> Iterator[Found]:
    """Of each observer who has sizes of his own."""
    table = observations.source.soundings.table.iloc[observations.rows]
    distance = table["distance_m"].to_numpy(float)
    for source in observations.own_sources:
        kind, whose = source.size.kind, source.size.observer
        habits = next((one for one in OBSERVERS if whose.endswith(f"{one.name.split()[0].lower()}.csv")), None)
        if habits is None or kind not in {"distance", "direction"}:
            continue
        stated = observations.position_sd_m[source.of, 0 if kind == "distance" else 1] / distance[source.of]
        found = observations.factors[source.size.name] * float(np.median(stated))
        if kind == "distance":
            yield habits.name, kind, _true_share(habits, float(np.median(distance[source.of]))), found
        else:
            yield habits.name, kind, _true_degrees(habits), float(np.degrees(found))


def _true_share(habits: Habits, far_m: float) -> float:
    step = YARD_M if "yd" in habits.header[1] else 0.1
    # A rounded figure errs evenly over its step.
    return float(np.hypot(habits.distance_share, step / 12**0.5 / far_m))


def _true_degrees(habits: Habits) -> float:
    return float(np.hypot(habits.aim_deg, (15.0 if habits.header[0] == "Clock" else 5.0) / 12**0.5))


def table_of(found: list[Found], surveys: int) -> str:
    """In Markdown: the true size, the middle of what was found, and where two thirds of the surveys lie."""
    by_whom: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for whose, kind, true, size in found:
        by_whom[whose, kind].append((true, size))
    lines = [f"{surveys} surveys.", "", "| observer | error of | true | found, median | two thirds of the surveys |"]
    lines.append("|---|---|---|---|---|")
    for (whose, kind), pairs in sorted(by_whom.items(), key=lambda one: (one[0][1], one[0][0])):
        true, size = np.array(pairs).T
        shown = (lambda v: f"{v:.1%}") if kind == "distance" else (lambda v: f"{v:.1f}°")
        low, middle, high = np.quantile(size, (1 / 6, 0.5, 5 / 6))
        lines.append(
            f"| {whose} | {kind} | {shown(np.median(true))} | {shown(middle)} | {shown(low)} to {shown(high)} |"
        )
    return "\n".join(lines) + "\n"


def main() -> None:
    """Measure and write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--surveys", type=int, default=20)
    parser.add_argument("--out", type=Path, default=Path("out/bench/error-sizes.md"))
    asked = parser.parse_args()
    which = [(lake, seed) for seed in SEEDS for lake in all_lakes()][: asked.surveys]
    found: list[Found] = []
    for lake, seed in which:
        found += sizes(observed(lake, seed))
        print(lake.name, seed, flush=True)
    asked.out.parent.mkdir(parents=True, exist_ok=True)
    asked.out.write_text(table_of(found, len(which)), encoding="utf-8")
    print(asked.out.read_text("utf-8"))


if __name__ == "__main__":
    main()
