"""A group of readings rewritten without each mistake in turn, and how far that improves the fit.

A mistake is believed if the group then fits, and fits better by more than chance and other mistakes would have it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from survey.arrays import FloatArray
from survey.checks.systematic.groups import Group
from survey.checks.systematic.hypotheses import LIKELY_CHANGE, MIRRORED, Hypothesis
from survey.checks.systematic.reference import CAPPED
from survey.records.fieldbook import Fieldbook
from survey.records.readings import Reading
from survey.records.soundings import Soundings
from survey.reduction.reduce import reduce_soundings

CostOf = Callable[[Soundings], tuple[FloatArray, FloatArray]]
"""Capped squared misfit of each sounding, and its miss in metres."""

FITS_MEAN = 2.2
EXPLAINED = 0.5
"""Of what the readings cost beyond their errors, so much has to go."""
LEAST_GAIN = (20.0, 25.0)
"""Of a group, of a peg: pegs are many, and many others are tried for each."""
EXPECTED_GAIN = 8.0
"""A mistake that other evidence points to needs this much less gain."""
GAIN_Z = 3.0
CLEAR_GAIN, CLEAR_Z = 8.0, 2.0
"""By so much, and so many times its error, the best explanation has to beat the next to be the only one named."""
MOST_ALIKE = 2
"""Most kinds of mistakes, or pegs, that may explain a group equally well; with more, none is reported."""


@dataclass(frozen=True)
class FitCost:
    """What readings cost, written in one way.

    Parameters
    ----------
    cost : ndarray, shape (n,)
        Capped squared misfit; rows in order.
    miss_m : ndarray, shape (n,)
        Depth less what the bed has there; nan where there is no place on the water.
    """

    cost: FloatArray
    miss_m: FloatArray


@dataclass(frozen=True)
class Diagnosis:
    """A group, and what explains it.

    Parameters
    ----------
    group : Group
        The readings looked at.
    hypotheses : tuple of Hypothesis
        The best first; more than one where the readings cannot tell them apart.
    before, after : FitCost
        As written, and with the best undone.
    """

    group: Group
    hypotheses: tuple[Hypothesis, ...]
    before: FitCost
    after: FitCost

    @property
    def is_change(self) -> bool:
        """Whether the bed may have changed: then the readings are no mistake."""
        return any(hypothesis.code == LIKELY_CHANGE for hypothesis in self.hypotheses)

    @property
    def gain(self) -> float:
        """How much better the readings fit, in squared standard deviations."""
        return float(self.before.cost.sum() - self.after.cost.sum())


HypothesisTest = tuple[Hypothesis, FitCost]


def costs_under(
    group: Group, book: Fieldbook, hypotheses: Iterable[Hypothesis], cost_of: CostOf
) -> tuple[FitCost, tuple[HypothesisTest, ...]]:
    """What a group's readings cost as written, and with each mistake undone that is possible."""
    book = replace(book, readings=group.readings, edges=())
    written = [(h, new) for h in hypotheses if (new := h.rewrite(book)) is not None]
    before, *after = _costs_of([book, *(new for _, new in written)], cost_of)
    return before, tuple(zip([h for h, _ in written], after, strict=True))


def _costs_of(books: Sequence[Fieldbook], cost_of: CostOf) -> list[FitCost]:
    """Each reading of fieldbooks that write the same rows in several ways.

    One without a place on the water costs the most there is; one that went into a bracket with another, nothing.
    """
    order = {place: n for n, place in enumerate(sorted(reading.place for reading in books[0].readings))}
    cost, miss = np.full((len(books), len(order)), CAPPED), np.full((len(books), len(order)), np.nan)
    for alike in _with_one_venue(books):
        cells: dict[tuple[str, int | None], tuple[int, int]] = {}
        readings = []
        for k in alike:
            for reading in books[k].readings:
                apart = _apart(reading, k)
                cells[apart.place.file, apart.place.row] = k, order[reading.place]
                readings.append(apart)
        soundings, findings = reduce_soundings(replace(books[alike[0]], readings=tuple(readings)))
        table = soundings.table.loc[soundings.table["use"].to_numpy(bool)]
        for finding in findings:
            if finding.code == "bracketed":
                cost[cells[finding.place.file, finding.place.row]] = 0.0
        if len(table):
            at = tuple(np.array([cells[row] for row in zip(table["file"], table["row"], strict=True)]).T)
            cost[at], miss[at] = cost_of(Soundings(table))
    return [FitCost(c, m) for c, m in zip(cost, miss, strict=True)]


def _with_one_venue(books: Sequence[Fieldbook]) -> list[list[int]]:
    """Indices of fieldbooks that agree in venue and levels, so that their readings can be reduced together."""
    groups: list[list[int]] = []
    for k, book in enumerate(books):
        fits = (g for g in groups if books[g[0]].venue == book.venue and books[g[0]].levels == book.levels)
        group = next(fits, None)
        if group is None:
            groups.append([k])
        else:
            group.append(k)
    return groups


def _apart(reading: Reading, k: int) -> Reading:
    """As written on a sheet of its own by somebody else: nothing joins it with the other ways to write it."""
    place = replace(reading.place, file=f"{k} / {reading.place.file}")
    return replace(reading, place=place, observer=f"{k} / {reading.observer}" if reading.observer.strip() else "")


def diagnosis(group: Group, before: FitCost, tests: Sequence[HypothesisTest]) -> Diagnosis | None:
    """The mistakes that explain a group, if any does: one, or a few that explain it alike."""
    explaining = [test for test in tests if _explains(group, before.cost, *test)]
    # A cause comes before a mere amount.
    why = sorted((t for t in explaining if not t[0].gives_way), key=lambda t: t[1].cost.sum())
    much = sorted((t for t in explaining if t[0].gives_way), key=lambda t: t[1].cost.sum())
    if not why:
        return Diagnosis(group, tuple(h for h, _ in much[:1]), before, much[0][1]) if much else None
    best = why[0][1]
    alike = [(h, p) for h, p in why if not _clearly(group, p.cost - best.cost, CLEAR_GAIN, CLEAR_Z)]
    if all(h.is_fitted for h, _ in alike):
        alike += [test for test in why if not test[0].is_fitted][:1]
    if group.kind == "patch":
        alike = _two_of(alike)
    better = [(h, p) for h, p in much[:1] if _clearly(group, best.cost - p.cost, CLEAR_GAIN, CLEAR_Z)]
    if len({h.code for h, _ in alike}) > MOST_ALIKE or (len(alike) > MOST_ALIKE and group.is_peg):
        return None
    return Diagnosis(group, tuple(h for h, _ in [*alike, *better]), before, best)


def together(found: Sequence[Diagnosis]) -> list[Diagnosis]:
    """Diagnoses in their order, those of pegs that were mirrored made one, where the first of them stood."""
    is_turned = [one.group.is_peg and {h.code for h in one.hypotheses} == {MIRRORED} for one in found]
    turned = [one for one, so in zip(found, is_turned, strict=True) if so]
    rest = [one for one, so in zip(found, is_turned, strict=True) if not so]
    if turned:
        rest.insert(is_turned.index(True), _all_of(turned))
    return rest


def _all_of(found: Sequence[Diagnosis]) -> Diagnosis:
    """Diagnoses of the same mistake as one of all their readings."""
    names = sorted({reading.peg for one in found for reading in one.group.readings})
    group = Group(found[0].group.kind, ", ".join(names), tuple(r for one in found for r in one.group.readings))
    before, after = (
        FitCost(np.concatenate([fit.cost for fit in fits]), np.concatenate([fit.miss_m for fit in fits]))
        for fits in ([one.before for one in found], [one.after for one in found])
    )
    return Diagnosis(group, found[0].hypotheses, before, after)


def _two_of(alike: list[HypothesisTest]) -> list[HypothesisTest]:
    """The change of the bed and the best of what it cannot be told from; more need not be listed."""
    first = {hypothesis.code: (hypothesis, fitted) for hypothesis, fitted in reversed(alike)}
    others = [test for test in alike if first[test[0].code] == test and test[0].code != LIKELY_CHANGE]
    return [*([first[LIKELY_CHANGE]] if LIKELY_CHANGE in first else []), *others][:MOST_ALIKE]


def _explains(group: Group, before: FloatArray, hypothesis: Hypothesis, fitted: FitCost) -> bool:
    after = fitted.cost
    fits = after.mean() <= min(FITS_MEAN, before.mean() - EXPLAINED * (before.mean() - 1.0))
    least = LEAST_GAIN[group.is_peg] - (EXPECTED_GAIN if hypothesis.is_expected else 0.0)
    return bool(fits and _clearly(group, before - after, least, GAIN_Z))


def _clearly(group: Group, gain: FloatArray, least: float, times: float) -> bool:
    """Whether a gain is large, and beyond what chance makes of it.

    Readings of one peg lean on the same bed and the same aim, so chance is told from the pegs that lose: if they
    lose by chance as many gain by it, and the variance is twice the sum of squared losses.
    """
    readings = sorted(group.readings, key=lambda reading: reading.place)
    blocks = [str(reading.place) if group.is_peg else reading.peg for reading in readings]
    _, which = np.unique(blocks, return_inverse=True)
    sums = np.bincount(which.reshape(-1), weights=gain)
    chance = float(np.sqrt(2.0 * (np.minimum(sums, 0.0) ** 2).sum()))
    return bool(sums.sum() >= max(least, times * chance))
