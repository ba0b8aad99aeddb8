"""Days on which an invented club plumbs and reads its level mark, and its sheets' dates as they are read."""

from __future__ import annotations

import random
from datetime import date, timedelta

from survey.fieldbook.days.dated_rows import DatedRows

LAST_YEAR = 2025
LEVELS = ("none", "each day", "some days", "the day after", "daily", "weekly", "monthly", "in winter")

Entry = tuple[str, str, date]
"""Sheet (``levels`` for the level mark), hand, day."""


def _day(rng: random.Random, first_year: int, season: tuple[int, int]) -> date:
    return date(rng.randrange(first_year, LAST_YEAR + 1), 1, 1) + timedelta(days=rng.randrange(*season))


def club_days(rng: random.Random, kept: str) -> list[Entry]:
    """A sound survey of one to eight sheets over one to six years, its levels kept in one of ``LEVELS``."""
    years = rng.choice([1, 1, 1, 2, 3, 6])
    first, season = LAST_YEAR + 1 - years, rng.choice([(60, 300), (1, 365), (90, 200), (280, 365)])
    common = [_day(rng, first, season) for _ in range(rng.choice([1, 2, 3, 4, 6, 10]) * years)]
    alone = rng.choice([0.0, 0.1, 0.5, 1.0])
    entries = {
        (f"sheet {sheet}", f"hand {hand}", _day(rng, first, season) if rng.random() < alone else rng.choice(common))
        for sheet in range(rng.choice([1, 2, 3, 4, 6, 8]))
        for hand in range(rng.choice([1, 1, 2, 4]))
        for _ in range(rng.choice([1, 1, 2, 4, 8]))
    }
    plumbed = sorted({day for _, _, day in entries})
    return sorted(entries) + [("levels", "", day) for day in _level_days(rng, kept, plumbed)]


def _level_days(rng: random.Random, kept: str, plumbed: list[date]) -> list[date]:
    step = {"daily": 1, "weekly": 7, "monthly": 30, "in winter": 7}.get(kept)
    if step is None:
        share = {"none": 0.0, "some days": 0.5}.get(kept, 1.0)
        later = timedelta(days=kept == "the day after")
        return [day + later for day in plumbed if rng.random() < share]
    span = (plumbed[-1] - plumbed[0]).days
    days = [plumbed[0] + timedelta(days=by) for by in range(0, span + 1, step)]
    return [day for day in days if kept != "in winter" or day.month in {11, 12, 1, 2, 3}]


def as_read(entries: list[Entry], turned: str = "") -> list[DatedRows]:
    """The dates as a reader takes them who holds the day to come first; in sheet ``turned`` the month does."""
    return [_one(number, *entry, is_turned=entry[0] == turned) for number, entry in enumerate(entries, start=2)]


def both_ways(day: date) -> bool:
    """Whether a date in figures can be read both ways."""
    return day.day <= 12 and day.day != day.month


def _one(row: int, sheet: str, hand: str, day: date, *, is_turned: bool) -> DatedRows:
    exchanged = date(day.year, day.day, day.month) if both_ways(day) else None
    read, other = (exchanged, day) if is_turned and exchanged else (day, exchanged)
    return DatedRows(
        sheet=sheet,
        file=sheet,
        header="date",
        hand=hand,
        is_level=sheet == "levels",
        is_stored=False,
        day=read,
        other=other,
        other_order="mdy" if other else None,
        proves=day.day > 12,
        rows=(row,),
    )
