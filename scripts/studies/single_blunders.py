"""How many single mistakes the check finds in seeded surveys, at what price, and how many could be found at all.

    .venv/bin/python -m scripts.studies.single_blunders [--lakes N] [--dense] [--seed N]

2 % and 5 % of the readings are spoilt, one kind of mistake at a time, on made lakes and on the open beds of Long
and Plainfield Lake; depths and units also on the real soundings of Lake 227. A mistake counts if the reading then
lies in the water and differs from the bed at the written spot by more than half a metre. Told of: an error, a warning
or a note; warned of: an error or a warning. Precision counts every row so named that was not spoilt. The last columns
are what one could do who knows the true bed (not for Lake 227) and has only errors of place and depth to contend with.
"""

from __future__ import annotations

import argparse
import itertools
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from scripts.benches.club_surveys import (
    Club,
    club_survey,
    feet_for_metres,
    from_peg,
    metres_for_feet,
    mirrored,
    scaled_distance,
    shifted,
    without_float,
)
from scripts.benches.lakes import CRS, GPS_SD_M, HELD_OUT, SONAR_SD_M, blank_table, lakes, placed
from scripts.benches.real import lake_227
from survey.checks.residuals import DOUBTFUL_FROM, PERHAPS_FROM, figures_m
from survey.depth_model.fitting import fit_lake
from survey.depth_model.model import LakeModel
from survey.depth_model.observations import observations_from
from survey.geometry.water import WaterGeometry
from survey.kriging.outliers import OTHER_UNITS, OutlierProbability, outlier_probability
from survey.records.readings import Reading
from survey.records.soundings import Soundings
from survey.records.venue import Venue
from survey.reduction.reduce import reduce_soundings
from survey.units import FOOT_M

LARGE_M = 0.5
RATES = (0.02, 0.05)
PEGS = 50
CURVE = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.7, 0.9)
BINS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 1.01)
KINDS: dict[str, Callable[[Reading], Reading]] = {
    "feet for metres": feet_for_metres,
    "metres for feet": metres_for_feet,
    "mirrored": mirrored,
    "wrong peg": from_peg(2, PEGS),
    "a metre deeper": shifted(1.0),
    "0.6 m on weed": shifted(-0.6),
    "distance in feet": scaled_distance(FOOT_M),
    "float left out": without_float,
}
IN_DEPTH: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "feet for metres": lambda depth: depth / FOOT_M,
    "metres for feet": lambda depth: depth * FOOT_M,
    "a metre deeper": lambda depth: depth + 1.0,
    "0.6 m on weed": lambda depth: depth - 0.6,
}
"""What can be put into soundings by position."""


@dataclass(frozen=True)
class Judged:
    """The readings of one spoilt survey that shaped or might have shaped the bed, shape (n,) each.

    Parameters
    ----------
    spoilt, large : ndarray of bool
        Written wrong; and by over half a metre.
    aside : ndarray of bool
        Not heard by the bed.
    found, known : OutlierProbability
        By the check, and by one who knows the bed.
    kind : str
    """

    spoilt: np.ndarray
    large: np.ndarray
    aside: np.ndarray
    found: OutlierProbability
    known: OutlierProbability
    kind: str


def judged(
    venue: Venue, soundings: Soundings, figures: np.ndarray, bed: Callable[[np.ndarray], np.ndarray], kind: str,
    spoilt: np.ndarray,
) -> Judged:  # fmt: skip
    """What the check says of a survey; ``spoilt`` by rows of the soundings, ``bed`` at points of the venue."""
    frame = WaterGeometry(venue.water)
    model = fit_lake(frame, observations_from(venue, soundings, frame))
    rows, depth = model.observations.rows, model.observations.depth_m
    alone, sd = model.cross_validate(np.arange(len(rows))[:, None])
    truth = bed(soundings.xy[rows])
    return Judged(
        spoilt[rows],
        spoilt[rows] & (np.abs(depth - truth) > LARGE_M),
        ~model.kept,
        outlier_probability(depth, alone, sd, figures[rows]),
        outlier_probability(depth, truth, _least_sd(model, bed), figures[rows]),
        kind,
    )


def _least_sd(model: LakeModel, bed: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """Standard deviation of each reading about the true bed: of depth, level and place."""
    observations = model.observations
    bed_slope = observations.tilt_from(bed(observations.places.xy), bed(observations.beside.xy))
    own = observations.own_var + bed_slope.own_var.sum(axis=1)
    return np.asarray(np.sqrt(own + observations.shared(bed_slope).power(2).sum(axis=1)))


def of_club(club: Club, kind: str, rate: float, seed: int) -> Judged:
    """One kind of mistake in a share of a club's readings."""
    rng = np.random.default_rng(seed)
    turned, spoilt = [], set()
    for reading in club.book.readings:
        new = KINDS[kind](reading) if rng.random() < rate else reading
        turned.append(new)
        if new != reading:
            spoilt.add((reading.place.file, reading.place.row))
    book = replace(club.book, readings=tuple(turned))
    soundings, _ = reduce_soundings(book)
    table = soundings.table
    wrong = np.array([place in spoilt for place in zip(table["file"], table["row"], strict=True)])
    return judged(book.venue, soundings, figures_m(book, soundings), club.bed, kind, wrong)


def of_lake_227(kind: str, rate: float, seed: int) -> Judged:
    """The same in the depths of a third of Lake 227's soundings; what was sounded there is the truth."""
    water, xy, depth = lake_227()
    rng = np.random.default_rng(seed)
    some = rng.permutation(len(depth))[: len(depth) // HELD_OUT]
    spoilt = rng.random(len(some)) < rate
    written = np.maximum(np.where(spoilt, IN_DEPTH[kind](depth[some]), depth[some]), 0.0)
    table = blank_table(written, SONAR_SD_M)
    table["radial_sd_m"] = table["tangential_sd_m"] = GPS_SD_M
    soundings = placed(table, xy[some])
    true = {tuple(at): d for at, d in zip(xy[some].tolist(), depth[some].tolist(), strict=True)}

    def sounded(at: np.ndarray) -> np.ndarray:  # nan between the soundings
        return np.array([true.get(tuple(one), np.nan) for one in at.tolist()])

    return judged(Venue("Lake 227", CRS, water, ()), soundings, written, sounded, kind, spoilt)


def surveys(clubs: dict[str, Club], kind: str, rate: float, seed: int) -> Iterator[Judged]:
    """Every survey with one kind of mistake in it."""
    for k, club in enumerate(clubs.values()):
        yield of_club(club, kind, rate, seed + k)
    if kind in IN_DEPTH:
        yield of_lake_227(kind, rate, seed)


def condition_all(several: list[Judged], of: Callable[[Judged], np.ndarray]) -> np.ndarray:
    """One array of all surveys' readings."""
    return np.concatenate([of(one) for one in several])


def line(several: list[Judged]) -> str:
    """Recall and precision: warned of, told of, and at the same chance by one who knows the bed."""
    large, spoilt = condition_all(several, lambda j: j.large), condition_all(several, lambda j: j.spoilt)
    found, known = condition_all(several, lambda j: j.found.chance), condition_all(several, lambda j: j.known.chance)
    aside = condition_all(several, lambda j: j.aside)
    parts = []
    judged = np.ones(len(found), bool)
    for named, among in (
        (aside | (found >= DOUBTFUL_FROM), judged),
        (aside | (found >= PERHAPS_FROM), judged),
        (known >= DOUBTFUL_FROM, np.isfinite(known)),
    ):
        right, false = int((named & large & among).sum()), int((named & ~spoilt & among).sum())
        parts.append(f"{right / max((large & among).sum(), 1):.2f}/{right / max(right + false, 1):.2f}")
    return f"{large.sum():5d} large  warned {parts[0]}  told {parts[1]}  knowing the bed {parts[2]}"


def curve(several: list[Judged]) -> str:
    """Recall and precision by the chance from which a reading counts as named."""
    large, spoilt = condition_all(several, lambda j: j.large), condition_all(several, lambda j: j.spoilt)
    chance, parts = condition_all(several, lambda j: j.found.chance), []
    for least in CURVE:
        named = chance >= least
        right = int((named & large).sum())
        share = right / max(right + (named & ~spoilt).sum(), 1)
        parts.append(f"{least:.2f}: {right / max(large.sum(), 1):.2f}/{share:.2f}")
    return f"from a chance of  {'  '.join(parts)}"


def units_line(several: list[Judged]) -> str:
    """How often the unit named for a doubtful reading is the one it was spoilt by."""
    meant = {"feet for metres": "feet, not metres", "metres for feet": "metres, not feet"}
    right = wrong = 0
    for one in several:
        for row in np.flatnonzero((one.found.chance >= DOUBTFUL_FROM) & (one.found.unit >= 0)):
            is_right = one.spoilt[row] and meant.get(one.kind) == OTHER_UNITS[one.found.unit[row]].words
            right, wrong = right + bool(is_right), wrong + (not is_right)
    return f"units named rightly {right}, wrongly {wrong}"


def calibration(several: list[Judged]) -> str:
    """Share truly spoilt among readings of about the same chance."""
    spoilt, chance = condition_all(several, lambda j: j.spoilt), condition_all(several, lambda j: j.found.chance)
    known = condition_all(several, lambda j: j.large | ~j.spoilt)
    parts = []
    for low, high in itertools.pairwise(BINS):
        these = (chance >= low) & (chance < high)
        if these.any():
            parts.append(f"{chance[these].mean():.2f}: {spoilt[these].mean():.2f}")
    return f"chance said: spoilt share  {'  '.join(parts)}  ({(~known).sum()} spoilt by less than {LARGE_M} m)"


def main() -> None:
    """Run the study and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lakes", type=int, default=6)
    parser.add_argument("--dense", action="store_true")
    parser.add_argument("--seed", type=int, default=70)
    asked = parser.parse_args()
    start = time.monotonic()
    clubs = {lake.name: club_survey(lake, 900 + k, asked.dense) for k, lake in enumerate(lakes(asked.lakes))}
    print({name: len(club.book.readings) for name, club in clubs.items()}, "and Lake 227", flush=True)
    print("recall/precision")
    clean = list(surveys(clubs, "feet for metres", 0.0, asked.seed))
    rows = condition_all(clean, lambda j: j.aside | (j.found.chance >= DOUBTFUL_FROM))
    noted = condition_all(clean, lambda j: j.found.chance >= PERHAPS_FROM) & ~rows
    print(f"clean: of {len(rows)} readings {rows.mean():.2%} warned of, {noted.mean():.2%} noted", flush=True)
    for rate in RATES:
        everything: list[Judged] = []
        for kind in KINDS:
            several = list(surveys(clubs, kind, rate, asked.seed))
            everything += several
            print(f"{rate:4.0%} {kind:<18} {line(several)}", flush=True)
        print(f"{rate:4.0%} {'all':<18} {line(everything)}")
        print(f"     {curve(everything)}")
        print(f"     {units_line(everything)}\n     {calibration(everything)}", flush=True)
    print(f"{time.monotonic() - start:.0f} s")


if __name__ == "__main__":
    main()
