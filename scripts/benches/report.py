"""The benchmarks in words and tables: Markdown from rows, nothing measured here."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from scripts.benches.cost import CostRow, slope
from scripts.benches.peers import versions
from scripts.benches.readings import Thinned
from scripts.benches.scores import BED, WHERE, Compared, Row, better_case, compared, geometric
from scripts.benches.spit import AWAY_M, OFF_M, Line, Side

KINDS = (("made", "relief"), ("real",))
GOALS = {("made", "relief"): {"within": 0.60, "whole": 0.60}, ("real",): {"within": 0.80, "whole": 0.90}}
"""Against the best peer, geometric mean over the reported surveys."""
BEHIND = 1.05
"""On no survey should the bed be further behind than this."""
TITLES = {"within": "within reach", "whole": "whole lake", "far": "beyond reach"}


@dataclass
class Results:
    """All that was measured, part by part."""

    rows: list[Row] = field(default_factory=list)
    thinned: list[Thinned] = field(default_factory=list)
    costs: list[CostRow] = field(default_factory=list)
    sides: list[Side] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    one_spot_ms: tuple[float, float] | None = None

    @staticmethod
    def earlier(written: Path, anew: list[str]) -> Results:
        """What an earlier run wrote, but for the parts that are measured anew."""
        if not written.exists():
            return Results()
        was = json.loads(written.read_text(encoding="utf-8"))
        return Results(
            [] if "surveys" in anew else [Row(**row) for row in was["rows"]],
            [] if "readings" in anew else [Thinned(**row) for row in was["thinned"]],
            [] if "cost" in anew else [CostRow(**row) for row in was["costs"]],
            [] if "spit" in anew else [Side(**row) for row in was["sides"]],
            [] if "spit" in anew else [Line(**row) for row in was["lines"]],
            None if "cost" in anew or was["one_spot_ms"] is None else tuple(was["one_spot_ms"]),
        )


def report(results: Results, command: str) -> str:
    """Everything, as one Markdown page."""
    parts = [_head(command)]
    if results.rows:
        parts += [_against(results.rows), _held(results.rows), _by_method(results.rows), _by_survey(results.rows)]
        parts += [_faults(results.rows)]
    parts += [_thinned(results.thinned)] if results.thinned else []
    parts += [_spit(results.sides)] if results.sides else []
    parts += [_costs(results)] if results.costs else []
    return "\n\n".join(part for part in parts if part) + "\n"


def _head(command: str) -> str:
    cpu = [line.split(":")[1].strip() for line in _lines(Path("/proc/cpuinfo")) if line.startswith("model name")]
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    machine = f"{cpu[0] if cpu else platform.machine()}, {os.cpu_count()} cores, {memory:.0f} GB"
    return (
        "# The bed, measured\n\n"
        f"Written by `{command}` on {datetime.now(UTC):%Y-%m-%d}.\n"
        f"{platform.system()}, {machine}; Python {platform.python_version()}, {versions()}.\n\n"
        "Errors are root mean squares in metres against a bed that is known (Lake 227: against soundings held out, "
        "which have errors of their own). Each peer counts with the better of two cases, chosen survey by survey: "
        "readings alone, or with points of the shore at depth nought. Memory is the peak over what was loaded before; "
        "of GMT, the program's whole."
    )


def _lines(file: Path) -> list[str]:
    return file.read_text(encoding="utf-8").splitlines() if file.exists() else []


def _table(head: Iterable[str], body: Iterable[Iterable[object]]) -> str:
    head = list(head)
    lines = [head, ["---"] * len(head), *([str(cell) for cell in row] for row in body)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _figure(value: float, digits: int = 2) -> str:
    return f"{value:.{digits}f}" if np.isfinite(value) else "–"


def _against(rows: list[Row]) -> str:
    body = []
    for choosing in (False, True):
        for kinds in KINDS:
            some = [r for r in rows if r.choosing == choosing and r.kind in kinds]
            for where in WHERE if some else ():
                found = compared(some, where)
                goal = GOALS[kinds].get(where) if not choosing else None
                if found:
                    body.append(_ratio_line("choosing" if choosing else "reported", kinds, where, goal, found))
    head = ("lakes", "kind", "where", "surveys", "error / best peer's", "goal", "worst survey")
    return "## Against the best of all peers\n\n" + _table(head, body) + "\n\n" + _behind(rows)


def _ratio_line(
    part: str, kinds: tuple[str, ...], where: str, goal: float | None, found: list[Compared]
) -> list[object]:
    worst = max(found, key=lambda c: c.ratio)
    mean, told = _figure(geometric(c.ratio for c in found)), f"≤ {goal:.2f}" if goal else "–"
    furthest = f"{worst.ratio:.2f} ({worst.survey}; {worst.peer})"
    return [part, " and ".join(kinds), TITLES[where], len(found), mean, told, furthest]


def _behind(rows: list[Row]) -> str:
    late = [c for where in WHERE for c in compared([r for r in rows if not r.choosing], where) if c.ratio > BEHIND]
    if not late:
        return "On no reported survey is the bed more than 5 % behind the best peer."
    lines = [
        f"- {c.survey}, {TITLES[c.where]}: {c.bed:.3f} m, {c.peer} {c.best:.3f} m ({c.ratio:.2f})"
        for c in sorted(late, key=lambda c: -c.ratio)
    ]
    return "Reported surveys on which the bed is more than 5 % behind the best peer:\n\n" + "\n".join(lines)


def _held(rows: list[Row]) -> str:
    body = []
    for dense in (True, False):
        for kinds in (("made", "relief", "real"), *KINDS):
            some = [r for r in rows if not r.choosing and r.sure and r.dense == dense and r.kind in kinds]
            some = [r for r in some if r.method == BED and not r.fault]
            if some:
                held = [float(np.mean([getattr(r, k) for r in some])) for k in ("hold50", "hold80", "hold95")]
                far = [r.beyond95 for r in some if np.isfinite(r.beyond95)]
                score = float(np.mean([r.log_score for r in some]))
                body.append(
                    [
                        "dense" if dense else "sparse", ", ".join(kinds), len(some), *(_figure(h) for h in held),
                        f"{_figure(float(np.mean(far)))} ({len(far)})" if far else "–", _figure(score),
                    ]
                )  # fmt: skip
    head = ("surveys", "kind", "how many", "50 % holds", "80 %", "95 %", "95 % beyond reach", "log score")
    return (
        "## Do the bed's ranges hold?\n\nReported lakes whose truth is sure; share of spots inside the range.\n\n"
        + _table(head, body)
    )


def _by_method(rows: list[Row]) -> str:
    reported = [r for r in rows if not r.choosing]
    cases = better_case(reported)
    beds = {r.survey: r for r in cases if r.method == BED}
    body = []
    for name in dict.fromkeys(r.peer for r in cases):
        some = [r for r in cases if r.peer == name and r.survey in beds]
        sure = [r for r in some if r.sure and np.isfinite(r.log_score)]
        held = [
            _figure(float(np.mean([getattr(r, k) for r in sure]))) if sure else "–"
            for k in ("hold80", "hold95", "log_score")
        ]
        body.append(
            [
                name, len(some), *(_figure(geometric(getattr(r, w) for r in some), 3) for w in ("within", "whole")),
                _figure(geometric(r.whole / beds[r.survey].whole for r in some)), *held,
                _figure(float(np.median([r.seconds for r in some]))), _figure(max(r.seconds for r in some), 1),
                _figure(max(r.memory_mb for r in some), 0),
            ]
        )  # fmt: skip
    head = (
        "method", "surveys", "within reach, m", "whole lake, m", "whole / bed's", "80 % holds", "95 %", "log score",
        "seconds, median", "most", "memory at most, MB",
    )  # fmt: skip
    return "## Methods on the reported half\n\nGeometric means of the errors.\n\n" + _table(head, body)


def _by_survey(rows: list[Row]) -> str:
    body = []
    for choosing in (False, True):
        some = [r for r in rows if r.choosing == choosing]
        best = {(c.survey, c.where): c for where in WHERE for c in compared(some, where)}
        for row in (r for r in some if r.method == BED):
            told = [_versus(best.get((row.survey, where))) for where in WHERE]
            body.append(["choosing" if choosing else "reported", row.kind, row.survey, row.readings, *told])
    head = ("lakes", "kind", "survey", "readings", *(TITLES[w] for w in WHERE))
    return "## Every survey\n\nBed, best peer (which), metres.\n\n" + _table(head, body)


def _versus(found: Compared | None) -> str:
    return f"{found.bed:.3f}, {found.best:.3f} ({found.peer})" if found else "–"


def _faults(rows: list[Row]) -> str:
    lines = [f"- {r.survey}, {r.method}: {r.fault}" for r in rows if r.fault]
    return "## Not done\n\n" + "\n".join(lines) if lines else ""


def _thinned(found: list[Thinned]) -> str:
    counts = list(dict.fromkeys(t.readings for t in found))
    error = {(t.method, t.readings): t.error_m for t in found}
    methods = dict.fromkeys(t.method for t in found)
    body = [[m, *(_figure(error.get((m, n), np.nan), 3) for n in counts)] for m in methods]
    return (
        "## Error and number of readings\n\nWhole lake, metres, geometric mean over three reported lakes.\n\n"
        "![Error against number of readings](bench-readings.png)\n\n"
        + _table(("method", *(f"{n} readings" for n in counts)), body)
    )


def _spit(sides: list[Side]) -> str:
    body = [[s.method, s.readings_m, *(_figure(v) for v in (s.off_by_m, s.toward_m, s.away_m))] for s in sides]
    head = (
        "method", "readings of this side, m", f"greatest departure from {OFF_M:g} to {AWAY_M:g} m off, m",
        f"± at {OFF_M:g} m off, m", f"± at {AWAY_M:g} m off, m",
    )  # fmt: skip
    return (
        "## Two sides of a spit\n\nOne water 6.0 m deep, the other 0.6 m; readings ten metres apart, "
        "also across the spit. ± is half the 95 % range.\n\n![Section through the spit](bench-spit.png)\n\n"
        + _table(head, body)
    )


def _costs(results: Results) -> str:
    body = [_cost_line(r) for r in results.costs if r.run == "size"]
    told = (
        "The bed averages several members; PyKrige fits one model and is asked in chunks of cells, for memory's sake. "
        "Both give depth and ± at every cell. PyKrige is not asked for the largest size."
    )
    head = ("method", "readings", "cells", "fit, s", "every cell and its ±, s", "both, s", "memory, MB")
    lines = [
        "## Cost",
        told,
        "![Seconds against readings and cells](bench-cost.png)",
        _table(head, body),
        "\n".join(f"- {line}" for line in [*_beside(results.costs), *_slopes(results.costs)]),
    ]
    if results.one_spot_ms:
        grid, model = results.one_spot_ms
        lines.append(f"One spot after the fit: {grid:.2f} ms from the grid, {model:.1f} ms from the model.")
    return "\n\n".join(lines)


def _cost_line(row: CostRow) -> list[object]:
    told = [_figure(row.fit_s), _figure(row.ask_s), _figure(row.seconds), _figure(row.memory_mb, 0)]
    return [row.method, row.readings, f"{row.cells:,}", *([row.fault, "–", "–", "–"] if row.fault else told)]


def _beside(costs: list[CostRow]) -> list[str]:
    """PyKrige's seconds in units of the bed's, size by size."""
    told = []
    for bed in (r for r in costs if r.run == "size" and r.method == BED):
        peer = [r for r in costs if r.run == "size" and r.method != BED and r.readings == bed.readings]
        if peer and not bed.fault and not peer[0].fault:
            told.append(
                f"{bed.readings} readings, {bed.cells:,} cells: PyKrige takes {peer[0].seconds / bed.seconds:.1f} "
                f"times as long as the bed, answers alone {peer[0].ask_s / bed.ask_s:.1f} times"
            )
    return told


def _slopes(costs: list[CostRow]) -> list[str]:
    told = []
    for run in ("readings", "cells"):
        for method in dict.fromkeys(r.method for r in costs if r.run == run):
            fit, ask, both = (slope(costs, run, method, value) for value in ("fit_s", "ask_s", "seconds"))
            told.append(f"{method}, seconds as a power of {run}: fit {fit:.2f}, every cell {ask:.2f}, both {both:.2f}")
    return told
