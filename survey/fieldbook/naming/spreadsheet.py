"""What a name may have been before a spreadsheet changed it: "1-2" becomes 1 February, "1E2" 100.

Knows nothing of pegs beyond their names.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from survey.units import normalised

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NAMED = rf"({'|'.join(_MONTHS)})[a-z]*\.?"
_CENTURY = 100
ORDERS = ("day first", "month first")
Pair = tuple[int, int]


@dataclass(frozen=True)
class Dated:
    """A name that reads as a date; a year or day of 0 is not written."""

    year: int
    month: int
    day: int

    def pairs(self, order: str) -> frozenset[Pair]:
        """Pairs of figures that a spreadsheet of this order makes such a date of."""
        found = {(self.day, self.month) if order == ORDERS[0] else (self.month, self.day)}
        # Figures that are no day of a month are a year: 1-22 is January 2022.
        if self.day == 1 and self.year:
            found.add((self.month, self.year % _CENTURY))
        return frozenset(found)


def dated(name: str) -> Dated | None:
    """The date that a name reads as, None if it is none.

    Examples
    --------
    >>> dated("2026-02-01 00:00:00"), dated("01-Feb"), dated("1-2")
    (Dated(year=2026, month=2, day=1), Dated(year=0, month=2, day=1), None)
    """
    text = re.sub(r"[ t]00?:00(:00)?(\.0+)?$", "", normalised(name).casefold())
    if found := re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", text):
        return _date(*(int(part) for part in found.groups()))
    if found := re.fullmatch(rf"(\d{{1,2}})[- ./]{_NAMED}(?:[- ./](\d{{4}}|\d{{2}}))?", text):
        return _date(int(found[3] or 0), _MONTHS.index(found[2]) + 1, int(found[1]))
    if found := re.fullmatch(rf"{_NAMED}[- ./](\d{{2}})", text):
        return _date(int(found[2]), _MONTHS.index(found[1]) + 1, 1)
    if found := re.fullmatch(r"(\d{1,2})([-./])(\d{1,2})\2(\d{4}|\d{2})", text):
        # The order does not matter: both are tried.
        first, second = int(found[1]), int(found[3])
        return _date(int(found[4]), second, first) or _date(int(found[4]), first, second)
    return None


def _date(year: int, month: int, day: int) -> Dated | None:
    return Dated(year, month, day) if 1 <= month <= len(_MONTHS) and 1 <= day <= 31 else None  # noqa: PLR2004


def looks_changed(name: str) -> bool:
    """Whether a name reads like a spreadsheet's work: a date, 7.0, 1.00E+02.

    Examples
    --------
    >>> looks_changed("01-Feb"), looks_changed("7.0"), looks_changed("1.00E+02"), looks_changed("1E2")
    (True, True, True, False)
    """
    return dated(name) is not None or re.fullmatch(r"\d+\.0+|\d\.\d+e\+\d+", normalised(name).casefold()) is not None


def pair_of(name: str) -> Pair | None:
    """Two figures with a sign between them, which a spreadsheet takes for a date."""
    found = re.fullmatch(r"(\d{1,2})[-/.](\d{1,2})", normalised(name))
    return (int(found[1]), int(found[2])) if found else None


class Changed:
    """Names of pegs as a spreadsheet may have changed them, or may have been given them changed.

    Parameters
    ----------
    painted : mapping
        Every name of a peg, and the painted one.
    """

    def __init__(self, painted: Mapping[str, str]) -> None:
        self._numbers: defaultdict[float, list[tuple[bool, str]]] = defaultdict(list)
        self._pairs: defaultdict[Pair, set[str]] = defaultdict(set)
        self._days: defaultdict[Pair, set[str]] = defaultdict(set)
        self._dated: dict[str, defaultdict[Pair, set[str]]] = {order: defaultdict(set) for order in ORDERS}
        for name, peg in painted.items():
            value, pair, day = _number(name), pair_of(name), dated(name)
            if value is not None:
                self._numbers[value].append((_has_exponent(name), peg))
            if pair:
                self._pairs[pair].add(peg)
            if day:
                self._days[day.month, day.day].add(peg)
                for order, index in self._dated.items():
                    for made_of in day.pairs(order):
                        index[made_of].add(peg)

    def recovered(self, names: Iterable[str], named: Collection[str]) -> dict[str, str]:
        """Names whose peg is plain.

        Parameters
        ----------
        names : iterable of str
            The names of one sheet that are no peg's.
        named : collection of str
            Pegs that the sheet names as they are: a number beside them is another name.
        """
        names = list(names)
        numbers = {name: self._of_number(name) for name in names}
        found = {
            name: next(iter(pegs))
            for name, pegs in numbers.items()
            if len(pegs) == 1 and (_has_exponent(name) or not pegs & set(named))
        }
        days = [name for name in names if name not in found and self._of_date(name)]
        read = [{name: self._of_date(name, order) for name in days} for order in ORDERS]
        # In one order of day and month every name must lead to one peg, in the other to the same or not to all.
        whole = [one for one in read if all(len(pegs) == 1 for pegs in one.values())]
        if whole and all(one == whole[0] for one in whole):
            found |= {name: next(iter(pegs)) for name, pegs in whole[0].items()}
        return found

    def causes(self, names: Iterable[str]) -> dict[str, str]:
        """What seems to have happened to names that could not be recovered."""
        found = {}
        for name in names:
            pegs = sorted(self._of_date(name) | self._of_number(name))
            if pegs or dated(name):
                may = f"; it may be {' or '.join(pegs)}" if pegs else ""
                found[name] = f"a spreadsheet seems to have turned a name into this{may}"
        return found

    def _of_number(self, name: str) -> frozenset[str]:
        """Pegs that are the same number, one of the two names written with an exponent."""
        value = _number(name)
        there = self._numbers.get(value, []) if value is not None else []
        return frozenset(peg for has_exponent, peg in there if has_exponent or _has_exponent(name))

    def _of_date(self, name: str, order: str | None = None) -> frozenset[str]:
        """Pegs that a spreadsheet of that order, or of any, makes this date of, or makes this name into."""
        day, pair = dated(name), pair_of(name)
        found: set[str] = set()
        for one in ORDERS if order is None else (order,):
            if day:
                found.update(*(self._pairs.get(made_of, ()) for made_of in day.pairs(one)))
                found |= self._days.get((day.month, day.day), set())
            if pair:
                found |= self._dated[one].get(pair, set())
        return frozenset(found)


def _has_exponent(name: str) -> bool:
    return "e" in name.casefold()


def _number(name: str) -> float | None:
    text = normalised(name).casefold()
    return float(text) if re.fullmatch(r"\d{1,9}(\.\d{1,9})?(e[-+]?\d{1,2})?", text) else None
