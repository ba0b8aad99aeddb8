"""Plumb the demo lake, whose true bed is known, at levels drawn from the prior: how well does the level follow.

Run as ``.venv/bin/python -m scripts.making.plumb_demo [DRAWS]``. Every draw picks other pegs and suggested
spots; casts fall with the scatter of a distance estimated and a direction by the clock.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from scripts.making import demo_bed
from survey.fieldbook import read_fieldbook
from survey.geometry.geodesy import Geodesy
from survey.records.floats import BARE_LINE
from survey.reduction.depths import float_sd_m
from survey.spots.cast import Spot, met_by_cast
from survey.spots.level_by_plumbing import LevelPrior, Plumb, level_found, level_prior, plumb_at
from survey.spots.questions import Question, question_of_spot
from survey.workup import WorkedSurvey, work_up

VENUE = Path(__file__).resolve().parents[2] / "data" / "sallowby-pit"
MONTH, DRAWS, SEED = 6, 2000, 11
Z_95 = 1.96


def main(draws: int) -> None:
    """Print, for one to three plumbs, the share of levels inside the stated range and how wide it is."""
    worked = work_up(read_fieldbook(VENUE))
    prior = level_prior(worked.fieldbook.levels, worked.venue.mark, worked.venue.standard_errors, MONTH)
    print(f"before any plumb: {prior.rise_m:+.2f} m, sd {prior.sd_m:.3f} m; {draws} draws each")
    for count in (1, 2, 3):
        held, error, width, doubted = plumb_often(worked, prior, count, draws)
        print(
            f"{count} plumb{'s' if count > 1 else ''}: inside the 95 % range {held:.1%}, rmse {error:.3f} m, "
            f"stated sd {width:.3f} m, doubted {doubted:.1%}"
        )


def plumb_often(worked: WorkedSurvey, prior: LevelPrior, count: int, draws: int) -> tuple[float, float, float, float]:
    """Share inside the range, root mean square error, mean stated sd and share doubted."""
    rng = np.random.default_rng(SEED + count)
    errors, sds, doubted = [], [], 0
    for _ in range(draws):
        rise = rng.normal(prior.rise_m, prior.sd_m)
        spots = [worked.spots[k] for k in rng.choice(len(worked.spots), count, replace=False)]
        found = level_found([_plumbed(worked, spot, rise, rng) for spot in spots], prior)
        errors.append(found.rise_m - rise)
        sds.append(found.sd_m)
        doubted += found.disagree or found.wrong is not None
    inside = np.abs(errors) <= Z_95 * np.array(sds)
    return float(inside.mean()), float(np.sqrt(np.mean(np.square(errors)))), float(np.mean(sds)), doubted / draws


def _plumbed(worked: WorkedSurvey, spot: Spot, rise: float, rng: np.random.Generator) -> Plumb:
    """What somebody who meant to cast to a spot would find, and the plumb it makes."""
    venue = worked.venue
    question = question_of_spot(venue, spot, venue.mark.datum_m, BARE_LINE)
    own_sd = float_sd_m(spot.distance_m, venue.standard_errors)
    e, n = _fallen(worked, question, rng)
    depth = float(demo_bed.depth(e - demo_bed.ORIGIN[0], n - demo_bed.ORIGIN[1])) + rise + rng.normal(0, own_sd)
    azimuth = question.bearing_deg - Geodesy(venue.crs).convergence_deg(spot.easting, spot.northing)
    met = met_by_cast(worked.bed, spot, azimuth, question.scatter(venue))
    if met is None:
        raise ValueError(f"{spot} is off the water")
    return plumb_at((spot.easting, spot.northing), met, depth, own_sd)


def _fallen(worked: WorkedSurvey, question: Question, rng: np.random.Generator) -> tuple[float, float]:
    """Where the cast fell, on the water: one on land is cast again."""
    geometry, peg, scatter = Geodesy(worked.venue.crs), question.peg, question.scatter(worked.venue)
    while True:
        bearing = question.bearing_deg + rng.normal(0, scatter.direction_deg)
        distance = question.spot.distance_m + rng.normal(0, scatter.distance_m)
        e, n = geometry.cast(peg.lon, peg.lat, bearing, max(distance, 0.1))
        if not np.isnan(worked.bed.at(e, n)[0][0]):
            return float(e), float(n)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else DRAWS)
