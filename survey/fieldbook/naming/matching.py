"""Which pegs the names of one sheet mean, where they are not written as the pegs are.

A name is taken for a peg only where one peg can be meant. What tells two pegs of the water apart, or two names of the
sheet, is no habit there.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import combinations

from survey.fieldbook.naming.habits import written
from survey.fieldbook.naming.spreadsheet import Changed
from survey.records.venue import Peg

MOST = 0.8
"""A habit that may tell pegs apart holds if so many of the names written that way lead to a peg (ours)."""


@dataclass
class Matched:
    """What the names of one sheet mean.

    Parameters
    ----------
    exact : dict
        Names written as a peg or its alias, and the peg's painted name.
    by_habit, recovered : dict
        Names taken for a peg because they differ by a habit, or because a spreadsheet changed them.
    unknown : dict
        Names that are none, and why; empty where there is nothing to say.
    """

    exact: dict[str, str] = field(default_factory=dict)
    by_habit: dict[str, str] = field(default_factory=dict)
    recovered: dict[str, str] = field(default_factory=dict)
    unknown: dict[str, str] = field(default_factory=dict)

    @property
    def painted(self) -> dict[str, str]:
        """The painted name of every name that means a peg."""
        return self.exact | self.by_habit | self.recovered


class PegNames:
    """All names of a water's pegs.

    Parameters
    ----------
    pegs : sequence of Peg
    """

    def __init__(self, pegs: Sequence[Peg]) -> None:
        self._painted = {name: peg.name for peg in reversed(pegs) for name in peg.aliases}
        self._painted |= {peg.name: peg.name for peg in reversed(pegs)}
        self._folded = {name.casefold(): peg for name, peg in self._painted.items()}
        self._folded |= {peg.name.casefold(): peg.name for peg in reversed(pegs)}
        self._by_core: defaultdict[str, list[str]] = defaultdict(list)
        for name in sorted(self._painted):
            self._by_core[written(name).core].append(name)
        self._changed = Changed(self._painted)
        self._telling = frozenset(
            habit
            for names in self._by_core.values()
            for first, second in combinations(names, 2)
            if self._painted[first] != self._painted[second]
            for habit in written(first).doubtful ^ written(second).doubtful
        )

    def matched(self, names: Collection[str]) -> Matched:
        """What the names of one sheet mean.

        Parameters
        ----------
        names : collection of str
            Every name in it, those that are plain too: they tell which habits its writer had.
        """
        found = Matched()
        for name in sorted(set(names)):
            exact = self._painted.get(name) or self._folded.get(name.casefold())
            if exact:
                found.exact[name] = exact
            else:
                found.unknown[name] = ""
        self._take_habits(found)
        found.recovered = self._changed.recovered(found.unknown, set(found.exact.values()))
        for name in found.recovered:
            del found.unknown[name]
        for name, why in self._changed.causes(found.unknown).items():
            found.unknown[name] = found.unknown[name] or why
        return found

    def _take_habits(self, found: Matched) -> None:
        sheet = _ways_by_core((*found.exact, *found.unknown))
        ways = Counter(written(name).doubtful for name in found.unknown if _has_figure(name))
        fits = Counter(written(name).doubtful for name in found.unknown if _has_figure(name) and self._fitting(name))
        usual = {way for way, count in ways.items() if fits[way] >= MOST * count}
        for name in list(found.unknown):
            pegs = {self._painted[other] for other in self._fitting(name)}
            used = min((_differ(name, other) for other in self._fitting(name)), key=_fewest, default=frozenset())
            beside = next((n for n in sheet[written(name).core] if _differ(name, n)), None)
            if len(pegs) != 1:
                found.unknown[name] = f"it may be {either(pegs)}" if pegs else ""
            elif used & self._telling:
                found.unknown[name] = "other pegs here are told apart that way"
            elif beside:
                found.unknown[name] = f'"{beside}" stands in the same sheet'
            elif used and written(name).doubtful not in usual:
                found.unknown[name] = f'it may not be "{pegs.pop()}": most names written that way are no pegs'
            else:
                found.by_habit[name] = pegs.pop()
        for name in found.by_habit:
            del found.unknown[name]

    def _fitting(self, name: str) -> list[str]:
        """Names of pegs that differ from this one by habits alone."""
        return self._by_core.get(written(name).core, [])


def _ways_by_core(names: Iterable[str]) -> dict[str, list[str]]:
    """Of names with the same core, the first of each way of writing it."""
    ways: defaultdict[str, dict[frozenset[str], str]] = defaultdict(dict)
    for name in sorted(names):
        ways[written(name).core].setdefault(written(name).doubtful, name)
    return {core: list(found.values()) for core, found in ways.items()}


def _differ(first: str, second: str) -> frozenset[str]:
    return written(first).doubtful ^ written(second).doubtful


def _fewest(habits: frozenset[str]) -> tuple[int, list[str]]:
    return len(habits), sorted(habits)


def _has_figure(name: str) -> bool:
    return any(letter.isdigit() for letter in written(name).core)


def either(names: Collection[str]) -> str:
    """Names to choose from, as messages list them."""
    return " or ".join(f'"{name}"' for name in sorted(names))
