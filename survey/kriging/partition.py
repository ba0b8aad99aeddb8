"""Large surveys in patches: every spot is answered from the data round it, without seams.

Up to :data:`EXACT` data there is one patch and everything is exact. Knows nothing of soundings.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import DTypeLike, NDArray

from survey.arrays import FloatArray, Index
from survey.geometry.water import Locations
from survey.kriging.covariance import CandidateModel
from survey.kriging.data import ConditioningData
from survey.kriging.likelihood import Theta
from survey.kriging.posterior import Posterior

EXACT = 700
"""So many data condition the bed all at once; more are taken in patches (cost grows with the cube)."""
LARGE = 2500
"""More data than this are fitted patch by patch, and patches may reach over less than :data:`BLEND_M`."""
OWN = 150
"""A patch is halved until it holds no more data of its own than this."""
ROUND_ABOUT = 150
"""Data outside a patch that count for it too: the nearest to it."""
AT_A_TIME = 4096
"""Spots answered at a time: bounds memory on large surveys."""
BLEND_M = 10.0
"""Over this distance from its border a patch gives way to the next."""
BLEND_SHARE = 0.5
"""But over no more than this share of its shorter side: where readings are dense patches are small, and would
otherwise all speak everywhere."""
LEAST_BLEND_M = 1.0
MOST_KEPT = 64
"""With more patches than this each frees its matrices when its work is done, and remakes them if needed again."""
BOXES_AT_FIRST = 16
"""So many of the nearest patches are looked through for data round about before more are."""


@dataclass(frozen=True)
class Halving:
    """A rectangle halved: ``low`` lies on the smaller side of ``cut`` along an axis. Leaves are numbers of patches."""

    axis: int
    cut: float
    low: Halving | int
    high: Halving | int


@dataclass(frozen=True)
class Partition:
    """Rectangles that tile the plane, and the data used in each.

    Parameters
    ----------
    boxes : ndarray, shape (k, 4)
        West, south, east, north; the outermost reach to infinity.
    uses : tuple of ndarray of int
        For each, indices of data within and of those round about.
    blend_m : ndarray, shape (k,)
        How far each speaks beyond its border, metres.
    tree : Halving or int
        How the plane was halved.
    """

    boxes: FloatArray
    uses: tuple[Index, ...]
    blend_m: FloatArray
    tree: Halving | int

    @staticmethod
    def over(xy: FloatArray) -> Partition:
        """Patches for data at places, shape (n, 2): halved across the longer side, data for data."""
        everything, endless = np.arange(len(xy)), np.array([-np.inf, -np.inf, np.inf, np.inf])
        if len(xy) <= EXACT:
            return Partition(endless[None, :], (everything,), np.array([BLEND_M]), 0)
        boxes: list[FloatArray] = []
        own: list[Index] = []
        tree = _halved(xy, everything, endless, (boxes, own))
        if len(boxes) == 1:
            return Partition(endless[None, :], (everything,), np.array([BLEND_M]), 0)
        tiles = np.array(boxes)
        sides = np.array([np.ptp(xy[index], axis=0).min() for index in own])
        blend = np.clip(BLEND_SHARE * sides if len(xy) > LARGE else BLEND_M, LEAST_BLEND_M, BLEND_M)
        blend = np.broadcast_to(blend, len(tiles))
        return Partition(tiles, tuple(_speaking(xy, tiles, own)), blend, tree)

    def __len__(self) -> int:
        return len(self.boxes)

    def home(self, xy: FloatArray) -> Index:
        """The patch in which each spot lies, shape (n,)."""
        out = np.zeros(len(xy), np.intp)
        for patch, some in _leaves(self.tree, xy, np.arange(len(xy)), 0.0):
            out[some] = patch
        return out

    def shares(self, xy: FloatArray) -> list[tuple[int, Index, FloatArray]]:
        """Which patches count at which spots, and how much: each spot's shares add up to one.

        Returns
        -------
        list of (int, ndarray, ndarray)
            Patch, indices of spots, shares; patches in their order.
        """
        if len(self) == 1:
            return [(0, np.arange(len(xy)), np.ones(len(xy)))]
        said, total = [], np.zeros(len(xy))
        for patch, some in _leaves(self.tree, xy, np.arange(len(xy)), float(self.blend_m.max())):
            weight = np.maximum(1.0 - _distance(self.boxes[patch], xy[some]) / self.blend_m[patch], 0.0)
            weight = weight**2 * (3.0 - 2.0 * weight)
            total[some] += weight
            said.append((patch, some[weight > 0], weight[weight > 0]))
        return [(patch, some, weight / total[some]) for patch, some, weight in said if len(some)]

    def lots(self, xy: FloatArray, size: int = AT_A_TIME) -> list[Index]:
        """Indices of spots in batches that lie together, so that few patches count for each."""
        order = np.argsort(self.home(xy), kind="stable")
        return [order[k : k + size] for k in range(0, len(order), size)]

    def own_last(self, xy: FloatArray) -> Partition:
        """The same with what lies in each patch at the end of what it uses; ``xy`` are the places of the data."""
        home = self.home(xy)
        uses = (np.concatenate([u[home[u] != k], u[home[u] == k]]) for k, u in enumerate(self.uses))
        return replace(self, uses=tuple(uses))

    def keeping(self, kept: NDArray[np.bool_]) -> Partition:
        """The same patches over those of the data that are kept, a bool for each; indices are into what is left."""
        place = np.cumsum(kept) - 1
        return replace(self, uses=tuple(place[uses[kept[uses]]] for uses in self.uses))


def _halved(
    xy: FloatArray, index: Index, box: FloatArray, found: tuple[list[FloatArray], list[Index]]
) -> Halving | int:
    """Halve a box; boxes of leaves, and their data, are added to ``found``."""
    cut = _cut(xy[index]) if len(index) > OWN else None
    if cut is None:
        found[0].append(box)
        found[1].append(index)
        return len(found[0]) - 1
    axis, at = cut
    left = xy[index, axis] < at
    low, high = box.copy(), box.copy()
    low[2 + axis] = high[axis] = at
    return Halving(axis, at, _halved(xy, index[left], low, found), _halved(xy, index[~left], high, found))


def _cut(xy: FloatArray) -> tuple[int, float] | None:
    """Axis and coordinate that part the data as evenly as may be; None if all are on one spot."""
    for axis in np.argsort(-np.ptp(xy, axis=0), kind="stable").tolist():
        along = xy[:, axis]
        middle = float(np.median(along))
        if (along < middle).any():
            return axis, middle
        if (above := along[along > middle]).size:  # half or more at the least coordinate
            return axis, (middle + float(above.min())) / 2.0
    return None


def _leaves(tree: Halving | int, xy: FloatArray, some: Index, beyond_m: float) -> Iterator[tuple[int, Index]]:
    """Patches, and the spots that lie in them or within a square of ``beyond_m`` round them.

    A spot on a cut lies on its smaller side.
    """
    if not len(some):
        return
    if isinstance(tree, int):
        yield tree, some
        return
    along = xy[some, tree.axis] - tree.cut
    yield from _leaves(tree.low, xy, some[along <= beyond_m], beyond_m)
    yield from _leaves(tree.high, xy, some[along > -beyond_m], beyond_m)


def _distance(box: FloatArray, xy: FloatArray) -> FloatArray:
    """Distance of spots from a rectangle, shape (n,), nought inside."""
    out = np.maximum(np.maximum(box[:2] - xy, xy - box[2:]), 0.0)
    return np.asarray(np.hypot(out[:, 0], out[:, 1]))


def _speaking(xy: FloatArray, boxes: FloatArray, own: Sequence[Index]) -> Iterator[Index]:
    """For each box the data in it and those nearest round it."""
    for box in boxes:
        apart = np.maximum(np.maximum(box[:2] - boxes[:, 2:], boxes[:, :2] - box[2:]), 0.0)
        apart = np.hypot(apart[:, 0], apart[:, 1])
        order, wanted, done = np.argsort(apart, kind="stable"), BOXES_AT_FIRST, False
        while not done:
            index = np.sort(np.concatenate([own[k] for k in order[:wanted]]))
            distance = _distance(box, xy[index])
            outside = np.flatnonzero(distance > 0.0)
            nearest = outside[np.argsort(distance[outside], kind="stable")[:ROUND_ABOUT]]
            # Boxes beyond the last of these hold nothing nearer.
            full = len(nearest) == ROUND_ABOUT and wanted < len(boxes)
            done = wanted >= len(boxes) or (full and bool(apart[order[wanted]] > distance[nearest[-1]]))
            wanted *= 2
        yield np.sort(np.concatenate([index[nearest], index[distance == 0.0]]))


@dataclass(frozen=True)
class TiledPosterior:
    """A member conditioned on data, patch by patch.

    Parameters
    ----------
    data : ConditioningData
    partition : Partition
        Over the data's places.
    fits : tuple of Posterior
        One a patch.
    alone : tuple of ndarray, optional
        Each datum as all the others would have it, and its variance, shapes (n,), if that was worked out already.
    """

    data: ConditioningData
    partition: Partition
    fits: tuple[Posterior, ...]
    alone: tuple[FloatArray, FloatArray] | None = None

    @staticmethod
    def on(
        member: CandidateModel, theta: Theta, data: ConditioningData, partition: Partition, *, across: bool
    ) -> TiledPosterior:
        """Condition a member on the data of every patch."""
        fits = tuple(Posterior(member, theta, data.take(uses), across) for uses in partition.uses)
        return TiledPosterior(data, partition, fits)

    @property
    def theta(self) -> Theta:
        """Parameters, the same in every patch."""
        return self.fits[0].theta

    def mean(self, places: Locations, profile: FloatArray, dtype: DTypeLike = np.float64) -> FloatArray:
        """Expected depth at places, shape (m,), metres; float32 is ample but for small differences."""
        out = np.zeros(len(places))
        for lot in self.partition.lots(places.xy):
            for patch, at, share in self.partition.shares(places.xy[lot]):
                some = lot[at]
                out[some] += share * self.fits[patch].mean(places.take(some), profile[some], dtype)
                self.rest(patch)
        return out

    def rest(self, patch: int) -> None:
        """Free the matrices of a patch, if there are many."""
        if len(self.fits) > MOST_KEPT:
            self.fits[patch].drop_factors()

    def cross_validate(
        self, groups: Sequence[Index], wanted: NDArray[np.bool_] | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Each datum as predicted without its group: :meth:`survey.kriging.posterior.Posterior.cross_validate`.

        With ``wanted``, a bool for each datum, the others may stay nan.
        """
        predicted, spread = np.full(len(self.data), np.nan), np.full(len(self.data), np.nan)
        if self.alone is not None and all(len(group) == 1 for group in groups):
            single = np.concatenate(groups) if len(groups) else np.empty(0, np.intp)
            predicted[single], spread[single] = self.alone[0][single], self.alone[1][single]
            return predicted, spread
        home = self.partition.home(self.data.places.xy)
        of_patch: defaultdict[int, list[Index]] = defaultdict(list)
        for group in groups:
            for patch in np.unique(home[group if wanted is None else group[wanted[group]]]).tolist():
                of_patch[patch].append(group)
        inside = np.full(len(self.data), -1)
        for patch, here in sorted(of_patch.items()):
            uses, fit = self.partition.uses[patch], self.fits[patch]
            inside[uses] = np.arange(len(uses))
            local = [inside[g][inside[g] >= 0] for g in here]
            inside[uses] = -1
            mean, var = fit.cross_validate(local)
            self.rest(patch)
            mine = home[uses] == patch
            predicted[uses[mine]], spread[uses[mine]] = mean[: len(uses)][mine], var[: len(uses)][mine]
        return predicted, spread
