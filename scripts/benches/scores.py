"""Every method on one survey: its errors, whether its ranges hold, what it cost."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from scripts.benches.lakes import Survey
from scripts.benches.measure import Cost, measured
from scripts.benches.peers import Answer, Peer, merged
from survey.depth_model.fitting import fit_lake
from survey.depth_model.model import LakeModel
from survey.depth_model.observations import observations_from
from survey.geometry.water import WaterGeometry
from survey.records.soundings import Soundings
from survey.records.venue import Venue

BED = "bed"
QUANTILES = {"hold50": 0.674490, "hold80": 1.281552, "hold95": 1.959964}
SHORE_SPACING_M = 5.0
LIMIT_S = 120.0
"""A method that takes longer for one survey is reported as not done."""
FAR_LEAST = 100
"""Water beyond reach is judged where at least so many of the spots lie there."""
WHERE = ("within", "whole", "far")
NAN = float("nan")


@dataclass(frozen=True)
class Row:
    """One method on one survey; errors (root mean square) in metres."""

    lake: str
    kind: str
    choosing: bool
    dense: bool
    sure: bool
    method: str
    readings: int
    within: float = NAN
    whole: float = NAN
    far: float = NAN
    hold50: float = NAN
    hold80: float = NAN
    hold95: float = NAN
    beyond95: float = NAN
    log_score: float = NAN
    seconds: float = NAN
    memory_mb: float = NAN
    fault: str = ""

    @property
    def survey(self) -> str:
        """Lake and how closely it was surveyed."""
        return f"{self.lake}, {'dense' if self.dense else 'sparse'}"

    @property
    def peer(self) -> str:
        """Method without its case."""
        return self.method.removesuffix(" + shore")


def fitted(venue: Venue, soundings: Soundings) -> LakeModel:
    """The lake's model from the start: water, evidence, fit."""
    frame = WaterGeometry(venue.water)
    return fit_lake(frame, observations_from(venue, soundings, frame))


def measure(survey: Survey, peers: dict[str, Peer], limit_s: float = LIMIT_S) -> Iterator[Row]:
    """The bed, and every peer in its two cases: readings alone, and with points of the shore at depth nought."""
    yield _row(survey, BED, measured(lambda: fitted(survey.venue, survey.soundings).predict(survey.at), limit_s))
    alone = merged(survey.soundings.xy, survey.soundings.table["depth_m"].to_numpy(float))
    shore = WaterGeometry(survey.venue.water).shore_points(SHORE_SPACING_M)
    with_shore = merged(np.vstack([alone[0], shore]), np.append(alone[1], np.zeros(len(shore))))
    for name, peer in peers.items():
        for case, data in (("", alone), (" + shore", with_shore)):
            yield _row(survey, name + case, measured(lambda p=peer, d=data: p(*d, survey.at), limit_s))


def _row(survey: Survey, method: str, cost: Cost) -> Row:
    head = {name: getattr(survey, name) for name in ("lake", "kind", "choosing", "dense")}
    head |= {"sure": survey.truth_sd == 0.0, "method": method, "readings": len(survey.soundings)}
    if cost.fault:
        return Row(**head, fault=cost.fault)
    scores = {**_errors(survey, cost.result[0]), **_ranges(survey, cost.result)}
    return Row(**head, **scores, seconds=cost.seconds, memory_mb=cost.memory_mb)


def _errors(survey: Survey, depth: np.ndarray) -> dict[str, float]:
    squared, far = (depth - survey.truth) ** 2, ~survey.near
    return {
        "within": float(np.sqrt(squared[survey.near].mean())),
        "whole": float(np.sqrt(squared.mean())),
        "far": float(np.sqrt(squared[far].mean())) if far.sum() >= FAR_LEAST else NAN,
    }


def _ranges(survey: Survey, answer: Answer) -> dict[str, float]:
    """Shares of the truth inside the stated ranges, and the mean log density of the truth within reach."""
    depth, sd = answer
    if sd is None:
        return {}
    sd, far = np.hypot(sd, survey.truth_sd), ~survey.near
    z = np.abs(depth - survey.truth) / sd
    score = -0.5 * z**2 - np.log(sd) - 0.5 * np.log(2 * np.pi)
    held = {name: float(np.mean(z[survey.near] < q)) for name, q in QUANTILES.items()}
    beyond = float(np.mean(z[far] < QUANTILES["hold95"])) if far.sum() >= FAR_LEAST else NAN
    return {**held, "beyond95": beyond, "log_score": float(score[survey.near].mean())}


@dataclass(frozen=True)
class Compared:
    """The bed on one survey against the best of all peers there, in one part of the water."""

    survey: str
    where: str
    bed: float
    best: float
    peer: str

    @property
    def ratio(self) -> float:
        """Error of the bed in units of the best peer's."""
        return self.bed / self.best


def compared(rows: Iterable[Row], where: str) -> list[Compared]:
    """One comparison a survey; surveys with no such water, or on which the bed or all peers failed, are left out."""
    by_survey: dict[str, list[Row]] = {}
    for row in rows:
        if np.isfinite(getattr(row, where)):
            by_survey.setdefault(row.survey, []).append(row)
    found = []
    for name, same in by_survey.items():
        bed = [r for r in same if r.method == BED]
        peers = [r for r in same if r.method != BED]
        if bed and peers:
            best = min(peers, key=lambda r: getattr(r, where))
            found.append(Compared(name, where, getattr(bed[0], where), getattr(best, where), best.method))
    return found


def better_case(rows: Iterable[Row], key: str = "whole") -> list[Row]:
    """Of each peer's two cases on each survey, the one with the smaller error."""
    best: dict[tuple[str, str], Row] = {}
    for row in rows:
        at = (row.survey, row.peer)
        if np.isfinite(getattr(row, key)) and (at not in best or getattr(row, key) < getattr(best[at], key)):
            best[at] = row
    return list(best.values())


def geometric(values: Iterable[float]) -> float:
    """Geometric mean; nan of nothing."""
    logs = np.log(np.array(list(values), float))
    return float(np.exp(logs.mean())) if len(logs) else NAN
