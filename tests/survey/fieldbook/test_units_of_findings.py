"""A club that works in feet reads its findings in feet.

Distances along the water stay metres, and figures as the sheet has them keep its unit.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from maps.replies.check_report import Report
from survey.checks.coverage import gaps_in_coverage
from survey.checks.crossovers import Bias, Crossovers
from survey.checks.systematic.hypotheses import of_day, of_hand
from survey.errors import FieldbookError
from survey.findings import Finding
from survey.records.readings import FloatSeen
from survey.reduction.reduce import reduce_soundings
from tests.made.findings import CASES
from tests.made.readings import DAY, book, bracket, level, plumb, reading

BARE_METRES = re.compile(r"\d m\b(?! \()")
"""A figure in metres with no feet beside it."""
ALONG = {"on-land", "pulled-to-water", "peg-off-shore", "ring-open", "ring-closed", "out-of-reach"}
"""Findings that say a distance along the water or the bank, always in metres."""
FEET = 'name = "Quillmere"\nshows = "feet"\n'
SHEETS = [path for path in sorted(CASES.rglob("*")) if path.is_file()]


def role_of(path) -> str:
    """The sheet of a venue that a case takes the place of."""
    named = path.stem.split("-")[0]
    if path.suffix in {".geojson", ".kml"}:
        return "outline"
    return named if named in {"pegs", "levels", "outline"} else "readings"


def bare(findings: list[Finding]) -> list[str]:
    return [f.problem + f.remedy for f in findings if f.code not in ALONG and BARE_METRES.search(f.problem + f.remedy)]


def told_of(read, path) -> list[Finding]:
    """All that is found in a case up to the soundings; nothing where the folder is refused as a whole."""
    try:
        given = read(FEET, **{f"{role_of(path)}__{path.suffix[1:]}": path})
    except FieldbookError:
        return []
    soundings, said = reduce_soundings(given)
    return [*given.findings, *said, *gaps_in_coverage(given, soundings)]


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_no_case_tells_a_club_in_feet_of_metres_alone(read, path):
    assert bare(told_of(read, path)) == []


def test_the_cases_do_tell_something(read):
    assert len({finding.code for path in SHEETS for finding in told_of(read, path)}) > 10


JUMP = [level(shown, DAY + timedelta(days=k), k + 2) for k, shown in enumerate((0.4, 1.4, 0.4))]


def said_of(*readings, levels, shows="feet") -> dict[str, Finding]:
    given = book(*readings, levels=levels)
    given = replace(given, venue=replace(given.venue, shows=shows))
    soundings, said = reduce_soundings(given)
    return {f.code: f for f in [*said, *gaps_in_coverage(given, soundings)]}


@pytest.mark.parametrize(
    ("code", "readings", "levels", "feet", "metres"),
    [
        ("bracketed", bracket(1.4, 1.6), [level(0.0)], "between 4 ft 7 in and 5 ft 3 in", "between 1.40 m and 1.60 m"),
        ("bracket-crossed", bracket(1.9, 1.5), [level(0.0)], "no deeper than 4 ft 11 in", "no deeper than 1.50 m"),
        ("two-depths", [plumb(depth_m=3.0)], [level(0.0)], "the depth beside it is 9 ft 10 in", "beside it is 3.00 m"),
        ("hard-above-bed", [reading(hard_depth_m=0.6)], [level(0.0)], "the hard bed at 1 ft 11½ in", "bed at 0.60 m"),
        ("level-unknown", [reading()], [], "as if at datum, sd 10 in", "as if at datum, sd 0.25 m"),
        ("depth-negative", [reading(depth_m=-0.3)], [level(0.0)], "-1 ft", "-0.30 m"),
        ("tip-too-long", [plumb(tip_m=0.3, seen=FloatSeen.STANDS)], [level(0.0)], "10 in", "0.25 m"),
        (
            "level-jump", [reading()], JUMP,
            "1.40 m (4 ft 7 in) stands out", "1.40 m stands out",
        ),
    ],
)  # fmt: skip
def test_what_the_survey_finds_is_said_in_the_club_s_unit(code, readings, levels, feet, metres):
    in_feet = said_of(*readings, levels=levels)[code]
    assert feet in f"{in_feet.problem} {in_feet.value}"
    assert bare([in_feet]) == []
    in_metres = said_of(*readings, levels=levels, shows="metres")[code]
    assert metres in f"{in_metres.problem} {in_metres.value}"


@pytest.mark.parametrize(("shows", "words"), [("feet", "8 in"), ("metres", "0.20 m")])
def test_a_level_or_a_way_of_measuring_that_is_out_is_said_in_the_club_s_unit(shows, words):
    assert f"the water stood {words} higher" in of_day(0.2, shows)[0].words
    assert f"every depth were {words} less" in of_hand(0.2, shows)[0].words


@pytest.mark.parametrize(
    ("shows", "row"), [("feet", "−4 in ± ¾ in at 9 spots"), ("metres", "−0.10 m ± 0.02 m at 9 spots")]
)
def test_the_table_of_observers_is_in_the_club_s_unit(shows, row):
    given = book(reading())
    given = replace(given, venue=replace(given.venue, shows=shows))
    crossovers = Crossovers(pairs=(), biases=(Bias("observer", "Ann", -0.1, 0.02, 9),))
    assert any(row in line for line in Report(given, (), crossovers).as_text())
    level = replace(crossovers, biases=(Bias("observer", "Ann", -0.001, 0.02, 9),))
    nothing = {"feet": " 0 in ± ¾ in", "metres": " 0.00 m ± 0.02 m"}[shows]
    assert any(nothing in line for line in Report(given, (), level).as_text())


@pytest.mark.parametrize(
    ("unit", "words"), [("ft", "depth of 150 ft; it must be 0 to 131.2 ft"), ("m", "it must be 0 to 40 m")]
)
def test_a_figure_out_of_range_keeps_the_unit_of_its_sheet(read, unit, words):
    given = read(FEET, readings__csv=f"peg,angle,distance (m),depth ({unit}),date\n1,0,20,150,2026-05-03\n")
    (told,) = (f for f in given.findings if f.code == "depth-out-of-range")
    assert words in told.problem
