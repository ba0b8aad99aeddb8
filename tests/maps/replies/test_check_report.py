"""How findings are told: worst first, routine notes brought together, no row lost."""

import re
from types import SimpleNamespace

import pytest

from maps.replies.check_report import Report
from survey.errors import Fault, SourceRow
from survey.findings import Finding, Grade


def note(row):
    return Finding(Grade.NOTE, "bracketed", SourceRow("readings.csv", row), f"bounds of row {row} used as one depth")


def test_many_notes_of_a_kind_are_told_once_and_by_every_row():
    worst = Finding(Grade.ERROR, "misfit", SourceRow("readings.csv", 2), "too deep", "Plumb it again.")
    book = SimpleNamespace(venue=SimpleNamespace(shows="feet"), rows=60, readings=())
    told = "\n".join(Report(book, (worst, *(note(r) for r in range(10, 50)))).as_text())
    assert told.startswith("error    readings.csv, row 2: too deep. Plumb it again.")
    assert told.count("bounds of row") == 1
    rows = re.search(r"The same kind in rows (.+)\.", told).group(1).split(", ")
    assert rows == [str(r) for r in range(11, 50)]
    assert "1 error, 0 warnings, 40 notes" in told


def test_a_few_notes_are_told_in_full():
    book = SimpleNamespace(venue=SimpleNamespace(shows="feet"), rows=3, readings=())
    assert len(Report(book, tuple(note(r) for r in (5, 6, 7))).as_text()) == 5


@pytest.mark.parametrize(
    "code",
    ["likely-depth-unit", "likely-mirrored", "likely-one-of-two", "likely-date-order", "level-sign", "datum-far"],
)
def test_what_explains_a_whole_sheet_is_told_before_its_rows_and_once(code):
    rows = tuple(
        Finding(Grade.ERROR, "misfit", SourceRow("a.csv", row), f"row {row} is too deep") for row in range(2, 90)
    )
    cause = Finding(Grade.WARNING, code, SourceRow("a.csv"), "the rows would fit otherwise")
    told = Report(SimpleNamespace(venue=SimpleNamespace(shows="feet"), rows=88, readings=()), (*rows, cause)).as_text()
    assert "it may explain many of the rows below" in told[0]
    assert told[1].startswith("warning  a.csv: the rows would fit otherwise")
    assert "\n".join(told).count("would fit otherwise") == 1
    assert sum("is too deep" in line for line in told) == len(rows)


def test_a_cause_that_somebody_answered_stands_with_the_notes():
    cause = Finding(Grade.NOTE, "likely-mirrored", SourceRow("a.csv"), "decided: noted")
    told = Report(SimpleNamespace(venue=SimpleNamespace(shows="feet"), rows=1, readings=()), (note(5), cause)).as_text()
    assert told[0].startswith("note     readings.csv, row 5")


@pytest.mark.parametrize(
    ("problem", "value", "said"),
    [
        ('"30/02" is not a date', "30/02", 'a.csv, row 2: "30/02" is not a date. Mend it.'),
        ("this is not a date", "30/02", 'a.csv, row 2: this is not a date (found "30/02"). Mend it.'),
        ("no such day.", "30/02", 'a.csv, row 2: no such day (found "30/02"). Mend it.'),
    ],
)
def test_a_value_is_quoted_once_and_a_sentence_ends_once(problem, value, said):
    place = SourceRow("a.csv", 2)
    assert str(Finding(Grade.ERROR, "c", place, problem, "Mend it.", value)) == said
    assert str(Fault(place, problem, "Mend it.", value)) == said


def test_a_finding_about_a_reading_bears_its_tag():
    book = SimpleNamespace(venue=SimpleNamespace(shows="feet"), rows=9, readings=())
    places = [SourceRow("readings.csv", row, "depth") for row in range(2, 7)]
    found = tuple(
        Finding(Grade.WARNING, "unit-doubtful", place, "it looks like feet", tag=f"TAG-{place.row}") for place in places
    )
    told = Report(book, found).as_text()
    assert told[0] == 'warning  readings.csv, row 2, column "depth" [TAG-2]: it looks like feet.'
    assert told[1].strip() == "The same kind in rows 3 [TAG-3], 4 [TAG-4], 5 [TAG-5], 6 [TAG-6]."
    assert [one["tag"] for one in _json(book, found)] == [f"TAG-{row}" for row in range(2, 7)]


def _json(book, found):
    book = SimpleNamespace(**vars(book) | {"venue": SimpleNamespace(shows="feet", name="Eelmarsh")})
    return Report(book, found).as_json()["findings"]


def test_past_readings_are_counted_for_themselves():
    kinds = [(True, ""), (True, ""), (False, ""), (False, "2026-03-01")]
    readings = tuple(
        SimpleNamespace(use=use, new_from=day, place=SourceRow("a.csv", row))
        for row, (use, day) in enumerate(kinds, start=2)
    )
    book = SimpleNamespace(venue=SimpleNamespace(shows="feet", name="Eelmarsh"), rows=5, readings=readings)
    report = Report(book, ())
    assert report.as_text()[-1].startswith("5 rows read: 2 used, 1 past, 2 set aside.")
    assert [report.as_json()[key] for key in ("rows", "used", "past", "set_aside")] == [5, 2, 1, 2]
