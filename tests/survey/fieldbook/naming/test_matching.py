"""Names of pegs that differ by a habit: taken where one peg can be meant, never guessed."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.errors import SourceRow
from survey.fieldbook.naming.habits import written
from survey.fieldbook.naming.matching import Matched, PegNames
from survey.records.venue import Peg

ANY = Peg("", 0, 0, 0, 0, 0, 0, 0, SourceRow("pegs.csv"))
FIVE = ("1", "2", "3", "4", "5")


def matched(pegs: tuple[str, ...], *names: str) -> Matched:
    """Names against pegs; aliases follow the painted name after strokes."""
    made = [replace(ANY, name=words[0], aliases=tuple(words[1:])) for words in (peg.split("|") for peg in pegs)]
    return PegNames(made).matched(names)


@pytest.mark.parametrize(
    "name",
    [
        "Peg 1", "peg 01", "PEG1", "P1", "P.1", "p-1", "P 01", "Swim 1", "stand 1", "No. 1", "no 1", "Nr 1", "#1",
        "# 1", "№ 1", "Peg No. 1", "peg #1", "Peg_1", "01", "001", "1.0", "1.", "\uff11", "\u0661", "Ｐ１", " 1 ",
    ],
)  # fmt: skip
def test_one_habit_is_taken_off(name):
    assert matched(FIVE, name).painted == {name: "1"}
    assert matched((name, "2"), "1").painted == {"1": name}


@pytest.mark.parametrize(
    "name", ["1a", "A1", "11", "10", "1-2", "1.5", "-1", "1²", "Total", "Pipe 1", "Pegleg", "peg", "p", "No", "#", "S1"]
)
def test_another_name_stays_another(name):
    assert name in matched(FIVE, name).unknown


def test_letters_behind_a_figure_are_kept():
    assert matched(("1", "1a"), "Peg 1A", "1 a", "peg 1").painted == {"Peg 1A": "1a", "1 a": "1a", "peg 1": "1"}


@pytest.mark.parametrize(
    ("pegs", "name", "why"),
    [
        (("1", "P1"), "Peg 1", 'it may be "1" or "P1"'),
        (("1", "P1", "2"), "P2", "told apart that way"),
        (("7", "007", "8"), "08", "told apart that way"),
        (("7", "007", "8"), "Peg 7", 'it may be "007" or "7"'),
        (("Swim 1", "Peg 1"), "1", 'it may be "Peg 1" or "Swim 1"'),
    ],
)
def test_where_two_pegs_can_be_meant_none_is_guessed(pegs, name, why):
    assert why in matched(pegs, name).unknown[name]


def test_two_names_of_one_sheet_are_two_pegs_where_a_habit_may_tell_them_apart():
    found = matched(FIVE, "3", "P3", "P4", "07", "7")
    assert found.exact == {"3": "3"}
    assert found.unknown["P3"] == '"3" stands in the same sheet'
    assert matched(FIVE, "3", "Peg 3", "No. 3").painted == {"3": "3", "Peg 3": "3", "No. 3": "3"}


@pytest.mark.parametrize(
    ("names", "taken"), [(("P1", "P2", "P3", "P4", "P9"), True), (("P1", "P2", "P3", "P9"), False)]
)
def test_a_doubtful_habit_needs_four_names_of_five(names, taken):
    found = matched(FIVE, *names)
    assert bool(found.by_habit) == taken
    assert "P9" in found.unknown
    assert matched(FIVE, *(name.replace("P", "Peg ") for name in names)).by_habit


def test_an_alias_is_a_name_too():
    assert matched(("1|Stump", "2"), "Peg Stump", "STUMP").painted == {"Peg Stump": "1", "STUMP": "1"}


@pytest.mark.parametrize(
    ("pegs", "names", "painted"),
    [
        (("1-2", "1-3", "2-8"), ("2026-02-01", "2026-03-01 00:00:00", "2026-08-02"), ("1-2", "1-3", "2-8")),
        (("1-2", "1-13"), ("1-Feb", "13-Jan"), ()),
        (("1-2", "1-13"), ("13-Jan", "2-Jan"), ("1-13", "1-2")),
        (("1-2", "2-1"), ("01-Feb",), ()),
        (("1-2", "2-1", "3-9", "2-14"), ("01-Feb", "14-Feb"), ("2-1", "2-14")),
        (("1/2", "3/4"), ("01/02/2026", "03/04/2026"), ("1/2", "3/4")),
        (("1-22", "1-2"), ("2022-01-01",), ("1-22",)),
        (("1-2",), ("2026-05-09",), ()),
        (("01-Feb", "5"), ("1-2",), ("01-Feb",)),
        (("2026-02-01", "5"), ("01-Feb",), ("2026-02-01",)),
        (("1E2", "NA"), ("100",), ("1E2",)),
        (("1E2",), ("1.00E+02", "1E2"), ("1E2", "1E2")),
        (("1E2",), ("100", "1E2"), ("1E2",)),
        (("100",), ("1E2",), ("100",)),
        (("1E2", "10E1"), ("100",), ()),
        (("007", "8"), ("7",), ("007",)),
        (("7", "8"), ("7.0", "8.0"), ("7", "8")),
    ],
)
def test_what_a_spreadsheet_changed_is_recovered_where_it_is_plain(pegs, names, painted):
    assert tuple(matched(pegs, *names).painted.values()) == painted


def test_a_date_that_is_no_peg_names_its_cause():
    assert "a spreadsheet seems to have turned" in matched(FIVE, "2026-05-09").unknown["2026-05-09"]
    assert "it may be 1-2 or 2-1" in matched(("1-2", "2-1"), "01-Feb").unknown["01-Feb"]


WORDS = st.sampled_from(["", "Peg ", "peg", "P", "p.", "Swim ", "No. ", "#", "0", "00", "Peg 0"])
CORES = st.sampled_from(["1", "2", "7", "10", "1a", "A", "1-2", "1E2", "NA"])
NAMES = st.builds(str.__add__, WORDS, CORES)


@given(pegs=st.lists(NAMES, min_size=1, max_size=8, unique=True), names=st.lists(NAMES, max_size=8))
def test_no_name_is_taken_for_a_peg_of_another_core_and_order_does_not_matter(pegs, names):
    found = matched(tuple(pegs), *names)
    assert set(found.painted) | set(found.unknown) == set(names)
    assert not set(found.painted) & set(found.unknown)
    for name, peg in found.by_habit.items():
        assert [p for p in pegs if written(p).core == written(name).core] == [peg]
    for name in set(names) & set(pegs):
        assert found.exact[name] == name
    again = matched(tuple(reversed(pegs)), *reversed(names))
    if len({name.casefold() for name in pegs}) == len(pegs):
        assert again == found
