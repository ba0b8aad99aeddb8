"""A peg's name taken apart: the word before it, zeros in front, and what is left when habits are taken off.

"Peg 1", "P1", "peg 01", "No. 1" and "1" have the same core; "1a" has another.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from survey.units import normalised

ZEROS = "zeros in front"

_WIDE = {code: code - 0xFEE0 for code in range(0xFF01, 0xFF5F)} | {0x2116: "no"}
"""Full-width letters and signs (Unicode, FF01 to FF5E), and the sign for "number"."""
_GAP = r"[\s.:_#-]*"
_WORD = re.compile(rf"(peg|swim|stand|pitch|p)(?=[\s.:_#\d-]){_GAP}(?=[^\W_])")
_NUMBER = re.compile(rf"(?:no|nr|number|#)(?=[\s.:_#\d-]){_GAP}(?=\d)|#\s*(?=\d)")
_ONE_LETTER = re.compile(r"[a-z]?\d.*|[a-z]")


_PEG = re.compile(rf"peg{_GAP}(?=[^\W_])", re.IGNORECASE)


def after_peg(name: str) -> str:
    """What stands after the word "peg", which is no part of a name; empty where the name does not begin with it.

    Examples
    --------
    >>> after_peg("Peg 01"), after_peg("peg: Stump"), after_peg("Pegler"), after_peg("1")
    ('01', 'Stump', '', '')
    """
    found = _PEG.match(name.strip())
    followed = found is not None and (found.end() > len("peg") or name.strip()[len("peg") :][:1].isdigit())
    return name.strip()[found.end() :] if found and followed else ""


@dataclass(frozen=True)
class Written:
    """A name without its habits.

    Parameters
    ----------
    core : str
        What is left, in lower case.
    doubtful : frozenset of str
        Habits taken off that may as well tell two pegs apart: the words "swim", "stand", "pitch" and "p", and zeros.
    """

    core: str
    doubtful: frozenset[str]


@lru_cache(maxsize=8192)
def written(name: str) -> Written:
    """Take a name apart.

    Examples
    --------
    >>> written("Peg No. 01").core, written("P1").core, written("\uff11").core, written("1 A").core, written("7.0").core
    ('1', '1', '1', '1a', '7')
    >>> sorted(written("P01").doubtful), sorted(written("Peg 1").doubtful)
    (['p', 'zeros in front'], [])
    """
    text = normalised(name.translate(_WIDE)).casefold()
    text, word = _without_word(text)
    text = _NUMBER.sub("", text, count=1) if _NUMBER.match(text) else text
    text = re.sub(r"(?<=\d) (?=[a-z]$)", "", text)
    # A column with a gap makes figures of names: 7 becomes 7.0.
    text = re.sub(r"^(\d+)\.0*$", r"\1", text)
    core = re.sub(r"(?<![\d.])0+(?=\d)", "", text)
    habits = {word} - {"", "peg"} | ({ZEROS} if core != text else set())
    return Written(core, frozenset(habits))


def _without_word(text: str) -> tuple[str, str]:
    found = _WORD.match(text)
    if not found:
        return text, ""
    rest = text[found.end() :]
    number = _NUMBER.match(rest)
    figures = rest[number.end() :] if number else rest
    plain = figures[:1].isdigit() if found[1] == "p" else _ONE_LETTER.fullmatch(figures)
    return (rest, found[1]) if found[1] == "peg" or plain else (text, "")
