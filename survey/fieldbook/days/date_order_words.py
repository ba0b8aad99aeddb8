"""The words for rows whose day and month are probably the other way round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from survey.errors import rows_named
from survey.fieldbook.days.dated_rows import DatedRows
from survey.fieldbook.days.day_likelihood import KnownDays
from survey.units.dates import written_day

DAYS_NAMED = 3

_WAYS = {"mdy": "read month first", "dmy": "read day first", None: "with day and month exchanged"}


@dataclass(frozen=True)
class TurnedRows:
    """Rows of one sheet that fall among the others only the other way round.

    Parameters
    ----------
    rows : tuple of DatedRows
        Each with another day.
    known : KnownDays
        The days of the others.
    is_whole_file : bool
        No other date of the file needs an order.
    """

    rows: tuple[DatedRows, ...]
    known: KnownDays
    is_whole_file: bool


def problem_of(turned: TurnedRows) -> str:
    """Which rows, how they are read, what speaks against it and for the other way."""
    numbers = rows_named(number for rows in turned.rows for number in rows.rows)
    pairs = sorted({(rows.day, rows.other) for rows in turned.rows if rows.other})
    as_read, others = [day for day, _ in pairs], [other for _, other in pairs]
    they = "they fall" if numbers.startswith("rows") else "it falls"
    return (
        f"{numbers}: read as {_days(as_read)}, {_doubt(as_read, turned)}; "
        f"{_WAYS[turned.rows[0].other_order]} {they} on {_days(others)}, {_company(others, turned.known)}"
    )


def remedy_for(turned: TurnedRows) -> str:
    """How to write the dates, whichever way is right."""
    first = min(turned.rows, key=lambda rows: rows.place)
    right = "mdy" if first.other_order == "dmy" else "dmy"
    if first.is_stored:
        return (
            f"Correct the cells, here to {written_day(str(first.other))}. If they are right, add to venue.toml: "
            f'[dates_in] "{first.file}" = "dmy".'
        )
    declare = f', or add to venue.toml: [dates_in] "{first.file}" = "{first.other_order}"'
    return (
        f"Write the dates like {first.other}{declare if turned.is_whole_file else ''}. If they are right, "
        f'add [dates_in] "{first.file}" = "{right}".'
    )


def _days(days: Sequence[date]) -> str:
    more = f" and {len(days) - DAYS_NAMED} more days" if len(days) > DAYS_NAMED else ""
    return ", ".join(written_day(day.isoformat()) for day in days[:DAYS_NAMED]) + more


def _doubt(days: Sequence[date], turned: TurnedRows) -> str:
    """What speaks against days, the strongest first."""
    known = turned.known
    if any(day > known.today + timedelta(days=1) for day in days):
        return "in the future" if len(days) == 1 else "in part in the future"
    if known.levels and all(known.stand(day) == "outside" for day in days):
        return "before the first level record" if max(days) < min(known.levels) else "beyond the level records"
    met = sum(day in known.hands for day in days)
    if met == 0:
        return "when nobody plumbed" if turned.rows[0].is_level else "when nobody else plumbed"
    return f"where others plumbed on {met} of {len(days)}"


def _company(days: Sequence[date], known: KnownDays) -> str:
    """What speaks for days."""
    if len(days) > 1:
        met = sum(day in known.hands or day in known.levels for day in days)
        return f"where others plumbed or read the level on {met} of {len(days)}"
    said = [
        *(["others plumbed"] if days[0] in known.hands else []),
        *(["the level was recorded"] if days[0] in known.levels else []),
    ]
    if said:
        return f"when {' and '.join(said)}"
    return "nearer to the rest of the survey" if known.hands or known.levels else "which is past"
