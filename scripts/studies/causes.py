"""Whether the cause of a mistake that a whole sheet, peg or day shares is named rightly, and nothing on clean sheets.

    .venv/bin/python -m scripts.studies.causes [--lakes N] [--dense] [--changes]

One mistake a survey, on made lakes and the open beds of Long and Plainfield Lake.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain

import numpy as np

from scripts.benches.changed_beds import NEW_DAYS, Visit, one_visit, patch_pegs, plumbed_again, two_visits
from scripts.benches.club_surveys import (
    DAYS,
    OBSERVERS,
    WAGGLER,
    Club,
    club_survey,
    feet_for_metres,
    from_peg,
    metres_for_feet,
    mirrored,
    other_north,
    scaled_depth,
    scaled_distance,
    setting_by,
    shifted,
    turned_round,
    without_float,
)
from scripts.benches.lakes import lakes
from survey.checks.crossovers import bias_findings, cross_over
from survey.checks.systematic.diagnose import likely_causes
from survey.checks.systematic.hypotheses import LIKELY_CHANGE
from survey.checks.systematic.messages import ONE_OF_TWO
from survey.depth_model.fitting import fit_lake
from survey.depth_model.model import LakeModel
from survey.depth_model.observations import observations_from
from survey.errors import SourceRow
from survey.findings import LEVEL_SIGN, Finding
from survey.geometry.water import WaterGeometry
from survey.records.fieldbook import Fieldbook
from survey.records.readings import Reading
from survey.records.soundings import Soundings
from survey.reduction.reduce import reduce_soundings
from survey.units import FOOT_M, YARD_M
from survey.units.dates import written_day

LARGE_M = 0.5
SHOWS_M = 0.3
RATES = (0.02, 0.05)
WORDS = {
    LIKELY_CHANGE: "the bed there became",
    "likely-bias": "every depth were",
    "likely-float-length": "settings",
    "likely-level": "the water stood",
    LEVEL_SIGN: "the other way round",
}
"""How the finding tells of mistakes that others resemble."""
LEVELS_OFF_M = (0.2, 0.5)
PEGS = 50


def fitted(book: Fieldbook) -> tuple[Soundings, LakeModel, tuple[Finding, ...]]:
    """Soundings, bed and the findings of the reduction."""
    soundings, findings = reduce_soundings(book)
    frame = WaterGeometry(book.venue.water)
    return soundings, fit_lake(frame, observations_from(book.venue, soundings, frame)), findings


SHEETS: dict[str, tuple[str, str, Callable[[Reading], Reading]]] = {
    "mirrored": ("Wray", "likely-mirrored", mirrored),
    "other north": ("Marl", "likely-north", other_north),
    "feet for metres": ("Tansy", "likely-depth-unit", feet_for_metres),
    "metres for feet": ("Hollin", "likely-depth-unit", metres_for_feet),
    "distance in feet": ("Wray", "likely-distance-unit", scaled_distance(1 / FOOT_M)),
    "distance in metres": ("Hollin", "likely-distance-unit", scaled_distance(FOOT_M)),
    "distance in yards": ("Wray", "likely-distance-unit", scaled_distance(1 / YARD_M)),
    "metres for yards": ("Hollin", "likely-distance-unit", scaled_distance(YARD_M)),
    "centimetres": ("Tansy", "likely-depth-unit", scaled_depth(100.0)),
    "bearings turned": ("Marl", "likely-turned-round", turned_round),
    "settings as depths": ("Wray", "likely-float-length", without_float),
    "measured to the tip": ("Hollin", "likely-float-length", setting_by(WAGGLER.length_m)),
    "float's length left out": ("Wray", "likely-float-length", setting_by(-WAGGLER.length_m)),
    "line slack by 10 cm": ("Wray", "likely-bias", shifted(0.10)),
    "line slack by 20 cm": ("Tansy", "likely-bias", shifted(0.20)),
}


def matters(club: Club, turned: Fieldbook) -> bool:
    """Whether a sheet-wide mistake shows at all: it moves or ruins a fifth of the sheet's rows by over 0.3 m."""
    changed = {r.place for r, old in zip(turned.readings, club.book.readings, strict=True) if r != old}
    changed = changed or {r.place for r in club.book.readings}
    soundings, _ = reduce_soundings(turned)
    table = soundings.table
    off = np.abs(table["depth_m"].to_numpy(float) - club.bed(soundings.xy)) > SHOWS_M
    fine = {
        SourceRow(f, r)
        for f, r in zip(table["file"][~off & table["use"]], table["row"][~off & table["use"]], strict=True)
    }
    return len(changed - fine) >= 0.2 * len(changed)


def named(book: Fieldbook) -> tuple[list[Finding], list[Finding]]:
    """What is said of causes, and of biases at crossovers."""
    soundings, model, _ = fitted(book)
    crossed = list(bias_findings(cross_over(book, soundings, model), soundings, book))
    signs = [finding for finding in crossed if finding.code == LEVEL_SIGN]
    return signs or list(likely_causes(book, soundings, model)), crossed


@dataclass(frozen=True)
class Answer:
    """What was said of one sheet-wide mistake."""

    mistake: str
    shows: bool
    right: bool
    other: bool
    codes: tuple[str, ...]
    crossed: tuple[str, ...] = ()


def sheet_wide(club: Club) -> Iterator[Answer]:
    """Each mistake put into one sheet, one peg, or the venue."""
    book = club.book
    for name, (observer, code, mistake) in SHEETS.items():
        turned = replace(book, readings=tuple(mistake(r) if r.observer == observer else r for r in book.readings))
        yield _answer(club, turned, name, {code}, f"readings-{observer.lower()}.csv")
    peg = _busiest_peg(book)
    turned = replace(book, readings=tuple(from_peg(3, PEGS)(r) if r.peg == peg else r for r in book.readings))
    yield _answer(club, turned, "one peg renumbered", {"likely-peg"}, f"taken from peg {peg}")
    venue = replace(book.venue, mark=replace(book.venue.mark, kind="dip"))
    yield _answer(club, replace(book, venue=venue), "board read as dip", {LEVEL_SIGN}, "")
    for off in LEVELS_OFF_M:
        yield _answer(
            club,
            _level_off(book, off, DAYS[1]),
            f"a level {off:.1f} m off",
            {"likely-level"},
            written_day(DAYS[1].date().isoformat()),
        )


CHANGES_M = (0.5, 0.3, -0.3)


def changed_beds(club: Club, seed: int) -> Iterator[Answer]:
    """A bed that changed before later days, and later days on which it only seems so."""
    patch, others = patch_pegs(club, seed)
    both, first = two_visits(patch, others), written_day(NEW_DAYS[0].date().isoformat())
    for by_m in CHANGES_M:
        new = plumbed_again(club, patch, both, by_m, seed)
        yield _answer(new, new.book, f"bed changed {by_m:+.1f} m", {LIKELY_CHANGE}, f"and {first}")
    new = plumbed_again(club, patch, one_visit(patch), CHANGES_M[0], seed)
    yield _answer(new, new.book, "one day, one hand", {LIKELY_CHANGE}, f"and {first}", either=True)
    same = plumbed_again(club, patch, both, 0.0, seed)
    yield _answer(same, same.book, "plumbed again", set(), "")
    level = _level_off(same.book, CHANGES_M[1], NEW_DAYS[0])
    yield _answer(same, level, "a later level off", {"likely-level"}, first)
    hand = plumbed_again(club, patch, (*both, Visit(1, "Reeve", (*patch, *others))), 0.0, seed)
    slack = tuple(setting_by(WAGGLER.length_m)(r) if r.observer == "Reeve" else r for r in hand.book.readings)
    yield _answer(hand, replace(hand.book, readings=slack), "a later hand", {"likely-float-length"}, "reeve")


def _level_off(book: Fieldbook, by_m: float, day: datetime) -> Fieldbook:
    """The mark misread on a day."""
    levels = (replace(one, shown_m=one.shown_m + by_m * (one.when.instant == day)) for one in book.levels)
    return replace(book, levels=tuple(levels))


def _answer(club: Club, turned: Fieldbook, name: str, codes: set[str], where: str, *, either: bool = False) -> Answer:
    """What is said of a mistake; ``either``: only a finding that leaves open which of two it was is right."""
    told, crossed = named(turned)
    right = [f for f in told if (f.code in codes or _says_both(f, codes)) and where in str(f)]
    if either:
        right = [f for f in right if f.code == ONE_OF_TWO]
    return Answer(
        name,
        bool(codes) and (club.book is turned or matters(club, turned)),
        bool(right) if codes else not told,
        len(told) > len(right),
        tuple(f.code for f in told),
        tuple(f.problem for f in crossed if f.code.startswith("bias")),
    )


def _says_both(finding: Finding, codes: set[str]) -> bool:
    """Whether the finding leaves open which of two it was, and the mistake is one of them."""
    return finding.code == ONE_OF_TWO and any(WORDS[code] in finding.problem for code in codes if code in WORDS)


def _busiest_peg(book: Fieldbook) -> str:
    counts = defaultdict(int)
    for reading in book.readings:
        counts[reading.peg] += 1
    return max(sorted(counts), key=counts.__getitem__)


def main() -> None:
    """Run the study and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lakes", type=int, default=6)
    parser.add_argument("--dense", action="store_true")
    parser.add_argument("--changes", action="store_true", help="only beds that changed")
    asked = parser.parse_args()
    clubs = {lake.name: club_survey(lake, 900 + k, asked.dense) for k, lake in enumerate(lakes(asked.lakes))}
    print({name: len(club.book.readings) for name, club in clubs.items()}, flush=True)
    start = time.monotonic()
    _print_sheets(clubs, changes=asked.changes)
    print(f"{time.monotonic() - start:.0f} s; observers {', '.join(OBSERVERS)}")


def _print_sheets(clubs: dict[str, Club], *, changes: bool) -> None:
    answers: list[Answer] = []
    for name, club in clubs.items():
        clean, biases = ([f.code for f in told] for told in named(club.book))
        print(f"{name}: clean sheets name {clean or 'nothing'}; crossovers {biases or 'nothing'}", flush=True)
        answers.append(Answer("clean", False, not clean, bool(clean), tuple(clean)))
        for answer in chain([] if changes else sheet_wide(club), changed_beds(club, len(answers))):
            answers.append(answer)
            if not answer.right or answer.other or answer.mistake.startswith("bed"):
                hardly = "" if answer.shows else " (hardly shows)"
                print(f"  {answer.mistake}{hardly}: {answer.codes}; crossovers {answer.crossed}", flush=True)
    for mistake in dict.fromkeys(answer.mistake for answer in answers):
        print(_line(mistake, [answer for answer in answers if answer.mistake == mistake]))
    print(_line("all that shows", [answer for answer in answers if answer.shows]))
    print(_line("all", [answer for answer in answers if answer.mistake != "clean"]))


def _line(what: str, answers: list[Answer]) -> str:
    right, other = sum(a.right for a in answers), sum(a.other for a in answers)
    return f"{what:<20} named rightly {right:3d} of {len(answers):3d}; something else said in {other}"


if __name__ == "__main__":
    main()
