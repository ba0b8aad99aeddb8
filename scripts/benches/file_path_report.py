"""The file path in tables: Markdown from rows, nothing measured here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from scripts.benches.peers import versions

KINDS = {"made and relief": ("made", "relief"), "real": ("real",)}


@dataclass(frozen=True)
class FileRow:
    """One method on one survey; errors in metres within reach.

    Parameters
    ----------
    lake, kind, case, method : str
    choosing : bool
    seed, readings : int
    error_m, bias_m : float
        Root mean square, and mean.
    holds95 : float
        Share of the truth inside the stated 95 % range; nan where none is stated.
    seconds : float
    pegs_written_m, pegs_adjusted_m, pegs_inside : float
        Root mean square error of the pegs' points as written and as adjusted, and the share inside the stated 95 %
        ellipse; nan for peers.
    """

    lake: str
    kind: str
    case: str
    method: str
    choosing: bool
    seed: int
    readings: int
    error_m: float
    bias_m: float = float("nan")
    holds95: float = float("nan")
    seconds: float = float("nan")
    pegs_written_m: float = float("nan")
    pegs_adjusted_m: float = float("nan")
    pegs_inside: float = float("nan")
    fault: str = ""


def report(rows: Sequence[FileRow], command: str) -> str:
    """Everything, as one Markdown page."""
    cases = list(dict.fromkeys(row.case for row in rows))
    head = (
        "# The bed on the path that people use\n\n"
        f"Written by `{command}` on {datetime.now(UTC):%Y-%m-%d}; {versions()}.\n\n"
        "Sheets with nothing declared, `lakeplumb build`, depths read from `depth.tif`. Errors are root mean squares "
        "within 36 m of a peg, in metres. Each peer counts with the better of two cases, chosen survey by survey: "
        "readings alone, or with points of the shore at depth nought."
    )
    parts = [
        head,
        _sums(rows, cases),
        *(_by_lake([row for row in rows if row.case == case], case) for case in cases),
    ]
    return "\n\n".join(parts) + "\n"


def _sums(rows: Sequence[FileRow], cases: Iterable[str]) -> str:
    head = (
        "| case | lakes | surveys | error / best peer | worst | error / thin plate + shore | mean error (worst), m "
        "| 95 % hold | pegs as written, adjusted, m | in their ellipse |"
    )
    lines = [head, "|---" * 10 + "|"]
    for case in cases:
        for words, choosing, kinds in _groups():
            some = [r for r in rows if r.case == case and r.choosing in choosing and r.kind in kinds]
            beds = [row for row in some if row.method == "bed" and not row.fault]
            if beds:
                lines.append(f"| {case} | {words} | {len(beds)} | {_sum_of(beds, some)} |")
    return "\n".join(lines)


def _groups() -> Iterable[tuple[str, tuple[bool, ...], tuple[str, ...]]]:
    yield "all", (True, False), ("made", "relief", "real")
    for words, choosing in (("reported", False), ("choosing", True)):
        for name, kinds in KINDS.items():
            yield f"{words}, {name}", (choosing,), kinds


def _sum_of(beds: Sequence[FileRow], rows: Sequence[FileRow]) -> str:
    best = [_ratio(bed, _best(bed, rows)) for bed in beds]
    plate = [_ratio(bed, _peer(bed, rows, "thin plate + shore")) for bed in beds]
    biases = np.array([bed.bias_m for bed in beds])
    pegs = [np.mean([getattr(bed, name) for bed in beds]) for name in ("pegs_written_m", "pegs_adjusted_m")]
    inside = float(np.mean([bed.pegs_inside for bed in beds]))
    return (
        f"{_geometric(best)} | {_most(best)} | {_geometric(plate)} | {biases.mean():+.3f} "
        f"({biases[np.argmax(np.abs(biases))]:+.3f}) | {np.mean([bed.holds95 for bed in beds]):.2f} "
        f"| {pegs[0]:.1f}, {pegs[1]:.1f} | {inside:.2f}"
    )


def _same(bed: FileRow, row: FileRow) -> bool:
    return (bed.lake, bed.case, bed.seed) == (row.lake, row.case, row.seed) and row.method != "bed" and not row.fault


def _best(bed: FileRow, rows: Sequence[FileRow]) -> float:
    return min((row.error_m for row in rows if _same(bed, row)), default=float("nan"))


def _peer(bed: FileRow, rows: Sequence[FileRow], method: str) -> float:
    return min((row.error_m for row in rows if _same(bed, row) and row.method == method), default=float("nan"))


def _ratio(bed: FileRow, other: float) -> float:
    return bed.error_m / other


def _geometric(values: Sequence[float]) -> str:
    found = np.exp(np.mean(np.log(values)))
    return f"{found:.2f}" if np.isfinite(found) else "–"


def _most(values: Sequence[float]) -> str:
    return f"{max(values):.2f}" if np.isfinite(values).all() else "–"


def _by_lake(rows: Sequence[FileRow], case: str) -> str:
    columns = "lake | kind | readings | bed | best peer | | thin plate + shore | mean error | 95 % hold"
    lines = [f"## {case[0].upper()}{case[1:]}\n\n| {columns} |", "|---" * 9 + "|"]
    for bed in (row for row in rows if row.method == "bed"):
        name = f"{bed.lake}{', choosing' if bed.choosing else ''}"
        if bed.fault:
            lines.append(f"| {name} | {bed.kind} | {bed.readings} | {bed.fault} | | | | | |")
            continue
        peers = [row for row in rows if _same(bed, row)]
        best = min(peers, key=lambda row: row.error_m, default=None)
        best_words = "– | " if best is None else f"{best.error_m:.3f} | {best.method}"
        lines.append(
            f"| {name} | {bed.kind} | {bed.readings} | {bed.error_m:.3f} | {best_words} "
            f"| {_peer(bed, rows, 'thin plate + shore'):.3f} | {bed.bias_m:+.3f} | {bed.holds95:.2f} |"
        )
    return "\n".join(lines)
