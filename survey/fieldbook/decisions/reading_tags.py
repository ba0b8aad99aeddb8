"""Readings by their tags: which tag each has, and which reading a typed tag means.

A tag is made from what a reading says. Where two readings say the same, or their tags fall together, theirs are longer
by what stands beside it in the row; rows alike in everything are counted, 1/2 and 2/2.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from survey.errors import SourceRow
from survey.fieldbook.decisions.reading_contents import Contents
from survey.records.tags import LONGEST, SHORT, bare_letters, digest_letters, spelled, tag_letters

LONGER_BY = 3
NAMED = 4


@dataclass(frozen=True)
class NoReading:
    """Why a typed tag means no reading.

    Parameters
    ----------
    kind : {"wrong", "gone", "shared"}
        No tag at all; a tag of a reading that is not there; one of several.
    nearest : tuple of str
        Tags that may be meant.
    """

    kind: str
    nearest: tuple[str, ...] = ()


class ReadingTags:
    """The tags of a survey's readings.

    Parameters
    ----------
    contents : iterable of Contents
        Of every row of the reading sheets, in any order.
    """

    def __init__(self, contents: Iterable[Contents]) -> None:
        self._contents = {c.place: c for c in sorted(contents, key=lambda c: (c.place.file, c.place.row or 0))}
        self._alike: dict[str, list[SourceRow]] = defaultdict(list)
        for place, told in self._contents.items():
            self._alike[digest_letters(told.said)[:SHORT]].append(place)
        self._tags = {place: tag for first, alike in self._alike.items() for place, tag in self._tagged(first, alike)}
        self._placed = {tag: place for place, tag in self._tags.items()}

    @property
    def places(self) -> tuple[SourceRow, ...]:
        """Where the readings stand, by file and row."""
        return tuple(self._contents)

    @property
    def by_row(self) -> dict[tuple[str, int | None], str]:
        """The tag of each row, by file and row."""
        return {(place.file, place.row): tag for place, tag in self._tags.items()}

    def tag(self, place: SourceRow) -> str:
        """The tag of the reading in a row; empty where there is none."""
        return self._tags.get(place, "")

    def written(self, place: SourceRow) -> str:
        """What the reading in a row says, as written; empty where there is none."""
        return self._contents[place].written if place in self._contents else ""

    def find(self, typed: str) -> SourceRow | NoReading:
        """The row of the reading that a typed tag means."""
        tag, counted = _parted(typed)
        letters = tag_letters(tag)
        if letters is None:
            near = {one for slip in _slips(tag) for one in self._by_slip.get(slip, ())}
            return NoReading("wrong", tuple(sorted(near))[:NAMED])
        alike = self._alike.get(letters[:SHORT], ())
        meant = [place for place in alike if self._letters(place).startswith(letters)]
        tags = tuple(self._tags[place] for place in alike[:NAMED])
        if not meant:
            return NoReading("gone", tags)
        exact = self._placed.get(f"{spelled(letters)}{counted}")
        if exact is not None:
            return exact
        # A tag from the time when it had to be longer still means its reading; a count that has changed means none.
        return meant[0] if len(meant) == 1 and not counted else NoReading("shared" if meant[1:] else "gone", tags)

    @cached_property
    def _by_slip(self) -> dict[str, list[str]]:
        """Tags by what is left of them when a letter is missed out: two that share it differ by one slip."""
        found = defaultdict(list)
        for tag in self._placed:
            for slip in _slips(_parted(tag)[0]):
                found[slip].append(tag)
        return found

    def _letters(self, place: SourceRow) -> str:
        """All the letters a reading's tag can have: by what it says, then by what stands beside it too."""
        told = self._contents[place]
        return digest_letters(told.said)[:SHORT] + digest_letters(told.said, told.beside)[: LONGEST - SHORT]

    def _tagged(self, first: str, alike: list[SourceRow]) -> list[tuple[SourceRow, str]]:
        """Tags of readings whose short tags fall together: as long as they must be, and counted."""
        rows: dict[str, list[SourceRow]] = defaultdict(list)
        for place in alike:
            rows[self._letters(place) if alike[1:] else first].append(place)
        length = SHORT
        if len(rows) > 1:
            length += LONGER_BY
            while len({letters[:length] for letters in rows}) < len(rows):
                length += 1
        return [
            (place, spelled(letters[:length]) + (f" {at}/{len(same)}" if same[1:] else ""))
            for letters, same in rows.items()
            for at, place in enumerate(same, start=1)
        ]


def _parted(typed: str) -> tuple[str, str]:
    """A typed tag without its count, and the count as it is printed."""
    found = re.fullmatch(r"(.*?)\s+(\d+)\s*(?:/|of)\s*(\d+)", typed.strip())
    return (found[1], f" {int(found[2])}/{int(found[3])}") if found else (typed, "")


def _slips(tag: str) -> set[str]:
    bare = bare_letters(tag)[: 2 * LONGEST]
    return {bare, *(bare[:at] + bare[at + 1 :] for at in range(len(bare)))}
