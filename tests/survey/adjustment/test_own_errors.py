"""Sources of what readings err by singly: whose, and whether declared."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.adjustment.error_sizes import ASSUMED, DECLARED
from survey.adjustment.own_errors import LEAST_TOLD, own_sources, own_variance

KINDS = ("depth", "distance", "direction", "place")


def sizes_of(observers: list[str], declared: str = "") -> dict[str, int]:
    """Names of the sources of casts, and how many readings each touches."""
    n = len(observers)
    found = own_sources(observers, np.ones(n, bool), [declared] * n)
    return {source.size.name: int(source.of.sum()) for source in found}


def test_only_who_plumbed_often_has_sources_of_his_own():
    often, seldom = LEAST_TOLD, LEAST_TOLD - 1
    found = sizes_of(["Ida"] * often + ["Tom"] * seldom)
    assert {name: n for name, n in found.items() if "distance" in name} == {
        "distance by Ida": often,
        "distance": seldom,
    }


@given(
    st.lists(
        st.tuples(st.sampled_from(["Ida", "Tom", "Ada"]), st.booleans(), st.sets(st.sampled_from(KINDS[:3]))),
        min_size=1,
        max_size=300,
    )
)
def test_each_reading_has_one_source_of_each_kind_that_touches_it(rows):
    observers, is_cast, declared = zip(*rows, strict=True)
    said = [" ".join(sorted(kinds)) for kinds in declared]
    found = own_sources(observers, np.array(is_cast), said)
    assert len({source.size for source in found}) == len(found)
    for kind in KINDS:
        touched = sum(source.of.astype(int) for source in found if source.size.kind == kind)
        due = {"depth": np.ones(len(rows)), "place": ~np.array(is_cast)}.get(kind, np.array(is_cast))
        assert np.array_equal(np.broadcast_to(touched, len(rows)), due)
        for source in (source for source in found if source.size.kind == kind):
            assert {kind in declared[k] for k in np.flatnonzero(source.of)} == {source.size.is_declared}


def test_what_was_declared_is_held_more_tightly_than_what_was_assumed():
    for kind in KINDS:
        assert DECLARED.log_sd < ASSUMED[kind].log_sd
    found = own_sources(["Ida"], np.ones(1, bool), ["distance"])
    assert {source.size.name: source.size.prior for source in found} == {
        "depth": ASSUMED["depth"], "declared distance": DECLARED, "direction": ASSUMED["direction"],
    }  # fmt: skip


def test_variances_add_with_the_squares_of_their_sizes():
    found = own_sources(
        ["Ida"] * LEAST_TOLD + ["Tom"], np.array([True] * LEAST_TOLD + [False]), [""] * (LEAST_TOLD + 1)
    )
    var = {kind: np.full(LEAST_TOLD + 1, v) for kind, v in zip(KINDS, (0.01, 0.04, 0.09, 0.5), strict=True)}
    out = own_variance(found, var, {"depth by Ida": 2.0, "distance by Ida": 0.5, "place": 3.0})
    assert out[0] == pytest.approx(4 * 0.01 + 0.25 * 0.04 + 0.09)
    assert out[-1] == pytest.approx(0.01 + 9 * 0.5)
