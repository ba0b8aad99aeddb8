"""Data for a member of the model, and the fitting of its parameters to them.

Parameters come from restricted maximum likelihood with log-normal priors and analytic
gradients. Knows nothing of soundings, pegs or grids.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.optimize import minimize

from survey.arrays import FloatArray, Index
from survey.kriging.covariance import PRIORS, CandidateModel, Separations, slopes
from survey.kriging.data import ConditioningData, ErrorSource

Theta = Mapping[str, float]


@dataclass(frozen=True)
class FitSize:
    """Parameters are fitted on so many readings and shore points at most; all of them condition the bed."""

    readings: int
    shore: int


FULL, ROUGH = FitSize(240, 140), FitSize(120, 60)
"""For the bed; and for what only leads to it. With two thirds of the full size the error on the lakes for
choosing grows by 2 to 3 %."""
FIT_STEPS = 30
SMALLEST_FACTOR_LOG = 4.0
"""An error is held to be at most so much smaller than stated (a factor of 55)."""


class Fitted(NamedTuple):
    """What was fitted.

    Parameters
    ----------
    theta : mapping of str to float
        A member's parameters.
    factors : mapping of str to float
        True over stated standard deviation of errors, by the name of their source, dimensionless.
    """

    theta: Theta
    factors: Mapping[str, float]


def prior_theta(member: CandidateModel, across: bool) -> dict[str, float]:
    """Parameters at their prior medians."""
    return {name: PRIORS[name].median for name in member.parameters(across)}


def fit_theta(
    member: CandidateModel, data: ConditioningData, across: bool, start: Theta | None = None, size: FitSize = FULL
) -> Theta:
    """Parameters of a member from data whose errors are as large as stated; see :func:`fit_with_errors`."""
    return fit_with_errors(member, data, (), across, Fitted(start or {}, {}), size).theta


def fit_with_errors(
    member: CandidateModel,
    data: ConditioningData,
    sources: Sequence[ErrorSource],
    across: bool,
    start: Fitted,
    size: FitSize = FULL,
) -> Fitted:
    """Parameters of a member, and how large errors are beside what is stated, from data.

    Parameters
    ----------
    member : CandidateModel
    data : ConditioningData
        Thinned to ``size`` by a fixed draw; shore points only if the member fits with them.
    sources : sequence of ErrorSource
        Errors that ``data`` does not hold, at their stated size.
    across : bool
        Land stands between waters.
    start : Fitted
        Where to begin: prior medians for what it does not name.
    size : FitSize

    Notes
    -----
    Patterson and Thompson 1971 (restricted likelihood), priors as penalties on the logarithms. A factor is the
    square root of a variance component of the noise.
    """
    some = _some_of(member, data, size)
    data, sources = data.take(some), [source.take(some) for source in sources]
    problem = FitProblem(member, data, tuple(sources), member.parameters(across), across)
    first = {**prior_theta(member, across), **start.theta}
    factors = {source.name: source.usual for source in sources} | dict(start.factors)
    begin = [first[n] for n in problem.names] + [factors[source.name] for source in sources]
    bounds = [(np.log(PRIORS[n].low), np.log(PRIORS[n].high)) for n in problem.names]
    bounds += [(-SMALLEST_FACTOR_LOG, np.log(source.largest)) for source in sources]
    found = minimize(
        problem.penalised,
        np.log(begin),
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": FIT_STEPS, "ftol": 1e-5, "gtol": 1e-2, "maxcor": 8},
    )
    values = np.exp(found.x).tolist()
    theta = dict(zip(problem.names, values, strict=False))
    return Fitted(theta, dict(zip((source.name for source in sources), values[len(theta) :], strict=True)))


def _some_of(member: CandidateModel, data: ConditioningData, size: FitSize) -> Index:
    readings, shore = _some(~data.shore, size.readings), _some(data.shore, size.shore if member.shore_in_fit else 0)
    return np.concatenate([readings, shore])


def _some(which: NDArray[np.bool_], most: int) -> NDArray[np.intp]:
    """Indices of the true ones, thinned by a fixed draw."""
    index = np.flatnonzero(which)
    return index if len(index) <= most else np.sort(np.random.default_rng(0).permutation(index)[:most])


@dataclass(frozen=True)
class FitProblem:
    """A member, and sizes of errors, fitted to data: what is minimised."""

    member: CandidateModel
    data: ConditioningData
    sources: tuple[ErrorSource, ...]
    names: tuple[str, ...]
    across: bool

    @cached_property
    def gaps(self) -> Separations:
        """Of the data among themselves."""
        return Separations.between(self.data.places, self.data.places, self.across)

    @cached_property
    def columns(self) -> tuple[FloatArray, ...]:
        """Shared columns of each source that touch these data, dense."""
        return tuple(s.shared[:, np.unique(s.shared.indices)].toarray() for s in self.sources)

    def penalised(self, log_values: FloatArray) -> tuple[float, FloatArray]:
        """Negative penalised restricted log-likelihood and its gradient."""
        values = np.exp(log_values)
        theta = dict(zip(self.names, values.tolist(), strict=False))
        squared = values[len(theta) :] ** 2
        parts, data = slopes(self.member, theta, self.gaps, self.data.ends), self.data
        # The covariance is the sum of its derivatives by the logarithms of its variances.
        total = parts["variance"] + data.noise(theta["nugget"])
        for name in ("profile_variance", "across_variance"):
            if name in parts:
                total = total + parts[name]
        for source, columns, factor2 in zip(self.sources, self.columns, squared, strict=True):
            total += factor2 * (columns @ columns.T)
            total[np.diag_indices_from(total)] += factor2 * source.own
        drift = self.member.drift(data.places)
        lower, failed = lapack.dpotrf(total, lower=1, clean=1)
        if failed:
            return 1e10, np.zeros(len(log_values))
        inverse, _ = lapack.dpotri(lower, lower=1)
        inverse = np.tril(inverse) + np.tril(inverse, -1).T
        solved = inverse @ drift
        # Rasmussen and Williams 2006, 2.43 to 2.45: the likelihood with the drift integrated out (from memory).
        inner = drift.T @ solved + self.member.drift_precision
        projected = inverse - solved @ np.linalg.solve(inner, solved.T)
        whitened = projected @ data.values
        value = np.log(np.diag(lower)).sum() + 0.5 * np.linalg.slogdet(inner)[1] + 0.5 * data.values @ whitened
        # The same, 5.9: half the trace of (K^-1 - alpha alpha') dK.
        slope = [self._by_parameter(name, theta, parts, projected, whitened) for name in self.names]
        diagonal = np.diag(projected)
        for source, columns, factor2 in zip(self.sources, self.columns, squared, strict=True):
            trace = diagonal @ source.own + np.vdot(projected @ columns, columns)
            slope.append(factor2 * (trace - (whitened**2) @ source.own - ((columns.T @ whitened) ** 2).sum()))
        off = (log_values - self._prior_log) / self._prior_log_sd
        return float(value + 0.5 * off @ off), np.array(slope) + off / self._prior_log_sd

    def _by_parameter(
        self, name: str, theta: Theta, parts: Mapping[str, FloatArray], projected: FloatArray, whitened: FloatArray
    ) -> float:
        if name == "nugget":
            free = ~self.data.shore
            return float(0.5 * theta["nugget"] * (np.diag(projected)[free].sum() - (whitened[free] ** 2).sum()))
        return float(0.5 * (np.vdot(projected, parts[name]) - whitened @ parts[name] @ whitened))

    @cached_property
    def _prior_log(self) -> FloatArray:
        return np.log([PRIORS[n].median for n in self.names] + [source.usual for source in self.sources])

    @cached_property
    def _prior_log_sd(self) -> FloatArray:
        return np.array([PRIORS[n].log_sd for n in self.names] + [s.log_sd for s in self.sources])
