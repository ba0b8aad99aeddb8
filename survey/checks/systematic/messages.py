"""Findings on a group of readings and the mistake that explains it."""

from __future__ import annotations

import numpy as np

from survey.checks.systematic.groups import Group
from survey.checks.systematic.reference import TROUBLED
from survey.checks.systematic.testing import Diagnosis
from survey.errors import SourceRow, runs_of_rows
from survey.findings import Finding, Grade
from survey.units.dates import written_day
from survey.units.lengths import shown_length

ONE_OF_TWO = "likely-one-of-two"
"""Code where two mistakes of different kinds explain a group alike."""
FEW = 0.1
"""With a smaller share of a group misfitting one by one, the misfit of the whole group is given instead."""


def finding(diagnosis: Diagnosis, shows: str) -> Finding:
    """A diagnosis as a finding: which rows, what explains them, why it is likely and what to do."""
    group, hypotheses = diagnosis.group, diagnosis.hypotheses
    codes = {hypothesis.code for hypothesis in hypotheses}
    first = min(group.rows)
    likely = ", or if ".join(hypothesis.words for hypothesis in hypotheses)
    undecided = ". These readings cannot show which" if len(hypotheses) > 1 else ""
    return Finding(
        Grade.WARNING,
        codes.pop() if len(codes) == 1 else ONE_OF_TWO,
        SourceRow(first.file) if group.kind == "sheet" else first,
        f"{_who(group)}: {_misfit(diagnosis)} if {likely}{undecided}. {_typical(diagnosis, shows)}",
        " Or: ".join(dict.fromkeys(hypothesis.remedy for hypothesis in hypotheses)),
    )


def _who(group: Group) -> str:
    rows = "" if group.kind in {"sheet", "survey"} else f" ({runs_of_rows(group.rows)})"
    return {
        "sheet": "the whole sheet",
        "survey": "the whole survey",
        "observer": f"{group.name}'s readings{rows}",
        "day": f"the readings of {written_day(group.name)}{rows}",
        "peg": f"the readings of {_pegs(group)}{rows}",
        "patch": f"the readings of {_pegs(group)} from {written_day(_first_day(group))} on{rows}",
    }[group.kind]


def _pegs(group: Group) -> str:
    """The pegs of a group; readings without one are left to their rows."""
    pegs = sorted({reading.peg for reading in group.readings} - {""}, key=lambda name: (len(name), name))
    if not pegs:
        return "one patch"
    return f"pegs {', '.join(pegs)}" if len(pegs) > 1 else f"peg {pegs[0]}"


def _first_day(group: Group) -> str:
    return min(reading.when.day for reading in group.readings if reading.when)


def _misfit(diagnosis: Diagnosis) -> str:
    before, after, total = diagnosis.before.cost, diagnosis.after.cost, len(diagnosis.group.readings)
    doubtful, mended = int(np.sum(before > TROUBLED)), int(np.sum((before > TROUBLED) & (after <= TROUBLED)))
    looked_at = f"{len(before)} readings" if len(before) == total else f"{len(before)} of {total} readings compared"
    others = "each other" if diagnosis.group.kind == "survey" else "their neighbours"
    if doubtful < FEW * len(before):
        return (
            f"most of {looked_at} pass one by one, but together they differ from {others} by more than chance, "
            "and would agree better"
        )
    return f"{doubtful} of {looked_at} disagree with {others}, and {mended} of those would agree"


def _typical(diagnosis: Diagnosis, shows: str) -> str:
    """The median miss, and how many rows have no place on the water, as written and with the mistake undone."""
    fits = (diagnosis.before, diagnosis.after)
    miss = [
        float(np.nanmedian(np.abs(fitted.miss_m))) if np.isfinite(fitted.miss_m).any() else np.nan for fitted in fits
    ]
    ashore = [int(np.isnan(fitted.miss_m).sum()) for fitted in fits]
    typical = ""
    if np.isfinite(miss).all():
        written, corrected = (shown_length(one, shows) for one in miss)
        typical = f"Half are out by over {written} as written, over {corrected} if corrected"
    if ashore[0] <= ashore[1]:
        return typical
    lost = f"{ashore[0]} fall off the water as written, {ashore[1]} if corrected"
    return f"{typical}; {lost}" if typical else lost
