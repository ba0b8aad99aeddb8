"""A peg typed on the command line: by any habit that leads to one peg, and said."""

import pytest

from maps.replies.question import peg_named, peg_taken
from survey.errors import QueryError
from tests.made.survey import made_survey


@pytest.fixture(scope="module")
def venue():
    return made_survey(cell_m=4.0).venue


def test_a_peg_is_found_by_habit_and_said(venue):
    first = venue.pegs[0].name
    assert peg_named(venue, f"Peg {first}").name == first
    assert peg_taken(venue, f"Peg {first}") == f'"Peg {first}" was taken for peg {first}.'
    assert peg_taken(venue, first) == ""


def test_a_peg_that_is_none_is_refused_with_the_nearest(venue):
    with pytest.raises(QueryError, match='has no peg "Zed"'):
        peg_named(venue, "Zed")
