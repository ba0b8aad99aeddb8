"""Dates and times as people write them, and the moments they mean."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, timezone
from functools import lru_cache
from typing import Literal, get_args
from zoneinfo import ZoneInfo

from survey.errors import ParseError
from survey.units import normalised


@dataclass(frozen=True, order=True)
class Moment:
    """When, as an instant and how far it may be from it.

    Parameters
    ----------
    instant : datetime
        UTC, time zone aware.
    half_width : timedelta
        12 h where only a date was written, otherwise zero.
    day : str
        Local date as written, ISO form.
    """

    instant: datetime
    half_width: timedelta
    day: str


DateOrder = Literal["dmy", "mdy", "ymd"]

ORDERS: tuple[DateOrder, ...] = get_args(DateOrder)

NOON = time(12)

HALF_DAY = timedelta(hours=12)

CENTURY = 2000

NOON_HOUR = 12

LONGEST = 60
"""Characters of a date and time; what is longer is none."""

_MONTH_NAMES = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]

_MONTH = r"(jan|feb|mar|apr|may|jun|jul|aug|sept?|oct|nov|dec)[a-z]*\.?"

_CLOCK = r"(\d{1,2})(?:[:.h](\d{2}))?(?::(\d{2}))?(?:\.\d+)?"

_ZONE = r"(z|utc|gmt|bst|cest|cet|[-+]\d{2}:?\d{2})"

_ZONE_HOURS = {"bst": 1, "cet": 1, "cest": 2}

_SERIAL_DAYS = (20_000, 80_000)


@dataclass(frozen=True)
class DateRules:
    """How the dates of one file are read.

    Parameters
    ----------
    order : {"dmy", "mdy", "ymd"} or None
        Order of dates written in figures; None if none is needed.
    zone : ZoneInfo
        Zone of times that name none.
    from_1904 : bool
        Bare day numbers count from 1904 instead of 1900.
    """

    order: DateOrder | None
    zone: ZoneInfo
    from_1904: bool = False
    _known: dict[str, tuple[date, str]] = field(default_factory=dict, init=False, repr=False, compare=False)

    def moment(self, date_text: str, time_text: str) -> Moment | None:
        """The instant that a date and a time cell name; None if both are empty.

        Raises
        ------
        ParseError
            A date or time that is none, or a time without a date.
        """
        if not date_text:
            if time_text:
                raise ParseError(f'"{time_text}" is a time without a date. Write the date beside it')
            return None
        day, rest = self._dated(date_text)
        clock_text = time_text or rest
        if not clock_text:
            return Moment(self._utc(day, NOON, None), HALF_DAY, day.isoformat())
        clock, zone = read_time(clock_text)
        return Moment(self._utc(day, clock, zone), timedelta(0), day.isoformat())

    def clocks_changed(self, moment: Moment, date_text: str, time_text: str) -> str:
        """Why a local time is doubtful: the clocks went back or forward over it; empty if they did not."""
        if moment.half_width:
            return ""
        clock, zone = read_time(time_text or self._dated(date_text)[1])
        written = datetime.combine(date.fromisoformat(moment.day), clock, tzinfo=self.zone)
        first, second = written.utcoffset(), written.replace(fold=1).utcoffset()
        if zone or first == second or first is None or second is None:
            return ""
        return (
            "the clocks went back that night and this hour came twice; the first was taken"
            if first > second
            else "the clocks went forward that night and this hour was left out; the time was taken as by the old clock"
        )

    def _dated(self, text: str) -> tuple[date, str]:
        """Day of a date cell, and the time of day it holds besides, empty if none; each text taken apart once."""
        if text not in self._known:
            day_text, rest = split_day(text)
            part_of_day = (_serial(day_text) or 0.0) % 1
            self._known[text] = self._day(day_text), rest or (repr(part_of_day) if part_of_day else "")
        return self._known[text]

    def _day(self, text: str) -> date:
        serial = _serial(text)
        if serial is not None:
            return (date(1904, 1, 1) if self.from_1904 else date(1899, 12, 30)) + timedelta(days=int(serial))
        written = _written_day(text)
        if written:
            return written
        readings = day_readings(text)
        if self.order in readings:
            return readings[self.order]
        # A year of four figures in front leaves no choice, whatever the order of the rest.
        choices = (
            {"ymd": readings["ymd"]} if set(readings) == {"ymd"} else {o: d for o, d in readings.items() if o != "ymd"}
        )
        if len(set(choices.values())) != 1 or (self.order and "ymd" not in choices):
            order = f" in the order {self.order}" if self.order and readings else ""
            raise ParseError(f'"{text}" is not a date{order}. Write it like 2026-05-03 or 3 May 2026')
        return next(iter(choices.values()))

    def _utc(self, day: date, clock: time, zone: timezone | None) -> datetime:
        return datetime.combine(day, clock, tzinfo=zone or self.zone).astimezone(UTC)


def written_day(iso: str) -> str:
    """A day as people write it; any other name as it is.

    Examples
    --------
    >>> written_day("2026-09-12"), written_day("undated")
    ('12 September 2026', 'undated')
    """
    try:
        day = date.fromisoformat(iso)
    except ValueError:
        return iso
    return f"{day.day} {_MONTH_NAMES[day.month - 1]} {day.year}"


def is_serial(text: str) -> bool:
    """Whether a date cell holds a spreadsheet's bare day number."""
    return _serial(split_day(text)[0]) is not None


def _serial(text: str) -> float | None:
    if not re.fullmatch(r"\d{5}(?:[.,]\d+)?", text):
        return None
    value = float(text.replace(",", "."))
    return value if _SERIAL_DAYS[0] <= value < _SERIAL_DAYS[1] else None


def split_day(text: str) -> tuple[str, str]:
    """Day and time of a cell that may hold both, the time empty where it does not.

    Examples
    --------
    >>> split_day("11/04/2026 09:30"), split_day("2026-04-11 00:00:00")
    (('11/04/2026', '09:30'), ('2026-04-11', ''))
    """
    body = normalised(text[:LONGEST]).casefold()
    found = re.fullmatch(rf"(.*?\d)(?:t| at |,? )({_CLOCK} ?(?:[ap]\.?m\.?)? ?{_ZONE}?)", body)
    if found and ":" in found[2]:
        # Programs that know no bare date write midnight behind it.
        return found[1], "" if re.fullmatch(r"00?:00(:00)?(\.0+)?", found[2]) else found[2]
    return body, ""


def _written_day(text: str) -> date | None:
    """A date whose order is plain: month in letters, ISO with dashes, eight figures."""
    if found := re.fullmatch(
        rf"(?:[a-z]+,? )?(\d{{1,2}})(?:st|nd|rd|th)?[ \-/.]*(?:of )?{_MONTH}[ \-/.,]*(\d{{4}}|\d{{2}})", text
    ):
        return _date(int(found[3]), _MONTHS.index(found[2][:3]) + 1, int(found[1]))
    if found := re.fullmatch(rf"(?:[a-z]+,? )?{_MONTH} (\d{{1,2}})(?:st|nd|rd|th)?,? (\d{{4}})", text):
        return _date(int(found[3]), _MONTHS.index(found[1][:3]) + 1, int(found[2]))
    if found := re.fullmatch(r"(\d{4})(\d{2})(\d{2})", text):
        return _date(*(int(part) for part in found.groups()))
    return None


def day_readings(text: str) -> dict[DateOrder, date]:
    """Every day a date in figures can mean, by order; empty if it is no such date.

    Two figures in front are a year only where the venue says ``ymd``.

    Examples
    --------
    >>> {order: day.isoformat() for order, day in day_readings("03/05/2026").items()}
    {'dmy': '2026-05-03', 'mdy': '2026-03-05'}
    >>> list(day_readings("20/10/2026"))
    ['dmy']
    """
    found = re.fullmatch(r"(\d{1,4}) ?([-/. ]) ?(\d{1,2}) ?\2 ?(\d{1,4})", normalised(text))
    if not found:
        return {}
    first, second, third = found[1], found[3], found[4]
    orders: dict[DateOrder, tuple[str, str, str]] = {
        "dmy": (third, second, first),
        "mdy": (third, first, second),
        "ymd": (first, second, third),
    }
    return {
        order: day
        for order, (year, month, day_of_month) in orders.items()
        if len(year) in {2, 4}
        and len(day_of_month) <= 2  # noqa: PLR2004 - figures of a year, of a day
        and (day := _date(int(year), int(month), int(day_of_month)))
    }


def other_day(text: str, day: date, *, is_stored: bool) -> tuple[DateOrder | None, date] | None:
    """The order and the day a date has with day and month the other way round; None where it leaves no doubt.

    A spreadsheet's own date (``is_stored``) has no order: it may have been turned when it was typed.

    Examples
    --------
    >>> other_day("04/11/2026", date(2026, 11, 4), is_stored=False)
    ('mdy', datetime.date(2026, 4, 11))
    >>> other_day("2026-11-04", date(2026, 11, 4), is_stored=True)
    (None, datetime.date(2026, 4, 11))
    >>> other_day("2026-11-04", date(2026, 11, 4), is_stored=False) is None
    True
    """
    if is_stored:
        turned = _date(day.year, day.day, day.month)
        return (None, turned) if turned and turned != day else None
    found = [(order, one) for order, one in day_readings(split_day(text)[0]).items() if order != "ymd"]
    others = [(order, one) for order, one in found if one != day]
    return others[0] if len(found) > len(others) == 1 else None


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year + CENTURY if year < 100 else year, month, day)  # noqa: PLR2004 - two figures
    except ValueError:
        return None


@lru_cache(maxsize=4096)
def read_time(text: str) -> tuple[time, timezone | None]:
    """A time of day and its zone if it names one: ``10:30``, ``10.30``, ``2 pm``, ``0.4375`` of a day.

    Raises
    ------
    ParseError
        Not a time of day.

    Examples
    --------
    >>> read_time("2:30 pm")[0].isoformat(), read_time("0.4375")[0].isoformat()
    ('14:30:00', '10:30:00')
    """
    body = normalised(text).casefold()
    if re.fullmatch(r"0?[.,]\d{3,}|0[.,]\d+", body):
        seconds = round(float(body.replace(",", ".")) * 86400)
        return (datetime(CENTURY, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)).time(), None
    found = re.fullmatch(rf"{_CLOCK} ?([ap])?\.?(?:m\.?)? ?{_ZONE}?", body)
    if body == "noon":
        return NOON, None
    if not found or not (found[2] or found[4]):
        raise ParseError(f'"{text}" is not a time of day. Write it like 10:30')
    hour, half = int(found[1]), found[4]
    if half and not 1 <= hour <= NOON_HOUR:
        raise ParseError(f'"{text}" is not a time of day. Write it like 10:30')
    hour = hour % NOON_HOUR + (NOON_HOUR if half == "p" else 0) if half else hour
    try:
        return time(hour, int(found[2] or 0), int(found[3] or 0)), _zone(found[5])
    except ValueError:
        raise ParseError(f'"{text}" is not a time of day. Write it like 10:30') from None


def _zone(text: str | None) -> timezone | None:
    if not text:
        return None
    if text[0] not in "+-":
        return timezone(timedelta(hours=_ZONE_HOURS[text])) if text in _ZONE_HOURS else UTC
    offset = timedelta(hours=int(text[1:3]), minutes=int(text[-2:]))
    return timezone(-offset if text[0] == "-" else offset)
