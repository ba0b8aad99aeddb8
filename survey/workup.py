"""The whole flow, top to bottom: fieldbook in, frozen WorkedSurvey out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from survey.adjustment.found import Adjusted
from survey.adjustment.peg_points import pegs_on_bank
from survey.adjustment.placing import moved_soundings
from survey.bed.contours import chosen_interval_m, isobaths
from survey.bed.grid import Bed
from survey.bed.gridding import chosen_cell_m, make_bed
from survey.checks.adjusted import adjustment_findings
from survey.checks.consistency import check
from survey.checks.coverage import gaps_in_coverage
from survey.checks.crossovers import Crossovers, bias_findings, cross_over
from survey.checks.decisions import answered, tagged, trusted_rows
from survey.checks.one_way import casts_one_way
from survey.checks.residuals import figures_m, residuals
from survey.checks.systematic.diagnose import cause_findings, shared_mistakes
from survey.checks.validation import Holdout, hold_out
from survey.depth_model.adjusting import adjustment_of
from survey.depth_model.fitting import fit_lake
from survey.depth_model.model import LakeModel
from survey.depth_model.observations import observations_from
from survey.depth_model.screening import SCREEN_LEAST
from survey.errors import SourceRow
from survey.findings import LEVEL_SIGN, Finding, ordered
from survey.geometry.water import WaterGeometry
from survey.records.fieldbook import Fieldbook
from survey.records.soundings import Soundings
from survey.records.venue import Venue
from survey.reduction.past_readings import softened, without_past
from survey.reduction.reduce import reduce_soundings
from survey.spots.cast import Spot
from survey.spots.suggested import suggested


@dataclass(frozen=True)
class Settings:
    """How to work a survey up.

    Parameters
    ----------
    cell_m : float or None
        Output cell; None: chosen by the area of the water.
    """

    cell_m: float | None = None


@dataclass(frozen=True, eq=False)
class WorkedSurvey:
    """A survey worked up; everything that is shown or written comes from here.

    Parameters
    ----------
    fieldbook : Fieldbook
    soundings : Soundings
    bed : Bed
    residuals : DataFrame
        One row per sounding, same order: ``fitted_m`` (bed at the sounding without it),
        ``residual_m`` (depth minus fitted), ``z`` (standardised), ``mistaken`` (chance), ``doubtful`` (bool); see
        :func:`survey.checks.residuals.residuals`. And ``changed`` (bool): where the bed seems to have changed.
    isobaths : GeoDataFrame
        ``depth_m`` (datum), ``strong`` (bool), line geometry, venue CRS.
    spots : tuple of Spot
    findings : tuple of Finding
        All of them, ordered.
    holdout : Holdout or None
        None with too few pegs to hide one.
    crossovers : Crossovers or None
        Readings of one spot by different hands, and the bias of each.
    readings_shown : bool
        False: single readings may be counted, but not shown or handed on.
    """

    fieldbook: Fieldbook
    soundings: Soundings
    bed: Bed
    residuals: pd.DataFrame
    isobaths: gpd.GeoDataFrame
    spots: tuple[Spot, ...]
    findings: tuple[Finding, ...]
    holdout: Holdout | None
    settings: Settings = field(default_factory=Settings)
    crossovers: Crossovers | None = None
    readings_shown: bool = True

    @property
    def shown(self) -> WorkedSurvey:
        """The same with those readings only that may be shown one by one."""
        if self.readings_shown:
            return self
        table = self.soundings.table
        return replace(self, soundings=Soundings(table.iloc[:0]), residuals=self.residuals.iloc[:0])

    @property
    def venue(self) -> Venue:
        """The venue the survey is of."""
        return self.fieldbook.venue

    @cached_property
    def days(self) -> tuple[str, str] | None:
        """First and last day of the readings, ISO; None if no reading has a date."""
        days = sorted(d for d in self.soundings.table["day"] if d)
        return (days[0], days[-1]) if days else None


def work_up(
    fieldbook: Fieldbook, settings: Settings | None = None, progress: Callable[[str], None] | None = None
) -> WorkedSurvey:
    """Work a survey up: reduce, fit, grid, check, draw lines, choose spots.

    The linear algebra keeps to one thread throughout: its matrices are many and small, and results
    do not depend on how many processors there are.

    Parameters
    ----------
    fieldbook : Fieldbook
    settings : Settings, optional
    progress : callable, optional
        Told in words what is being done.

    Raises
    ------
    BedError
        No bed can be made: no reading with a depth can be used, or the cell is unworkable.
    """
    with threadpool_limits(1):
        return _worked_up(fieldbook, settings or Settings(), progress or (lambda _: None))


@dataclass(frozen=True, eq=False)
class FittedSurvey:
    """A survey reduced, fitted and adjusted, before anything is drawn of it.

    Parameters
    ----------
    fieldbook : Fieldbook
        Its pegs where, and facing as, the adjustment has them.
    soundings : Soundings
        Likewise.
    reduced : tuple of Finding
        What the reduction said.
    model : LakeModel
    adjusted : Adjusted
    """

    fieldbook: Fieldbook
    soundings: Soundings
    reduced: tuple[Finding, ...]
    model: LakeModel
    adjusted: Adjusted


def fit_survey(fieldbook: Fieldbook, report: Callable[[str], None] = lambda _: None) -> FittedSurvey:
    """Draw the pegs to the bank, reduce the readings, fit the lake and adjust.

    Raises
    ------
    BedError
        No reading with a depth can be used.
    """
    report("reducing readings to the datum")
    fieldbook, past = without_past(replace(fieldbook, venue=pegs_on_bank(fieldbook.venue)))
    soundings, reduced = reduce_soundings(fieldbook)
    frame = WaterGeometry(fieldbook.venue.water)
    trusted = trusted_rows(fieldbook.decisions)
    model = fit_lake(frame, observations_from(fieldbook.venue, soundings, frame, trusted), report)
    adjusted = adjustment_of(model)
    soundings = moved_soundings(soundings, fieldbook.venue, adjusted.values)
    fieldbook = replace(fieldbook, venue=adjusted.applied_to(fieldbook.venue))
    return FittedSurvey(fieldbook, soundings, (*past, *softened(reduced, fieldbook)), model, adjusted)


def _worked_up(fieldbook: Fieldbook, settings: Settings, report: Callable[[str], None]) -> WorkedSurvey:
    fitted = fit_survey(fieldbook, report)
    soundings, model, adjusted, venue = fitted.soundings, fitted.model, fitted.adjusted, fitted.fieldbook.venue
    if len(soundings) >= SCREEN_LEAST:
        venue = replace(venue, stated=(*venue.stated, *adjusted.sentences(venue)))
    fieldbook = replace(fitted.fieldbook, venue=venue)
    report("drawing the grid")
    bed = make_bed(venue, model, settings.cell_m or chosen_cell_m(venue.water.area))
    report("checking the readings against the bed")
    left = residuals(soundings, model, bed, figures_m(fieldbook, soundings))
    report("looking for what would explain them")
    explained = _explained(fieldbook, soundings, model)
    left["changed"] = [row in explained.changed for row in soundings.places] if explained.changed else False
    found = (
        *fieldbook.findings,
        *fitted.reduced,
        *check(venue, soundings, model, bed, left),
        *explained.findings,
        *adjustment_findings(venue, adjusted, soundings),
        *gaps_in_coverage(fieldbook, soundings),
        *casts_one_way(fieldbook),
    )
    interval = chosen_interval_m(float(np.nanmax(bed.depth_m)), venue.shows == "feet")
    return WorkedSurvey(
        fieldbook,
        soundings,
        bed,
        left,
        isobaths(bed, venue.crs, interval),
        suggested(venue, bed),
        ordered(tagged(answered(found, fieldbook.decisions), fieldbook.tags)),
        hold_out(model),
        settings,
        explained.crossovers,
    )


class Explained(NamedTuple):
    """What is found of all that readings share.

    Parameters
    ----------
    crossovers : Crossovers
        Readings of one spot beside each other.
    findings : tuple of Finding
    changed : frozenset of SourceRow
        Readings of water where the bed seems to have changed.
    """

    crossovers: Crossovers
    findings: tuple[Finding, ...]
    changed: frozenset[SourceRow] = frozenset()


def _explained(fieldbook: Fieldbook, soundings: Soundings, model: LakeModel) -> Explained:
    crossovers = cross_over(fieldbook, soundings, model)
    biases = tuple(bias_findings(crossovers, soundings, fieldbook))
    if any(finding.code == LEVEL_SIGN for finding in biases):
        # With the level mark read the wrong way round every day disagrees with the others: correct that first.
        return Explained(crossovers, biases)
    causes = shared_mistakes(fieldbook, soundings, model)
    changed = frozenset(row for cause in causes if cause.is_change for row in cause.group.rows)
    if changed:
        crossovers = cross_over(fieldbook, soundings, model, changed)
        biases = tuple(bias_findings(crossovers, soundings, fieldbook))
    return Explained(crossovers, (*biases, *cause_findings(causes, fieldbook.venue.shows)), changed)
