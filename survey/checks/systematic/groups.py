"""Groups of readings that do not fit as a whole: sheets, observers, days and pegs, the least fitting first."""

from __future__ import annotations

import zlib
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from survey.checks.systematic.hypotheses import Hypothesis
from survey.checks.systematic.reference import CAPPED, TROUBLED, ReferenceBed, Residual
from survey.errors import SourceRow
from survey.records.fieldbook import Fieldbook
from survey.records.readings import Cast, FloatSeen, Reading

LEAST = 4
"""Readings of a group."""
DOUBTFUL_AT_FIRST_Z, SUSPECT_SHARE_AT_FIRST = 2.0, 0.1
"""A group is looked at more closely from this share of rows so far off or with no place on the water."""
SUSPECT_MEAN, SUSPECT_SHARE = 1.8, 0.25
"""A peg: if its readings cost so much on average, or from this share that do not fit."""
HARDLY = 17.0
"""A peg whose readings cost so much together may gain enough if left and right were swapped."""
LEAST_STRETCH, STRETCH_Z, HELD_Z = 0.04, 2.5, 3.0
"""Distances too long by half of what yards and metres differ by, if that is so many times its error; a single
reading counts no further than the last."""
MOST_SUSPECTS = 15


@dataclass(frozen=True)
class Group:
    """Readings that may share a mistake.

    Parameters
    ----------
    kind : {"sheet", "observer", "day", "peg", "patch"}
    name : str
    readings : tuple of Reading
    """

    kind: str
    name: str
    readings: tuple[Reading, ...]

    @cached_property
    def rows(self) -> frozenset[SourceRow]:
        """Where they stand."""
        return frozenset(reading.place for reading in self.readings)

    @property
    def is_peg(self) -> bool:
        """Readings of one peg: few, and as many groups as there are pegs."""
        return self.kind == "peg"

    def some(self, most: int) -> Group:
        """At most so many of them, drawn by their contents, so that the order of rows does not matter."""
        if len(self.readings) <= most:
            return self
        drawn = sorted(self.readings, key=_draw)[:most]
        return replace(self, readings=tuple(drawn))


def _draw(reading: Reading) -> tuple[int, SourceRow]:
    written = f"{reading.peg} {reading.where} {reading.depth_m} {reading.setting_m} {reading.when}"
    return zlib.crc32(written.encode()), reading.place


Sorts = tuple[tuple[str, Callable[[Reading], str]], ...]
SHEETS: Sorts = (
    ("sheet", lambda reading: reading.place.file),
    ("observer", lambda reading: reading.observer.strip()),
    ("day", lambda reading: reading.when.day if reading.when else ""),
)


def _by_peg(reading: Reading) -> str:
    day = [reading.when.day] if reading.when else []
    return ", ".join([reading.peg, reading.place.file, *day]) if reading.peg else ""


PEGS: Sorts = (("peg", _by_peg),)


@dataclass(frozen=True)
class SuspectGroup:
    """A group that may be wrong as a whole.

    Parameters
    ----------
    group : Group
    cost : float
        Mean cost of its readings by the plain bed without it.
    miss_m : float
        How much deeper than that bed they are, median.
    hardly : bool
        A peg that fits nearly as it should: left written for right may still fit better.
    hypotheses : tuple of Hypothesis
        What may explain it, where that is found with it.
    rivals : frozenset of (str, str)
        Kind and name of other groups that these readings cannot be told from.
    """

    group: Group
    cost: float
    miss_m: float
    hardly: bool = False
    hypotheses: tuple[Hypothesis, ...] = ()
    rivals: frozenset[tuple[str, str]] = frozenset()


def suspect_groups(sorts: Sorts, fieldbook: Fieldbook, reference: ReferenceBed) -> list[SuspectGroup]:
    """Groups of which a good part does not fit, the least fitting first, none twice.

    Parameters
    ----------
    sorts : Sorts
        Ways to sort readings into groups.
    fieldbook : Fieldbook
    reference : ReferenceBed
        Rows thinned out of it are not counted.
    """
    used = [reading for reading in fieldbook.readings if reading.use]
    found: dict[frozenset[SourceRow], SuspectGroup] = {}
    for kind, key in sorts:
        groups = [group for group in _groups(kind, key, used) if len(group.readings) >= LEAST]
        misfits = reference.cross_validate([group.rows for group in groups])
        for group in groups:
            suspect = _suspect(group, misfits, reference.thinned_out)
            if suspect:
                found.setdefault(group.rows, suspect)
    return sorted(found.values(), key=lambda one: (-one.cost, one.group.kind, one.group.name))[:MOST_SUSPECTS]


def _suspect(
    group: Group, misfits: Mapping[SourceRow, Residual], thinned_out: frozenset[SourceRow]
) -> SuspectGroup | None:
    # Bounds take no part unless two of them made a depth.
    judged = [r for r in group.readings if (r.seen in {None, FloatSeen.STANDS} and not r.limit) or r.place in misfits]
    judged = [r for r in judged if r.place not in thinned_out]
    placed = [(r, misfits[r.place]) for r in judged if r.place in misfits]
    if not judged:
        return None
    z = np.append([misfit.z for _, misfit in placed], np.full(len(judged) - len(placed), np.inf))
    squares = np.minimum(z**2, CAPPED)
    hardly = False
    if group.is_peg:
        is_doubtful = squares.mean() >= SUSPECT_MEAN or np.mean(squares > TROUBLED) >= SUSPECT_SHARE
        hardly = not is_doubtful and squares.sum() >= HARDLY
        is_doubtful = is_doubtful or hardly
    else:
        is_doubtful = np.mean(squares > DOUBTFUL_AT_FIRST_Z**2) >= SUSPECT_SHARE_AT_FIRST or _is_stretched(placed)
    miss = float(np.median([misfit.miss_m for _, misfit in placed])) if placed else 0.0
    return SuspectGroup(group, float(squares.mean()), miss, hardly) if is_doubtful else None


def _is_stretched(placed: Sequence[tuple[Reading, Residual]]) -> bool:
    """Whether the casts' distances seem all too long, or too short, by a share that a unit could make.

    Depths missed are regressed on what the bed gains for a share of the cast. Those of one peg lean on the same
    bed, so the error is taken from how the pegs differ.
    """
    casts = [(r.peg, r.where.distance_m * m.climb / m.sd_m, m.z) for r, m in placed if isinstance(r.where, Cast)]
    if not casts:
        return False
    pegs = sorted({peg for peg, _, _ in casts})
    gain = np.array([sum(x * np.clip(z, -HELD_Z, HELD_Z) for p, x, z in casts if p == peg) for peg in pegs])
    weight = np.array([sum(x * x for p, x, _ in casts if p == peg) for peg in pegs])
    share = float(gain.sum() / max(weight.sum(), 1e-9))
    sd = float(np.sqrt(((gain - share * weight) ** 2).sum()) / max(weight.sum(), 1e-9))
    return abs(share) >= LEAST_STRETCH and abs(share) >= STRETCH_Z * sd


def _groups(kind: str, key: Callable[[Reading], str], readings: Iterable[Reading]) -> list[Group]:
    members: defaultdict[str, list[Reading]] = defaultdict(list)
    for reading in readings:
        members[key(reading)].append(reading)
    return [Group(kind, name, tuple(members[name])) for name in sorted(set(members) - {""})]
