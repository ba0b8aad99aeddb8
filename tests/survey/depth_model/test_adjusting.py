"""One adjustment: sizes of errors, pegs and observers found from readings, against what was put in and a sampler."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from threadpoolctl import threadpool_limits

from survey.adjustment.shared_errors import PegAxes
from survey.checks.adjusted import adjustment_findings
from survey.depth_model.adjusting import adjustment_of, unknowns_of
from survey.depth_model.fitting import fit_lake
from survey.depth_model.observations import observations_from
from survey.depth_model.screening import bed_slope_of
from survey.geometry.water import WaterGeometry
from survey.kriging.covariance import CANDIDATES, EndSlopes, Separations, covariance
from survey.kriging.partition import Partition, TiledPosterior
from tests.made.casts import Off, Stated, surveyed
from tests.made.soundings import rectangle

WATER = rectangle(140.0, 90.0)
FRAME = WaterGeometry(WATER)


def bed(xy: np.ndarray) -> np.ndarray:
    """Slopes that differ from place to place, so that a spot tells where it is."""
    east, north = np.asarray(xy, float).T
    shelf = 2.6 * (1 - np.exp(-FRAME.shore_m(np.asarray(xy, float)) / 7.0))
    return shelf * (1 + 0.25 * np.sin(east / 9.0) + 0.2 * np.cos(north / 8.0 + east / 25.0))


def adjusted(off: Off, stated: Stated = Stated(), pegs: int = 16):  # noqa: B008 - frozen
    made = surveyed(WATER, bed, pegs, off, stated)
    drawn = made.on_bank()
    model = fit_lake(FRAME, observations_from(drawn.venue, drawn.soundings, FRAME))
    return made, drawn.venue, adjustment_of(model), model


@pytest.mark.parametrize("true_over_stated", [0.3, 1.0])
def test_the_error_of_distances_is_found_whatever_is_stated(true_over_stated):
    _, _, found, _ = adjusted(Off(distance=0.1 * true_over_stated, direction_deg=1.0), pegs=24)
    # By 400 casts, half of them on flat ground: a third either way is what chance allows.
    assert found.distance_share == pytest.approx(0.1 * true_over_stated, rel=0.4)


def test_stating_half_or_twice_the_errors_changes_the_bed_little():
    off = Off(distance=0.05, direction_deg=2.0)
    at = FRAME.shore_points(7.0) * 0.6 + np.array([28.0, 18.0])
    errors = []
    for times in (1.0, 0.5, 2.0):
        *_, model = adjusted(off, Stated(5.0 * times, 0.1 * times, 4.0 * times))
        errors.append(np.sqrt(np.mean((model.predict(at)[0] - bed(at)) ** 2)))
    assert errors[1:] == pytest.approx([errors[0]] * 2, rel=0.15)


def test_pegs_that_are_off_along_the_bank_are_moved_back_within_what_is_stated():
    rng = np.random.default_rng(3)
    made, venue, found, _ = adjusted(Off(pegs_m=rng.normal(0, 4.0, (16, 2)), distance=0.03, direction_deg=1.5))
    after = found.applied_to(venue)
    off = np.array([(p.easting, p.northing) for p in after.pegs]) - made.pegs
    before = np.array([(p.easting, p.northing) for p in made.venue.pegs]) - made.pegs
    assert np.sqrt((off**2).sum(axis=1).mean()) < 0.4 * np.sqrt((before**2).sum(axis=1).mean())
    inside = 0
    for peg, by in zip(after.pegs, off, strict=True):
        axes = PegAxes.of(peg, 0.0)
        inside += sum(((axes.axes @ by) / axes.sd_m) ** 2) <= -2 * np.log(0.05)
    # Of 16 at least 13: with 95 % inside, fewer would come once in some 250 surveys.
    assert inside >= 13


def test_one_peg_far_along_the_bank_is_named_and_moved():
    shift = np.zeros((16, 2))
    shift[2] = (12.0, 0.0)
    made, venue, found, _ = adjusted(Off(pegs_m=shift, distance=0.03, direction_deg=1.5), Stated(peg_m=5.0))
    assert made.pegs[2][1] in {0.0, 90.0}
    after = found.applied_to(venue)
    assert np.hypot(*(np.array([after.pegs[2].easting, after.pegs[2].northing]) - made.pegs[2])) < 4.0
    named = [f for f in adjustment_findings(after, found, made.soundings) if f.code == "peg-misplaced"]
    assert [f.value for f in named] == ["3"]
    assert "along the bank" in named[0].problem


def test_distances_that_one_observer_makes_too_long_are_found():
    *_, found, _ = adjusted(Off(distance=0.03, direction_deg=1.0, long_by={"Tom": 0.08}), pegs=24)
    assert found.scale("Tom") - found.scale("Ida") == pytest.approx(0.08, abs=0.03)


def test_nothing_is_moved_where_nothing_is_off():
    made, venue, found, _ = adjusted(Off())
    after = found.applied_to(venue)
    off = np.array([(p.easting, p.northing) for p in after.pegs]) - made.pegs
    assert np.abs(off).max() < 1.0
    assert not list(adjustment_findings(after, found, made.soundings))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_adjustment_agrees_with_a_sampler_of_exact_places(seed):
    """Four pegs: a Metropolis chain over their points, the bed integrated out exactly at every step."""
    rng = np.random.default_rng(seed)
    off = Off(pegs_m=rng.normal(0, 2.0, (4, 2)))
    made = surveyed(WATER, bed, 4, off, Stated(peg_m=2.0, distance=1e-6, direction_deg=1e-6))
    venue, every = made.venue, np.ones(len(made.soundings), bool)
    theta = {"variance": 0.5, "length": 12.0, "nugget": 1e-4, "amplitude_length": 5.0, "profile_variance": 0.5,
             "profile_length": 8.0}  # fmt: skip
    observations = observations_from(venue, made.soundings, FRAME)
    bed_slope = observations.no_slope
    for _ in range(8):
        data = observations.data(bed_slope, every)
        fitted = TiledPosterior.on(CANDIDATES[0], theta, data, Partition.over(data.places.xy), across=False)
        values = unknowns_of(fitted, observations)
        observations = observations.adjusted(dict(zip(observations.errors.unknowns, values.tolist(), strict=True)))
        bed_slope = bed_slope_of(fitted, observations)
    names = observations.errors.unknowns
    of_pegs = [k for k, (kind, _) in enumerate(names) if kind.startswith("peg")]
    drawn = _sampled(observations, theta, [names[k] for k in of_pegs], values[of_pegs], rng)
    mean, sd = drawn.mean(axis=0), drawn.std(axis=0)
    # Most probable against mean: what is skew, and 1 500 steps of a chain, leave within half a standard deviation.
    assert np.abs(values[of_pegs] - mean).max() < 0.6 * sd.max()
    assert np.sqrt(np.mean(((values[of_pegs] - mean) / sd) ** 2)) < 0.6


def _sampled(observations, theta, names, start, rng, steps=1500):
    """Values of some unknowns along a chain, shape (steps, k)."""

    def log_density(values: np.ndarray) -> float:
        here = observations.adjusted(dict(zip(names, values.tolist(), strict=True)))
        data = _plain(here)
        gaps = Separations.between(data.places, data.places, False)
        ends = EndSlopes(data.places.shore_m, data.profile)
        total = covariance(CANDIDATES[0], theta, gaps, ends, ends) + data.noise(theta["nugget"]) + 1e4
        lower = np.linalg.cholesky(total)
        solved = np.linalg.solve(lower, data.values)
        return float(-np.log(np.diag(lower)).sum() - 0.5 * solved @ solved - 0.5 * values @ values)

    found, now, density = [], start.copy(), log_density(start)
    for _ in range(steps):
        step = now + rng.normal(0, 0.12, len(now))
        there = log_density(step)
        if np.log(rng.random()) < there - density:
            now, density = step, there
        found.append(now)
    return np.array(found[steps // 5 :])


def _plain(observations):
    """Readings and shore at the places they have, each with its own error of depth alone."""
    data, _ = observations.bare_data(observations.no_slope, np.ones(len(observations), bool))
    n = len(observations)
    own = np.append(observations.own_var, data.own[n:])
    return replace(data, own=own)


def test_two_threads_and_one_adjust_alike(monkeypatch):
    off = Off(pegs_m=np.random.default_rng(3).normal(0, 3.0, (12, 2)), distance=0.04)
    found = []
    for threads in ("1", "2"):
        monkeypatch.setenv("LAKEPLUMB_THREADS", threads)
        with threadpool_limits(int(threads)):
            found.append(adjusted(off, pegs=12)[2].values)
    # Stated standard deviations of 5 m: a hundredth of a millimetre.
    assert found[0] == pytest.approx(found[1], abs=2e-6)
