"""What each part of the adjustment is worth: the bed with one part more at a time, on the same sheets.

    .venv/bin/python -m scripts.studies.ablation [--cases exact phone] [--all] [--out FILE]

Lakes marked choosing, or all with ``--all``, written as clubs do with nothing declared
(``scripts/benches/club_sheets.py``); errors within reach of a peg. Parts are taken out of the code as it runs.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from unittest.mock import patch

import numpy as np
from scipy.sparse import csr_array, hstack
from scipy.spatial import cKDTree

from scripts.benches.club_sheets import AT, truth_at, write_survey
from scripts.benches.file_path import CASES, WITHIN_M, Z_95
from scripts.benches.lakes import MOST_ASKED, all_lakes, asked_points
from scripts.benches.waters import FloatArray, Lake
from survey.adjustment.peg_points import pegs_on_bank
from survey.depth_model import adjusting, screening
from survey.depth_model.fitting import fit_lake
from survey.depth_model.model import LakeModel
from survey.depth_model.observations import observations_from
from survey.fieldbook import read_fieldbook
from survey.geometry.water import WaterGeometry
from survey.kriging.covariance import CandidateModel
from survey.kriging.data import ConditioningData, ErrorSource
from survey.kriging.likelihood import FULL, FitSize, Fitted, fit_theta
from survey.records.fieldbook import Fieldbook
from survey.reduction.reduce import reduce_soundings

PARTS = ("sizes as stated", "and learned", "and pegs on the bank", "and the adjustment")


def as_stated(
    member: CandidateModel,
    data: ConditioningData,
    sources: Sequence[ErrorSource],
    across: bool,
    start: Fitted,
    size: FitSize = FULL,
) -> Fitted:
    """Parameters with every error as large as stated."""
    own = data.own + sum((source.own for source in sources), np.zeros(len(data)))
    shared = csr_array(hstack([data.shared, *(source.shared for source in sources)]))
    return Fitted(fit_theta(member, replace(data, own=own, shared=shared), across, start.theta, size), {})


@contextmanager
def only(parts: int) -> Iterator[None]:
    """The code with so many of its parts: 1 has sizes as stated alone."""
    moves, learns = parts == len(PARTS), parts > 1
    with (
        patch.object(adjusting, "ROUNDS", adjusting.ROUNDS if moves else 0),
        patch.object(adjusting, "ROUNDS_MORE", adjusting.ROUNDS_MORE if moves else 0),
        patch.object(screening, "fit_with_errors", screening.fit_with_errors if learns else as_stated),
    ):
        yield


def fitted(book: Fieldbook, parts: int) -> LakeModel:
    """The lake's model with so many parts."""
    if parts > 2:
        book = replace(book, venue=pegs_on_bank(book.venue))
    soundings, _ = reduce_soundings(book)
    frame = WaterGeometry(book.venue.water)
    with only(parts):
        return fit_lake(frame, observations_from(book.venue, soundings, frame))


def scores(lake: Lake, case: str) -> Iterator[tuple[float, float, float]]:
    """Root mean square error, mean error and share inside the 95 % range, part by part."""
    with tempfile.TemporaryDirectory() as name:
        written = write_survey(lake, Path(name) / "venue", 1, CASES[case])
        book = read_fieldbook(written.folder)
    at = asked_points(lake, max(2.0, (lake.water.area / MOST_ASKED) ** 0.5)) + AT
    at = at[cKDTree(written.pegs).query(at)[0] < WITHIN_M]
    truth: FloatArray = truth_at(lake, at)
    for parts in range(1, len(PARTS) + 1):
        depth, sd = fitted(book, parts).predict(at)
        off = depth - truth
        yield float(np.sqrt(np.mean(off**2))), float(off.mean()), float(np.mean(np.abs(off) <= Z_95 * sd))


def table_of(found: Mapping[str, Sequence[Sequence[tuple[float, float, float]]]]) -> str:
    """In Markdown: errors as geometric means over those of the first part; worst mean error; mean share held."""
    lines = ["| case | parts | error | worst mean error, m | 95 % hold |", "|---|---|---|---|---|"]
    for case, lakes in found.items():
        values = np.array(lakes)
        ratio = np.exp(np.log(values[:, :, 0] / values[:, :1, 0]).mean(axis=0))
        worst = values[np.abs(values[:, :, 1]).argmax(axis=0), np.arange(len(PARTS)), 1]
        for k, part in enumerate(PARTS):
            lines.append(f"| {case} | {part} | {ratio[k]:.2f} | {worst[k]:+.3f} | {values[:, k, 2].mean():.2f} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Measure and write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", nargs="+", choices=list(CASES), default=["exact", "phone"])
    parser.add_argument("--all", action="store_true", help="not only lakes marked choosing")
    parser.add_argument("--out", type=Path, default=Path("out/bench/ablation.md"))
    asked = parser.parse_args()
    which = [lake for lake in all_lakes() if asked.all or lake.choosing]
    found: dict[str, list[list[tuple[float, float, float]]]] = {case: [] for case in asked.cases}
    for case in asked.cases:
        for lake in which:
            found[case].append(list(scores(lake, case)))
            print(case, lake.name, " ".join(f"{error:.3f}" for error, *_ in found[case][-1]), flush=True)
    asked.out.parent.mkdir(parents=True, exist_ok=True)
    asked.out.write_text(table_of(found), encoding="utf-8")
    print(asked.out.read_text("utf-8"))


if __name__ == "__main__":
    main()
