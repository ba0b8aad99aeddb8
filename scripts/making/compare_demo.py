"""Work the demo venue up and compare its bed and its flags with the truth they were made from.

Run as ``.venv/bin/python -m scripts.making.compare_demo [VENUE]``; without a venue, data/sallowby-pit.
"""

from __future__ import annotations

import csv
import sys
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from scripts.making import demo_bed
from survey.bed.grid import Bed
from survey.fieldbook import read_fieldbook
from survey.findings import Grade
from survey.workup import WorkedSurvey, work_up

ROOT = Path(__file__).resolve().parents[2]

Row = tuple[str, int]


@dataclass(frozen=True)
class Match:
    """How a bed meets the truth in a part of the water."""

    where: str
    cells: int
    rmse_m: float
    bias_m: float
    within: float
    mean_sd_m: float

    def __str__(self) -> str:
        return (
            f"{self.where:<34}{self.cells:>7}{self.rmse_m:>9.3f}{self.bias_m:>9.3f}"
            f"{self.mean_sd_m:>9.3f}{self.within:>9.1%}"
        )


def matches(worked: WorkedSurvey) -> list[Match]:
    """RMSE and share inside ±1.96 sd: within reach, over the lake, and where the survey says it is surveyed."""
    bed, limits = worked.bed, worked.venue.limits
    e, n = np.meshgrid(bed.grid.eastings, bed.grid.northings)
    error = bed.depth_m - demo_bed.depth(e - demo_bed.ORIGIN[0], n - demo_bed.ORIGIN[1])
    surveyed = (bed.sd_m <= limits.sd_m) & ~(bed.beyond_reach & (bed.sd_m > limits.beyond_sd_m))
    parts = {
        "within reach of a peg": ~bed.beyond_reach,
        "beyond reach": bed.beyond_reach,
        "the whole lake": np.ones_like(bed.on_water),
        "surveyed by the venue's limits": surveyed,
        "unsurveyed": ~surveyed,
    }
    return [_match(where, error, bed, part & bed.on_water) for where, part in parts.items() if part[bed.on_water].any()]


def _match(where: str, error: NDArray[np.float64], bed: Bed, part: NDArray[np.bool_]) -> Match:
    wrong, sd = error[part], bed.sd_m[part]
    return Match(
        where,
        int(part.sum()),
        float(np.sqrt(np.mean(wrong**2))),
        float(wrong.mean()),
        float(np.mean(np.abs(wrong) <= 1.96 * sd)),
        float(sd.mean()),
    )


def planted(listing: Path) -> dict[Row, tuple[str, float]]:
    """Kind and depth error of each planted mistake by sheet and row."""
    with listing.open(encoding="utf-8", newline="") as file:
        return {(r["file"], int(r["row"])): (r["kind"], float(r["error_m"])) for r in csv.DictReader(file)}


def doubted(worked: WorkedSurvey) -> set[Row]:
    """Rows that the check names as wrong or doubtful."""
    named = {Grade.ERROR, Grade.WARNING}
    return {(f.place.file, f.place.row) for f in worked.findings if f.grade in named and f.place.row is not None}


def print_flags(truth: dict[Row, tuple[str, float]], flagged: set[Row]) -> None:
    """Precision and recall, and each kind of mistake with what became of it."""
    found = flagged & truth.keys()
    print(f"\nplanted mistakes {len(truth)}, rows flagged {len(flagged)}, of them planted {len(found)}")
    print(f"precision {len(found) / max(len(flagged), 1):.2f}   recall {len(found) / max(len(truth), 1):.2f}")
    kinds: dict[str, list[str]] = defaultdict(list)
    for row, (kind, error_m) in sorted(truth.items()):
        kinds[kind].append(f"{error_m:+.2f} m {'flagged' if row in flagged else 'missed'}")
    for kind, fates in sorted(kinds.items()):
        print(f"  {kind:<26}{'; '.join(fates)}")
    for file, number in sorted(flagged - truth.keys()):
        print(f"  flagged though not planted: {file}, row {number}")


def main(venue: Path) -> None:
    """Print the comparison."""
    worked = work_up(read_fieldbook(venue))
    print(f"{len(worked.soundings)} soundings, cells of {worked.bed.grid.cell_m:g} m")
    print(f"{'':<34}{'cells':>7}{'RMSE m':>9}{'bias m':>9}{'mean sd':>9}{'in 95 %':>9}")
    for match in matches(worked):
        print(match)
    if worked.holdout is not None:
        within = ", ".join(f"{nominal:.0%}: {share:.1%}" for nominal, share in sorted(worked.holdout.within.items()))
        print(f"pegs hidden one by one: RMSE {worked.holdout.rmse_m:.3f} m; inside {within}")
    print_flags(planted(venue.with_name(f"{venue.name}-truth") / "blunders.csv"), doubted(worked))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "data" / "sallowby-pit")
