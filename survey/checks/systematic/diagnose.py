"""Groups of readings that do not fit as a whole, and the mistake that explains them, where one does.

Each group (sheet, observer, day, peg, patch of water) is compared with the bed predicted from the others. A cause is
named only after the group was rewritten without that mistake and then fits.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice

from threadpoolctl import threadpool_limits

from survey.arrays import FloatArray
from survey.checks.systematic.groups import PEGS, SHEETS, Group, Sorts, SuspectGroup, suspect_groups
from survey.checks.systematic.hypotheses import (
    MIRRORED,
    Hypothesis,
    left_for_right,
    of_day,
    of_hand,
    of_peg,
    of_sheets,
)
from survey.checks.systematic.messages import finding
from survey.checks.systematic.patches import suspect_patches
from survey.checks.systematic.reference import LEAST_OUTSIDE, TROUBLED, ReferenceBed, among_themselves
from survey.checks.systematic.testing import LEAST_GAIN, Diagnosis, costs_under, diagnosis, together
from survey.depth_model.model import LakeModel
from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.records.fieldbook import Fieldbook
from survey.records.soundings import Soundings
from survey.records.venue import Venue

AS_BAD = 0.75
"""Groups that cost so much of the worst are tried with it; the others only fit badly because of it, as a rule."""
MOST_TRIED, MOST_AT_FIRST = 250, 60
"""Most readings of a group that are compared, and how many in the first pass over mistakes."""
CONTENDERS, CONTENDS = 4, 0.3
"""Most mistakes examined closely, if each gains this share of what the best does."""
LEAST_LEFT = 0.6
"""With fewer readings left to compare with, no more is named: correct what was found first."""
MOST_NAMED = 6
"""More mistakes are not looked for at once: each is sought in a bed without those before it, and takes as long."""
MOST_TURNED = 12
"""Pegs that were mirrored count as one mistake, but each is sought by itself, up to so many in all."""
MORE = Finding(
    Grade.NOTE,
    "more-causes",
    SourceRow("readings"),
    f"{MOST_NAMED} mistakes shared by many readings are listed; there may be more",
    "Correct these, then check again.",
)
SAME_ROWS = 0.5
"""A group of which a patch holds this share is hardly more than the patch."""
SUSPECT_AMONG = 0.12
"""A survey that stands alone is looked at from this share of readings that do not fit among themselves."""
MOST_INSIDE = 1200
"""Most readings of a survey that is cross-validated against itself."""


def likely_causes(fieldbook: Fieldbook, soundings: Soundings, model: LakeModel) -> tuple[Finding, ...]:
    """Findings on :func:`shared_mistakes`."""
    return cause_findings(shared_mistakes(fieldbook, soundings, model), fieldbook.venue.shows)


def shared_mistakes(fieldbook: Fieldbook, soundings: Soundings, model: LakeModel) -> tuple[Diagnosis, ...]:
    """What explains why whole groups of readings do not fit: mistakes that they share, or a bed that changed.

    Parameters
    ----------
    fieldbook : Fieldbook
    soundings : Soundings
        Of its readings.
    model : LakeModel
        Fitted to them.

    Returns
    -------
    tuple of Diagnosis
        One a group; one for all pegs whose left and right were swapped. The clearest is named first; the others are
        then compared with a bed made without it, so that one bad sheet does not cast doubt on its neighbours.

    Notes
    -----
    A peg whose left and right were swapped can be told only where the bed differs between its sides (root mean square
    over its spots). On made surveys (``scripts/studies/mirrored.py``): with 25 pegs of about 25 readings, 21 of 23 were
    named, all of those from 0.18 m; with 50 pegs of 8 or 9, all 6 from 0.8 m, 2 of 5 from 0.45 m and none of 22 below.
    All pegs of one observer were named in 4 of 5 surveys, not where ten of his thirteen had less than 0.11 m.
    """
    with threadpool_limits(1):
        named: tuple[Diagnosis, ...] = ()
        for one in islice(_named(fieldbook, ReferenceBed.by(model, soundings)), MOST_TURNED):
            named = tuple(together([*named, one]))
            if len(named) == MOST_NAMED:
                break
        if not named and (whole := _of_all(fieldbook, soundings, model)):
            named = (whole,)
    return named


def cause_findings(named: Sequence[Diagnosis], shows: str) -> tuple[Finding, ...]:
    """A finding for each, lengths in what the venue ``shows`` first; a note where there may be more."""
    findings = tuple(finding(one, shows) for one in named)
    return (*findings, MORE) if len(named) == MOST_NAMED else findings


def _named(fieldbook: Fieldbook, reference: ReferenceBed) -> Iterator[Diagnosis]:
    least = LEAST_LEFT * reference.counted.sum()
    for sorts in (SHEETS, PEGS):
        while reference.counted.sum() >= least:
            best = _clearest(_suspects(sorts, fieldbook, reference), fieldbook, reference)
            if best is None:
                break
            yield best
            rows = best.group.rows
            reference = reference.without(rows)
            fieldbook = replace(fieldbook, readings=tuple(r for r in fieldbook.readings if r.place not in rows))


def _suspects(sorts: Sorts, fieldbook: Fieldbook, reference: ReferenceBed) -> list[SuspectGroup]:
    """Groups that fit badly, the worst first; a patch stands for a day or a person that took little else."""
    patches = suspect_patches(fieldbook, reference) if sorts is SHEETS else []
    others = [one for one in suspect_groups(sorts, fieldbook, reference) if not any(_is_patch(one, p) for p in patches)]
    return sorted([*patches, *others], key=lambda one: (-one.cost, one.group.kind, one.group.name))


def _is_patch(one: SuspectGroup, patch: SuspectGroup) -> bool:
    """Whether a group is hardly more than a patch that cannot be told from it."""
    shared = len(one.group.rows & patch.group.rows)
    return (one.group.kind, one.group.name) in patch.rivals and shared >= SAME_ROWS * len(one.group.rows)


def _clearest(left: Sequence[SuspectGroup], fieldbook: Fieldbook, reference: ReferenceBed) -> Diagnosis | None:
    """The group that an explanation helps most, among those that fit about as badly."""
    while left:
        worst = [one for one in left if one.cost >= AS_BAD * left[0].cost]
        left = left[len(worst) :]
        found = [v for one in worst if (v := _diagnosed(one, fieldbook, reference.without(one.group.rows)))]
        if found:
            return max(found, key=lambda v: (v.gain, v.group.kind, v.group.name))
    return None


def _diagnosed(suspect: SuspectGroup, fieldbook: Fieldbook, reference: ReferenceBed) -> Diagnosis | None:
    """The explanation of a group by a bed made without it; None where nothing explains it.

    Looked for with parameters as of any lake, on some of the readings; what is found there has to hold with
    parameters fitted without the group. Pegs are small and spoil none.
    """
    written = reference.model.observations.source.venue
    group, hypotheses = suspect.group, _possible(suspect, fieldbook, written)
    if not group.is_peg:
        hypotheses = _contenders(group, fieldbook, hypotheses, reference)
    predictor = reference.predictor(reference.any_lake if group.is_peg else None) if hypotheses else None
    if predictor is None:
        return None
    some = group.some(MOST_TRIED)
    found = diagnosis(some, *costs_under(some, fieldbook, hypotheses, predictor.cost_of))
    if found and any(h.code == MIRRORED for h in found.hypotheses):
        # Straight out is less sure before the adjustment, and that alone may make readings fit.
        plain, tests = costs_under(
            some, replace(fieldbook, venue=written), (left_for_right(written),), predictor.cost_of
        )
        found = found if diagnosis(some, plain, tests) else None
    return replace(found, group=group) if found else None


def _possible(suspect: SuspectGroup, fieldbook: Fieldbook, written: Venue) -> tuple[Hypothesis, ...]:
    venue, group = fieldbook.venue, suspect.group
    if suspect.hardly:
        return (left_for_right(written),)
    if suspect.hypotheses:
        return suspect.hypotheses
    if group.is_peg:
        unplumbed = frozenset(peg.name for peg in venue.pegs) - {reading.peg for reading in fieldbook.readings}
        return tuple(of_peg(venue, written, group.readings[0].peg, unplumbed))
    days = {reading.when.day for reading in group.readings if reading.when}
    alone = (
        len(days) == 1
        and all(r.when and r.when.day in days for r in group.readings)
        and not any(r.when and r.when.day in days and r.place not in group.rows for r in fieldbook.readings if r.use)
    )
    # The level of a day is wrong for everybody who plumbed on it.
    return (*of_sheets(venue, written), *(of_day if alone else of_hand)(suspect.miss_m, venue.shows))


def _contenders(
    group: Group, fieldbook: Fieldbook, hypotheses: Sequence[Hypothesis], reference: ReferenceBed
) -> tuple[Hypothesis, ...]:
    """Mistakes whose correction seems to help, the best first."""
    predictor, some = reference.predictor(reference.any_lake), group.some(MOST_AT_FIRST)
    if predictor is None:
        return ()
    before, tests = costs_under(some, fieldbook, hypotheses, predictor.cost_of)
    gains = sorted(((before.cost.sum() - fitted.cost.sum(), -k) for k, (_, fitted) in enumerate(tests)), reverse=True)
    least = max(CONTENDS * gains[0][0], 0.5 * LEAST_GAIN[0] * len(some.readings) / len(group.readings)) if gains else 0
    return tuple(tests[-k][0] for gain, k in gains if gain >= least)[:CONTENDERS]


def _of_all(fieldbook: Fieldbook, soundings: Soundings, model: LakeModel) -> Diagnosis | None:
    """The explanation of a survey that stands alone, by how well its readings agree among themselves."""
    group = Group("survey", "", tuple(reading for reading in fieldbook.readings if reading.use))
    if not LEAST_OUTSIDE <= len(group.readings) <= MOST_INSIDE:
        return None
    alone = ReferenceBed.by(model, soundings)
    misfits = alone.cross_validate([frozenset([reading.place]) for reading in group.readings])
    astray = sum(abs(misfits[r.place].z) ** 2 > TROUBLED if r.place in misfits else True for r in group.readings)
    if astray < SUSPECT_AMONG * len(group.readings):
        return None
    # A factor on all depths changes nothing about how they agree.
    likely = [
        h
        for h in of_sheets(fieldbook.venue, model.observations.source.venue)
        if h.code not in {"likely-depth-unit", "likely-float-length"}
    ]

    def cost_of(some: Soundings) -> tuple[FloatArray, FloatArray]:
        return among_themselves(fieldbook.venue, some, model)

    # One by one: every way to write them has a bed of its own.
    before, _ = costs_under(group, fieldbook, (), cost_of)
    return diagnosis(group, before, [test for h in likely for test in costs_under(group, fieldbook, [h], cost_of)[1]])
