"""Residuals: each reading compared with the bed predicted from the others, and how likely it is to be wrong."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from survey.arrays import FloatArray
from survey.bed.grid import Bed
from survey.depth_model.model import LakeModel
from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.kriging.outliers import OTHER_UNITS, outlier_probability
from survey.records.fieldbook import Fieldbook
from survey.records.readings import FloatSeen
from survey.records.soundings import Soundings
from survey.units import Z_95, shown_length

DOUBTFUL_FROM = 0.25
"""A reading gets a warning from this chance of being mistaken: on well surveyed lakes nearly nine in ten mistakes of
over half a metre are then found, and more than four of five warnings are right
(``scripts/studies/single_blunders.py --dense``)."""
PERHAPS_FROM = 0.1
"""From this chance it gets a note: worth plumbing again in passing."""
BOUND_Z = 2.0
TENTHS, ALL_BUT_SURE = 10, 0.99


def figures_m(fieldbook: Fieldbook, soundings: Soundings) -> FloatArray:
    """The figure each depth was made of, setting or depth, metres, shape (n,); nan for bounds, brackets and edges."""
    written = {
        (r.place.file, r.place.row): r.depth_m if r.setting_m is None else r.setting_m
        for r in fieldbook.readings
        if r.setting_m is None or r.seen not in {FloatSeen.SUNK, FloatSeen.FLAT, FloatSeen.USUAL}
    }
    table = soundings.table
    figures = [written.get(place) for place in zip(table["file"], table["row"], strict=True)]
    plain = ((table["kind"] == "depth") & (table["method"] != "edge")).to_numpy(bool)
    return np.where(plain, np.array([np.nan if f is None else f for f in figures], float), np.nan)


def residuals(soundings: Soundings, model: LakeModel, bed: Bed, figures: FloatArray | None = None) -> pd.DataFrame:
    """Each sounding against a bed made without it.

    Parameters
    ----------
    soundings : Soundings
    model : LakeModel
    bed : Bed
    figures : ndarray, shape (n,), optional
        From :func:`figures_m`; without them no other unit is thought of.

    Returns
    -------
    DataFrame
        Rows as in ``soundings.table``: ``fitted_m``, ``residual_m`` (depth minus fitted), ``predicted_sd_m``
        (of the reading about ``fitted_m``), ``z`` (standardised),
        ``mistaken`` (chance, nan for bounds and rows not in use), ``unit`` (index into
        :data:`survey.kriging.outliers.OTHER_UNITS` of the unit that would mend it, -1: none), ``mended_m`` (the depth
        it would say) and ``doubtful``. Bounds have a fitted depth and a ``z`` that is negative where the bed breaks
        them; rows not in use are compared with the bed.
    """
    table = soundings.table
    depth = table["depth_m"].to_numpy(float)
    fitted, bed_sd, _ = bed.at(soundings.xy[:, 0], soundings.xy[:, 1])
    sd = np.hypot(bed_sd, table["sd_m"].to_numpy(float))
    rows = model.observations.rows
    fitted[rows], sd[rows] = model.cross_validate(np.arange(len(rows))[:, None])
    residual = depth - fitted
    with np.errstate(invalid="ignore"):
        z = residual / sd
    bound = (table["kind"] != "depth").to_numpy(bool)
    side = np.where(table["kind"] == "at_least", -1.0, 1.0)
    z = np.where(bound, np.minimum(side * z, 0.0), z)
    used = table["use"].to_numpy(bool)
    found = outlier_probability(
        np.where(used & ~bound, depth, np.nan), fitted, sd, np.full(len(table), np.nan) if figures is None else figures
    )
    doubtful = np.where(bound, np.abs(z) > BOUND_Z, found.chance >= DOUBTFUL_FROM)
    doubtful[rows[~model.kept]] = True
    return pd.DataFrame(
        {
            "fitted_m": fitted,
            "residual_m": residual,
            "predicted_sd_m": sd,
            "z": z,
            "mistaken": found.chance,
            "unit": found.unit,
            "mended_m": found.mended_m,
            "doubtful": doubtful & used,
        },
        index=table.index,
    )


def misfit_findings(
    soundings: Soundings, model: LakeModel, left: pd.DataFrame, shows: str = "metres"
) -> Iterator[Finding]:
    """Findings on readings and bounds that disagree with their neighbours; ``left`` is from :func:`residuals`.

    Lengths are in what the venue ``shows`` first.
    """
    set_aside = set(model.observations.rows[~model.kept].tolist())
    is_depth = (soundings.table["kind"] == "depth").to_numpy(bool)
    if len(model.observations.rows) == 1:
        # A lone reading has no neighbours to disagree with.
        return
    doubtful = left["doubtful"].to_numpy(bool)
    perhaps = ~doubtful & (left["mistaken"] >= PERHAPS_FROM).to_numpy(bool)
    for row in np.flatnonzero(is_depth & (doubtful | perhaps)).tolist():
        if row in set_aside:
            yield _misfit(Grade.ERROR, "set aside, as", row, soundings, left, shows)
        elif doubtful[row]:
            yield _misfit(Grade.WARNING, "still used, though", row, soundings, left, shows)
        else:
            yield _misfit(Grade.NOTE, "used, though", row, soundings, left, shows)
    for row in np.flatnonzero(~is_depth & doubtful).tolist():
        yield _broken_bound(row, soundings, left, shows)


def _misfit(grade: Grade, fate: str, row: int, soundings: Soundings, left: pd.DataFrame, shows: str) -> Finding:
    table, found = soundings.table.iloc[row], left.iloc[row]
    # Close to the bank what is predicted of a reading may lie above the water, where there is no bed.
    depth, give = float(table["depth_m"]), Z_95 * float(found["predicted_sd_m"])
    lowest, fitted, highest = (max(float(found["fitted_m"]) + by, 0.0) for by in (-give, 0.0, give))
    who = "a point of this edge" if table["method"] == "edge" else f"peg {table['peg'] or '(none)'}"
    lower, upper = shown_length(lowest, shows), shown_length(highest, shows)
    side = "above datum" if depth < 0 else "deep"
    mended = ""
    if found["unit"] >= 0:
        mended = f"; in {OTHER_UNITS[int(found['unit'])].words}, it would be {shown_length(found['mended_m'], shows)}"
    remedy = (
        "Plumb it again when you are there; if the depth repeats, it is a feature of the bed."
        if grade is Grade.NOTE
        else "Check its unit, direction, distance, float and peg; plumb it again, or set use to no."
    )
    return Finding(
        grade,
        "misfit",
        _place(soundings, row),
        f"{who}: {shown_length(abs(depth), shows)} {side}, but its neighbours predict {shown_length(fitted, shows)} "
        f"({lower} to {upper}, 95 %){mended}; {fate} {chance_words(float(found['mistaken']))} such readings are wrong",
        remedy,
    )


def chance_words(chance: float) -> str:
    """A chance for a reader.

    Examples
    --------
    >>> chance_words(0.42), chance_words(0.96), chance_words(0.999)
    ('about 4 in 10', 'more than 9 in 10', 'more than 99 in 100')
    """
    if chance >= ALL_BUT_SURE:
        return "more than 99 in 100"
    tenths = max(round(10 * chance), 1)
    return "more than 9 in 10" if tenths == TENTHS else f"about {tenths} in 10"


def _broken_bound(row: int, soundings: Soundings, left: pd.DataFrame, shows: str) -> Finding:
    table, fitted = soundings.table.iloc[row], left["fitted_m"].iloc[row]
    least = table["kind"] == "at_least"
    return Finding(
        Grade.WARNING,
        "bound-broken",
        _place(soundings, row),
        f"what was seen says {'over' if least else 'under'} {shown_length(table['depth_m'], shows)} of water, but the "
        f"other readings predict {shown_length(fitted, shows)}",
        "Check what was seen, the setting and the spot, then plumb it again.",
    )


def _place(soundings: Soundings, row: int) -> SourceRow:
    table = soundings.table
    return SourceRow(str(table["file"].iloc[row]), int(table["row"].iloc[row]))
