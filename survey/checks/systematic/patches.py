"""Patches of water where all that was plumbed from some day on is deeper, or shallower, than before.

Found by the bed that the older readings make. A wrong level moves a whole day and a wrong float all of one hand, so
what else was plumbed on those days, and by those people, is asked as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from survey.arrays import FloatArray
from survey.checks.systematic.groups import LEAST, SHEETS, Group, Sorts, SuspectGroup
from survey.checks.systematic.hypotheses import Hypothesis, of_change, of_day, of_hand, of_sheets
from survey.checks.systematic.reference import CAPPED, LEAST_OUTSIDE, ReferenceBed
from survey.records.fieldbook import Fieldbook
from survey.records.readings import Reading
from survey.records.venue import Venue

LEAST_CHANGE_M = 0.15
"""A smaller change of the bed cannot be told from what plummets and people differ by (ours)."""
SAME_SPOT_M = 5.0
"""Readings this near each other are of one spot (ours): a cast falls no nearer."""
LINK_M, ROUND_M = 15.0, 6.0
"""Readings of one patch lie so near each other; whatever is as near to one of them as the second lies in it, and what
is moved alike as near as the first."""
HELD_Z = 3.0
"""A single reading counts no further than this."""
LEAST_IN_PATCH, LEAST_PEGS = 6, 2
LEAST_PATCH_GAIN = 30.0
"""In squared standard deviations: of many patches and days the one that gains most was picked."""
MOST_DAYS = 24
"""So many days, spread evenly, are tried as the first of the new bed."""
MOST_PATCHES = 3
MOST_OF_IT = 0.8
"""Whoever took this share of a patch's readings may have made the whole of it."""
ONE_PART = 0.4
"""Who plumbed from this share of the pegs at most plumbed one part of the water."""
TOLD_APART = 8.0
"""What else they plumbed has to fit so much better unmoved, or moved, to decide between a bed and a mistake."""


@dataclass(frozen=True)
class Newer:
    """Readings from some day on, by the bed of those before it.

    Parameters
    ----------
    readings : tuple of Reading
    xy : ndarray, shape (n, 2)
    miss_m, sd_m : ndarray, shape (n,)
        How much deeper than the older bed they are, and what their errors allow.
    repeats : ndarray of bool, shape (n,)
        An older one lies at the same spot; the others say little of whether the bed changed.
    before, first : str
        Last day of the older, first of the newer, ISO.
    pegs : int
        Pegs of the whole survey.
    """

    readings: tuple[Reading, ...]
    xy: FloatArray
    miss_m: FloatArray
    sd_m: FloatArray
    repeats: NDArray[np.bool_]
    before: str
    first: str
    pegs: int

    def cost(self, which: NDArray[np.bool_], less_m: float) -> float:
        """What some of them cost if the bed is so much deeper there."""
        return float(np.minimum(((self.miss_m - less_m) / self.sd_m)[which] ** 2, CAPPED).sum())


def suspect_patches(fieldbook: Fieldbook, reference: ReferenceBed) -> list[SuspectGroup]:
    """Patches in which the bed may have changed, those that gain most, none twice."""
    found: dict[frozenset[object], tuple[float, SuspectGroup]] = {}
    written = reference.model.observations.source.venue
    for newer in _by_day(fieldbook, reference):
        for sign in (1.0, -1.0):
            inside = _patch(newer, sign)
            again = inside & newer.repeats
            by_m = float(np.median(newer.miss_m[again])) if again.sum() >= LEAST_IN_PATCH else 0.0
            gain = newer.cost(again, 0.0) - newer.cost(again, by_m)
            if sign * by_m < LEAST_CHANGE_M or gain < LEAST_PATCH_GAIN:
                continue
            suspect = _suspect(newer, inside, by_m, fieldbook.venue, written)
            if suspect and gain > found.get(suspect.group.rows, (0.0, None))[0]:
                found[suspect.group.rows] = gain, suspect
    best = sorted(found.values(), key=lambda one: (-one[0], one[1].group.name))
    return [suspect for _, suspect in best[:MOST_PATCHES]]


def _by_day(fieldbook: Fieldbook, reference: ReferenceBed) -> Iterator[Newer]:
    """For each day but the first, what was plumbed since then by the bed of what was plumbed before."""
    of_place = {r.place: r for r in fieldbook.readings if r.use and r.when}
    at = dict(zip(reference.places, reference.model.observations.places.xy, strict=True))
    counted = [reference.places[k] for k in np.flatnonzero(reference.counted)]
    dated = [of_place[place] for place in counted if place in of_place]
    days = sorted({reading.when.day for reading in dated if reading.when})
    for k in sorted({round(k) for k in np.linspace(1, len(days) - 1, MOST_DAYS)} - {0} if len(days) > 1 else ()):
        new = [reading for reading in dated if reading.when and reading.when.day >= days[k]]
        old = np.array([at[reading.place] for reading in dated if reading.when and reading.when.day < days[k]])
        xy = np.array([at[reading.place] for reading in new])
        repeats = cKDTree(old).query(xy)[0] <= SAME_SPOT_M
        if repeats.sum() < LEAST_IN_PATCH or len(counted) - len(new) < LEAST_OUTSIDE:
            continue
        misfits = reference.cross_validate([frozenset(reading.place for reading in new)])
        miss, sd = (np.array([getattr(misfits[r.place], name) for r in new]) for name in ("miss_m", "sd_m"))
        yield Newer(tuple(new), xy, miss, sd, repeats, days[k - 1], days[k], len({_peg(r) for r in dated}))


def _patch(newer: Newer, sign: float) -> NDArray[np.bool_]:
    """Which readings lie in the patch about the spot that is deepest (sign 1) or shallowest beside the older bed."""
    tree, miss = cKDTree(newer.xy), sign * newer.miss_m
    z = np.where(newer.repeats, np.clip(miss / newer.sd_m, -HELD_Z, HELD_Z), 0.0)
    about = tree.query_ball_point(newer.xy, LINK_M)
    seen = np.array([z[some].sum() / len(some) ** 0.5 for some in about]).round(9)
    # Of equals the first by place, so that the order of rows does not matter.
    seed = int(np.lexsort((*newer.xy.T, -seen))[0])
    members = np.array(about[seed])[newer.repeats[about[seed]]]
    pairs = tree.query_pairs(LINK_M, output_type="ndarray")
    for _ in range(2):
        if not len(members):
            return np.zeros(len(z), bool)
        changed = newer.repeats & _alike(miss, members)
        linked = pairs[changed[pairs].all(axis=1)].T
        _, label = connected_components(csr_array((np.ones(linked.shape[1]), linked), shape=(len(z), len(z))), False)
        started = members[changed[members]]
        if not len(started):
            return np.zeros(len(z), bool)
        members = np.flatnonzero(changed & (label == np.bincount(label[started]).argmax()))
    away, _ = cKDTree(newer.xy[members]).query(newer.xy)
    return np.asarray((away <= ROUND_M) | ((away <= LINK_M) & _alike(miss, members)))


def _alike(miss: FloatArray, members: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Readings that are off by at least half as much as the members of a patch are."""
    return np.asarray(miss > max(np.median(miss[members]), LEAST_CHANGE_M) / 2.0)


def _suspect(newer: Newer, inside: NDArray[np.bool_], by_m: float, venue: Venue, written: Venue) -> SuspectGroup | None:
    """The patch with what may explain it; None where a day or a person does, or too few pegs speak for it."""
    readings = tuple(reading for reading, held in zip(newer.readings, inside, strict=True) if held)
    pegs = sorted({_peg(reading) for reading in readings})
    rivals = list(_rivals(newer, inside, by_m))
    if len(pegs) < LEAST_PEGS or any(moved for _, moved in rivals):
        return None
    change = of_change(by_m, _sd_m(newer, inside, by_m), (newer.before, newer.first), venue.shows)
    undecided = frozenset(rival for rival, moved in rivals if moved is None)
    hypotheses = (change, *_others({kind for kind, _ in undecided}, by_m, venue, written))
    group = Group("patch", f"{newer.first} {', '.join(pegs)}", readings)
    return SuspectGroup(group, newer.cost(inside, 0.0) / len(readings), by_m, hypotheses=hypotheses, rivals=undecided)


MARK: Sorts = (("mark", lambda _: "since then"),)
"""All that is newer: the level mark may have been moved."""


def _rivals(newer: Newer, inside: NDArray[np.bool_], by_m: float) -> Iterator[tuple[tuple[str, str], bool | None]]:
    """Each sheet, person and day that took nearly all of a patch, and whether what else they took is moved alike.

    None where they took too little else to tell. Who plumbed one part of the water alone took nothing else beside the
    patch: how far a change goes is not known.
    """
    beside = cKDTree(newer.xy[inside]).query(newer.xy)[0] <= LINK_M
    for kind, key in (*SHEETS, *MARK):
        names = np.array([key(reading) for reading in newer.readings], str)
        for name in sorted(set(names[inside].tolist()) - {""}):
            own = names == name
            if (own & inside).sum() < MOST_OF_IT * inside.sum():
                continue
            own_pegs = {_peg(reading) for reading, theirs in zip(newer.readings, own, strict=True) if theirs}
            rest = own & ~(beside if len(own_pegs) <= ONE_PART * newer.pegs else inside)
            gain = newer.cost(rest, 0.0) - newer.cost(rest, by_m)
            yield (kind, name), (gain > 0) if rest.sum() >= LEAST and abs(gain) >= TOLD_APART else None


def _peg(reading: Reading) -> str:
    """The peg a reading shares its errors with; of its own where it was taken from none."""
    return reading.peg or str(reading.place)


def _others(kinds: set[str], by_m: float, venue: Venue, written: Venue) -> tuple[Hypothesis, ...]:
    """What else may explain a patch: nobody took enough elsewhere to tell."""
    level = of_day(by_m, venue.shows) if kinds & {"day", "mark"} else ()
    if not kinds & {"sheet", "observer"}:
        return level
    # Where a level explains it as well, a mere amount adds nothing.
    return (*level, *of_sheets(venue, written), *of_hand(by_m, venue.shows, gives_way=bool(level)))


def _sd_m(newer: Newer, inside: NDArray[np.bool_], by_m: float) -> float:
    """Standard deviation of how much the bed changed: by how far pegs differ, and by the errors one peg's share."""
    miss = newer.miss_m[inside] - by_m
    _, peg = np.unique([_peg(r) for r, held in zip(newer.readings, inside, strict=True) if held], return_inverse=True)
    sums = np.bincount(peg, weights=miss)
    return float(np.hypot(np.sqrt((sums**2).sum()) / len(miss), np.median(newer.sd_m[inside]) / np.sqrt(len(sums))))
