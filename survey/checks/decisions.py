"""What people decided about findings: applied where it leaves a row out, shown beside every finding it answers.

Knows nothing of files.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from survey.findings import Finding, Grade
from survey.records.fieldbook import Decision

ANSWERED = {"out": "left out", "keep": "to be kept", "noted": "noted"}


def tagged(findings: Iterable[Finding], tags: Mapping[tuple[str, int | None], str]) -> tuple[Finding, ...]:
    """Findings with the tag of the reading they are about; ``tags`` is by file and row."""
    known = [(finding, tags.get((finding.place.file, finding.place.row), "")) for finding in findings]
    return tuple(replace(finding, tag=tag) if tag else finding for finding, tag in known)


def answered(findings: Iterable[Finding], decisions: Sequence[Decision]) -> tuple[Finding, ...]:
    """Findings with the decisions that answer them.

    An answered warning or error becomes a note that says who decided what, one about several rows once all of them
    are answered; a decision that answers nothing is named, because the sheet may have moved under it. Errors of rows
    that cannot be read stay errors unless the row was left out: no decision makes a depth out of nothing.
    """
    result: list[Finding] = []
    idle = set(decisions)
    of_row: dict[tuple[str, int | None], list[Decision]] = defaultdict(list)
    for decided in decisions:
        of_row[decided.about.file, decided.about.row].append(decided)
    for finding in findings:
        taken = [next((d for d in of_row.get(row, ()) if _answers(d, finding)), None) for row in finding.row_places]
        idle -= set(taken)
        decision = taken[0] if all(taken) else None
        result.append(finding if decision is None else _with(finding, decision))
    result += [_idle(decision) for decision in sorted(idle, key=lambda d: d.place) if decision.answer != "out"]
    return tuple(result)


def trusted_rows(decisions: Iterable[Decision]) -> frozenset[tuple[str, int]]:
    """File and row of readings that somebody decided to keep: they are not set aside, however they misfit."""
    return frozenset(
        (d.about.file, d.about.row)
        for d in decisions
        if d.answer == "keep" and d.code in {"", "misfit"} and d.about.row is not None
    )


def _answers(decision: Decision, finding: Finding) -> bool:
    """Whether a decision about the row of a finding answers it."""
    return decision.code in {"", finding.code} and finding.code != "decision-taken"


def _with(finding: Finding, decision: Decision) -> Finding:
    who = f" by {decision.by}" if decision.by else ""
    why = f" ({decision.note})" if decision.note else ""
    answer = f"{ANSWERED[decision.answer]}{who}{why}, {decision.place}"
    final = finding.grade is not Grade.ERROR or decision.answer == "out" or finding.code == "misfit"
    return replace(
        finding,
        grade=Grade.NOTE if final else finding.grade,
        problem=f"{finding.problem}; decided: {answer}",
        remedy="" if final else finding.remedy,
    )


def _idle(decision: Decision) -> Finding:
    remedy = "If rows were added or removed above it, correct the row number; otherwise delete the decision."
    return Finding(
        Grade.WARNING,
        "decision-idle",
        decision.place,
        f"this decision no longer applies: {decision.about} has no finding"
        f"{f' {decision.code}' if decision.code else ''} any more",
        "Delete the decision." if decision.by_tag else remedy,
    )
