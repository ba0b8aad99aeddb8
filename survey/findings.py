"""Findings on the data: graded, placed, with a remedy; nothing is ever deleted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from survey.errors import SourceRow, message_at

LEVEL_SIGN = "level-sign"


class Grade(str, Enum):
    """How much a finding matters, worst first."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the worst grade."""
        return list(Grade).index(self)


@dataclass(frozen=True)
class Finding:
    """One thing a person should look at.

    Parameters
    ----------
    grade : Grade
        ``ERROR``: the row was not used, or the result is wrong until it is mended;
        ``WARNING``: used, but doubtful; ``NOTE``: what was assumed.
    code : str
        Stable short name, lower case with hyphens, for example ``depth-missing``.
    place : SourceRow
        Where it stands.
    problem, remedy : str
        What is wrong and what to do, each a plain sentence without the place.
    value : str
        What was found there, as written.
    tag : str
        Of the reading in that row, by which a decision can name it; empty where there is none.
    also : tuple of SourceRow
        Other rows that it stands for.
    """

    grade: Grade
    code: str
    place: SourceRow
    problem: str
    remedy: str = ""
    value: str = ""
    tag: str = ""
    also: tuple[SourceRow, ...] = ()

    @property
    def rows(self) -> tuple[SourceRow, ...]:
        """Every row that it stands for."""
        return (self.place, *self.also)

    @property
    def row_places(self) -> tuple[tuple[str, int | None], ...]:
        """File and row of every row that it stands for."""
        return tuple((place.file, place.row) for place in self.rows)

    def __str__(self) -> str:
        remedy = f" {self.remedy}" if self.remedy else ""
        place = f"{self.place} [{self.tag}]" if self.tag else str(self.place)
        return f"{message_at(place, self.problem, self.value)}{remedy}"


def counted_readings(count: int) -> str:
    """So many readings, in words.

    Examples
    --------
    >>> counted_readings(1), counted_readings(0)
    ('1 reading', '0 readings')
    """
    return "1 reading" if count == 1 else f"{count} readings"


def ordered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings by grade, then place, then code: the same whatever found them first.

    Returns
    -------
    tuple of Finding
        Without exact repeats.
    """
    return tuple(
        sorted(
            dict.fromkeys(findings),
            key=lambda f: (f.grade.rank, f.place.file, f.place.row or 0, f.code, f.place.column, f.problem),
        )
    )
