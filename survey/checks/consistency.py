"""Findings on soundings and bed: what does not fit, what is missing. Flags, never deletes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from survey.bed.grid import Bed
from survey.bed.gridding import NARROW_CELLS, narrow_water_m2
from survey.checks.residuals import misfit_findings
from survey.depth_model.model import LakeModel
from survey.depth_model.screening import SCREEN_LEAST
from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.records.soundings import Soundings
from survey.records.venue import Venue
from survey.units import shown_length

OUT_OF_REACH = 2.0
"""A cast longer than this many times the venue's reach gets a warning (ours)."""
SAME_SPOT_M = 1.0
SAME_SPOT_Z = 3.0
MOST_PAIRS = 50_000
"""With more pairs of readings at one spot than this, each is compared with a few and named once: one mistake in a
crowd would be reported for everyone in it."""
NEAREST_COMPARED = 6
NO_VARIATION_M = 0.02
FAR_OFF_Z = 5.0
NARROW_LEAST_M2 = 4.0


def check(venue: Venue, soundings: Soundings, model: LakeModel, bed: Bed, left: pd.DataFrame) -> tuple[Finding, ...]:
    """All findings on a survey that has been worked up; ``left`` is from :func:`survey.checks.residuals.residuals`."""
    return (
        *misfit_findings(soundings, model, left, venue.shows),
        *_disagreements(soundings, model, venue.shows),
        *_out_of_reach(venue, soundings),
        *_coverage(venue, soundings, model),
        *_narrow(venue, bed),
    )


def _place(soundings: Soundings, row: int) -> SourceRow:
    table = soundings.table
    return SourceRow(str(table["file"].iloc[row]), int(table["row"].iloc[row]))


def _disagreements(soundings: Soundings, model: LakeModel, shows: str) -> Iterator[Finding]:
    """Readings of one spot that differ by more than their errors together allow."""
    rows, observations = model.observations.rows, model.observations
    pairs, crowded = _of_one_spot(observations.places.xy)
    apart = np.abs(observations.depth_m[pairs[:, 0]] - observations.depth_m[pairs[:, 1]])
    variance = observations.own_var + model.bed_slope.own_var.sum(axis=1)
    steep = np.linalg.norm(model.bed_slope.slope, axis=1)[pairs[:, 0]] * SAME_SPOT_M
    over = apart - SAME_SPOT_Z * np.sqrt(variance[pairs].sum(axis=1)) - steep
    flagged = np.flatnonzero(over > 0)
    for k in _each_once(pairs, flagged[np.argsort(-over[flagged], kind="stable")]) if crowded else flagged:
        first, second = sorted(_place(soundings, int(rows[i])) for i in pairs[k])
        yield Finding(
            Grade.WARNING,
            "spot-disagrees",
            first,
            f"2 readings at one spot differ by {shown_length(float(apart[k]), shows)}; the other is {second}",
            "Plumb the spot again, and keep the readings that agree.",
        )


def _of_one_spot(xy: NDArray[np.float64]) -> tuple[NDArray[np.intp], bool]:
    """Pairs of readings of one spot, shape (k, 2), first below second, and whether they are too many to take all.

    Of a crowd each is then compared with a few of its nearest.
    """
    tree = cKDTree(xy)
    if tree.count_neighbors(tree, SAME_SPOT_M) <= 2 * MOST_PAIRS + len(xy):
        return np.array(sorted(tree.query_pairs(SAME_SPOT_M)), np.intp).reshape(-1, 2), False
    _, near = tree.query(xy, k=NEAREST_COMPARED + 1, distance_upper_bound=SAME_SPOT_M)
    first, second = np.repeat(np.arange(len(xy)), near.shape[1]), near.ravel()
    pairs = np.sort(np.column_stack([first, second])[(second < len(xy)) & (second != first)], axis=1)
    return np.unique(pairs, axis=0), True


def _each_once(pairs: NDArray[np.intp], order: NDArray[np.intp]) -> Iterator[int]:
    """Pairs in an order, but none of a reading that was named already."""
    named: set[int] = set()
    for k in order.tolist():
        pair = set(pairs[k].tolist())
        if not pair & named:
            named |= pair
            yield k


def _out_of_reach(venue: Venue, soundings: Soundings) -> Iterator[Finding]:
    """Casts from a peg that are longer than anybody's float goes."""
    table, longest = soundings.table, OUT_OF_REACH * venue.limits.reach_m
    far = table["use"].to_numpy(bool) & (table["peg"] != "").to_numpy() & (table["distance_m"] > longest).to_numpy()
    for row in np.flatnonzero(far).tolist():
        yield Finding(
            Grade.WARNING,
            "out-of-reach",
            _place(soundings, row),
            f"peg {table['peg'].iloc[row]}: {venue.distances.whole(table['distance_m'].iloc[row])} from the peg is "
            f"more than {OUT_OF_REACH:g} times the reach of {venue.distances.whole(venue.limits.reach_m)}",
            "Check the distance unit, the wrap length and the peg; give positions for readings from a boat.",
        )


def _coverage(venue: Venue, soundings: Soundings, model: LakeModel) -> Iterator[Finding]:
    plumbed = set(soundings.table.loc[soundings.table["use"].astype(bool), "peg"])
    for peg in venue.pegs:
        if peg.name not in plumbed and not peg.is_closed:
            yield Finding(
                Grade.NOTE,
                "peg-unplumbed",
                peg.place,
                f"peg {peg.name} has no reading in use",
                "Plumb it near, middle and far, straight out and to both sides.",
            )
    used = int(model.kept.sum())
    everywhere = SourceRow("readings")
    if used < SCREEN_LEAST:
        few = "1 reading shapes" if used == 1 else f"{used} readings shape"
        yield Finding(
            Grade.WARNING,
            "few-readings",
            everywhere,
            f"only {few} the bed, so the ± is wide and a wrong reading goes unnoticed",
            f"Plumb more: with {SCREEN_LEAST} readings, those that disagree with the rest can be set aside.",
        )
    depth = model.observations.depth_m[model.kept]
    if used > 1 and float(np.ptp(depth)) < NO_VARIATION_M:
        yield Finding(
            Grade.NOTE,
            "no-variation",
            everywhere,
            f"all {used} depths are within {shown_length(NO_VARIATION_M, venue.shows)} of each other, "
            "so the bed looks flat",
            "Check that one depth was not copied down the column.",
        )


def _narrow(venue: Venue, bed: Bed) -> Iterator[Finding]:
    area = narrow_water_m2(venue, bed.grid.cell_m)
    if area > NARROW_LEAST_M2 + 0.01 * venue.water.area:
        yield Finding(
            Grade.NOTE,
            "narrow-water",
            SourceRow("outline"),
            f"{venue.spans.area(area)} of water is narrower than {NARROW_CELLS} cells of {bed.grid.cell_m:g} m",
            f"Build with --cell {bed.grid.cell_m / 2:g} to show it better.",
        )
