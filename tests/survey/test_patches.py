"""Large surveys in patches: the tiling, the shares, and agreement with the exact bed."""

import numpy as np
import pytest

from survey import patches
from survey.average import LakeModel, fit_lake
from survey.evidence import gather
from survey.patches import BLEND_M, Patchwork
from survey.water import WaterFrame
from tests.survey.made_soundings import bowl, scattered, soundings_at, venue_of, with_spit


@pytest.fixture
def tiled(monkeypatch: pytest.MonkeyPatch) -> Patchwork:
    monkeypatch.setattr(patches, "EXACT", 100)
    monkeypatch.setattr(patches, "OWN", 60)
    return Patchwork.over(np.random.default_rng(0).uniform(0, 200, (500, 2)))


def test_few_data_make_one_patch() -> None:
    one = Patchwork.over(np.random.default_rng(0).uniform(0, 200, (500, 2)))
    assert len(one.uses) == 1
    np.testing.assert_array_equal(one.shares(np.array([[1e6, -1e6]])), [[1.0]])


def test_every_spot_of_the_plane_has_a_patch_and_shares_add_to_one(tiled: Patchwork) -> None:
    xy = np.random.default_rng(1).uniform(-500, 700, (2000, 2))
    np.testing.assert_allclose(tiled.shares(xy).sum(axis=0), 1.0)
    assert len(tiled.uses) > 5


def test_shares_pass_over_without_a_step(tiled: Patchwork) -> None:
    line = np.column_stack([np.linspace(0, 200, 4001), np.full(4001, 87.0)])
    assert np.abs(np.diff(tiled.shares(line), axis=1)).max() < 3 * 0.05 / BLEND_M * 2


def test_every_datum_speaks_for_its_own_patch(tiled: Patchwork) -> None:
    xy = np.random.default_rng(0).uniform(0, 200, (500, 2))
    home = tiled.home(xy)
    assert all(home[i] == k or i in tiled.uses[home[i]] for k, uses in enumerate(tiled.uses) for i in uses)


def test_data_on_one_spot_cannot_be_halved_and_are_kept_together(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patches, "EXACT", 10)
    monkeypatch.setattr(patches, "OWN", 5)
    assert len(Patchwork.over(np.zeros((50, 2))).uses) == 1


def test_patches_agree_with_the_exact_bed(monkeypatch: pytest.MonkeyPatch) -> None:
    water = with_spit()
    xy = scattered(water, 400)
    venue, frame = venue_of(water), WaterFrame(water)
    depth = bowl(water)(xy) + np.random.default_rng(1).normal(0, 0.03, 400)
    evidence = gather(venue, soundings_at(xy, depth, 0.03, peg="1"), frame)

    def asked(model: LakeModel) -> np.ndarray:
        return np.array([*model.predict(scattered(water, 600, seed=3))])

    exact = fit_lake(frame, evidence)
    monkeypatch.setattr(patches, "EXACT", 200)
    monkeypatch.setattr(patches, "OWN", 150)
    monkeypatch.setattr(patches, "ROUND_ABOUT", 150)
    patched = fit_lake(frame, evidence)
    assert len(patched.members[0].fits) > 2
    (mean, sd), (mean_patched, sd_patched) = asked(exact), asked(patched)
    assert np.sqrt(np.mean((mean - mean_patched) ** 2)) < 0.02
    np.testing.assert_allclose(sd_patched, sd, rtol=0.5, atol=0.01)
    alone = [np.array([i]) for i in range(400)]
    np.testing.assert_allclose(patched.left_out(alone)[0], exact.left_out(alone)[0], atol=0.15)
