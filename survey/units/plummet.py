"""What people write where a plummet gave no plain depth: over 3, 3+, under 2, no bottom at 12 ft, weed, snagged.

Takes words apart; lengths are read elsewhere.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from survey.units.numbers import normalised

Limit = Literal["", "at_least", "at_most"]
Stop = Literal["", "weed", "snag", "unreached"]
"""What kept the plummet from the bed; ``unreached``: nobody says what."""


@dataclass(frozen=True)
class PlummetWords:
    """What a cell says.

    Parameters
    ----------
    length : str
        What stands there of a length, as written; empty without.
    limit : {"", "at_least", "at_most"}
        The depth is no more than a bound.
    stopped_by : {"", "weed", "snag", "unreached"}
    """

    length: str
    limit: Limit = ""
    stopped_by: Stop = ""


_NOT = r"(?:(?:could|did|would|does|do) ?(?:no|n)'?t|can ?'?(?:no)?t|won'?t) (?:quite )?"
_IN = r"(?:(?:thick|heavy|dense|solid|bad|sunken|fallen|a|in|on|into|through) )*"
_STOPS: dict[Stop, str] = {
    "weed": rf"{_IN}(?:weed(?:s|y|ed|bed|beds)?|lil(?:y|ies)(?: pads?)?|pads|reeds)\b(?: up)?",
    "snag": rf"{_IN}(?:snag(?:s|ged|gy)?|branch(?:es)?|tree|caught up|hung up|stuck)\b(?: up)?",
    "unreached": rf"(?:{_NOT}(?:get|go|come|sink)(?: it| the plummet| the lead)?(?: right)? (?:down|through)"
    rf"|{_NOT}(?:find|reach|feel|touch|get to|hit)(?: the)? (?:bottom|bed)"
    r"|(?:no|never|without)(?: found| felt| touched| reached)?(?: the)? bottom(?: found| felt)?"
    r"|bottom (?:was )?not (?:found|felt|reached|touched))\b",
}
_ANY_STOP = "|".join(_STOPS.values())
_NONE_OF_IT = re.compile(
    r"\b(?:no|not|free of|clear of|without|off|behind|beyond|past|near|beside|by) (?:the |any )*"
    r"(?:weed|snag|lil|pads|reeds|branch|tree)"
)
_LENGTH = re.compile(r"(?:[ ,.]*\d[\d.,/'\" ]*(?:[a-z]+\b\.? ?)?){1,2}")
_JOINTS = r"[\s,;:()-]+|\.(?!\d)|\b(?:at|in|on|by|with|to|from|the|and|but|so|set)\b"
_BOUNDS: tuple[tuple[str, Limit], ...] = (
    (r"(?:over|more than|deeper than|greater than|at least|not less than|>=?|≥) ?(.*\d.*)", "at_least"),
    (r"(?:under|less than|shallower than|at most|not more than|no more than|<=?|≤) ?(.*\d.*)", "at_most"),
    (r"(.*\d['\"]?) ?\+ ?([a-z]*)", "at_least"),
    (r"(.*\d.*?),? ?(?:\+|plus|or (?:more|deeper|over))", "at_least"),
    (r"(.*\d.*?),? or (?:less|shallower|under)", "at_most"),
)


def plummet_words(text: str) -> PlummetWords | None:
    """What a cell of a depth says, beside a length or instead of one; None where it makes no sense.

    A length over weed or a snag is as deep as the plummet went, so the bed is at least so deep; likewise where no
    bottom was found. Words that people use in both senses (below, above, too deep) are not read.

    Examples
    --------
    >>> plummet_words("over 3") == plummet_words("> 3") == plummet_words("3+") == PlummetWords("3", "at_least")
    True
    >>> plummet_words("under 2 ft") == PlummetWords("2 ft", "at_most")
    True
    >>> plummet_words("no bottom at 12 ft") == PlummetWords("12 ft", "at_least")
    True
    >>> plummet_words("Weed, couldn't get down").stopped_by, plummet_words("1.58 m").length, plummet_words("too deep")
    ('weed', '1.58 m', None)
    """
    words = normalised(text).casefold().rstrip(" .!")
    stopped = _stopped_by(words)
    if not re.search(r"\d", words):
        return PlummetWords("", "", stopped) if stopped else None
    if not stopped:
        length, limit = _bounded(words)
        return PlummetWords(length if limit else text, limit)
    length, limit = _bounded(_trimmed(re.sub(_ANY_STOP, " ", words)))
    if limit == "at_most":
        # Weed does not hold the bed up.
        return None
    # That no bottom was found is what the bound says already.
    return PlummetWords(length, "at_least", "" if stopped == "unreached" else stopped)


def words_of_note(note: str) -> PlummetWords | None:
    """What a remark says of the depth, whole or in one of its parts, where none stands beside it; None where nothing.

    A figure beside weed or a snag may be a distance, so there it is left alone.

    Examples
    --------
    >>> words_of_note("windy; no bottom at 12 ft").length, words_of_note("plumbed 3 times, weed 10 m out").stopped_by
    ('12 ft', 'weed')
    """
    parts = [note, *(part for part in re.split(r"[;,.!]\s", note) if part.strip())]
    found = [said for said in map(plummet_words, parts) if said]
    bound = next((s for s in found if s.limit and not s.stopped_by and _LENGTH.fullmatch(s.length)), None)
    stopped = next((said for said in found if said.stopped_by), None)
    return bound or (PlummetWords("", "", stopped.stopped_by) if stopped else None)


def _stopped_by(words: str) -> Stop:
    if _NONE_OF_IT.search(words):
        return ""
    return next((stop for stop, pattern in _STOPS.items() if re.search(rf"\b{pattern}", words)), "")


def _bounded(words: str) -> tuple[str, Limit]:
    """A length without the words or signs that make a bound of it, and which bound."""
    for pattern, limit in _BOUNDS:
        found = re.fullmatch(pattern, words)
        if found:
            return " ".join(filter(None, found.groups())), limit
    return words, ""


def _trimmed(words: str) -> str:
    """Without the little words and stops at either end."""
    return re.sub(rf"^(?:{_JOINTS})+|(?:{_JOINTS})+$", "", words).strip()
