"""What is said of a group of readings and of the mistake that explains it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from survey.checks.systematic.groups import Group
from survey.checks.systematic.reference import TROUBLED
from survey.checks.systematic.testing import Diagnosis, FitCost
from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.units import format_metres

ONE_OF_TWO = "likely-one-of-two"
"""Code where two mistakes of different kinds explain a group alike."""
MOST_RUNS = 6
"""Runs of rows named one by one."""
FEW = 0.1
"""With less than this share of a group not fitting one by one, what it misses as a whole is told instead."""


def finding(diagnosis: Diagnosis) -> Finding:
    """A verdict in words: which rows, what explains them, why it is believed and what to do."""
    group, hypotheses = diagnosis.group, diagnosis.hypotheses
    codes = {hypothesis.code for hypothesis in hypotheses}
    first = min(group.rows)
    likely = ", or if ".join(hypothesis.words for hypothesis in hypotheses)
    undecided = ". These readings cannot tell which" if len(hypotheses) > 1 else ""
    return Finding(
        Grade.WARNING,
        codes.pop() if len(codes) == 1 else ONE_OF_TWO,
        SourceRow(first.file) if group.kind == "sheet" else first,
        f"{_who(group)}: {_misfit(diagnosis)} if {likely}{undecided}. {_typical(diagnosis.before, diagnosis.after)}",
        " Or: ".join(dict.fromkeys(hypothesis.remedy for hypothesis in hypotheses)),
    )


def _who(group: Group) -> str:
    rows = "" if group.kind in {"sheet", "survey"} else f" ({runs_of_rows(group.rows)})"
    return {
        "sheet": "this sheet as a whole",
        "survey": "all readings together",
        "observer": f"what {group.name} plumbed{rows}",
        "day": f"what was plumbed on {group.name}{rows}",
        "peg": f"what is written down for peg {group.readings[0].peg}{rows}",
    }[group.kind]


def _misfit(diagnosis: Diagnosis) -> str:
    before, after, total = diagnosis.before.cost, diagnosis.after.cost, len(diagnosis.group.readings)
    doubtful, mended = int(np.sum(before > TROUBLED)), int(np.sum((before > TROUBLED) & (after <= TROUBLED)))
    looked_at = (
        f"{len(before)} readings" if len(before) == total else f"the {len(before)} looked at of {total} readings"
    )
    others = "each other" if diagnosis.group.kind == "survey" else "what others found round them"
    if doubtful < FEW * len(before):
        return (
            f"one by one most of {looked_at} pass, but together they miss {others} by more than chance, "
            "and would fit better"
        )
    return f"{doubtful} of {looked_at} do not fit {others}, and {mended} of these would"


def _typical(before: FitCost, after: FitCost) -> str:
    """The median miss, and how many rows have no place on the water, as written and with the mistake undone."""
    miss = [
        float(np.nanmedian(np.abs(fitted.miss_m))) if np.isfinite(fitted.miss_m).any() else np.nan
        for fitted in (before, after)
    ]
    ashore = [int(np.isnan(fitted.miss_m).sum()) for fitted in (before, after)]
    typical = (
        ""
        if np.isnan(miss).any()
        else f"Half of them miss by over {format_metres(miss[0])} as written, by over {format_metres(miss[1])} then"
    )
    if ashore[0] <= ashore[1]:
        return typical
    lost = f"{ashore[0]} have no place on the water as written, {ashore[1]} then"
    return f"{typical}; {lost}" if typical else lost


def runs_of_rows(rows: Iterable[SourceRow]) -> str:
    """Rows by sheet, neighbours together.

    Examples
    --------
    >>> runs_of_rows(SourceRow("a.csv", row) for row in (2, 3, 4, 9))
    'a.csv rows 2 to 4, 9'
    """
    by_file: defaultdict[str, list[int]] = defaultdict(list)
    for place in rows:
        by_file[place.file].append(place.row or 0)
    return "; ".join(f"{file} {_runs(sorted(numbers))}" for file, numbers in sorted(by_file.items()))


def _runs(numbers: list[int]) -> str:
    starts = [numbers[0], *(b for a, b in pairwise(numbers) if b > a + 1)]
    ends = [*(a for a, b in pairwise(numbers) if b > a + 1), numbers[-1]]
    runs = [str(a) if a == b else f"{a} to {b}" for a, b in zip(starts, ends, strict=True)]
    more = f" and {len(runs) - MOST_RUNS} more runs" if len(runs) > MOST_RUNS else ""
    return f"row{'s' if len(numbers) > 1 else ''} {', '.join(runs[:MOST_RUNS])}{more}"
