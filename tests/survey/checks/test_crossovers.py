"""Crossovers: what one observer reads too deep is found with its error; sound readings are not accused."""

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.sparse import csr_array

from survey.checks import crossovers
from survey.checks.crossovers import Crossovers, bias_findings, cross_over
from survey.depth_model.fitting import fit_lake
from survey.depth_model.observations import observations_from
from survey.errors import SourceRow
from survey.geometry.water import WaterGeometry
from survey.records.fieldbook import Fieldbook
from tests.made.readings import AT_DATUM, book, reading
from tests.made.soundings import bowl, rectangle, scattered, soundings_at, venue_of
from tests.made.tolerances import HUNDREDTH_MM

WATER = rectangle()
VENUE = venue_of(WATER)
BOOK = replace(book(), venue=VENUE, levels=AT_DATUM)


def crossed(deeper_m: dict[str, float], seed: int = 3, sd: float = 0.05) -> tuple[Crossovers, list]:
    rng = np.random.default_rng(seed)
    xy = scattered(WATER, 240, seed)
    who = rng.choice(list(deeper_m), len(xy))
    depth = bowl(WATER)(xy) + rng.normal(0, sd, len(xy)) + [deeper_m[name] for name in who]
    soundings = soundings_at(xy, depth, sd, observer=who, day="2026-05-03")
    frame = WaterGeometry(WATER)
    model = fit_lake(frame, observations_from(VENUE, soundings, frame))
    found = cross_over(BOOK, soundings, model)
    return found, list(bias_findings(found, soundings, BOOK))


def test_a_bias_is_found_with_its_error():
    found, told = crossed({"Maud": 0.0, "Len": 0.0, "Priya": 0.2})
    biases = {bias.name: bias for bias in found.biases if bias.kind == "observer"}
    apart = biases["Priya"].bias_m - (biases["Maud"].bias_m + biases["Len"].bias_m) / 2
    assert apart == pytest.approx(0.2, abs=0.05)
    assert sum(bias.bias_m for bias in biases.values()) == pytest.approx(0, abs=HUNDREDTH_MM)
    assert biases["Priya"].is_clear
    assert any(
        f.code == "bias-observer" and re.match(r"observer Priya reads [4-7]½? in ± \d?½? in deeper", f.problem)
        for f in told
    )


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_sound_observers_are_not_accused_and_their_errors_hold(seed):
    found, told = crossed({"Maud": 0.0, "Len": 0.0, "Priya": 0.0}, seed)
    assert told == []
    assert all(abs(bias.bias_m) < 3.5 * bias.sd_m for bias in found.biases)
    assert 0.5 < found.rms_z < 1.6
    assert {bias.kind for bias in found.biases} == {"observer"}


def test_a_few_wild_pairs_do_not_bend_a_bias():
    """Two who differ by 0.20 m at 60 spots; at six more somebody read the wrong peg."""
    apart = np.concatenate([0.2 + 0.05 * stats.norm.ppf((np.arange(60) + 0.5) / 60), np.full(6, -3.0)])
    design = csr_array(np.tile([1.0, -1.0], (66, 1)))
    bias, sd = crossovers._robust(design, apart, np.full(66, 0.05))
    # Huber (1964): each wild pair is heard as if it were 1.5 sd off, each sound one within that as it is.
    heard = 6 * 1.5 * 0.05 / (60 * (2 * stats.norm.cdf(1.5) - 1))
    assert bias[0] - bias[1] == pytest.approx(0.2 - heard, abs=0.001)
    assert (sd > 0.005).all()


def test_of_too_many_pairs_a_draw_finds_the_same_bias(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(crossovers, "WITHIN_M", 8.0)
    every, _ = crossed({"Maud": 0.0, "Priya": 0.2})
    monkeypatch.setattr(crossovers, "MOST_PAIRS", len(every.pairs) // 4)
    some, _ = crossed({"Maud": 0.0, "Priya": 0.2})
    assert len(every.pairs) / 6 < len(some.pairs) < len(every.pairs) / 2.5
    for first, second in zip(every.biases, some.biases, strict=True):
        assert second.bias_m == pytest.approx(first.bias_m, abs=3 * second.sd_m)
        assert second.sd_m > first.sd_m


def test_one_wild_reading_makes_no_bias():
    rng = np.random.default_rng(1)
    xy = scattered(WATER, 200, 2)
    who = np.where(np.arange(200) % 2, "Maud", "Len")
    depth = bowl(WATER)(xy) + rng.normal(0, 0.05, 200)
    depth[7] += 1.0
    soundings = soundings_at(xy, depth, 0.05, observer=who)
    frame = WaterGeometry(WATER)
    found = cross_over(BOOK, soundings, fit_lake(frame, observations_from(VENUE, soundings, frame)))
    assert not [bias for bias in found.biases if bias.is_clear]


def test_floats_come_from_the_readings_and_methods_from_the_table():
    rng = np.random.default_rng(5)
    xy = scattered(WATER, 200, 5)
    soundings = soundings_at(xy, bowl(WATER)(xy) + rng.normal(0, 0.05, 200), 0.05)
    soundings.table["method"] = np.where(np.arange(200) % 2, "pole", "float")
    held = [
        reading(row, setting_m=1.0, depth_m=None, float_name="waggler" if row % 4 else "peacock")
        for row in soundings.table["row"]
    ]
    frame = WaterGeometry(WATER)
    given: Fieldbook = replace(BOOK, readings=tuple(held))
    found = cross_over(given, soundings, fit_lake(frame, observations_from(VENUE, soundings, frame)))
    assert {(b.kind, b.name) for b in found.biases} == {
        ("float", "peacock"), ("float", "waggler"), ("method", "float"), ("method", "pole"),
    }  # fmt: skip
    assert SourceRow("readings.csv", 2) in {r.place for r in given.readings}


def test_an_edge_that_does_not_fit_is_told_as_an_edge():
    rng = np.random.default_rng(5)
    xy = scattered(WATER, 240, 5)
    is_edge = np.arange(240) % 2 == 0
    soundings = soundings_at(xy, bowl(WATER)(xy) + rng.normal(0, 0.05, 240) - 0.3 * is_edge, 0.05)
    soundings.table.loc[is_edge, "method"] = "edge"
    frame = WaterGeometry(WATER)
    found = cross_over(BOOK, soundings, fit_lake(frame, observations_from(VENUE, soundings, frame)))
    told = {str(f) for f in bias_findings(found, soundings, BOOK) if f.code == "bias-method"}
    assert any(
        "water's edge of a low day is" in words and "the day on which the edge was walked" in words for words in told
    )
    assert not any("method edge" in words for words in told)


def test_survey_without_neighbours_has_no_biases():
    xy = np.array([[20.0, 20], [60, 20], [100, 20], [20, 60], [60, 60]])
    soundings = soundings_at(xy, np.full(5, 2.0), observer=list("ababa"))
    frame = WaterGeometry(WATER)
    found = cross_over(BOOK, soundings, fit_lake(frame, observations_from(VENUE, soundings, frame)))
    assert (len(found.pairs), found.biases, np.isnan(found.rms_z)) == (0, (), True)
