"""Error of the bed and its peers as readings become fewer: surveys of three lakes, thinned at random."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from scripts.benches.lakes import Survey, surveys
from scripts.benches.peers import Peer
from scripts.benches.scores import better_case, geometric, measure
from survey.records.soundings import Soundings

LAKES = ("long x0.3", "pfl x0.5", "jacksboro 1")
"""Reported lakes: two real beds and one of relief."""
COUNTS = (25, 50, 100, 200, 400, 800)
EVERY = 2
"""Asked for at every second of the survey's spots."""


@dataclass(frozen=True)
class Thinned:
    """Error over the whole lake (m, geometric mean over the lakes) of one method from so many readings."""

    method: str
    readings: int
    error_m: float


def thinning(peers: dict[str, Peer], seed: int, counts: tuple[int, ...] = COUNTS) -> Iterator[Thinned]:
    """Every method, each peer in its better case, on ever more of the same readings."""
    whole = [next(surveys(few=False, only=name, seed=seed)) for name in LAKES]
    for count in counts:
        if count > min(len(s.soundings) for s in whole):
            print(f"{count} readings: one of the lakes has not so many, left out")
            continue
        rows = [row for survey in whole for row in better_case(measure(_thinned(survey, count, seed), peers))]
        for method in dict.fromkeys(row.peer for row in rows):
            errors = [row.whole for row in rows if row.peer == method]
            if len(errors) == len(whole):
                yield Thinned(method, count, geometric(errors))


def _thinned(survey: Survey, count: int, seed: int) -> Survey:
    # One order for all counts, so that more readings are always the fewer ones and others.
    order = np.random.default_rng(seed).permutation(len(survey.soundings))
    table = survey.soundings.table.iloc[np.sort(order[:count])].reset_index(drop=True)
    some = slice(None, None, EVERY)
    return replace(
        survey, soundings=Soundings(table), at=survey.at[some], truth=survey.truth[some], near=survey.near[some]
    )
