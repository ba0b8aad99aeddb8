"""The error family, and the one form in which a place in a file is named.

Knows nothing of what the files hold.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

MOST_RUNS = 6
"""Runs of rows named one by one."""


@dataclass(frozen=True, order=True)
class SourceRow:
    """Where in the sources something stands.

    Parameters
    ----------
    file : str
        File name as the volunteer knows it, relative to the venue folder.
    row : int or None
        Row as a spreadsheet numbers it (header included, first row 1).
    column : str
        Header as written, or a spreadsheet letter; empty if the whole row is meant.
    """

    file: str
    row: int | None = None
    column: str = ""

    def __str__(self) -> str:
        parts = [self.file]
        if self.row is not None:
            parts.append(f"row {self.row}")
        if self.column:
            parts.append(f'column "{self.column}"')
        return ", ".join(parts)


@dataclass(frozen=True)
class Fault:
    """One thing that stops a file from being read: where, what, what to do."""

    place: SourceRow
    problem: str
    remedy: str
    value: str = ""

    def __str__(self) -> str:
        return f"{message_at(self.place, self.problem, self.value)} {self.remedy}"


def message_at(place: SourceRow | str, problem: str, value: str) -> str:
    """Where, what and what was found there, as a sentence; a value that the problem quotes is not repeated.

    Examples
    --------
    >>> message_at(SourceRow("a.csv", 2), "the word is not known", "x")
    'a.csv, row 2: the word is not known (found "x").'
    >>> message_at(SourceRow("a.csv", 2), '"x" is not known', "x")
    'a.csv, row 2: "x" is not known.'
    """
    found = f' (found "{value}")' if value and f'"{value}"' not in problem else ""
    return f"{place}: {problem.removesuffix('.')}{found}."


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
    return "; ".join(f"{file} {rows_named(numbers)}" for file, numbers in sorted(by_file.items()))


def rows_named(rows: Iterable[int]) -> str:
    """Rows of one sheet, neighbours together.

    Examples
    --------
    >>> rows_named([9, 2, 3]), rows_named([7])
    ('rows 2 to 3, 9', 'row 7')
    """
    numbers = sorted(set(rows))
    starts = [numbers[0], *(b for a, b in pairwise(numbers) if b > a + 1)]
    ends = [*(a for a, b in pairwise(numbers) if b > a + 1), numbers[-1]]
    runs = [str(a) if a == b else f"{a} to {b}" for a, b in zip(starts, ends, strict=True)]
    more = f" and {len(runs) - MOST_RUNS} more runs" if len(runs) > MOST_RUNS else ""
    return f"row{'s' if len(numbers) > 1 else ''} {', '.join(runs[:MOST_RUNS])}{more}"


class SurveyError(Exception):
    """Anything the survey cannot do, in words for the person who requested it."""


class FieldbookError(SurveyError):
    """The venue's sources cannot be read; carries every fault found, not the first.

    Parameters
    ----------
    faults : sequence of Fault
        At least one.
    also : sequence of str
        What else was found up to there, worst first, each a sentence with its place.
    """

    def __init__(self, faults: Sequence[Fault], also: Sequence[str] = ()) -> None:
        self.faults = tuple(faults)
        self.also = tuple(also)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class ParseError(SurveyError, ValueError):
    """A length, angle or clock time that cannot be read, or a unit left undeclared."""


class PlacingError(SurveyError, ValueError):
    """A position that cannot be worked out from what was written."""


class BedError(SurveyError):
    """No bed can be made from what there is."""


class QueryError(SurveyError):
    """A question about the survey that has no answer: unknown peg, spot off the water."""
