"""What large surveys cost, and whether bed and check hold as readings grow in number.

    .venv/bin/python -m scripts.benches.large [--readings 1000 10000 100000] [--hectares 20 4] [--whole]

Each size runs in a process of its own: seconds on the clock and of the processors, peak memory of the whole process,
the share of seeded mistakes of over half a metre that were set aside or warned of, sound rows warned of, and the bed's
error against the true one at every cell. ``--whole`` runs ``work_up`` from the fieldbook on, causes included.
"""

from __future__ import annotations

import argparse
import resource
import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np

from scripts.benches.large_surveys import LARGE_M, Large, large_survey
from scripts.benches.measure import KIB_PER_MB, measured
from survey.bed.grid import Bed
from survey.bed.gridding import chosen_cell_m, make_bed
from survey.checks.consistency import check
from survey.checks.crossovers import cross_over
from survey.checks.residuals import figures_m, residuals
from survey.checks.validation import hold_out
from survey.depth_model.fitting import fit_lake
from survey.depth_model.model import LakeModel
from survey.depth_model.observations import observations_from
from survey.geometry.water import WaterGeometry
from survey.records.soundings import Soundings
from survey.reduction.reduce import reduce_soundings
from survey.units import Z_95
from survey.workup import work_up

LIMIT_S = 3600.0
T = TypeVar("T")


class Clock:
    """Seconds by step, on the clock and of the processors."""

    def __init__(self) -> None:
        self.steps: dict[str, tuple[float, float]] = {}

    def __call__(self, name: str, work: Callable[[], T]) -> T:
        """Do a step."""
        wall, spent = time.perf_counter(), time.process_time()
        out = work()
        self.steps[name] = time.perf_counter() - wall, time.process_time() - spent
        return out

    def line(self) -> str:
        """All steps, and their sum."""
        wall, spent = (sum(step[k] for step in self.steps.values()) for k in (0, 1))
        parts = ", ".join(f"{name} {s[1]:.1f}" for name, s in self.steps.items())
        return f"{wall:6.1f} s, {spent:6.1f} s of processor ({parts}); peak {peak_mb():.0f} MB"


def peak_mb() -> float:
    """Most memory the process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_MB


def by_steps(large: Large) -> str:
    """The bed and the check, step by step."""
    clock, venue = Clock(), large.book.venue
    soundings, _ = clock("reduce", lambda: reduce_soundings(large.book))
    frame = WaterGeometry(venue.water)
    observations = clock("gather", lambda: observations_from(venue, soundings, frame))
    model = clock("fit", lambda: fit_lake(frame, observations))
    bed = clock("grid", lambda: make_bed(venue, model, chosen_cell_m(venue.water.area)))
    left = clock("compare", lambda: residuals(soundings, model, bed, figures_m(large.book, soundings)))
    clock("crossovers", lambda: cross_over(large.book, soundings, model))
    clock("check", lambda: check(venue, soundings, model, bed, left))
    clock("hold out", lambda: hold_out(model))
    doubtful = left["doubtful"].to_numpy(bool)
    return f"{clock.line()}\n    {found(large, soundings, model, doubtful)}\n    {held(large, bed)}"


def found(large: Large, soundings: Soundings, model: LakeModel, doubtful: np.ndarray) -> str:
    """Seeded mistakes set aside and warned of, and sound rows warned of."""
    table = soundings.table
    rows = zip(table["file"], table["row"], strict=True)
    spoilt_rows = {(place.file, place.row) for place in large.spoilt}
    spoilt = np.array([row in spoilt_rows for row in rows]) & table["use"].to_numpy(bool)
    off = np.abs(table["depth_m"].to_numpy(float) - large.bed(soundings.xy)) > LARGE_M
    aside = np.zeros(len(table), bool)
    aside[model.observations.rows[~model.kept]] = True
    big = spoilt & off
    return (
        f"mistakes over {LARGE_M} m: {big.sum()}, set aside {aside[big].mean():.3f}, "
        f"warned of {doubtful[big].mean():.3f}; "
        f"sound rows set aside {(aside & ~spoilt).mean():.2%}, warned of {(doubtful & ~spoilt).mean():.2%}"
    )


def held(large: Large, bed: Bed) -> str:
    """The bed's error at its cells, and how often its ranges hold."""
    wet = bed.on_water
    x, y = np.meshgrid(bed.grid.eastings, bed.grid.northings)
    error = np.abs(bed.depth_m[wet] - large.bed(np.column_stack([x[wet], y[wet]])))
    rms, inside = np.sqrt(np.mean(error**2)), np.mean(error < Z_95 * bed.sd_m[wet])
    return f"bed: rms error {rms:.4f} m, mean sd {bed.sd_m[wet].mean():.4f} m, 95 % held {inside:.3f}"


def whole(large: Large) -> str:
    """The whole flow after reading the sheets."""
    clock = Clock()
    worked = clock("work up", lambda: work_up(large.book))
    codes = [finding.code for finding in worked.findings]
    counts = ", ".join(f"{code} {codes.count(code)}" for code in sorted(set(codes)))
    return f"{clock.line()}\n    findings: {counts}\n    {held(large, worked.bed)}"


def main() -> None:
    """Run the sizes asked for and print what each cost and gave."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--readings", type=int, nargs="+", default=[1000, 3000, 10_000, 30_000, 100_000])
    parser.add_argument("--hectares", type=float, nargs="+", default=[20.0, 4.0])
    parser.add_argument("--whole", action="store_true")
    asked = parser.parse_args()
    run = whole if asked.whole else by_steps
    for hectares in asked.hectares:
        for readings in asked.readings:
            cost = measured(lambda n=readings, ha=hectares: run(large_survey(n, ha)), LIMIT_S)
            print(f"{readings} readings on {hectares:g} ha: {cost.result or cost.fault}", flush=True)


if __name__ == "__main__":
    main()
