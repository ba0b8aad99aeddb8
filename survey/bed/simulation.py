"""Whole beds drawn at random, each as likely as the evidence allows: for volumes, channels, anything joint.

A draw is a function of place: a field of the member's prior made of random waves, moved by what the evidence
says against it. Knows of the model, nothing of grids.

Source: Wilson et al. 2020, Efficiently sampling functions from Gaussian process posteriors (pathwise
conditioning); Rahimi and Recht 2007, Random features for large-scale kernel machines (waves).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from survey.arrays import FloatArray
from survey.depth_model.model import ACROSS_WIDER, LakeModel
from survey.errors import BedError
from survey.geometry.water import Locations
from survey.kriging.covariance import ACROSS_LAND_M, CandidateModel, Kernel, amplitude
from survey.kriging.likelihood import Theta
from survey.kriging.partition import TiledPosterior
from survey.kriging.posterior import Posterior

WAVES = 1500
SAME_WAVES = 25
"""So many draws at most differ in the height of their waves alone. One set of waves has the covariance within
2 % of the variance (1 / sqrt(2 WAVES)); over many sets that evens out."""
MOST_DRAWS = 10_000
CHUNK = 2048
UNFORESEEN_LENGTH_M = 20.0
"""What lies beyond the readings varies over about this distance: the prior length of the members."""
FREEDOM: dict[Kernel, int] = {"matern32": 3, "exponential": 1}
"""Their spectra are multivariate t distributions of so many degrees of freedom."""


@dataclass(frozen=True)
class Waves:
    """A zero-mean Gaussian field in several realisations, made of waves.

    Parameters
    ----------
    frequency : ndarray, shape (WAVES, 6)
        Radians per metre along easting, northing, two axes across land, distance to shore; last, phase.
    weight : ndarray, shape (2 WAVES, k)
        Of cosines and sines, one column a realisation.
    origin : ndarray, shape (2,)
    """

    frequency: FloatArray
    weight: FloatArray
    origin: FloatArray

    def at(self, places: Locations) -> FloatArray:
        """Values at places, shape (n, k), in units of the standard deviation."""
        where = np.column_stack([places.xy - self.origin, places.axes, places.shore_m])
        turn = where @ self.frequency.T
        return np.asarray((np.hstack([np.cos(turn), np.sin(turn)]) @ self.weight) / np.sqrt(WAVES))


def _spectrum(rng: np.random.Generator, kernel: Kernel, length_m: float, dimensions: int) -> FloatArray:
    """Frequencies of an isotropic kernel, shape (WAVES, dimensions), radians per metre."""
    freedom = FREEDOM[kernel]
    normal = rng.standard_normal((WAVES, dimensions))
    return np.asarray(normal * np.sqrt(freedom / rng.chisquare(freedom, (WAVES, 1))) / length_m)


def _waves(rng: np.random.Generator, columns: dict[int, FloatArray], count: int, origin: FloatArray) -> Waves:
    frequency = np.zeros((WAVES, 5))
    for column, values in columns.items():
        frequency[:, column] = values
    return Waves(frequency, rng.standard_normal((2 * WAVES, count)), origin)


@dataclass(frozen=True)
class PriorFields:
    """A member's prior in several realisations: main term, own profile, what is shared but across land, drift."""

    member: CandidateModel
    theta: Theta
    main: Waves
    along: Waves
    across: Waves | None
    slopes: FloatArray

    @staticmethod
    def of(fit: Posterior, count: int, rng: np.random.Generator) -> PriorFields:
        """Fields of a fitted member, ``count`` of them."""
        member, theta, origin = fit.member, fit.theta, fit.data.places.xy.mean(axis=0)
        main = _spectrum(rng, member.kernel, theta["length"], 5)
        main[:, 4] *= theta.get("shore_scale", 0.0) if member.shore_coordinate else 0.0
        over_land = _spectrum(rng, "exponential", ACROSS_LAND_M, 2)
        profile = _spectrum(rng, "matern32", theta.get("profile_length", 1.0), 1)
        free = np.diag(member.drift_precision) > 0
        sd = np.where(free, 1.0 / np.sqrt(np.where(free, np.diag(member.drift_precision), 1.0)), 0.0)
        land = {2: over_land[:, 0], 3: over_land[:, 1]}
        return PriorFields(
            member,
            theta,
            _waves(rng, dict(enumerate(main.T)), count, origin),
            _waves(rng, {4: profile[:, 0], **land}, count, origin),
            _waves(rng, land, count, origin) if fit.across else None,
            sd[:, None] * rng.standard_normal((len(sd), count)),
        )

    def at(self, places: Locations, profile: FloatArray) -> FloatArray:
        """Depths at places, shape (n, k), metres; a constant offset does not matter."""
        out = np.sqrt(self.theta["variance"]) * self.main.at(places)
        if self.member.own_profile:
            out += np.sqrt(self.theta["profile_variance"]) * self.along.at(places)
        if self.member.amplitude:
            out *= amplitude(places.shore_m, self.theta["amplitude_length"])[:, None]
        if self.across is not None:
            out += np.sqrt(self.theta["across_variance"]) * profile[:, None] * self.across.at(places)
        return np.asarray(out + self.member.drift(places) @ self.slopes)


def draw_beds(model: LakeModel, xy: FloatArray, n: int, seed: int) -> FloatArray:
    """Beds drawn from what the evidence leaves open.

    Parameters
    ----------
    model : LakeModel
    xy : ndarray, shape (m, 2)
        Spots on the water, venue CRS, metres.
    n : int
        Draws.
    seed : int
        The same seed gives the same beds, whatever the spots: a draw is a function of place.

    Returns
    -------
    ndarray, shape (n, m)
        Depth below datum, metres, never above the water.

    Raises
    ------
    BedError
        The number of draws is not between 1 and ``MOST_DRAWS``.
    """
    if not 1 <= n <= MOST_DRAWS:
        raise BedError(f"{n} draws cannot be made. Choose 1 to {MOST_DRAWS:,}.")
    chosen = np.random.default_rng(seed).integers(0, len(model.members), n)
    beds = [
        _Drawn.of(member, which, (seed, k, turn))
        for k, member in enumerate(model.members)
        for turn, which in enumerate(_in_lots(np.flatnonzero(chosen == k)))
    ]
    doubt = _Doubt.of(model, n, seed)
    xy = np.asarray(xy, float).reshape(-1, 2)
    out = np.empty((n, len(xy)))
    for start in range(0, len(xy), CHUNK):
        some = slice(start, start + CHUNK)
        places = model.frame.places(xy[some], model.observations.level_off_m)
        profile = model.observations.profile.at(places.shore_m)
        mean = np.mean([m.mean(places, profile) for m in model.members], axis=0)
        drawn = np.empty((len(places), n))
        for bed in beds:
            drawn[:, bed.which] = bed.at(places, profile)
        out[:, some] = doubt.widened(places, mean[:, None], drawn).T
    return np.maximum(out, model.floor_m)


def _in_lots(which: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    return [which[k : k + SAME_WAVES] for k in range(0, len(which), SAME_WAVES)]


@dataclass(frozen=True)
class _Drawn:
    """Draws of one member: its prior fields, and in each patch the weights of the evidence against them."""

    which: NDArray[np.intp]
    conditioned: TiledPosterior
    prior: PriorFields
    against: tuple[tuple[FloatArray, FloatArray], ...]

    @staticmethod
    def of(member: TiledPosterior, which: NDArray[np.intp], seed: tuple[int, int, int]) -> _Drawn:
        rng = np.random.default_rng(seed)
        prior = PriorFields.of(member.fits[0], len(which), rng)
        seen = prior.at(member.data.places, member.data.profile) + _noise(member.fits[0], member, len(which), rng)
        against = []
        for patch, (uses, fit) in enumerate(zip(member.partition.uses, member.fits, strict=True)):
            bounded = fit.data.take(np.arange(len(uses), len(fit.data)))
            sites = prior.at(bounded.places, bounded.profile)
            sites += np.sqrt(bounded.own)[:, None] * rng.standard_normal(sites.shape)
            against.append(fit.weights_for(fit.data.values[:, None] - np.vstack([seen[uses], sites])))
            member.rest(patch)
        return _Drawn(which, member, prior, tuple(against))

    def at(self, places: Locations, profile: FloatArray) -> FloatArray:
        """Depths at places, shape (n, draws), metres."""
        out = self.prior.at(places, profile)
        for patch, some, share in self.conditioned.partition.shares(places.xy):
            fit, weights = self.conditioned.fits[patch], self.against[patch]
            out[some] += share[:, None] * fit.mean_at(weights, places.take(some), profile[some])
        return out


def _noise(fit: Posterior, member: TiledPosterior, count: int, rng: np.random.Generator) -> FloatArray:
    """Errors of the data as they might have been, shape (n, count), metres."""
    data = member.data
    own = np.sqrt(data.own + np.where(data.shore, 0.0, fit.theta["nugget"]))
    shared = data.shared @ rng.standard_normal((data.shared.shape[1], count))
    return np.asarray(own[:, None] * rng.standard_normal((len(data), count)) + shared)


@dataclass(frozen=True)
class _Doubt:
    """What the stated ± adds to the members' own: across land, and beyond the readings."""

    model: LakeModel
    fields: Waves
    runs_on: FloatArray

    @staticmethod
    def of(model: LakeModel, n: int, seed: int) -> _Doubt:
        rng = np.random.default_rng((seed, len(model.members), 0))
        flat = _spectrum(rng, "matern32", UNFORESEEN_LENGTH_M, 2)
        origin = model.observations.places.xy.mean(axis=0)
        return _Doubt(model, _waves(rng, dict(enumerate(flat.T)), n, origin), rng.standard_normal(n))

    def widened(self, places: Locations, mean: FloatArray, drawn: FloatArray) -> FloatArray:
        """Draws with that doubt added, shape (n, draws), metres."""
        wider = np.where(self.model.across_land(places), ACROSS_WIDER, 1.0)[:, None]
        runs_on, differs = self.model.unforeseen(places)
        out = mean + wider * (drawn - mean) + runs_on[:, None] * self.runs_on
        if differs.any():
            out += differs[:, None] * self.fields.at(places)
        return np.asarray(out)
