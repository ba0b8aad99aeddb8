"""Tags: short names made from what a thing says, to be typed from paper.

Letters and figures that look alike are left out, and E, with which a spreadsheet would make a number of a tag. The last
letter is a check: no tag with one wrong letter, or with two changed about, is a tag.
"""

from __future__ import annotations

import hashlib
import re

LETTERS = "2345679ACDFHJKMNPRTVWXY"
"""A prime number of them: only then does the check letter find every single slip."""
BASE = len(LETTERS)
SHORT = 7
"""Letters before the check letter: 3.4e9 tags, so that of 10^5 readings about one pair is alike."""
GROUP = 4
EXAMPLE = "EXAMPLE"
"""The mark with which the note of an example begins, before its tag."""
LONGEST = 20


def digest_letters(*contents: str) -> str:
    """Letters that stand for some contents, the same on every computer.

    Parameters
    ----------
    *contents : str
        Without control characters.

    Returns
    -------
    str
        20 of ``LETTERS``.
    """
    said = "\x1f".join(contents).encode("utf-8", "surrogatepass")
    number = int.from_bytes(hashlib.blake2b(said, digest_size=16).digest(), "big")
    letters = ""
    for _ in range(LONGEST):
        number, at = divmod(number, BASE)
        letters += LETTERS[at]
    return letters


def spelled(letters: str) -> str:
    """A tag as it is printed: with its check letter, in groups of four.

    Examples
    --------
    >>> spelled("K7MD4PX")
    'K7MD-4PX4'
    """
    tag = letters + _check_letter(letters)
    return "-".join(tag[at : at + GROUP] for at in range(0, len(tag), GROUP))


def tag_of(*contents: str) -> str:
    """The tag of some contents."""
    return spelled(digest_letters(*contents)[:SHORT])


def marked_tag(note: str) -> str | None:
    """The tag in the mark of an example, empty in a mark without one; None where a note bears no mark.

    Examples
    --------
    >>> marked_tag("EXAMPLE K7MD-4PX4: replace"), marked_tag("EXAMPLE: replace"), marked_tag("for example weed")
    ('K7MD-4PX4', '', None)
    """
    found = re.match(rf"{EXAMPLE}(?: ([\w-]+))?(?=\W|$)", note.strip())
    return (found[1] or "") if found else None


def tag_letters(typed: str) -> str | None:
    """The letters of a typed tag without its check letter; None if it is no tag.

    Capitals, blanks and hyphens do not matter.

    Examples
    --------
    >>> tag_letters("k7md4px4"), tag_letters("K7MD-4PXC"), tag_letters("K7DM-4PX4")
    ('K7MD4PX', None, None)
    """
    letters = bare_letters(typed)
    if len(letters) <= SHORT or not set(letters) <= set(LETTERS):
        return None
    return letters[:-1] if letters[-1] == _check_letter(letters[:-1]) else None


def bare_letters(typed: str) -> str:
    """What was typed, in capitals, without blanks and hyphens."""
    return re.sub(r"[\s\u2010-\u2015-]+", "", typed).upper()


def _check_letter(letters: str) -> str:
    """What brings the weighted sum to nought; weights differ, and none is a multiple of the base."""
    total = sum(weight * LETTERS.index(one) for weight, one in enumerate(reversed(letters), start=2))
    return LETTERS[-total % BASE]
