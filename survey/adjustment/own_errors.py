"""What single readings err by, by source: of one observer, and declared or assumed.

A source's size is found from the readings, so one who casts well is not weighed like one who casts badly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from survey.adjustment.error_sizes import SizeSource
from survey.arrays import Flags, FloatArray, Index

LEAST_TOLD = 60
"""An observer with fewer readings is taken for one of the others: so few hardly tell him apart."""
MOST_TOLD = 8
"""Nor are more observers told apart: a fit looks at a few hundred readings (ours)."""


@dataclass(frozen=True)
class OwnSource:
    """One source of what readings err by singly.

    Parameters
    ----------
    size : SizeSource
    of : ndarray of bool, shape (n,)
        Readings that it touches.
    """

    size: SizeSource
    of: Flags


def own_sources(observers: Sequence[str], is_cast: Flags, declared: Sequence[str]) -> tuple[OwnSource, ...]:
    """Sources of n readings' own errors.

    Parameters
    ----------
    observers : sequence of str
        Of each reading.
    is_cast : ndarray of bool, shape (n,)
        Thrown from a peg: the spots of the others err as a whole.
    declared : sequence of str
        Of each reading the kinds that were declared, not assumed, with spaces between.
    """
    names, who = np.unique(np.array(observers, str), return_inverse=True)
    often = _told_apart(np.bincount(who, minlength=len(names)))
    groups = [(str(name), who == k) for k, name in enumerate(names) if often[k]]
    groups.append(("", ~often[who]))
    touched = {
        "depth": np.ones(len(who), bool),
        "distance": is_cast,
        "direction": is_cast,
        "place": ~is_cast,
    }
    found = []
    for kind, all_of in touched.items():
        told = np.char.find(np.array(declared, str), kind) >= 0
        for name, theirs in groups:
            found += [
                OwnSource(SizeSource(kind, said, name), all_of & theirs & (told == said)) for said in (False, True)
            ]
    return tuple(source for source in found if source.of.any())


def _told_apart(counts: Index) -> Flags:
    """Who of some observers has sources of his own, by how many readings each took; of equals the first by name."""
    most = np.argsort(-counts, kind="stable")[:MOST_TOLD]
    return np.isin(np.arange(len(counts)), most) & (counts >= LEAST_TOLD)


def own_variance(
    sources: Sequence[OwnSource], var: Mapping[str, FloatArray], factors: Mapping[str, float]
) -> FloatArray:
    """Variance of each reading by itself, shape (n,), m2.

    Parameters
    ----------
    sources : sequence of OwnSource
    var : mapping of kind to ndarray, shape (n,)
        What each kind brings at its stated size, m2.
    factors : mapping of str to float
        True over stated size by the name of the source; 1 where none is named.
    """
    out = np.zeros(len(var["depth"]))
    for source in sources:
        out[source.of] += factors.get(source.size.name, 1.0) ** 2 * var[source.size.kind][source.of]
    return out
