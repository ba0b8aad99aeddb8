"""Letters that can be printed: what no font at hand has is replaced by a box that can be seen, never dropped.

Knows nothing of what the words say.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import typst

BOX = "▯"
PROBE = b"""#set document(title: "letters", date: none)
#set text(font: "Libertinus Serif", lang: "en")
#for letter in json(bytes(sys.inputs.at("letters"))) { par(letter) }
"""
SHAPELESS = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})
"""Unicode categories of signs that leave no mark on paper."""
REFUSED = re.compile(r'the text `"(.*?)"` could not be displayed', re.DOTALL)


@dataclass(frozen=True)
class Letters:
    """What can be printed.

    Parameters
    ----------
    missing : frozenset of str
        Letters that no font has.
    own_fonts : bool
        True: the fonts that typst carries are enough, and the pages come out the same on every machine.
    """

    missing: frozenset[str]
    own_fonts: bool

    def shown(self, words: str) -> str:
        """The words with a box for each letter that is missing."""
        return "".join(BOX if letter in self.missing else letter for letter in normalised(words))


def letters_for(words: Iterable[str]) -> Letters:
    """Find out which letters of some words can be printed, first with typst's own fonts, then with the machine's.

    Parameters
    ----------
    words : iterable of str
    """
    wanted = {letter for text in words for letter in normalised(text) if not letter.isascii()}
    missing = _missing(wanted, own_fonts=True)
    if not missing:
        return Letters(frozenset(), own_fonts=True)
    left = _missing(missing, own_fonts=False)
    return Letters(left, own_fonts=left == missing)


def normalised(words: str) -> str:
    """Words without what has no shape of its own: control signs, joiners, choices of picture or text."""
    whole = unicodedata.normalize("NFC", words)
    return "".join(c for c in whole if unicodedata.category(c) not in SHAPELESS and c not in "\ufe0e\ufe0f")


def texts_in(value: Any) -> Iterable[str]:  # noqa: ANN401 - any JSON value
    """Every text in a JSON value but drawings."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from texts_in(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from texts_in(inner)


def _missing(wanted: Iterable[str], *, own_fonts: bool) -> frozenset[str]:
    left, missing = sorted(wanted), set[str]()
    while left:
        refused = _refused(left, own_fonts=own_fonts)
        if not refused:
            break
        missing |= refused
        left = [letter for letter in left if letter not in missing]
    return frozenset(missing)


def _refused(letters: list[str], *, own_fonts: bool) -> set[str]:
    """The first of some letters that cannot be shown; none if all can."""
    try:
        typst.compile(
            PROBE, sys_inputs={"letters": json.dumps(letters)}, ignore_system_fonts=own_fonts, pdf_standards=["ua-1"]
        )
    except typst.TypstError as error:
        found = REFUSED.search(str(error))
        return set(found[1]) & set(letters) if found else set(letters)
    return set()
