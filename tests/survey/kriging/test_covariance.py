"""The covariance core against published kriging, its own gradients, and positive definiteness."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import check_grad
from scipy.sparse import csr_array

from survey.geometry.water import Locations, WaterGeometry
from survey.kriging.covariance import (
    CANDIDATES,
    PRIORS,
    CandidateModel,
    EndSlopes,
    Separations,
    correlation,
    covariance,
    slopes,
    variance,
)
from survey.kriging.data import ConditioningData, ErrorSource, unshared
from survey.kriging.likelihood import FitProblem, fit_theta, prior_theta
from survey.kriging.posterior import Posterior
from tests.made.plain_kriging import krige
from tests.made.soundings import bowl, scattered, with_spit
from tests.made.tolerances import HUNDREDTH_MM, TENTH_MM

# Isaaks and Srivastava, Applied Geostatistics (1989), chapter 12, worked example of ordinary
# kriging at (65, 137) with C(h) = 10 exp(-0.3 h). Printed: weights .173 .318 .129 .086 .151 .057
# .086, estimate 592.7, variance 8.96 (printed values from memory; full digits recomputed with
# two public kriging libraries that agree to 1e-7).
SAMPLES = np.array(
    [[61, 139, 477], [63, 140, 696], [64, 129, 227], [68, 128, 646], [71, 140, 606], [73, 141, 791], [75, 128, 783]],
    float,
)
WEIGHTS = [0.172937, 0.317794, 0.128734, 0.086397, 0.151128, 0.057235, 0.085776]


def test_every_prior_has_its_middle_within_its_bounds() -> None:
    for prior in PRIORS.values():
        assert 0 < prior.low < prior.median < prior.high
        assert prior.log_sd > 0


def plain_places(xy: np.ndarray, shore: np.ndarray, axes: np.ndarray | None = None) -> Locations:
    return Locations(xy, shore, np.zeros((len(xy), 2)) if axes is None else axes, shore)


def _distances(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.linalg.norm(a[:, None] - b[None], axis=2)


@pytest.mark.parametrize(
    ("sill", "rate", "nugget", "estimate", "spread"),
    [
        (10, 0.3, 0, 592.728943, 8.956053),
        (20, 0.3, 0, 592.728943, 17.912106),
        (5, 0.3, 5, 596.777007, 10.305852),
        (10, 0.15, 0, 572.389874, 5.7585),
    ],
)
def test_plain_solver_gives_the_handbook_estimate(
    sill: float, rate: float, nugget: float, estimate: float, spread: float
) -> None:
    xy, at = SAMPLES[:, :2], np.array([[65.0, 137.0]])
    among = sill * correlation("exponential", rate * _distances(xy, xy)) + nugget * np.eye(7)
    cross_covariance = sill * correlation("exponential", rate * _distances(xy, at))
    found = krige(
        SAMPLES[:, 2], among, cross_covariance, np.array([sill + nugget], float), np.ones((7, 1)), np.ones((1, 1))
    )
    assert found.estimate[0] == pytest.approx(estimate, abs=1e-5)
    assert found.variance[0] == pytest.approx(spread, abs=1e-5)
    if (sill, rate, nugget) == (10, 0.3, 0):
        np.testing.assert_allclose(found.weights[:, 0], WEIGHTS, atol=1e-6)


def test_a_member_in_its_plain_configuration_gives_the_handbook_estimate() -> None:
    plain = CandidateModel("plain", kernel="exponential", amplitude=False)
    places = plain_places(SAMPLES[:, :2], np.zeros(7))
    data = ConditioningData(places, SAMPLES[:, 2], np.zeros(7), unshared(7), np.zeros(7), np.ones(7, bool))
    theta = {"variance": 10.0, "length": 1 / 0.3, "nugget": 0.0}
    fitted = Posterior(plain, theta, data, across=False)
    at = plain_places(np.array([[65.0, 137.0]]), np.zeros(1))
    mean, spread = fitted.mean_variance(Separations.between(places, at, across=False), at, np.zeros(1))
    assert mean[0] == pytest.approx(592.728943, abs=1e-5)
    assert spread[0] == pytest.approx(8.956053, abs=1e-5)


@pytest.fixture(scope="module")
def lake() -> tuple[WaterGeometry, ConditioningData]:
    water = with_spit()
    frame, bed = WaterGeometry(water), bowl(water)
    xy = scattered(water, 80)
    places = frame.places(xy)
    values = bed(xy) + 0.3 * np.sin(xy[:, 0] / 9)
    shared = np.zeros((80, 1))
    shared[:40, 0] = 0.03
    return frame, ConditioningData(places, values, np.full(80, 0.05**2), csr_array(shared), bed(xy), np.zeros(80, bool))


OTHERS = (
    CandidateModel("exponential", kernel="exponential", amplitude=False),
    CandidateModel("shore as a coordinate", (4.0,), shore_coordinate=True),
)
"""What a member may be and none of the bed's is at present."""


@pytest.mark.parametrize("member", CANDIDATES + OTHERS, ids=lambda m: m.name)
def test_gradient_of_the_likelihood_is_that_of_its_differences(
    member: CandidateModel, lake: tuple[WaterGeometry, ConditioningData]
) -> None:
    _, data = lake
    rng = np.random.default_rng(3)
    sources = (
        ErrorSource("distance", rng.uniform(0.0, 0.01, 80), unshared(80), 0.6, 0.5, 1.0),
        ErrorSource("pegs", np.zeros(80), csr_array(rng.normal(0, 0.05, (80, 6))), 1.0, 0.8, 20.0),
    )
    names = member.parameters(across=True)
    begin = [*np.log([PRIORS[n].median for n in names]), 0.0, 0.0]
    problem = FitProblem(member, data, sources, names, across=True)
    start = np.array(begin) + rng.normal(0, 0.3, len(begin))
    off = check_grad(lambda x: problem.penalised(x)[0], lambda x: problem.penalised(x)[1], start)
    assert off < 1e-3


@pytest.mark.parametrize("member", CANDIDATES + OTHERS, ids=lambda m: m.name)
def test_slopes_add_up_to_the_covariance_and_its_diagonal_is_the_variance(
    member: CandidateModel, lake: tuple[WaterGeometry, ConditioningData]
) -> None:
    _, data = lake
    theta = prior_theta(member, across=True)
    gaps = Separations.between(data.places, data.places, across=True)
    whole = covariance(member, theta, gaps, data.ends, data.ends)
    parts = slopes(member, theta, gaps, data.ends)
    total = sum(parts[n] for n in ("variance", "profile_variance", "across_variance") if n in parts)
    np.testing.assert_allclose(total, whole, atol=1e-12)
    np.testing.assert_allclose(np.diag(whole), variance(member, theta, data.ends, across=True), atol=1e-12)


@pytest.mark.parametrize("member", CANDIDATES, ids=lambda m: m.name)
@given(seed=st.integers(0, 10_000))
def test_covariance_is_positive_definite_whatever_the_parameters(member: CandidateModel, seed: int) -> None:
    rng = np.random.default_rng(seed)
    places = plain_places(rng.uniform(0, 100, (40, 2)), rng.uniform(0, 30, 40), rng.uniform(-20, 20, (40, 2)))
    names = member.parameters(across=True)
    theta = {n: float(np.exp(rng.uniform(np.log(PRIORS[n].low), np.log(PRIORS[n].high)))) for n in names}
    ends = EndSlopes(places.shore_m, rng.uniform(0, 3, 40))
    among = covariance(member, theta, Separations.between(places, places, across=True), ends, ends)
    least = np.linalg.eigvalsh(among)[0]
    assert least > -1e-9 * np.trace(among)


@pytest.mark.parametrize("member", CANDIDATES + OTHERS, ids=lambda m: m.name)
def test_leaving_out_in_closed_form_is_leaving_out_for_real(
    member: CandidateModel, lake: tuple[WaterGeometry, ConditioningData]
) -> None:
    _, data = lake
    data = replace(data, shared=unshared(80))
    theta = prior_theta(member, across=True)
    group = np.array([3, 17, 44])
    predicted, spread = Posterior(member, theta, data, across=True).cross_validate([group])
    rest = data.take(np.setdiff1d(np.arange(80), group))
    at = data.places.take(group)
    gaps = Separations.between(rest.places, at, across=True)
    mean, var = Posterior(member, theta, rest, across=True).mean_variance(gaps, at, data.profile[group])
    np.testing.assert_allclose(predicted[group], mean, rtol=0, atol=HUNDREDTH_MM)
    sd = np.sqrt(var + data.own[group] + theta["nugget"])
    np.testing.assert_allclose(np.sqrt(spread[group]), sd, rtol=0, atol=HUNDREDTH_MM)
    assert np.isnan(np.delete(predicted, group)).all()


def test_pegs_with_one_reading_are_left_out_beside_pegs_with_many(
    lake: tuple[WaterGeometry, ConditioningData],
) -> None:
    _, data = lake
    data = replace(data, shared=unshared(80))
    fit = Posterior(CANDIDATES[0], prior_theta(CANDIDATES[0], across=True), data, across=True)
    groups = [np.array([5]), np.array([3, 17, 44]), np.array([9])]
    together = fit.cross_validate(groups)
    for group in groups:
        apart = fit.cross_validate([group])
        for whole, part in zip(together, apart, strict=True):
            np.testing.assert_allclose(whole[group], part[group], rtol=0, atol=HUNDREDTH_MM)


@pytest.mark.parametrize("member", CANDIDATES, ids=lambda m: m.name)
def test_in_single_precision_a_depth_is_foretold_as_in_double(
    member: CandidateModel, lake: tuple[WaterGeometry, ConditioningData]
) -> None:
    frame, data = lake
    places, profile = frame.places(scattered(with_spit(), 50, seed=9)), np.linspace(0.5, 2.0, 50)
    fit = Posterior(member, prior_theta(member, across=True), data, across=True)
    gaps = Separations.between(data.places, places, True, np.float32)
    single = fit.mean_by(gaps, places, profile, fit.weights)
    np.testing.assert_allclose(single, fit.mean(places, profile), rtol=0, atol=TENTH_MM)
    mean, spread = fit.mean_variance(gaps, places, profile)
    np.testing.assert_allclose(mean, fit.mean(places, profile), rtol=0, atol=TENTH_MM)
    whole, among = fit.joint(places, profile)
    np.testing.assert_allclose(whole, fit.mean(places, profile), rtol=0, atol=HUNDREDTH_MM)
    np.testing.assert_allclose(np.sqrt(np.diag(among)), np.sqrt(spread), rtol=0, atol=TENTH_MM)


def test_parameters_are_found_again_from_data_drawn_with_them() -> None:
    member = CandidateModel("plain", amplitude=False)
    rng = np.random.default_rng(5)
    places = plain_places(rng.uniform(0, 150, (250, 2)), np.zeros(250))
    true = {"variance": 0.4, "length": 15.0, "nugget": 0.05**2}
    ends = EndSlopes(places.shore_m, np.zeros(250))
    among = covariance(member, true, Separations.between(places, places, across=False), ends, ends)
    values = 2.0 + np.linalg.cholesky(among + true["nugget"] * np.eye(250)) @ rng.normal(size=250)
    data = ConditioningData(places, values, np.zeros(250), unshared(250), np.zeros(250), np.zeros(250, bool))
    found = fit_theta(member, data, across=False)
    assert found["length"] == pytest.approx(15.0, rel=0.3)
    assert found["variance"] == pytest.approx(0.4, rel=0.5)
    assert found["nugget"] ** 0.5 == pytest.approx(0.05, rel=0.5)
