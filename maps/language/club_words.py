"""A club's own words: read from the file it names, held against the list, refused by key where they would not do.

Text by text: what a file lacks stays English. Knows nothing of where the words are said.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from babel import Locale, UnknownLocaleError

from maps.language.catalogue import COUNT, PLACE, Text, english
from survey.errors import SurveyError
from survey.records.fieldbook import Fieldbook

LANGUAGE, DECIMAL, CAUTIONS = "language", "decimal", "cautions"
DECIMALS = (".", ",")
MOST_FAULTS = 12
"""Most faults listed at once; the rest are counted."""
MOST_BYTES = 1_000_000


def with_club_words(folder: Path, book: Fieldbook) -> Fieldbook:
    """The fieldbook of a venue with the words of the file it names; unchanged where it names none.

    Raises
    ------
    SurveyError
        The file cannot be read, or its words would not do; every fault names its key.
    """
    publishing = book.venue.publishing
    if not publishing.words_file:
        return book
    own = club_words(folder, publishing.words_file)
    said = json.dumps(own, ensure_ascii=False)
    return replace(book, venue=replace(book.venue, publishing=replace(publishing, words=said)))


def club_words(folder: Path, name: str) -> dict[str, Text]:
    """The words of a file.

    Parameters
    ----------
    folder : Path
        The venue's.
    name : str
        Of the file, inside the folder.

    Raises
    ------
    SurveyError
        See :func:`with_club_words`.
    """
    path = folder / name
    if not path.resolve().is_relative_to(folder.resolve()) or not path.is_file():
        raise SurveyError(
            f'venue.toml, [publish] words: there is no file "{name}" in the venue folder. '
            "Correct the name, or delete the line for English."
        )
    words = _parsed(path)
    faults = [f'{name}, "{key}": {fault}' for key, text in words.items() for fault in _faults(key, text, words)]
    if faults:
        more = len(faults) - MOST_FAULTS
        rest = [f"And {more} more."] if more > 0 else []
        raise SurveyError("\n".join([*faults[:MOST_FAULTS], *rest]))
    return words


def _parsed(path: Path) -> dict[str, Any]:
    how = 'Write {"language": "de", "set": "Einstellen"}, as "lakeplumb words" writes the whole list.'
    if path.stat().st_size > MOST_BYTES:
        raise SurveyError(f"{path.name}: more than a megabyte is too large for a list of words. {how}")
    try:
        words = json.loads(path.read_bytes().decode("utf-8-sig"), object_pairs_hook=lambda pairs: _once(path, pairs))
    except UnicodeDecodeError:
        raise SurveyError(f"{path.name}: not UTF-8 text. Save it as UTF-8 in a plain text editor.") from None
    except json.JSONDecodeError as trouble:
        raise SurveyError(f"{path.name}, line {trouble.lineno}: not JSON ({trouble.msg}). {how}") from None
    if not isinstance(words, dict):
        raise SurveyError(f"{path.name}: not a list of keys and words. {how}")
    return words


def _once(path: Path, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    twice = [key for key, count in Counter(key for key, _ in pairs).items() if count > 1]
    if twice:
        raise SurveyError(f'{path.name}, "{twice[0]}": given twice. Keep one of them.')
    return dict(pairs)


def _faults(key: str, text: Any, words: dict[str, Any]) -> list[str]:  # noqa: ANN401 - whatever the file holds
    """What is wrong with the words of a key, each as a sentence with what to do."""
    whole = english()
    if key not in whole:
        close = get_close_matches(key, whole, n=1)
        near = f' Did you mean "{close[0]}"?' if close else ""
        return [f"there is no such key.{near} Delete it, or see the list: lakeplumb words."]
    if key == LANGUAGE:
        return _language_faults(text)
    if key == DECIMAL:
        return [] if text in DECIMALS else ['this is the mark between units and tenths. Write "." or ",".']
    if isinstance(whole[key], list):
        return _list_faults(text, whole[key], more=key == CAUTIONS)
    return _said_faults(text, _places(whole[key]), words.get(LANGUAGE, whole[LANGUAGE]))


def _said_faults(text: object, places: set[str], language: str) -> list[str]:
    if isinstance(text, str):
        return _text_faults(text, places)
    if isinstance(text, dict) and COUNT in places:
        return _form_faults(text, places, language)
    forms = ' or forms by number, {"one": "...", "other": "..."}' if COUNT in places else ""
    return [f'not a text. Write it in quotation marks, "..."{forms}.']


def _language_faults(text: object) -> list[str]:
    wrong = ['not a language that is known. Write its code, like "de", "pl" or "pt-BR".']
    if not isinstance(text, str) or not re.fullmatch(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*", text):
        return wrong
    try:
        Locale.parse(text, sep="-")
    except (UnknownLocaleError, ValueError):
        return wrong
    return []


def _list_faults(text: object, whole: list[str], *, more: bool) -> list[str]:
    count = f"{len(whole)}{' or more' if more else ''}"
    texts = text if isinstance(text, list) and all(isinstance(item, str) for item in text) else []
    if len(texts) < len(whole) or (len(texts) > len(whole) and not more):
        return [f"this is a list of {count} texts. Write all of them in their order: none may be left out."]
    return [fault for item in texts for fault in _text_faults(item, set())]


def _form_faults(forms: dict[str, Any], places: set[str], language: str) -> list[str]:
    """Forms by number: those the language has, "other" always among them; only there must the number stand."""
    known = set() if _language_faults(language) else set(Locale.parse(language, sep="-").plural_form.tags) | {"other"}
    faults = [
        f'"{form}" is not a form that "{language}" has. It has {", ".join(sorted(known))}.'
        for form in forms
        if known and form not in known
    ]
    if "other" not in forms:
        faults.append('the form "other" is missing. Write the one that fits most numbers.')
    for form, text in forms.items():
        must = places if form == "other" or not isinstance(text, str) else places - ({COUNT} - _places(text))
        found = _text_faults(text, must) if isinstance(text, str) else ["not a text. Write it in quotation marks."]
        faults += [f'form "{form}": {fault}' for fault in found]
    return faults


def _text_faults(text: str, places: set[str]) -> list[str]:
    if not any(letter.isalnum() for letter in text):
        return ["this text is empty. Fill it in; no text may be blank."]
    found = _places(text)
    faults = [f"{{{name}}} is missing. Put it where its value should appear." for name in sorted(places - found)]
    allowed = ", ".join(f"{{{name}}}" for name in sorted(places)) or "none"
    faults += [f"{{{name}}} has no value here. Allowed: {allowed}." for name in sorted(found - places)]
    if re.search(r"[{}]", PLACE.sub("", text)):
        faults.append("a brace that belongs to no place. Braces stand only round a name, like {depth}.")
    return faults


def _places(text: Text) -> set[str]:
    """Names of the places of a text, whatever its form."""
    return set(PLACE.findall(json.dumps(text)))
