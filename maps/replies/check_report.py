"""The check's report: every finding by sheet and row, and how many rows were used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from maps.content.crossover_rows import crossovers_json
from maps.replies.refusals import counted, place_json
from survey.checks.crossovers import LEAST_PAIRS, Bias, Crossovers
from survey.findings import LEVEL_SIGN, Finding, Grade
from survey.records.fieldbook import Fieldbook
from survey.units.dates import written_day
from survey.units.lengths import shown_length

NOTES_IN_FULL = 3
FINE_IN = 0.25
"""Biases are small: they are said to the quarter inch."""
HOW_TO_ANSWER = (
    "To answer one, write the tag in its brackets and out, keep or noted into decisions.csv, columns tag and decision. "
    "The columns code, sheet, row, by and note are optional."
)
CAUSE_CODES = ("likely-", LEVEL_SIGN, "datum-far")
"""How the codes of what explains many rows begin: it is listed before them."""


@dataclass(frozen=True)
class Report:
    """A check of one venue.

    Parameters
    ----------
    fieldbook : Fieldbook
    findings : tuple of Finding
        All of them, ordered.
    crossovers : Crossovers or None
        None where no bed was made.
    """

    fieldbook: Fieldbook
    findings: tuple[Finding, ...]
    crossovers: Crossovers | None = None

    @property
    def used(self) -> int:
        """Rows of the reading sheets that the bed rests on."""
        lost = {where for f in self.findings if f.grade is Grade.ERROR for where in f.row_places}
        return sum(r.use and (r.place.file, r.place.row) not in lost for r in self.fieldbook.readings)

    @property
    def past(self) -> int:
        """Rows of before the bed was changed."""
        return sum(bool(reading.new_from) for reading in self.fieldbook.readings)

    @property
    def has_errors(self) -> bool:
        """Whether anything must be corrected."""
        return any(finding.grade is Grade.ERROR for finding in self.findings)

    def count(self, grade: Grade) -> int:
        """Findings of one grade."""
        return sum(finding.grade is grade for finding in self.findings)

    def as_text(self) -> list[str]:
        """Lines for a reader: findings, worst first, then the sum of it."""
        rows, past = self.fieldbook.rows, f"{self.past} past, " if self.past else ""
        graded = ", ".join(counted(self.count(grade), grade.value) for grade in Grade)
        causes = [f"{finding.grade.value:<7}  {finding}" for finding in self._causes()]
        if causes:
            causes = ["Check this first: it may explain many of the rows below.", *causes, ""]
        lines = [line for alike in self._alike() for line in _lines(alike)]
        return [
            *causes,
            *lines,
            *([""] if lines else []),
            *([HOW_TO_ANSWER, ""] if any(_is_tagged(finding) for finding in self.findings) else []),
            *_bias_lines(self.crossovers, self.fieldbook.venue.shows),
            f"{counted(rows, 'row')} read: {self.used} used, {past}{rows - self.used - self.past} set aside. {graded}.",
        ]

    def _causes(self) -> list[Finding]:
        """What explains a whole sheet, day or person, and is not yet answered."""
        return [f for f in self.findings if f.grade is not Grade.NOTE and f.code.startswith(CAUSE_CODES)]

    def _alike(self) -> list[list[Finding]]:
        """Findings in their order; notes of one code and file are grouped, others if their text is the same."""
        groups: dict[object, list[Finding]] = {}
        listed = set(self._causes())
        for finding in self.findings:
            if finding in listed:
                continue
            said = "" if finding.grade is Grade.NOTE else f"{finding.problem} {finding.value}"
            key = finding if finding.place.row is None else (finding.code, finding.place.file, said)
            groups.setdefault(key, []).append(finding)
        return list(groups.values())

    def as_json(self) -> dict[str, Any]:
        """The same for a program."""
        return {
            "venue": self.fieldbook.venue.name,
            "rows": self.fieldbook.rows,
            "used": self.used,
            "past": self.past,
            "set_aside": self.fieldbook.rows - self.used - self.past,
            "counts": {grade.value: self.count(grade) for grade in Grade},
            "findings": [_finding_json(finding) for finding in self.findings],
            "crossovers": crossovers_json(self.crossovers),
        }


def _bias_lines(crossovers: Crossovers | None, shows: str) -> list[str]:
    """Differences between observers, from readings of the same spots; only where there are enough."""
    listed = [b for b in crossovers.biases if b.pairs >= LEAST_PAIRS] if crossovers else []
    if not listed:
        return []
    rows = [f"  {b.kind:<9} {written_day(b.name):<20} {_apart(b, shows)} at {b.pairs} spots" for b in listed]
    return ["Read deeper (+) or shallower (−) than the others at the same spots:", *rows, ""]


def _apart(bias: Bias, shows: str) -> str:
    """A bias with its sign and its error; what is shown as nothing has no sign."""
    nothing, by, sd = (shown_length(one, shows, FINE_IN) for one in (0.0, abs(bias.bias_m), bias.sd_m))
    sign = "" if by == nothing else "+" if bias.bias_m > 0 else "−"
    return f"{sign}{by} ± {sd}"


def _lines(alike: list[Finding]) -> list[str]:
    """One line a finding; many of a kind are shown by the first, then by their rows."""
    if len(alike) <= NOTES_IN_FULL:
        return [f"{finding.grade.value:<7}  {finding}" for finding in alike]
    rows = ", ".join(_row(finding) for finding in alike[1:])
    return [f"{alike[0].grade.value:<7}  {alike[0]}", f"{'':<7}  The same kind in rows {rows}."]


def _row(finding: Finding) -> str:
    """Row and tag; notes need no answer, and so many tags would hide them."""
    return f"{finding.place.row} [{finding.tag}]" if _is_tagged(finding) else str(finding.place.row)


def _is_tagged(finding: Finding) -> bool:
    return bool(finding.tag) and finding.grade is not Grade.NOTE


def _finding_json(finding: Finding) -> dict[str, Any]:
    return {
        "grade": finding.grade.value,
        "code": finding.code,
        **place_json(finding.place),
        **({"rows": [{"file": place.file, "row": place.row} for place in finding.rows]} if finding.also else {}),
        "tag": finding.tag,
        "value": finding.value,
        "problem": finding.problem,
        "remedy": finding.remedy,
    }
