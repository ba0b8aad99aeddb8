"""One-sided evidence against brute simulation of the exact posterior."""

import numpy as np
from scipy.special import ndtr

from survey.kriging.inequalities import half_line_sites


def test_bounds_move_depths_as_exact_conditioning_does() -> None:
    mean, cov = np.array([1.0, 1.2]), np.array([[0.25, 0.15], [0.15, 0.25]])
    limit, side, noise = np.array([1.5, 1.0]), np.array([1.0, -1.0]), np.array([0.01, 0.01])
    precision, shift = half_line_sites(mean, cov, limit, side, noise)
    after = np.linalg.inv(np.linalg.inv(cov) + np.diag(precision))
    found = after @ (np.linalg.solve(cov, mean) + shift)
    draws = np.random.default_rng(0).multivariate_normal(mean, cov, 400_000)
    weight = ndtr(side * (draws - limit) / np.sqrt(noise)).prod(axis=1)
    exact = weight @ draws / weight.sum()
    np.testing.assert_allclose(found, exact, atol=0.01)
    np.testing.assert_allclose(np.diag(after), weight @ (draws - exact) ** 2 / weight.sum(), rtol=0.05)


def test_a_bound_far_from_mattering_teaches_nothing() -> None:
    precision, _ = half_line_sites(
        np.array([3.0]), np.array([[0.01]]), np.array([1.0]), np.array([1.0]), np.array([0.01])
    )
    assert precision[0] < 1e-6
