"""The bed against other interpolators on the same surveys, in one run: accuracy, ranges, time, memory.

    .venv/bin/python -m pip install -e ".[bench]"        (and GMT, if it is to be compared: apt-get install gmt)
    .venv/bin/python -m scripts.benches.bed --out data/pictures

writes ``bench.md`` and its pictures there, and all rows as ``bench.json`` into ``out/bench``; ``--parts`` measures
some parts anew and keeps the others' rows. Constants of the bed may be chosen on lakes marked ``choosing``; the
others only report.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
import warnings
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

from scripts.benches.cost import cost_rows, one_spot_ms
from scripts.benches.lakes import surveys
from scripts.benches.peers import Peer, present
from scripts.benches.plots import cost_plot, readings_plot, spit_plot
from scripts.benches.readings import COUNTS, thinning
from scripts.benches.report import Results, report
from scripts.benches.scores import measure
from scripts.benches.spit import spit

ROWS = Path("out/bench/bench.json")


def main() -> None:
    """Run the parts asked for, telling how far it is; tables and pictures are written after each."""
    asked, begun = _asked(), time.perf_counter()
    results = Results.earlier(ROWS, asked.parts)
    warnings.simplefilter("ignore")

    def told(words: str) -> None:
        print(f"{(time.perf_counter() - begun) / 60:5.1f} min  {words}", flush=True)

    peers = present()
    for part in asked.parts:
        for words in STEPS[part](results, peers, asked):
            told(words)
        _write(results, asked.out)
    told(f"written to {asked.out}")


def _surveys(results: Results, peers: dict[str, Peer], asked: argparse.Namespace) -> Iterator[str]:
    for survey in surveys(few=asked.few, only=asked.lake, seed=asked.seed):
        found = list(measure(survey, peers))
        results.rows += found
        yield "  ".join([survey.name, *(f"{r.method} {r.fault or f'{r.within:.3f}/{r.whole:.3f}'}" for r in found)])


def _readings(results: Results, peers: dict[str, Peer], asked: argparse.Namespace) -> Iterator[str]:
    for found in thinning(peers, asked.seed, COUNTS[:3] if asked.few else COUNTS):
        results.thinned.append(found)
        yield f"{found.method}, {found.readings} readings: {found.error_m:.3f} m"


def _cost(results: Results, _: dict[str, Peer], asked: argparse.Namespace) -> Iterator[str]:
    for row in cost_rows(few=asked.few):
        results.costs.append(row)
        yield f"{row.method}, {row.readings} readings, {row.cells:,} cells: {row.fault or f'{row.seconds:.1f} s'}"
    results.one_spot_ms = one_spot_ms()


def _spit(results: Results, peers: dict[str, Peer], _: argparse.Namespace) -> Iterator[str]:
    results.sides, results.lines = spit(peers)
    for side in results.sides:
        yield f"spit, {side.method}: {side.readings_m:g} m side off by {side.off_by_m:.2f} m at most"


STEPS = {"surveys": _surveys, "readings": _readings, "spit": _spit, "cost": _cost}


def _write(results: Results, out: Path) -> None:
    ROWS.parent.mkdir(parents=True, exist_ok=True)
    ROWS.write_text(json.dumps(asdict(results), indent=1), encoding="utf-8")
    out.mkdir(parents=True, exist_ok=True)
    (out / "bench.md").write_text(report(results, " ".join(["python", *sys.argv])), encoding="utf-8")
    if results.thinned:
        readings_plot(results.thinned, out / "bench-readings.png")
    if results.lines:
        spit_plot(results.lines, out / "bench-spit.png")
    if results.costs:
        cost_plot(results.costs, out / "bench-cost.png")


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--few", action="store_true", help="sparse surveys and small sizes only")
    parser.add_argument("--lake", default="", help="only lakes whose name holds this")
    parser.add_argument("--parts", nargs="+", choices=list(STEPS), default=list(STEPS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=ROWS.parent)
    return parser.parse_args()


if __name__ == "__main__":
    main()
