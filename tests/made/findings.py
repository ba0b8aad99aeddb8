"""What a reading of a venue told, and where the cases of awkward input lie."""

from pathlib import Path

from survey.findings import Finding, Grade
from survey.records.fieldbook import Fieldbook

CASES = Path(__file__).resolve().parents[1] / "cases"


def found(book: Fieldbook, code: str) -> list[Finding]:
    return [finding for finding in book.findings if finding.code == code]


def rejected_rows(book: Fieldbook, stem: str = "readings") -> set[tuple[str, int | None]]:
    """Rows of the reading sheets with an ERROR finding."""
    return {
        where
        for f in book.findings
        if f.grade is Grade.ERROR and f.place.file.startswith(stem)
        for where in f.row_places
    }
