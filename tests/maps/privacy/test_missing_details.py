"""What a published copy lacks is listed with the line that gives it."""

import tomllib
from dataclasses import replace

import pytest

from maps.privacy.missing_details import missing_details
from survey.records.venue import Publishing
from tests.made.readings import VENUE

WHOLE = replace(
    VENUE,
    emergency="The gate",
    licence="CC BY 4.0",
    credit="The members",
    publishing=Publishing(address="https://example.org/", contact="a@example.org"),
)


def test_a_whole_venue_lacks_nothing():
    assert missing_details(WHOLE) == {}


@pytest.mark.parametrize("key", ["emergency", "licence", "credit"])
def test_each_key_that_is_empty_is_named_with_a_line_that_can_be_copied(key):
    (words,) = missing_details(replace(WHOLE, **{key: ""})).values()
    assert tomllib.loads(words.partition(": ")[2])[key]


@pytest.mark.parametrize("key", ["address", "contact"])
def test_keys_of_publishing_are_named_with_their_section(key):
    bare = replace(WHOLE, publishing=replace(WHOLE.publishing, **{key: ""}))
    ((named, words),) = missing_details(bare).items()
    assert named == f"[publish] {key}"
    assert words.endswith("under [publish]")


def test_a_copy_without_its_place_is_not_asked_for_it():
    hidden = Publishing(address="https://example.org/", hides_place=True)
    assert missing_details(replace(WHOLE, emergency="", publishing=hidden)) == {}


def test_hidden_readings_need_nobody_to_answer_for_them():
    hidden = Publishing(address="https://example.org/", hides_readings=True)
    assert missing_details(replace(WHOLE, publishing=hidden)) == {}
