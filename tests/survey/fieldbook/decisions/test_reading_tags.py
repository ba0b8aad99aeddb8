"""Every reading has one tag, and the tag leads back to it, however many fall together."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

import survey.fieldbook.decisions.reading_tags as tags_module
from survey.errors import SourceRow
from survey.fieldbook.decisions.reading_contents import Contents
from survey.fieldbook.decisions.reading_tags import NoReading, ReadingTags
from survey.records.tags import LETTERS, SHORT, spelled, tag_letters

LETTER = st.sampled_from(LETTERS)
WORDS = st.text(LETTERS, min_size=SHORT, max_size=20)


def contents(texts, file="readings.csv"):
    return [Contents(SourceRow(file, k), said, beside, said) for k, (said, beside) in enumerate(texts, start=2)]


@given(WORDS, st.data())
def test_one_wrong_letter_or_two_changed_about_make_no_tag(letters, data):
    tag = spelled(letters).replace("-", "")
    assert tag_letters(tag) == letters
    at, other = (data.draw(st.integers(0, len(tag) - 1)) for _ in range(2))
    wrong = data.draw(LETTER)
    if wrong != tag[at]:
        assert tag_letters(tag[:at] + wrong + tag[at + 1 :]) is None
    if tag[at] != tag[other]:
        turned = list(tag)
        turned[at], turned[other] = tag[other], tag[at]
        assert tag_letters("".join(turned)) is None


def test_no_spreadsheet_makes_a_number_or_a_day_of_a_tag():
    assert not set(LETTERS) & set("E018BIOSZGQLU")
    with pytest.raises(ValueError, match="could not convert"):
        float(spelled("2345679"))


@pytest.mark.parametrize("short", [1, 2, 3])
def test_tags_that_fall_together_are_longer_and_still_lead_back(monkeypatch, short):
    monkeypatch.setattr(tags_module, "SHORT", short)
    monkeypatch.setattr(tags_module, "tag_letters", lambda typed: typed.replace("-", "")[:-1])
    made = contents([(f"peg={k}", "") for k in range(400)])
    tags = ReadingTags(made)
    assert len(set(tags.by_row.values())) == 400
    assert all(tags.find(tags.tag(one.place)) == one.place for one in made)
    random.Random(1).shuffle(made)  # noqa: S311 - the same every time
    assert ReadingTags(made).by_row == tags.by_row


def test_a_tag_does_not_depend_on_readings_it_does_not_fall_together_with():
    few = ReadingTags(contents([("peg=1", ""), ("peg=2", "")]))
    many = ReadingTags(contents([(f"peg={k}", "") for k in range(1, 3000)]))
    assert [few.tag(place) for place in few.places] == [many.tag(place) for place in few.places]


def test_a_hundred_thousand_readings_have_tags_of_their_own():
    made = contents([(f"peg={k % 40}|distance={k} mm", f"note={k % 7}") for k in range(100_000)])
    tags = ReadingTags(made)
    found = tags.by_row
    assert len(set(found.values())) == 100_000
    assert sum(len(tag) > len("XXXX-XXXX") for tag in found.values()) <= 20
    wrong = "".join(reversed(tags.tag(made[0].place)))
    assert isinstance(tags.find(wrong), NoReading)
