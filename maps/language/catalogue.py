"""The words people read, in the language of the club: one list, from which pages, guide and files take all of theirs.

A text may hold named places, ``{depth}``; one with ``{count}`` may have forms by number. Numbers are written here as
the language has them. Knows nothing of who says what, or where.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache, cached_property, lru_cache
from importlib.resources import files
from typing import Any

from babel import Locale
from babel.dates import format_date

from survey.errors import SourceRow, SurveyError
from survey.records.floats import BARE_LINE, Float
from survey.records.venue import Venue
from survey.records.water_level import LevelMark
from survey.spots.float_setting import RigStyle
from survey.units import feet_inches, format_metres
from survey.units.club_units import DistanceUnit, level_figure
from survey.units.lengths import UNIT_METRES

PLACE = re.compile(r"\{(\w+)\}")
BRITISH = Locale("en", "GB")
COUNT = "count"
"""The place whose number chooses between forms of a text."""

Text = str | list[str] | dict[str, str]
"""A text, a list of texts that stand together, or the forms of a text by number (CLDR plural categories)."""


@cache
def english() -> dict[str, Text]:
    """The whole list as the project words it."""
    return json.loads((files("maps") / "language" / "words.json").read_text(encoding="utf-8"))


@dataclass(frozen=True, eq=False)
class Words:
    """The whole list in one language.

    Parameters
    ----------
    texts : mapping
        By key; every key of :func:`english`.
    """

    texts: Mapping[str, Any]

    def __getitem__(self, key: str) -> Any:  # noqa: ANN401 - a text, or a list of texts
        """A text without places, or a list of texts."""
        return self.texts[key]

    def say(self, key: str, **values: object) -> str:
        """A text with its places filled; ``count`` also chooses its form.

        Examples
        --------
        >>> ENGLISH.say("peg_readings_age", count=1), ENGLISH.say("peg_title", peg="7 {a}")
        ('The newest is 1 month old.', 'Peg 7 {a}')
        """
        text = self.texts[key]
        if isinstance(text, dict):
            text = text.get(self.locale.plural_form(float(str(values[COUNT]))), text["other"])
            values = {**values, COUNT: self.decimal(str(values[COUNT]))}
        return PLACE.sub(lambda place: str(values[place[1]]), text)

    @cached_property
    def locale(self) -> Locale:
        """What is known of the language (Unicode CLDR)."""
        return Locale.parse(self.texts["language"], sep="-")

    def decimal(self, number: str) -> str:
        """A number as it was written with a point, with the language's own mark."""
        return number.replace(".", self.texts["decimal"])

    def metres(self, length_m: float, places: int = 2) -> str:
        """A length in metres with its unit."""
        return self.decimal(format_metres(length_m, places))

    def length(self, length_m: float, shows: str) -> str:
        """A length in what the venue shows first."""
        return feet_inches(length_m) if shows == "feet" else self.metres(length_m)

    def distance(self, length_m: float, counted: DistanceUnit) -> str:
        """A distance over the water in what a venue counts them in.

        Examples
        --------
        >>> ENGLISH.distance(15, METRES), ENGLISH.distance(15, WRAP), ENGLISH.distance(3.6576, WRAP)
        ('15.0 m', '4.1 wraps', '1 wrap')
        """
        return self.counted(counted.figure(length_m), counted)

    def whole_distance(self, length_m: float, counted: DistanceUnit) -> str:
        """The same to the whole unit.

        Examples
        --------
        >>> ENGLISH.whole_distance(45.2, METRES), ENGLISH.whole_distance(45.2, WRAP)
        ('45 m', '12 wraps')
        """
        return self.counted(f"{length_m / counted.worth_m:.0f}", counted)

    def counted(self, figure: str, counted: DistanceUnit) -> str:
        """A number of units of distance, as it was written with a point."""
        if counted.unit in UNIT_METRES:
            return f"{self.decimal(figure)} {counted.unit}"
        return self.say(f"far_{counted.unit}", count=figure)

    def mark(self, level_m: float, mark: LevelMark) -> str:
        """What a level mark shows, or a change of it, in its own unit."""
        return f"{self.decimal(level_figure(level_m, mark.unit))} {mark.unit}"

    def in_order(self, feet: str, metric: str, shows: str) -> tuple[str, str]:
        """The two ways to write a length, what the venue shows first before the other."""
        return (feet, metric) if shows == "feet" else (metric, feet)

    def both(self, length_m: float, shows: str) -> str:
        """A length in both ways."""
        return "{} ({})".format(*self.in_order(feet_inches(length_m), self.metres(length_m), shows))

    def datum(self, mark: LevelMark) -> str:
        """The level for which depths hold."""
        return self.say(f"datum_{mark.kind or 'none'}", shown=self.mark(mark.datum_m, mark))

    def days(self, days: tuple[str, str] | None, *, iso: bool = False) -> str:
        """When the readings were taken; ``iso`` for files that programs read."""
        if days is None:
            return self["days_none"]
        first, last = days if iso else map(self.day, days)
        return first if first == last else self.say("days_span", first=first, last=last)

    def day(self, iso: str) -> str:
        """A day as people write it; empty where none is known.

        Examples
        --------
        >>> ENGLISH.day("2026-09-12"), Words({"language": "de"}).day("2026-09-12")
        ('12 September 2026', '12. September 2026')
        """
        if not iso:
            return ""
        here = BRITISH if self.texts["language"] == "en" else self.locale
        return format_date(date.fromisoformat(iso), "long", locale=here)

    def stamp(self, mark: LevelMark, days: tuple[str, str] | None) -> list[str]:
        """The two sentences without which no depth means anything."""
        return [self.say("stamp_surveyed", days=self.days(days)), self.say("stamp_datum", datum=self.datum(mark))]

    def rig(self, rig: RigStyle, *, within: bool = False) -> str:
        """The name of a rig, on its own or within a sentence."""
        return self[f"rig_{'in_' if within else ''}{rig.value}"]

    def spot(self, name: str) -> str:
        """The name of a suggested spot."""
        return self.texts.get(f"spot_{name}", name)

    def float_name(self, held_by: Float) -> str:
        """The name of a float: the club's own, or that there is none."""
        return self["float_bare_name"] if held_by == BARE_LINE else held_by.name

    def place(self, place: SourceRow) -> str:
        """Where in the sheets something stands."""
        where = place.file if place.row is None else self.say("place_row", sheet=place.file, row=place.row)
        return self.say("place_column", place=where, column=place.column) if place.column else where

    def again(self, sentence: str) -> str:
        """A sentence that the survey made, in these words; as it is where it is the club's own.

        Examples
        --------
        >>> Words({**english(), "stated_reach": "Bis {value}.", "decimal": ","}).again(
        ...     "Within reach: 45.00 m from a peg, in sight over water."
        ... )
        'Bis 45,00 m.'
        """
        key, values = _stated_as(sentence)
        return self.say(key, **{name: self.decimal(value) for name, value in values.items()}) if key else sentence


def stated_key(sentence: str) -> str:
    """The key of a default that the survey took, by its sentence; empty for any other sentence."""
    return _stated_as(sentence)[0]


def _stated_as(sentence: str) -> tuple[str, dict[str, str]]:
    found = ((key, pattern.fullmatch(sentence)) for key, pattern in _stated())
    return next(((key, match.groupdict()) for key, match in found if match), ("", {}))


@cache
def _stated() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Sentences that come from the survey as they stand in English, each with its places."""
    stated = {key: text for key, text in english().items() if key.startswith("stated_") and isinstance(text, str)}
    return tuple((key, re.compile(PLACE.sub(r"(?P<\1>.+?)", _escaped(text)))) for key, text in stated.items())


def _escaped(text: str) -> str:
    return re.sub(r"[.()?+*\[\]^$|]", r"\\\g<0>", text)


ENGLISH = Words(english())


def catalogue_of(venue: Venue) -> Words:
    """The words a venue uses: the club's own where it gave any, else English.

    Raises
    ------
    SurveyError
        It names a file of words that nobody has read: nothing is said in English that was to be said otherwise.
    """
    publishing = venue.publishing
    if publishing.words_file and not publishing.words:
        raise SurveyError(
            f'[publish] words = "{publishing.words_file}" was not read. '
            "Read it with maps.language.club_words.with_club_words."
        )
    return _spoken(publishing.words)


@lru_cache(maxsize=8)
def _spoken(own: str) -> Words:
    return Words(english() | json.loads(own)) if own else ENGLISH
