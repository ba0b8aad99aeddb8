"""How findings are told: worst first, routine notes brought together, no row lost."""

import re
from types import SimpleNamespace

from maps.report import Report
from survey.errors import Place
from survey.findings import Finding, Grade


def note(row):
    return Finding(Grade.NOTE, "bracketed", Place("readings.csv", row), f"bounds of row {row} used as one depth")


def test_many_notes_of_a_kind_are_told_once_and_by_every_row():
    worst = Finding(Grade.ERROR, "misfit", Place("readings.csv", 2), "too deep", "Plumb it again.")
    book = SimpleNamespace(rows=60, readings=())
    told = "\n".join(Report(book, (worst, *(note(r) for r in range(10, 50)))).as_text())
    assert told.startswith("error    readings.csv, row 2: too deep. Plumb it again.")
    assert told.count("bounds of row") == 1
    rows = re.search(r"The same kind in rows (.+)\.", told).group(1).split(", ")
    assert rows == [str(r) for r in range(11, 50)]
    assert "1 error, 0 warnings, 40 notes" in told


def test_a_few_notes_are_told_in_full():
    book = SimpleNamespace(rows=3, readings=())
    assert len(Report(book, tuple(note(r) for r in (5, 6, 7))).as_text()) == 5
