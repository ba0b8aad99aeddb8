"""Large surveys in patches: every spot is answered from the data round it, without seams.

Up to :data:`EXACT` data there is one patch and everything is exact. Knows nothing of soundings.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from survey.covariance import Member
from survey.conditioning import Fitted
from survey.members import Data, Theta
from survey.water import Places

Floats = NDArray[np.float64]
Index = NDArray[np.intp]

EXACT = 700
"""So many data condition the bed all at once; more are taken in patches (cost grows with the cube)."""
OWN = 150
"""A patch is halved until it holds no more data of its own than this."""
ROUND_ABOUT = 150
"""Data outside a patch that speak for it too: the nearest to it."""
AT_A_TIME = 4096
"""Spots whose shares are reckoned at a time: bounds memory on large surveys."""
BLEND_M = 10.0
"""Over this distance from its border a patch gives way to the next."""


@dataclass(frozen=True)
class Patchwork:
    """Rectangles that tile the plane, and the data that speak for each.

    Parameters
    ----------
    boxes : ndarray, shape (k, 4)
        West, south, east, north; the outermost reach to infinity.
    uses : tuple of ndarray of int
        For each, indices of data.
    """

    boxes: Floats
    uses: tuple[Index, ...]

    @staticmethod
    def over(xy: Floats) -> Patchwork:
        """Patches for data at places, shape (n, 2): halved across the longer side, data for data."""
        everything, endless = np.arange(len(xy)), np.array([-np.inf, -np.inf, np.inf, np.inf])
        boxes = [endless] if len(xy) <= EXACT else list(_halved(xy, everything, endless))
        if len(boxes) == 1:
            return Patchwork(endless[None, :], (everything,))
        return Patchwork(np.array(boxes), tuple(_speaking(xy, box) for box in boxes))

    def shares(self, xy: Floats) -> Floats:
        """How much each patch has to say at spots, shape (k, n): columns add up to one."""
        weight = np.stack([np.maximum(1.0 - _distance(box, xy) / BLEND_M, 0.0) for box in self.boxes])
        weight = weight**2 * (3.0 - 2.0 * weight)
        return np.asarray(weight / weight.sum(axis=0))

    def home(self, xy: Floats) -> Index:
        """The patch in which each spot lies, shape (n,)."""
        parts = [xy[k : k + AT_A_TIME] for k in range(0, len(xy), AT_A_TIME)]
        found = [np.stack([_distance(box, part) for box in self.boxes]).argmin(axis=0) for part in parts]
        return np.concatenate(found) if found else np.empty(0, np.intp)

    def lots(self, xy: Floats) -> list[Index]:
        """Indices of spots in lots that lie together, so that few patches speak for each."""
        order = np.argsort(self.home(xy), kind="stable")
        return [order[k : k + AT_A_TIME] for k in range(0, len(order), AT_A_TIME)]


def _halved(xy: Floats, index: Index, box: Floats) -> list[Floats]:
    if len(index) <= OWN:
        return [box]
    axis = int(np.ptp(xy[index], axis=0).argmax())
    cut = float(np.median(xy[index, axis]))
    left = xy[index, axis] < cut
    if not left.any():  # all on one line: no cut parts them
        return [box]
    low, high = box.copy(), box.copy()
    low[2 + axis] = high[axis] = cut
    return [*_halved(xy, index[left], low), *_halved(xy, index[~left], high)]


def _distance(box: Floats, xy: Floats) -> Floats:
    """Distance of spots from a rectangle, shape (n,), nought inside."""
    out = np.maximum(np.maximum(box[:2] - xy, xy - box[2:]), 0.0)
    return np.asarray(np.hypot(out[:, 0], out[:, 1]))


def _speaking(xy: Floats, box: Floats) -> Index:
    distance = _distance(box, xy)
    inside = np.flatnonzero(distance == 0.0)
    outside = np.flatnonzero(distance > 0.0)
    nearest = outside[np.argsort(distance[outside], kind="stable")[:ROUND_ABOUT]]
    return np.sort(np.concatenate([inside, nearest]))


@dataclass(frozen=True)
class Conditioned:
    """A member conditioned on data, patch by patch.

    Parameters
    ----------
    data : Data
    patchwork : Patchwork
        Over the data's places.
    fits : tuple of Fitted
        One a patch.
    """

    data: Data
    patchwork: Patchwork
    fits: tuple[Fitted, ...]

    @staticmethod
    def on(member: Member, theta: Theta, data: Data, patchwork: Patchwork, *, across: bool) -> Conditioned:
        """Condition a member on the data of every patch."""
        fits = tuple(Fitted(member, theta, data.take(uses), across) for uses in patchwork.uses)
        return Conditioned(data, patchwork, fits)

    @property
    def theta(self) -> Theta:
        """Parameters, the same in every patch."""
        return self.fits[0].theta

    def mean(self, places: Places, profile: Floats) -> Floats:
        """Expected depth at places, shape (m,), metres."""
        out = np.zeros(len(places))
        for lot in self.patchwork.lots(places.xy):
            for share, fit in zip(self.patchwork.shares(places.xy[lot]), self.fits, strict=True):
                some = lot[share > 0]
                if len(some):
                    out[some] += share[share > 0] * fit.mean(places.take(some), profile[some])
        return out

    def left_out(self, groups: list[Index]) -> tuple[Floats, Floats]:
        """Each datum as its group's absence would have it; see :meth:`survey.members.Fitted.left_out`."""
        predicted, spread = np.full(len(self.data), np.nan), np.full(len(self.data), np.nan)
        home = self.patchwork.home(self.data.places.xy)
        of_patch: defaultdict[int, list[Index]] = defaultdict(list)
        for group in groups:
            for patch in set(home[group].tolist()):
                of_patch[patch].append(group)
        inside = np.full(len(self.data), -1)
        for patch, (uses, fit) in enumerate(zip(self.patchwork.uses, self.fits, strict=True)):
            inside[uses] = np.arange(len(uses))
            local = [inside[g][inside[g] >= 0] for g in of_patch[patch]]
            inside[uses] = -1
            mean, var = fit.left_out(local)
            mine = home[uses] == patch
            predicted[uses[mine]], spread[uses[mine]] = mean[: len(uses)][mine], var[: len(uses)][mine]
        return predicted, spread
