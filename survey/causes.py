"""Groups of readings that do not fit as a whole, and the mistake that explains them, where one does.

A group (sheet, observer, day, peg) is judged by a bed made without it. A cause is named only after
the group was rewritten without that mistake and then fits.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from survey.average import LakeModel
from survey.covariance import MEMBERS
from survey.errors import BedError, Place
from survey.evidence import gather
from survey.findings import Finding, Grade
from survey.hypotheses import Hypothesis, of_peg, of_sheets
from survey.members import Theta, fit_theta, prior_theta
from survey.patches import Conditioned, Patchwork
from survey.readings import Fieldbook, Reading
from survey.reduction import reduce
from survey.soundings import Soundings
from survey.water import WaterFrame

Floats = NDArray[np.float64]
Judge = Callable[[Soundings], Floats]
"""Squared standardised misfit of each sounding."""

LEAST = 4
"""Readings of a group."""
LEAST_OUTSIDE = 12
"""Readings that the judging bed must rest on."""
CAPPED = 12.0
"""A reading that cannot be right costs this much, however wrong it is: about 3.5 standard deviations."""
TROUBLED = 6.0
SUSPECT_MEAN, SUSPECT_SHARE = 1.8, 0.25
DOUBTFUL_AT_FIRST_Z = 2.0
SUSPECT_SHARE_AT_FIRST = (0.1, 0.2)
"""A group, a peg, is looked at more closely from this share of rows so far off or with no place on the water."""
FITS_MEAN = 2.2
HALVED = 0.5
LEAST_GAIN = (20.0, 25.0)
"""Of a group, of a peg: pegs are many, and many others are tried for each."""
CLEAR_GAIN = 8.0
"""By so much the best explanation has to beat the next of another kind."""
NEAR_STEP = 2.0**0.5
MOST_INSIDE = 1200
"""Readings up to which a survey is judged by itself."""
MOST_SUSPECTS = 15
MOST_JUDGING, MOST_TRIED = 1200, 250
"""So many readings are enough to judge by, and so many of a group to be judged; large surveys are thinned to them."""


@dataclass(frozen=True)
class Group:
    """Readings that may share a mistake, and what they have in common in words."""

    words: str
    readings: tuple[Reading, ...]
    peg: str = ""

    @property
    def rows(self) -> frozenset[Place]:
        """Where they stand."""
        return frozenset(reading.place for reading in self.readings)


@dataclass(frozen=True)
class Verdict:
    """A group with the cost of its readings as written, and of the best rewriting."""

    group: Group
    hypothesis: Hypothesis
    before: Floats
    after: Floats

    @property
    def gain(self) -> float:
        """How much better the readings fit, in squared standard deviations."""
        return float(self.before.sum() - self.after.sum())


def likely_causes(fieldbook: Fieldbook, soundings: Soundings, model: LakeModel) -> tuple[Finding, ...]:
    """Mistakes that explain why whole groups of readings do not fit.

    Parameters
    ----------
    fieldbook : Fieldbook
    soundings : Soundings
        Of its readings.
    model : LakeModel
        Fitted to them.

    Returns
    -------
    tuple of Finding
        One a group. The clearest is named first; the others are then judged by a bed without it,
        so that one bad sheet does not accuse its neighbours.
    """
    findings, explained = [], frozenset[Place]()
    judging = _thinned(model.kept)
    skipped = frozenset(_places(model.kept & ~judging, soundings, model))
    with threadpool_limits(1):
        for sorts in (SORTS, PEGS):
            left = replace(model, kept=judging & ~_among(explained, soundings, model))
            open_groups = _unexplained(_suspects(sorts, fieldbook, soundings, left, skipped), explained)
            while verdicts := [v for g in open_groups if (v := _verdict(g, fieldbook, soundings, left, explained))]:
                best = max(verdicts, key=lambda v: (v.gain, v.group.words))
                findings.append(_finding(best))
                explained |= best.group.rows
                open_groups = _unexplained((v.group for v in verdicts), explained)
        if not findings and (whole := _verdict_on_all(fieldbook)):
            findings.append(_finding(whole))
    return tuple(findings)


def _unexplained(groups: Iterable[Group], explained: frozenset[Place]) -> list[Group]:
    """Groups of which no more than half was explained already."""
    return [group for group in groups if 2 * len(group.rows & explained) <= len(group.rows)]


def _thinned(kept: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """At most so many of the readings as it takes to judge: evidence is sorted by place, so every k-th covers it."""
    stride = -(-int(kept.sum()) // MOST_JUDGING)
    some = np.zeros(len(kept), bool)
    some[np.flatnonzero(kept)[::stride]] = True
    return some


def _by_peg(reading: Reading) -> str:
    return ", ".join([reading.peg, reading.place.file, *([reading.when.day] if reading.when else [])])


Sorts = tuple[tuple[str, Callable[[Reading], str]], ...]
SORTS: Sorts = (
    ("sheet {}", lambda r: r.place.file),
    ("the readings of {}", lambda r: r.observer.strip()),
    ("the readings of {}", lambda r: r.when.day if r.when else ""),
)
PEGS: Sorts = (("the readings from peg {}", lambda r: _by_peg(r) if r.peg else ""),)


def _places(which: NDArray[np.bool_], soundings: Soundings, model: LakeModel) -> list[Place]:
    table = soundings.table.iloc[model.evidence.rows[which]]
    return [Place(file, row) for file, row in zip(table["file"], table["row"], strict=True)]


def _among(rows: frozenset[Place], soundings: Soundings, model: LakeModel) -> NDArray[np.bool_]:
    """Which of the evidence stands in some rows, shape (n,)."""
    everything = _places(np.ones(len(model.evidence), bool), soundings, model)
    return np.array([place in rows for place in everything], bool)


def _suspects(
    sorts: Sorts, fieldbook: Fieldbook, soundings: Soundings, model: LakeModel, skipped: frozenset[Place]
) -> list[Group]:
    """Groups of which a good part does not fit, worst first, none twice; rows thinned out are not counted."""
    found: list[tuple[float, str, Group]] = []
    used = [reading for reading in fieldbook.readings if reading.use]
    plain, seen = _plain(model), set[frozenset[Place]]()
    for words, key in sorts:
        members: dict[str, list[Reading]] = defaultdict(list)
        for reading in used:
            members[key(reading)].append(reading)
        groups = [
            Group(words.format(name), tuple(members[name]), members[name][0].peg if sorts is PEGS else "")
            for name in sorted(set(members) - {""})
        ]
        troubled = _troubled(groups, soundings, model, plain)
        for group in groups:
            looked_at = group.rows - skipped
            share = len(looked_at & troubled) / max(len(looked_at), 1)
            least = SUSPECT_SHARE_AT_FIRST[bool(group.peg)]
            if len(group.readings) >= LEAST and share >= least and group.rows not in seen:
                seen.add(group.rows)
                found.append((-share, group.words, group))
    return [group for _, _, group in sorted(found, key=lambda one: one[:2])[:MOST_SUSPECTS]]


def _plain(model: LakeModel) -> Conditioned:
    """One member with parameters as of any lake: a bad sheet may have spoilt those that were fitted."""
    across = model.frame.has_land_between
    data = model.evidence.data(model.tilt, model.kept)
    patchwork = Patchwork.over(data.places.xy)
    return Conditioned.on(MEMBERS[0], prior_theta(MEMBERS[0], across), data, patchwork, across=across)


def _troubled(groups: list[Group], soundings: Soundings, model: LakeModel, plain: Conditioned) -> frozenset[Place]:
    """Rows that have no sounding in use, were set aside, or miss a bed made without their group."""
    table, kept = soundings.table, np.flatnonzero(model.kept)
    places = _places(np.ones(len(model.evidence), bool), soundings, model)
    owner = {place: k for k, group in enumerate(groups) for place in group.rows}
    of = np.array([owner.get(places[i], -1) for i in kept])
    together = [np.flatnonzero(of == k) for k in range(len(groups)) if (of == k).any()]
    predicted, spread = plain.left_out(together)
    n = len(kept)
    z = (model.evidence.depth_m[kept] - predicted[:n]) / np.sqrt(spread[:n])
    fitting = {places[i] for i, misfit in zip(kept, z, strict=True) if not abs(misfit) > DOUBTFUL_AT_FIRST_Z}
    bound = table.loc[table["use"].to_numpy(bool) & (table["kind"] != "depth").to_numpy(bool)]
    fitting |= {Place(file, row) for file, row in zip(bound["file"], bound["row"], strict=True)}
    return frozenset(place for group in groups for place in group.rows) - fitting


def _verdict(
    group: Group, fieldbook: Fieldbook, soundings: Soundings, model: LakeModel, explained: frozenset[Place]
) -> Verdict | None:
    """The explanation of a group by a bed made without it; None where it fits, or nothing explains it.

    Looked for with parameters as of any lake and with those fitted; what is found has to hold with
    parameters fitted without the group. Pegs are small and spoil none.
    """
    left = group.rows | explained
    plain = prior_theta(MEMBERS[0], model.frame.has_land_between)
    for theta in (plain,) if group.peg else (plain, model.members[0].theta):
        found = _tried(group, fieldbook, _judge_without(left, soundings, model, theta))
        if found:
            return found if group.peg else _tried(group, fieldbook, _judge_without(left, soundings, model, None))
    return None


def _tried(group: Group, fieldbook: Fieldbook, judge: Judge | None) -> Verdict | None:
    if judge is None:
        return None
    some = replace(group, readings=group.readings[:: -(-len(group.readings) // MOST_TRIED)])
    book = replace(fieldbook, readings=some.readings, edges=())
    before = _costs(book, some, judge)
    if before.mean() < SUSPECT_MEAN and np.mean(before > TROUBLED) < SUSPECT_SHARE:
        return None
    tried = of_peg(fieldbook.venue, group.peg) if group.peg else of_sheets(fieldbook.venue)
    return _best(group, before, _rewritten(book, tried), lambda book: _costs(book, some, judge))


def _rewritten(book: Fieldbook, tried: Iterable[Hypothesis]) -> list[tuple[Hypothesis, Fieldbook]]:
    return [(hypothesis, new) for hypothesis in tried if (new := hypothesis.rewrite(book)) is not None]


def _best(
    group: Group,
    before: Floats,
    rewritten: list[tuple[Hypothesis, Fieldbook]],
    costs: Callable[[Fieldbook], Floats],
) -> Verdict | None:
    """The rewriting that fits, if one does and beats every other kind clearly."""
    verdicts = sorted((Verdict(group, h, before, costs(book)) for h, book in rewritten), key=lambda v: -v.gain)
    if not verdicts:
        return None
    best = verdicts[0]
    others = [v.gain for v in verdicts[1:] if v.hypothesis.code != best.hypothesis.code or group.peg]
    fits = best.after.mean() <= min(FITS_MEAN, HALVED * before.mean())
    clear = best.gain >= max([LEAST_GAIN[bool(group.peg)], *(gain + CLEAR_GAIN for gain in others)])
    return best if fits and clear else None


def _costs(book: Fieldbook, group: Group, judge: Judge) -> Floats:
    """Capped squared misfit of each reading of a group as a fieldbook has it, in the group's order."""
    soundings, findings = reduce(book)
    joined = {finding.place for finding in findings if finding.code == "bracketed"}
    cost = {(place.file, place.row): CAPPED for place in group.rows - joined}
    table = soundings.table
    kept = table["use"].to_numpy(bool)
    if kept.any():
        squares = np.minimum(judge(Soundings(table.loc[kept])), CAPPED)
        places = zip(table["file"][kept], table["row"][kept], strict=True)
        cost |= dict(zip(places, squares.tolist(), strict=True))
    return np.array([cost[key] for key in sorted(cost)])


def _judge_without(left: frozenset[Place], soundings: Soundings, model: LakeModel, theta: Theta | None) -> Judge | None:
    """A bed made of all but some rows; None where too little is left.

    One member is enough to tell a mistake from a misfit. Without parameters they are fitted to what is left.
    """
    outside = model.kept & ~_among(left, soundings, model)
    if outside.sum() < LEAST_OUTSIDE:
        return None
    across = model.frame.has_land_between
    data = model.evidence.data(model.tilt, outside)
    if theta is None:
        theta = fit_theta(MEMBERS[0], data, across)
    bed = Conditioned.on(MEMBERS[0], theta, data, Patchwork.over(data.places.xy), across=across)
    without = replace(model, kept=outside, members=(bed,))
    return lambda some: _squares(some, *_asked(without, some))


def _asked(model: LakeModel, soundings: Soundings) -> tuple[Floats, Floats]:
    """Depth and standard deviation of the bed at soundings, the error of their place included."""
    table, xy = soundings.table, soundings.xy
    radial = np.radians(table["radial_deg"].to_numpy(float))
    out = np.column_stack([np.sin(radial), np.cos(radial)])
    turned = table["distance_m"].to_numpy(float) * np.radians(table["facing_sd_deg"].to_numpy(float))
    peg = table["peg_sd_m"].to_numpy(float)
    along = np.hypot(table["radial_sd_m"].to_numpy(float), peg)
    across = np.sqrt(table["tangential_sd_m"].to_numpy(float) ** 2 + peg**2 + turned**2)
    steps = [
        sign * NEAR_STEP * sd[:, None] * way
        for way, sd in ((out, along), (np.column_stack([out[:, 1], -out[:, 0]]), across))
        for sign in (1.0, -1.0)
    ]
    depth, sd = model.predict(np.vstack([xy, *(xy + step for step in steps)]))
    here, beside = depth[: len(xy)], depth[len(xy) :].reshape(4, -1)
    placing = ((beside - here) ** 2).sum(axis=0) / 4.0
    return here, np.sqrt(sd[: len(xy)] ** 2 + placing)


def _squares(soundings: Soundings, fitted: Floats, fitted_sd: Floats) -> Floats:
    table = soundings.table
    own = table["sd_m"].to_numpy(float) ** 2 + table["level_sd_m"].to_numpy(float) ** 2
    z = (table["depth_m"].to_numpy(float) - fitted) / np.sqrt(own + fitted_sd**2)
    side = table["kind"].map({"depth": 0.0, "at_least": 1.0, "at_most": -1.0}).to_numpy(float)
    # A lower bound is broken where the bed is shallower, an upper one where it is deeper.
    return np.asarray(np.where(side == 0, z, np.maximum(side * z, 0.0)) ** 2)


def _verdict_on_all(fieldbook: Fieldbook) -> Verdict | None:
    """The explanation of a survey that stands alone, by how well its readings agree among themselves."""
    group = Group("all readings", tuple(reading for reading in fieldbook.readings if reading.use))
    if not LEAST_OUTSIDE <= len(group.readings) <= MOST_INSIDE:
        return None
    frame = WaterFrame(fieldbook.venue.water)
    book = replace(fieldbook, readings=group.readings, edges=())

    def costs(book: Fieldbook) -> Floats:
        return _costs(book, group, lambda some: _among_themselves(book, some, frame))

    before = costs(book)
    if np.mean(before > TROUBLED) < SUSPECT_SHARE / 2:
        return None
    # A factor on all depths changes nothing about how they agree.
    tried = [h for h in of_sheets(fieldbook.venue) if h.code not in {"likely-depth-unit", "likely-float-length"}]
    return _best(group, before, _rewritten(book, tried), costs)


def _among_themselves(book: Fieldbook, soundings: Soundings, frame: WaterFrame) -> Floats:
    """Each sounding against a bed of the others, with parameters as of any lake."""
    squares = np.zeros(len(soundings))
    try:
        evidence = gather(book.venue, soundings, frame)
    except BedError:
        return squares
    across = frame.has_land_between
    theta = prior_theta(MEMBERS[0], across)
    data = evidence.data(evidence.untilted, np.ones(len(evidence), bool))
    first = Conditioned.on(MEMBERS[0], theta, data, Patchwork.over(data.places.xy), across=across)
    here = first.mean(evidence.places, evidence.profile.at(evidence.places.shore_m))
    beside = first.mean(evidence.beside, evidence.profile.at(evidence.beside.shore_m))
    data = evidence.data(evidence.tilt_from(here, beside), np.ones(len(evidence), bool))
    bed = Conditioned.on(MEMBERS[0], theta, data, Patchwork.over(data.places.xy), across=across)
    n = len(evidence)
    predicted, spread = bed.left_out([np.array([i]) for i in range(n)])
    squares[evidence.rows] = (evidence.depth_m - predicted[:n]) ** 2 / spread[:n]
    return squares


def _finding(verdict: Verdict) -> Finding:
    group, before, after = verdict.group, verdict.before, verdict.after
    first = min(group.rows)
    is_sheet = len({place.file for place in group.rows}) == 1 and group.words == f"sheet {first.file}"
    doubtful, mended = int(np.sum(before > TROUBLED)), int(np.sum((before > TROUBLED) & (after <= TROUBLED)))
    return Finding(
        Grade.WARNING,
        verdict.hypothesis.code,
        Place(first.file) if is_sheet else first,
        f"{group.words}: {doubtful} of {len(before)} do not fit the rest; {mended} of those would if "
        f"{verdict.hypothesis.words}",
        verdict.hypothesis.remedy,
    )
