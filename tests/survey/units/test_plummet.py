"""Words that stand where a plummet gave no plain depth."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.units import Sizes, read_length
from survey.units.plummet import PlummetWords, plummet_words, words_of_note

LENGTHS = ["3", "12 ft", "5'2\"", "1,58 m", "2½", "158 cm", "5 ft 2", "6 wraps", ".9 m"]
AT_LEAST = [
    "over {}", "> {}", ">{}", ">= {}", "≥ {}", "more than {}", "at least {}", "deeper than {}", "{}+", "{} +",
    "{} plus", "{} or more", "no bottom at {}", "No bottom {}", "{}, no bottom", "no bottom found at {}",
    "couldn't find the bottom at {}", "can't reach bottom at {}", "didn’t touch bottom with {}",
]  # fmt: skip
AT_MOST = ["under {}", "< {}", "<{}", "≤ {}", "less than {}", "at most {}", "{} or less", "shallower than {}"]
WEED = ["weed", "Weed, couldn't get down", "thick weed", "weedy", "in weed", "lily pads", "could not get down: weed"]
SNAG = ["snag", "snagged", "Snagged!", "stuck in branches", "hung up", "on a snag", "sunken tree"]
UNREACHED = ["couldn't get down", "could not get the lead down", "no bottom", "didn't reach bottom", "cannot get down"]
STOPPED = {"weed": WEED, "snag": SNAG, "unreached": UNREACHED}
OVER_IT = ["weed at {}", "{} weed", "{} (weed)", "in weed {}", "snagged at {}", "{} on a snag", "weed over {}"]
SIZES = Sizes(wrap_m=2.0)


def metres(text: str) -> float:
    return read_length(text, "m", SIZES).metres


@given(st.sampled_from(LENGTHS), st.sampled_from(AT_LEAST), st.booleans())
def test_a_length_that_the_bed_is_deeper_than(length, form, capitals):
    written = form.format(length)
    said = plummet_words(written.upper() if capitals else written)
    assert (said.limit, said.stopped_by) == ("at_least", "")
    assert metres(said.length) == metres(length)


@given(st.sampled_from(LENGTHS), st.sampled_from(AT_MOST))
def test_a_length_that_the_bed_is_no_deeper_than(length, form):
    said = plummet_words(form.format(length))
    assert (said.limit, said.stopped_by) == ("at_most", "")
    assert metres(said.length) == metres(length)


@pytest.mark.parametrize(("stop", "written"), [(stop, text) for stop, texts in STOPPED.items() for text in texts])
def test_what_kept_the_plummet_from_the_bed(stop, written):
    assert plummet_words(written) == PlummetWords("", "", stop)


@pytest.mark.parametrize("form", OVER_IT)
def test_a_length_over_weed_or_a_snag_is_a_bound(form):
    said = plummet_words(form.format("4 ft"))
    assert (said.length, said.limit) == ("4 ft", "at_least")
    assert said.stopped_by == ("weed" if "weed" in form else "snag")


@pytest.mark.parametrize(
    "written", ["too deep", "deep", "?", "no weed", "clear of weed", "weed under 2", "shallow", ""]
)
def test_what_may_mean_anything_is_not_read(written):
    assert plummet_words(written) is None


@given(st.sampled_from([*LENGTHS, "3-4 ft", "below 3", "5 ft behind weed", "12 pints", "+3", "-2"]))
def test_what_is_no_bound_is_handed_on_as_written(written):
    assert plummet_words(written) == PlummetWords(written)


@given(st.text(max_size=60))
def test_any_text_is_taken_apart_or_left(text):
    for said in (plummet_words(text), words_of_note(text)):
        assert said is None or said.length or said.stopped_by


@pytest.mark.parametrize(("note", "said"), [
    ("Weed, couldn't get down", PlummetWords("", "", "weed")),
    ("windy; no bottom at 12 ft", PlummetWords("12 ft", "at_least")),
    ("no bottom, 12 ft", PlummetWords("12 ft", "at_least")),
    ("no bottom at 12 ft, cold", PlummetWords("12 ft", "at_least")),
    ("weed 10 m out", PlummetWords("", "", "weed")),
    ("Snagged. Lost the lead", PlummetWords("", "", "snag")),
    ("gravel", None), ("just behind the weed", None), ("plumbed 3 times", None), ("", None),
])  # fmt: skip
def test_what_a_remark_says_of_the_depth(note, said):
    assert words_of_note(note) == said
