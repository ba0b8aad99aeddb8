"""The lake's model: several fitted members averaged, mistakes kept from bending it, bounds applied.

This is where evidence becomes depths with a standard deviation; grids and files come later.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from threadpoolctl import threadpool_limits

from survey.arrays import FloatArray
from survey.depth_model.observations import BedSlope, Observations
from survey.depth_model.tiled_fit import factorise
from survey.geometry.water import Locations, WaterGeometry
from survey.kriging.covariance import Separations
from survey.kriging.inequalities import rectified
from survey.kriging.partition import MOST_KEPT, TiledPosterior
from survey.kriging.posterior import Posterior
from survey.processors import threads

ACROSS_WIDER = 1.5
"""Where the nearest reading lies across land, the standard deviation is so much wider."""
RUNS_ON_M = 30.0
"""Beyond the readings the bed is held to level off; that it runs on at its slope, this far at
most, is one standard deviation."""
FORGOTTEN_M, FORGETTING_M = 8.0, 10.0
"""From the first distance beyond the nearest reading on, and over the second, the readings stop telling how
this part of the lake differs from them: its depth may then vary as much again as theirs do."""
LEAST_VAR = 1e-6
"""A reading is predicted to no better than this, m2: rounding may leave less where hundreds share one spot."""
CHUNK = 1024
"""Places a member predicts at a time: bounds memory and fits the cache."""
LOT = 32 * CHUNK
"""Places looked at together, for their distances to shore and sight over water."""


@dataclass(frozen=True)
class LakeModel:
    """Members conditioned on a lake's evidence.

    Parameters
    ----------
    frame : WaterGeometry
    observations : Observations
    kept : ndarray of bool, shape (n,)
        Readings that shaped the bed; the others were set aside as doubtful.
    members : tuple of TiledPosterior
    bed_slope : BedSlope
        The bed about the readings.
    asides : tuple of ndarray, optional
        Indices of readings set aside, the bed there and its variance, if that was worked out with the fit.
    """

    frame: WaterGeometry
    observations: Observations
    kept: NDArray[np.bool_]
    members: tuple[TiledPosterior, ...]
    bed_slope: BedSlope
    asides: tuple[NDArray[np.intp], FloatArray, FloatArray] | None = None

    def predict(self, xy: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Depth below datum and its standard deviation at spots, shapes (m,), metres.

        Both are those of the bed held under water: see :func:`survey.kriging.inequalities.rectified`.
        """
        xy = np.asarray(xy, float).reshape(-1, 2)
        depth, sd = np.empty(len(xy)), np.empty(len(xy))
        with threadpool_limits(1), ThreadPoolExecutor(threads()) as pool:
            before = None
            for lot in [*self.members[0].partition.lots(xy, LOT), None]:
                # Prepared geometries bear one thread only: this one looks at land while the others reckon.
                here = None if lot is None else self._seen(xy[lot])
                if before is not None:
                    some, seen, wanted = before
                    depth[some], sd[some] = self._stated(*seen, *_summed(wanted, len(some)))
                if lot is not None and here is not None:
                    before = lot, here, [(at, pool.submit(ask)) for at, ask in self._asks(here[0])]
        return depth, sd

    def _seen(self, xy: FloatArray) -> tuple[Locations, NDArray[np.bool_]]:
        places = self._places(xy)
        return places, self.across_land(places)

    def _asks(
        self, places: Locations
    ) -> Iterator[tuple[NDArray[np.intp], Callable[[], tuple[FloatArray, FloatArray]]]]:
        """Requests that together give mean and variance at places: indices of some, and what adds to theirs."""
        partition = self.members[0].partition
        if len(partition) > MOST_KEPT:
            for patch, some, share in partition.shares(places.xy):
                yield some, partial(self._one_patch, patch, places.take(some), share)
            return
        home = partition.home(places.xy)
        for patch in np.unique(home):
            here = np.flatnonzero(home == patch)
            for some in (here[k : k + CHUNK] for k in range(0, len(here), CHUNK)):
                yield some, partial(self._all_patches, places.take(some))

    def _all_patches(self, here: Locations) -> tuple[FloatArray, FloatArray]:
        """Mean and variance at places that lie together."""
        profile = self.observations.profile.at(here.shore_m)
        mean, var = np.zeros(len(here)), np.zeros(len(here))
        for patch, some, share in self.members[0].partition.shares(here.xy):
            m, v = self._within([m.fits[patch] for m in self.members], here.take(some), profile[some])
            mean[some] += share * m
            var[some] += share * v
        return mean, var

    def _one_patch(self, patch: int, here: Locations, share: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What one patch adds to mean and variance at places; its matrices are made for it and then freed."""
        fits, profile = factorise([m.fits[patch] for m in self.members]), self.observations.profile.at(here.shore_m)
        lots = (slice(k, k + CHUNK) for k in range(0, len(here), CHUNK))
        mean, var = np.hstack([self._within(fits, here.take(some), profile[some]) for some in lots])
        for fit in fits:
            fit.drop_factors()
        return share * mean, share * var

    @staticmethod
    def _within(fits: list[Posterior], here: Locations, profile: FloatArray) -> tuple[FloatArray, FloatArray]:
        # All members of a patch stand on the same places.
        gaps = Separations.between(fits[0].data.places, here, fits[0].across, np.float32)
        return combined([fit.mean_variance(gaps, here, profile) for fit in fits])

    def _places(self, xy: FloatArray) -> Locations:
        return self.frame.places(xy, self.observations.level_off_m)

    @property
    def floor_m(self) -> float:
        """Least depth, metres: nought, or the edge where the outline was traced above the datum."""
        return float(min(0.0, self.observations.profile.edge_m))

    def unforeseen(self, places: Locations) -> tuple[FloatArray, FloatArray]:
        """Standard deviations, shapes (n,), metres, for what lies beyond the readings.

        Further from shore than they reach the bed may run on (first); far from all of them it may
        differ from theirs (second).
        """
        beyond = np.minimum(places.true_shore_m - places.shore_m, RUNS_ON_M)
        distance, _ = self._readings_tree.query(places.xy)
        forgotten = -np.expm1(-np.maximum(distance - FORGOTTEN_M, 0.0) / FORGETTING_M)
        spread = float(np.std(self.observations.depth_m[self.kept]))
        return abs(self.observations.outer_slope) * beyond, spread * forgotten

    def _stated(
        self, places: Locations, across: NDArray[np.bool_], mean: FloatArray, var: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Depth and standard deviation with what lies beyond the readings, and held under water."""
        runs_on, differs = self.unforeseen(places)
        var = var * np.where(across, ACROSS_WIDER, 1.0) ** 2
        return rectified(mean, np.sqrt(var + runs_on**2 + differs**2), self.floor_m)

    def across_land(self, places: Locations) -> NDArray[np.bool_]:
        """Where the nearest reading is not in sight."""
        if not self.frame.has_land_between:
            return np.zeros(len(places), bool)
        _, nearest = self._readings_tree.query(places.xy)
        return ~self.frame.sight.over_water(places.xy, self.observations.places.xy[self.kept][nearest])

    @cached_property
    def _readings_tree(self) -> cKDTree:
        return cKDTree(self.observations.places.xy[self.kept])

    def cross_validate(
        self, groups: Iterable[NDArray[np.intp]], wanted: NDArray[np.bool_] | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Each reading as the model would have it without its group, shapes (n,), metres.

        The standard deviation is that of the observation, its own noise included. A reading
        that was set aside is predicted from all that were kept.

        Parameters
        ----------
        groups : iterable of ndarray
            Indices of readings that are hidden together.
        wanted : ndarray of bool, shape (n,), optional
            Readings that are asked about: the others may stay nan.
        """
        place_in_data = np.cumsum(self.kept) - 1
        inside = [g for g in (place_in_data[group[self.kept[group]]] for group in groups) if len(g)]
        of_data = None if wanted is None else np.append(wanted[self.kept], np.zeros(len(self.observations.shore), bool))
        with threadpool_limits(1), ThreadPoolExecutor(threads()) as pool:
            found = list(pool.map(lambda m: m.cross_validate(inside, of_data), self.members))
        n = int(self.kept.sum())
        mean, var = combined([(m[:n], v[:n]) for m, v in found])
        out_mean, out_sd = np.full(len(self.kept), np.nan), np.full(len(self.kept), np.nan)
        out_mean[self.kept], out_sd[self.kept] = mean, np.sqrt(np.maximum(var, LEAST_VAR))
        # Told of the depth as it was read, not as it counts for a spot that was moved.
        out_mean -= self.observations.correction_m(self.bed_slope)
        out_mean[~self.kept], out_sd[~self.kept] = self.expected_of_aside()
        return out_mean, out_sd

    def expected_of_aside(self) -> tuple[FloatArray, FloatArray]:
        """What each reading that was set aside should have been, and its standard deviation, metres."""
        aside = np.flatnonzero(~self.kept)
        if self.asides is not None and np.array_equal(self.asides[0], aside):
            places = self.observations.places.take(aside)
            mean, sd = self._stated(places, self.across_land(places), *self.asides[1:])
        else:
            mean, sd = self.predict(self.observations.places.xy[aside])
        return mean, np.sqrt(sd**2 + self._noise_var()[aside])

    def _noise_var(self) -> FloatArray:
        """Variance of each reading about the bed, nugget included, shape (n,)."""
        everything = self.observations.data(self.bed_slope, np.ones(len(self.kept), bool))
        n = len(self.kept)
        nugget = float(np.mean([m.theta["nugget"] for m in self.members]))
        return np.asarray(everything.own[:n] + everything.shared[:n].power(2).sum(axis=1) + nugget)


def _summed(
    wanted: list[tuple[NDArray[np.intp], Future[tuple[FloatArray, FloatArray]]]], n: int
) -> tuple[FloatArray, FloatArray]:
    """Mean and variance at n places from what the patches add, in their order."""
    mean, var = np.zeros(n), np.zeros(n)
    for some, answer in wanted:
        m, v = answer.result()
        mean[some] += m
        var[some] += v
    return mean, var


def combined(found: list[tuple[FloatArray, FloatArray]]) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of the even mixture of members, from each one's mean and variance."""
    means = np.stack([m for m, _ in found])
    variances = np.stack([v for _, v in found])
    return means.mean(axis=0), variances.mean(axis=0) + means.var(axis=0)
