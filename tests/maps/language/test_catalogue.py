"""The list of words: used whole, and refused by key where a club's own would not do."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from maps.cli.main import main as app
from maps.drawing.projection import fit_projection
from maps.language.catalogue import ENGLISH, PLACE, Words, catalogue_of, english
from maps.language.club_words import club_words, with_club_words
from maps.page.data import shared_data
from survey.errors import SurveyError
from survey.fieldbook import read_fieldbook
from survey.fieldbook.files.sources import Source
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.venue.settings import read_settings
from tests.made.survey import publishing

ROOT = Path(__file__).resolve().parents[3]


def sources() -> dict[str, str]:
    files = (path for path in (ROOT / "maps").rglob("*") if path.suffix in {".py", ".js", ".html", ".typ"})
    return {str(path.relative_to(ROOT)): path.read_text("utf-8") for path in files}


def test_every_key_of_the_list_is_used():
    """By its whole name, or by a name that is put together: ``f"rig_{...}"`` and its like in the page's program."""
    text = "\n".join(sources().values())
    whole = set(re.findall(r"[\"'`]([a-z][\w -]*)[\"'`]", text)) | set(re.findall(r"\b(?:w|WORDS)\.(\w+)", text))
    made = {
        re.sub(r"\\?\$?\\\{.*?\\\}", ".*", re.escape(pattern))
        for pattern in re.findall(r"f\"([a-z_]*\{[^\"]+)\"|`([a-z_]*\$\{[^`]+)`", text)
        for pattern in pattern
        if re.match(r"[a-z]+_", pattern)
    }
    made |= {rf"rig_in_{rig}" for rig in ("slow-sinking", "fast-sinking", "held")}
    made |= {r"level_(board|dip)", r"stated_.+"}
    unused = [key for key in english() if key not in whole and not any(re.fullmatch(p, key) for p in made)]
    assert unused == []


def test_no_key_is_asked_for_that_the_list_lacks():
    asked = set()
    for text in sources().values():
        asked |= set(re.findall(r"\bsaid\[\"([\w -]+)\"\]", text)) | set(re.findall(r"\bsay\(\s*\"([\w -]+)\"", text))
        asked |= set(re.findall(r"\bWORDS\.(\w+)", text)) | set(re.findall(r"\{[{%][^}]*?\bw\.(\w+)", text))
    assert len(asked) > 150
    # These two are keys of what an earlier publishing wrote.
    assert asked - set(english()) == {"made_by", "files"}


def test_every_sentence_that_the_survey_states_is_on_the_list():
    """A venue that declares nothing: each default it takes is a sentence for the page."""
    remarks = Remarks()
    stated = read_settings(Source("venue.toml", b'name = "Tansy Pool"'), remarks).stated
    brackets = Words({key: f"⟦{text}⟧" if isinstance(text, str) else text for key, text in english().items()})
    brackets = Words({**brackets.texts, "decimal": "."})
    assert len(stated) >= 9
    assert [line for line in stated if not brackets.again(line).startswith("⟦")] == []


def test_a_sentence_of_the_club_is_left_as_it_is():
    assert ENGLISH.again("The north bank (by the oak) is soft.") == "The north bank (by the oak) is soft."


@given(st.text(), st.integers(0, 999))
def test_a_value_that_looks_like_a_place_is_not_filled_again(name, count):
    said = Words({**english(), "peg_readings_own": "{days}: {count}"})
    assert said.say("peg_readings_own", days=f"{name}{{count}}", count=count) == f"{name}{{count}}: {count}"


@pytest.mark.parametrize(
    ("count", "form"), [(1, "one"), (2, "few"), (5, "many"), (12, "many"), (22, "few"), (21, "many")]
)
def test_forms_by_number_are_those_of_the_language(count, form):
    """Polish: 1, 2 to 4 but not 12 to 14, the rest (Unicode CLDR, plural rules, pl)."""
    forms = {"one": "one", "few": "few", "many": "many", "other": "other"}
    assert (
        Words({**english(), "language": "pl", "peg_readings_age": forms}).say("peg_readings_age", count=count) == form
    )


def test_numbers_are_written_as_the_language_has_them():
    said = Words({**english(), "decimal": ","})
    assert (said.metres(1.5), said.metres(12.25, 1), said.length(0.3, "feet")) == ("1,50 m", "12,2 m", "1 ft")


def written(folder: Path, words: object) -> Path:
    text = words if isinstance(words, str) else json.dumps(words, ensure_ascii=False)
    (folder / "words.json").write_text(text, encoding="utf-8")
    return folder


def test_what_a_file_lacks_stays_english(tmp_path, worked):
    own = club_words(written(tmp_path, {"language": "de", "set": "Einstellen"}), "words.json")
    said = catalogue_of(publishing(worked, words=json.dumps(own)).venue)
    assert (said["set"], said["expect"], said["language"]) == ("Einstellen", english()["expect"], "de")


WRONG = {
    "an unknown key": ({"sett": "x"}, r'words\.json, "sett": there is no such key\. Did you mean "set"\? Delete it'),
    "a missing place": ({"expect": "von {lower}"}, r'"expect": \{upper\} is missing\. Put it where'),
    "an unknown place": ({"set": "{tiefe}"}, r'"set": \{tiefe\} has no value here\. Allowed: none'),
    "a stray brace": ({"set": "Stelle {"}, r'"set": a brace that belongs to no place'),
    "a place with a format": ({"water_range": "{lower:.2f} {lower} {upper}"}, "a brace that belongs to no place"),
    "a blank text": ({"caution": " \u200b– "}, r'"caution": this text is empty'),
    "a caution left out": ({"cautions": ["Nur zum Angeln."]}, r'"cautions": this is a list of 6 or more texts'),
    "a caution made blank": ({"cautions": ["a", "b", "", "d", "e", "f"]}, r'"cautions": this text is empty'),
    "too many points of the compass": ({"compass": ["N"] * 17}, r'"compass": this is a list of 16 texts'),
    "a number for a text": ({"set": 5}, r'"set": not a text\. Write it in quotation marks'),
    "forms where nothing is counted": ({"set": {"one": "a", "other": "b"}}, r'"set": not a text'),
    "forms without other": ({"fall": {"one": "{count} s"}}, r'"fall": the form "other" is missing'),
    "a form the language lacks": (
        {"language": "en", "fall": {"few": "{count} s", "other": "{count} s"}},
        r'"fall": "few" is not a form that "en" has\. It has one, other',
    ),
    "a form without its number": ({"fall": {"other": "schnell"}}, r'form "other": \{count\} is missing'),
    "no language": ({"language": "klingonisch"}, r'"language": not a language that is known\. Write its code'),
    "no decimal mark": ({"decimal": ";"}, r'"decimal": this is the mark between units and tenths'),
    "a list": (["set"], r"words\.json: not a list of keys and words"),
    "no JSON": ('{"set": }', r"words\.json, line 1: not JSON"),
    "a key said twice": ('{"set": "a", "set": "b"}', r'words\.json, "set": given twice'),
}


@pytest.mark.parametrize(("words", "told"), WRONG.values(), ids=WRONG)
def test_words_that_would_not_do_are_refused_by_key(words, told, tmp_path):
    with pytest.raises(SurveyError, match=told):
        club_words(written(tmp_path, words), "words.json")


def test_all_faults_are_told_at_once(tmp_path):
    with pytest.raises(SurveyError) as refused:
        club_words(written(tmp_path, {"sett": "x", "expect": "von", "set": ""}), "words.json")
    assert [key in str(refused.value) for key in ('"sett"', '"expect"', '"set"')] == [True] * 3


@pytest.mark.parametrize("name", ["absent.json", "../words.json", "sub"])
def test_a_file_that_is_not_in_the_folder_is_refused(name, tmp_path):
    written(tmp_path, {})
    (tmp_path / "venue" / "sub").mkdir(parents=True)
    with pytest.raises(SurveyError, match=r"\[publish\] words: there is no file"):
        club_words(tmp_path / "venue", name)


def test_the_whole_list_is_written_and_is_accepted_as_it_is(tmp_path):
    target = tmp_path / "words.json"
    told = CliRunner().invoke(app, ["words", "--out", str(target)])
    assert told.exit_code == 0
    assert str(target) in told.output
    assert club_words(tmp_path, "words.json") == english()
    again = CliRunner().invoke(app, ["words", "--out", str(target)])
    assert again.exit_code == 2


def test_a_venue_folder_that_names_its_words_speaks_them(tmp_path):
    folder = tmp_path / "venue"
    folder.mkdir()
    for path in (ROOT / "data" / "sallowby-pit").iterdir():
        if path.is_file():
            (folder / path.name).write_bytes(path.read_bytes())
    settings = folder / "venue.toml"
    settings.write_text(settings.read_text("utf-8") + '\n[publish]\nwords = "words.json"\n', encoding="utf-8")
    written(folder, {"language": "de", "decimal": ","})
    unread = read_fieldbook(folder)
    with pytest.raises(SurveyError, match=r"was not read\. Read it with maps\.language\.club_words"):
        catalogue_of(unread.venue)
    assert catalogue_of(with_club_words(folder, unread).venue)["language"] == "de"


def test_every_text_has_places_with_plain_names():
    for key, text in english().items():
        assert "{" not in PLACE.sub("", json.dumps(text) if not isinstance(text, dict) else "".join(text.values())), key


def test_the_pages_carry_every_word_that_their_program_says(worked):
    carried = shared_data(worked, 0.4, fit_projection(worked.venue.crs, worked.venue.water.bounds))["words"]
    programs = "\n".join(text for name, text in sources().items() if name.endswith(".js"))
    made = re.findall(r"`([a-z]+_)[a-z_]*\$\{", programs)
    asked = set(re.findall(r"\bWORDS\.(\w+)", programs)) | set(re.findall(r"\bsay\(\s*\"([\w -]+)\"", programs))
    asked |= {key for key in english() if key.startswith(tuple(made))}
    assert asked - set(carried) == set()
    assert len(set(english()) - set(carried)) > 80
