"""Laws of the whole flow: level, order of rows and files, and what is never touched."""

import hashlib
import shutil
from pathlib import Path

import numpy as np
import pytest

from survey.fieldbook import read_fieldbook
from survey.floats import Rig
from survey.spots import CastScatter, Today, answer
from survey.venue import Float
from survey.workup import WorkedSurvey, work_up
from tests.survey.tolerances import NANOMETRE, WHOLE_MM

DEMO = Path(__file__).resolve().parents[2] / "data" / "sallowby-pit"
FLOAT = Float("ruler", 0.25, 0.02)


@pytest.fixture(scope="module")
def demo() -> WorkedSurvey:
    return work_up(read_fieldbook(DEMO))


def _digest(folder: Path) -> str:
    return hashlib.sha256(b"".join(p.read_bytes() for p in sorted(folder.iterdir()))).hexdigest()


def test_every_row_is_a_sounding_part_of_a_bracket_or_a_finding(demo: WorkedSurvey) -> None:
    book = demo.fieldbook
    rejected = {(f.place.file, f.place.row) for f in book.findings if f.grade.value == "error"}
    assert len(book.readings) + len(rejected) == book.rows
    placed = set(zip(demo.soundings.table["file"], demo.soundings.table["row"], strict=True))
    named = {(f.place.file, f.place.row) for f in demo.findings}
    lost = {(r.place.file, r.place.row) for r in book.readings} - placed - named
    assert not lost


@pytest.mark.parametrize("rise", [-0.2, 0.1, 0.35])
def test_level_up_is_every_setting_up_by_as_much(demo: WorkedSurvey, rise: float) -> None:
    compared = 0
    for spot in demo.spots[::7]:
        low = answer(demo.venue, demo.bed, spot, 90.0, CastScatter(4.0, 0.4), Today(0.0, FLOAT))
        high = answer(demo.venue, demo.bed, spot, 90.0, CastScatter(4.0, 0.4), Today(rise, FLOAT))
        for before, after in zip(low.settings, high.settings, strict=False):
            if before.setting_m is not None and after.setting_m is not None:
                assert after.setting_m - before.setting_m == pytest.approx(rise, abs=NANOMETRE)
                compared += 1
    assert compared > 20


def test_order_of_rows_and_of_files_changes_nothing(demo: WorkedSurvey, tmp_path: Path) -> None:
    folder = tmp_path / "turned"
    shutil.copytree(DEMO, folder)
    turner = np.random.default_rng(3)
    for name in ("readings-dolan.csv", "readings-ettery.csv", "pegs.csv", "levels.csv"):
        header, *rows = (folder / name).read_bytes().splitlines(keepends=True)
        turned = [rows[k] for k in turner.permutation(len(rows))]
        (folder / name).write_bytes(b"".join([header, *turned]))
    (folder / "readings-dolan.csv").rename(folder / "readings-z.csv")
    again = work_up(read_fieldbook(folder))
    np.testing.assert_allclose(again.bed.depth_mm, demo.bed.depth_mm, rtol=0, atol=WHOLE_MM)
    np.testing.assert_allclose(again.bed.sd_mm, demo.bed.sd_mm, rtol=0, atol=WHOLE_MM)


def test_sources_are_as_they_were(demo: WorkedSurvey) -> None:
    before = _digest(DEMO)
    read_fieldbook(DEMO)
    assert _digest(DEMO) == before
    assert len(demo.fieldbook.digest) == 64


def test_held_rig_lies_deeper_than_fast_and_fast_than_slow(demo: WorkedSurvey) -> None:
    found = answer(
        demo.venue, demo.bed, demo.spots[len(demo.spots) // 2], 90.0, CastScatter(4.0, 0.4), Today(0.0, FLOAT)
    )
    by_rig = {s.rig: s.setting_m for s in found.settings}
    slow, fast, held = by_rig[Rig.SLOW], by_rig[Rig.FAST], by_rig[Rig.HELD]
    assert None not in {slow, fast, held}
    assert slow < fast < held
