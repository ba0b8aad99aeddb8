"""What was noticed while reading: faults that stop the venue, findings that do not.

Knows nothing of files; every reader of this package is handed the same collector.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import NoReturn

from survey.errors import Fault, FieldbookError, SourceRow
from survey.findings import Finding, Grade, ordered


class Remarks:
    """Collects faults and findings so that a person sees everything at once."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.findings: list[Finding] = []

    @contextmanager
    def part(self) -> Iterator[Remarks]:
        """A part of the reading that may fail by itself: its faults are kept, and what does not need it goes on."""
        own = Remarks()
        with suppress(FieldbookError):
            yield own
        self.faults += own.faults
        self.findings += own.findings

    def fault(self, place: SourceRow, problem: str, remedy: str, value: str = "") -> None:
        """Something that leaves the venue unreadable or ambiguous."""
        self.faults.append(Fault(place, problem, remedy, value))

    def refuse(self, place: SourceRow, problem: str, remedy: str) -> NoReturn:
        """A fault beyond which nothing can be read: raised at once, with those before it."""
        self.fault(place, problem, remedy)
        self.stop_if_faulty()
        raise AssertionError  # pragma: no cover - a fault has just been added

    def error(
        self, code: str, place: SourceRow, problem: str, remedy: str, value: str = "", rows: tuple[int, ...] = ()
    ) -> None:
        """A row that cannot be used, and further rows of the same sheet for the same reason."""
        also = tuple(SourceRow(place.file, row) for row in rows)
        self.findings.append(Finding(Grade.ERROR, code, place, problem, remedy, value, also=also))

    def warning(self, code: str, place: SourceRow, problem: str, remedy: str, value: str = "") -> None:
        """Something used, but doubtful."""
        self.findings.append(Finding(Grade.WARNING, code, place, problem, remedy, value))

    def note(self, code: str, place: SourceRow, problem: str, remedy: str = "", value: str = "") -> None:
        """Something that was assumed."""
        self.findings.append(Finding(Grade.NOTE, code, place, problem, remedy, value))

    def stop_if_faulty(self) -> None:
        """Raise all faults so far, ordered by place.

        Raises
        ------
        FieldbookError
            If there is at least one.
        """
        if self.faults:
            distinct = dict.fromkeys(self.faults)
            raise FieldbookError(
                sorted(distinct, key=lambda f: (f.place.file, f.place.row or 0, f.place.column, f.problem)),
                [f"{f.grade.value:<7}  {f}" for f in ordered(self.findings) if f.grade is not Grade.NOTE],
            )


def nearest(word: str, known: list[str]) -> str:
    """A hint at the known word meant, as the end of a sentence; empty if none is close.

    Examples
    --------
    >>> nearest("dpeth", ["depth", "date"])
    ' Perhaps "depth" is meant.'
    """
    close = difflib.get_close_matches(word.casefold(), [k.casefold() for k in known], n=1, cutoff=0.7)
    match = next((k for k in known if close and k.casefold() == close[0]), None)
    return f' Perhaps "{match}" is meant.' if match else ""
