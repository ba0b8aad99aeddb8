"""How depth varies over water: correlation functions, members of the model, and the plain solver.

A member is one way of saying how depth varies; the bed averages several. Its covariance is

``A A' [s2 k(h / l) + sd2 k(dd / ld) kU] + v g g' kU``, with ``h2 = dxy2 + dU2 + a2 dd2``,

where ``dd`` is the difference in distance to shore, ``dU`` the distance across land,
``A`` an amplitude that falls toward the shore and ``g`` the lake's mean profile.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import DTypeLike

from survey.arrays import FloatArray
from survey.geometry.water import Locations

Kernel = Literal["matern32", "exponential"]

ROOT3 = 3.0**0.5
ACROSS_LAND_M = 80.0
"""Distance across land over which what the whole lake shares is forgotten."""
DRIFT_SD_M = 5.0
"""How far a lake may fall away from its shore, one standard deviation: without it, two or three readings
would leave the drift as good as free."""
SHORE_VARIANCE_SHARE = 0.01
"""Share of the variance left at the very shore."""


@dataclass(frozen=True)
class Prior:
    """Log-normal prior of a positive parameter, and the bounds it is held in."""

    median: float
    log_sd: float
    low: float
    high: float


PRIORS: dict[str, Prior] = {
    "variance": Prior(0.5, 1.5, 1e-3, 100.0),
    "length": Prior(20.0, 0.8, 2.5, 400.0),
    "nugget": Prior(0.03**2, 2.0, 1e-6, 0.25),
    "shore_scale": Prior(1.0, 0.7, 0.05, 8.0),
    "amplitude_length": Prior(5.0, 0.7, 0.7, 40.0),
    "profile_variance": Prior(0.5, 1.5, 1e-4, 100.0),
    "profile_length": Prior(8.0, 0.7, 1.5, 60.0),
    "across_variance": Prior(1.0, 1.5, 1e-3, 100.0),
}
"""Medians and spreads of the parameters: variances in m2, lengths in m. The nugget is a
variance; its log-sd is twice that of the standard deviation it stands for."""


@dataclass(frozen=True)
class CandidateModel:
    """One way of saying how depth varies.

    Parameters
    ----------
    name : str
    drift_lengths : tuple of float
        Each adds a column ``1 - exp(-d / length)`` to the constant, metres.
    kernel : {"matern32", "exponential"}
        Correlation of the main term.
    shore_coordinate : bool
        Distance to shore is a third coordinate of the main term.
    own_profile : bool
        A second term in distance to shore alone.
    amplitude : bool
        Variance falls toward the shore.
    shore_in_fit : bool
        Shore points take part in fitting the parameters, not only in conditioning.
    """

    name: str
    drift_lengths: tuple[float, ...] = ()
    kernel: Kernel = "matern32"
    shore_coordinate: bool = False
    own_profile: bool = False
    amplitude: bool = True
    shore_in_fit: bool = True

    def parameters(self, across: bool) -> tuple[str, ...]:
        """Names of the parameters to fit; ``across``: land stands between waters."""
        names = ["variance", "length", "nugget"]
        names += ["shore_scale"] if self.shore_coordinate else []
        names += ["amplitude_length"] if self.amplitude else []
        names += ["profile_variance", "profile_length"] if self.own_profile else []
        names += ["across_variance"] if across else []
        return tuple(names)

    @property
    def drift_precision(self) -> FloatArray:
        """Prior precision of the drift's coefficients, shape (p, p): none for the constant, which the shore holds."""
        return np.diag([0.0, *[DRIFT_SD_M**-2] * len(self.drift_lengths)])

    def drift(self, places: Locations) -> FloatArray:
        """Columns of the drift, shape (n, p), dimensionless."""
        columns = [np.ones(len(places))]
        columns += [1.0 - np.exp(-places.shore_m / length) for length in self.drift_lengths]
        return np.column_stack(columns)


CANDIDATES: tuple[CandidateModel, ...] = (
    CandidateModel("own profile", own_profile=True),
    CandidateModel("shelf", (2.0, 15.0), own_profile=True),
    CandidateModel("level", (1.0, 15.0), amplitude=False, shore_in_fit=False),
)
"""The members of the bed: they differ in what they hold to be typical of a lake. Of some twenty tried singly and
in groups of two to six on the lakes for choosing, no group errs less, and the ranges of this one hold. Members
without a slow second slope fell back to a shallow middle on wide lakes."""


@dataclass(frozen=True)
class Separations:
    """Squared differences between two sets of places, shape (n, m), square metres.

    Parameters
    ----------
    apart2 : ndarray
        On the map and across land.
    shore2 : ndarray
        In distance to shore.
    axes2 : ndarray or None
        Across land alone; None where land stands between nothing.
    """

    apart2: FloatArray
    shore2: FloatArray
    axes2: FloatArray | None

    @staticmethod
    def between(first: Locations, second: Locations, across: bool, dtype: DTypeLike = np.float64) -> Separations:
        """Differences of every place of the first from every place of the second.

        ``dtype`` float32 is enough for asking a fitted member and several times faster;
        fitting keeps float64.
        """
        apart2 = _squared(first.xy, second.xy, dtype)
        axes2 = _squared(first.axes, second.axes, dtype) if across else None
        if axes2 is not None:
            apart2 += axes2
        return Separations(apart2, _squared(first.shore_m[:, None], second.shore_m[:, None], dtype), axes2)

    # Members, and every step of a fit, ask for the same roots: they are drawn once.
    @cached_property
    def apart(self) -> FloatArray:
        """Distance on the map and across land, metres."""
        return np.sqrt(self.apart2)

    @cached_property
    def shore(self) -> FloatArray:
        """Difference in distance to shore, metres."""
        return np.sqrt(self.shore2)

    @cached_property
    def sharing(self) -> FloatArray | None:
        """How much two places share of what belongs to the whole lake: one but across land."""
        return None if self.axes2 is None else np.exp(np.sqrt(self.axes2) * (-1.0 / ACROSS_LAND_M))


def _squared(a: FloatArray, b: FloatArray, dtype: DTypeLike) -> FloatArray:
    # Coordinates are large numbers: the origin moves to their midst before any are shortened.
    origin = a.mean(axis=0)
    a, b = (a - origin).astype(dtype), (b - origin).astype(dtype)
    out = (a[:, None, 0] - b[None, :, 0]) ** 2
    for axis in range(1, a.shape[1]):
        out += (a[:, None, axis] - b[None, :, axis]) ** 2
    return out


@dataclass(frozen=True)
class EndSlopes:
    """What a place brings by itself: distance to shore (m) and the lake's mean profile there (m)."""

    shore_m: FloatArray
    profile_m: FloatArray


def correlation(kernel: Kernel, scaled: FloatArray) -> FloatArray:
    """Correlation at distances in units of the length parameter.

    ``matern32``: (1 + sqrt(3) h) exp(-sqrt(3) h); ``exponential``: exp(-h).

    Examples
    --------
    >>> float(correlation("exponential", np.array(0.0))), round(float(correlation("matern32", np.array(1.0))), 4)
    (1.0, 0.4834)
    """
    if kernel == "exponential":
        return np.asarray(np.exp(-scaled))
    t = np.asarray(scaled) * -ROOT3
    decay = np.exp(t)
    t -= 1.0
    t *= decay
    return np.asarray(np.negative(t))


def amplitude(shore_m: FloatArray, length_m: float) -> FloatArray:
    """Square root of the share of variance at a distance from the shore, dimensionless."""
    return np.asarray(np.sqrt(SHORE_VARIANCE_SHARE + (1.0 - np.exp(-shore_m / length_m)) ** 2))


def covariance(
    member: CandidateModel, theta: Mapping[str, float], gaps: Separations, row: EndSlopes, column: EndSlopes
) -> FloatArray:
    """Covariance of depth between two sets of places without any noise, shape (n, m), m2."""
    out = correlation(member.kernel, _scaled(member, theta, gaps))
    out *= theta["variance"]
    if member.own_profile:
        along = correlation("matern32", gaps.shore * (1.0 / theta["profile_length"]))
        along *= theta["profile_variance"]
        if gaps.sharing is not None:
            along *= gaps.sharing
        out += along
    if member.amplitude:
        length = theta["amplitude_length"]
        out *= amplitude(row.shore_m, length).astype(out.dtype)[:, None]
        out *= amplitude(column.shore_m, length).astype(out.dtype)[None, :]
    if gaps.sharing is not None:
        across = gaps.sharing * (theta["across_variance"] * row.profile_m).astype(out.dtype)[:, None]
        across *= column.profile_m.astype(out.dtype)[None, :]
        out += across
    return out


def variance(member: CandidateModel, theta: Mapping[str, float], ends: EndSlopes, across: bool) -> FloatArray:
    """Variance of depth at places, shape (n,), m2: the diagonal of :func:`covariance`."""
    out = np.full(len(ends.shore_m), theta["variance"] + (theta["profile_variance"] if member.own_profile else 0.0))
    if member.amplitude:
        out *= amplitude(ends.shore_m, theta["amplitude_length"]) ** 2
    if across:
        out += theta["across_variance"] * ends.profile_m**2
    return out


def _scaled(member: CandidateModel, theta: Mapping[str, float], gaps: Separations) -> FloatArray:
    if not member.shore_coordinate:
        return gaps.apart * (1.0 / theta["length"])
    squared = gaps.shore2 * theta["shore_scale"] ** 2
    squared += gaps.apart2
    np.sqrt(squared, out=squared)
    squared *= 1.0 / theta["length"]
    return squared


def slopes(
    member: CandidateModel, theta: Mapping[str, float], gaps: Separations, ends: EndSlopes
) -> dict[str, FloatArray]:
    """Derivatives of the covariance among places by the logarithm of each parameter.

    The nugget is left out: its derivative is itself on the diagonal.
    """
    scaled, across = _scaled(member, theta, gaps), gaps.sharing
    if member.kernel == "exponential":
        main = np.exp(-scaled)
        falls = main / np.maximum(scaled, 1e-9)  # -dk/dh / h
    else:
        decay = np.exp(-ROOT3 * scaled)
        main = (1.0 + ROOT3 * scaled) * decay
        falls = 3.0 * decay
    s2 = theta["variance"]
    out = {"variance": s2 * main, "length": s2 * falls * scaled**2}
    if member.shore_coordinate:
        out["shore_scale"] = -s2 * falls * (theta["shore_scale"] ** 2 / theta["length"] ** 2) * gaps.shore2
    core = out["variance"]
    if member.own_profile:
        h = gaps.shore / theta["profile_length"]
        decay = np.exp(-ROOT3 * h) * theta["profile_variance"]
        decay = decay if across is None else decay * across
        out["profile_variance"] = (1.0 + ROOT3 * h) * decay
        out["profile_length"] = 3.0 * h**2 * decay
        core = core + out["profile_variance"]
    if member.amplitude:
        a, da = _amplitude_slope(ends.shore_m, theta["amplitude_length"])
        both = a[:, None] * a[None, :]
        out = {name: slope * both for name, slope in out.items()}
        out["amplitude_length"] = core * (da[:, None] * a[None, :] + a[:, None] * da[None, :])
    if across is not None:
        out["across_variance"] = theta["across_variance"] * np.outer(ends.profile_m, ends.profile_m) * across
    return out


def _amplitude_slope(shore_m: FloatArray, length_m: float) -> tuple[FloatArray, FloatArray]:
    """Amplitude, and its derivative by the logarithm of its length."""
    a = amplitude(shore_m, length_m)
    decay = np.exp(-shore_m / length_m)
    return a, -(1.0 - decay) * decay * (shore_m / length_m) / a
