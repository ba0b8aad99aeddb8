"""Whether pegs whose left and right were swapped are named, by how unlike the bed is on both sides; and no others.

    .venv/bin/python -m scripts.studies.mirrored [--surveys N] [--dense] [--every K] [--wrong SHARE]

Each made survey is checked clean, then with one, two and seven pegs mirrored, and with all pegs of one observer.
"""

from __future__ import annotations

import argparse
import math
import re
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from threadpoolctl import threadpool_limits

from scripts.benches.club_surveys import (
    DECLINATION_DEG,
    OBSERVERS,
    Club,
    club_survey,
    feet_for_metres,
    mirrored,
    shifted,
)
from scripts.benches.lakes import Lake, lakes
from survey.checks.systematic.diagnose import likely_causes
from survey.checks.systematic.hypotheses import MIRRORED
from survey.findings import Finding
from survey.records.fieldbook import Fieldbook
from survey.records.readings import Direction, Reading
from survey.reduction.reduce import reduce_soundings
from survey.workup import fit_survey

LAKES = 6
BINS_M = (0.0, 0.1, 0.2, 0.3, 0.5, 0.8, math.inf)
"""Of how far the bed left and right of straight out differs over a peg's spots, root mean square."""
SINGLE = (mirrored, feet_for_metres, shifted(-0.5), shifted(0.8))


@dataclass(frozen=True)
class Trial:
    """A peg that was mirrored, and whether a finding said so.

    Parameters
    ----------
    trial : str
        What else was mirrored with it.
    apart_m : float
        Difference of the true bed between its spots and their mirrors, root mean square.
    named : bool
    """

    trial: str
    apart_m: float
    named: bool


def survey_of(lake: Lake, seed: int, asked: argparse.Namespace) -> Club:
    """A survey by angles alone, of every k-th peg, with single mistakes if asked for."""
    club = club_survey(lake, seed, asked.dense)
    book, rng = club.book, np.random.default_rng(seed)
    pegs = tuple(peg for peg in book.venue.pegs if int(peg.name) % asked.every == 0)
    facing = {peg.name: peg.facing_deg for peg in pegs}
    readings = [_by_angle(reading, facing[reading.peg]) for reading in book.readings if reading.peg in facing]
    wrong = rng.random(len(readings)) < asked.wrong
    kinds = rng.integers(0, len(SINGLE), len(readings))
    readings = [SINGLE[k](r) if bad else r for r, bad, k in zip(readings, wrong, kinds, strict=True)]
    return replace(club, book=replace(book, venue=replace(book.venue, pegs=pegs), readings=tuple(readings)))


def _by_angle(reading: Reading, facing_deg: float) -> Reading:
    direction = reading.where.direction
    if direction.kind != "bearing":
        return reading
    angle = math.remainder(direction.value_deg + DECLINATION_DEG - facing_deg, 360)
    return replace(reading, where=replace(reading.where, direction=Direction("angle", angle, "compass")))


def with_mirrored(book: Fieldbook, pegs: Iterable[str]) -> Fieldbook:
    """The readings of some pegs with left for right."""
    some = frozenset(pegs)
    return replace(book, readings=tuple(mirrored(r) if r.peg in some else r for r in book.readings))


def apart_m(club: Club, peg: str) -> float:
    """How unlike the bed is left and right of straight out, over the spots of a peg that have a mirror on the water."""
    (here, _), (there, _) = (reduce_soundings(book) for book in (club.book, with_mirrored(club.book, [peg])))
    spots = [
        {(row.file, row.row): (row.geometry.x, row.geometry.y) for row in some.table.itertuples() if row.peg == peg}
        for some in (here, there)
    ]
    both = sorted(spots[0].keys() & spots[1].keys())
    if not both:
        return math.nan
    first, second = (club.bed(np.array([some[place] for place in both])) for some in spots)
    return float(np.sqrt(np.mean((first - second) ** 2)))


def named_as_mirrored(book: Fieldbook, told: Iterable[Finding]) -> frozenset[str]:
    """Pegs all of whose readings a finding says were mirrored; those of a sheet or an observer too."""
    said = [finding for finding in told if finding.code == MIRRORED or "left and right were swapped" in finding.problem]
    pegs = {reading.peg for reading in book.readings}
    of_pegs = {peg for peg in pegs if any(_names(finding, peg) for finding in said)}
    whole = {
        reading.peg
        for reading in book.readings
        for finding in said
        if "readings of peg" not in finding.problem
        and (f"{reading.observer}'s readings" in finding.problem or str(finding.place) == reading.place.file)
    }
    return frozenset(of_pegs | whole)


def _names(finding: Finding, peg: str) -> bool:
    named = re.search(r"the readings of pegs? (.+?) \(", finding.problem)
    return named is not None and peg in named[1].split(", ")


def trials(club: Club, rng: np.random.Generator) -> Iterator[tuple[str, frozenset[str]]]:
    """Sets of pegs to mirror."""
    plumbed = sorted({reading.peg for reading in club.book.readings}, key=int)
    for count in (1, 1, 2, 7):
        yield f"{count} pegs", frozenset(rng.choice(plumbed, count, replace=False).tolist())
    who = OBSERVERS[int(rng.integers(len(OBSERVERS)))]
    yield "an observer's", frozenset(r.peg for r in club.book.readings if r.observer == who)


def main() -> None:
    """Run the study and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--surveys", type=int, default=LAKES)
    parser.add_argument("--dense", action="store_true")
    parser.add_argument("--every", type=int, default=1, help="of the fifty pegs, every so many")
    parser.add_argument("--wrong", type=float, default=0.0, help="share of rows that are wrong one by one")
    parser.add_argument("--clean", action="store_true", help="only surveys without a mirrored peg")
    asked = parser.parse_args()
    known, found, false = list(lakes(LAKES)), list[Trial](), 0
    with threadpool_limits(1):
        for k in range(asked.surveys):
            club = survey_of(known[k % len(known)], 900 + k, asked)
            false += _said_of_clean(club)
            for trial, pegs in () if asked.clean else trials(club, np.random.default_rng(k)):
                found += _tried(club, trial, pegs)
    print(f"{asked.surveys} clean surveys: mirrored named in {false}")
    for trial in dict.fromkeys(one.trial for one in found):
        _print_rates(trial, [one for one in found if one.trial == trial])


def _said_of_clean(club: Club) -> bool:
    start = time.process_time()
    fitted = fit_survey(club.book)
    told = likely_causes(fitted.fieldbook, fitted.soundings, fitted.model)
    said = [str(finding) for finding in told]
    size = f"{len(club.book.venue.pegs)} pegs, {len(club.book.readings)} readings"
    print(f"{club.book.venue.name}: {size}, {time.process_time() - start:.1f} s: {said or 'nothing named'}", flush=True)
    return any(finding.code == MIRRORED or "left and right" in finding.problem for finding in told)


def _tried(club: Club, trial: str, pegs: frozenset[str]) -> list[Trial]:
    book = with_mirrored(club.book, pegs)
    fitted = fit_survey(book)
    told = likely_causes(fitted.fieldbook, fitted.soundings, fitted.model)
    named = named_as_mirrored(book, told)
    if beside := sorted(named - pegs):
        print(f"  {trial} {sorted(pegs)}: sound pegs named: {beside}: {[str(f) for f in told]}", flush=True)
    if other := [f"{f.code}: {f.problem[:70]}" for f in told if "left and right" not in f.problem]:
        print(f"  {trial} {sorted(pegs)}: something else said: {other}", flush=True)
    tried = [Trial(trial, apart_m(club, peg), peg in named) for peg in sorted(pegs)]
    said = ", ".join(f"{one.apart_m:.2f} m {'named' if one.named else 'not'}" for one in tried)
    print(f"  {trial}: {said}", flush=True)
    return tried


def _print_rates(trial: str, found: list[Trial]) -> None:
    print(
        f"{trial}: {sum(one.named for one in found)} of {len(found)} mirrored pegs named; by how unlike the sides are:"
    )
    for low, high in pairwise(BINS_M):
        some = [one.named for one in found if low <= one.apart_m < high]
        print(f"  {low:.1f} to {high:.1f} m: {sum(some)} of {len(some)}")


if __name__ == "__main__":
    main()
