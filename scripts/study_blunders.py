"""How many seeded mistakes are found, at what price, and whether the cause of sheet-wide ones is named rightly.

    .venv/bin/python scripts/study_blunders.py [--lakes N] [--dense] [--part single|sheets]

Single mistakes: 2 % and 5 % of the readings, one kind at a time. A mistake counts if the reading then lies in the
water and differs from the bed at the written spot by more than half a metre; it is found if its row has
a warning or an error. Precision counts every warned row that was not spoilt. Sheet-wide mistakes: one a survey.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from bench_lakes import Lake, made_lakes, real_lakes
from club_surveys import (
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

from survey.average import LakeModel, fit_lake
from survey.causes import likely_causes
from survey.causewords import ONE_OF_TWO
from survey.crossovers import bias_findings, cross_over
from survey.errors import Place
from survey.evidence import gather
from survey.findings import Finding
from survey.hypotheses import LEVEL_SIGN
from survey.readings import Fieldbook, Reading
from survey.reduction import reduce
from survey.screening import DOUBTFUL_Z
from survey.soundings import Soundings
from survey.units import FOOT_M, YARD_M
from survey.water import WaterFrame

LARGE_M = 0.5
SHOWS_M = 0.3
RATES = (0.02, 0.05)
WORDS = {
    "likely-bias": "every depth were",
    "likely-float-length": "settings",
    "likely-level": "the water stood",
    LEVEL_SIGN: "the other way round",
}
"""How the finding tells of mistakes that others resemble."""
LEVELS_OFF_M = (0.2, 0.5)
CURVE_Z = (2.5, 3.0, 3.5, 4.0, 5.0)
PEGS = 50
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


def fitted(book: Fieldbook) -> tuple[Soundings, LakeModel, tuple[Finding, ...]]:
    """Soundings, bed and the findings of the reduction."""
    soundings, findings = reduce(book)
    frame = WaterFrame(book.venue.water)
    return soundings, fit_lake(frame, gather(book.venue, soundings, frame)), findings


@dataclass
class Tally:
    """Mistakes found and missed, and sound rows warned of, by the threshold of z."""

    found: dict[float, int]
    false: dict[float, int]
    large: int = 0
    small: int = 0
    rows: int = 0

    def add(self, other: Tally) -> None:
        """Add another's counts to these."""
        for z in CURVE_Z:
            self.found[z] += other.found[z]
            self.false[z] += other.false[z]
        self.large, self.small, self.rows = self.large + other.large, self.small + other.small, self.rows + other.rows

    def line(self) -> str:
        """Recall and precision at each threshold."""
        parts = []
        for z in CURVE_Z:
            recall = self.found[z] / max(self.large, 1)
            precision = self.found[z] / max(self.found[z] + self.false[z], 1)
            parts.append(f"{recall:5.2f}/{precision:4.2f}")
        return "  ".join(parts)


def empty() -> Tally:
    """Nothing counted yet."""
    return Tally(dict.fromkeys(CURVE_Z, 0), dict.fromkeys(CURVE_Z, 0))


def single(club: Club, kind: str, rate: float, seed: int) -> Tally:
    """One kind of mistake in a share of the readings."""
    rng = np.random.default_rng(seed)
    turned, spoilt = [], set()
    for reading in club.book.readings:
        new = KINDS[kind](reading) if rng.random() < rate else reading
        turned.append(new)
        if new != reading:
            spoilt.add(reading.place)
    soundings, model, _ = fitted(replace(club.book, readings=tuple(turned)))
    table = soundings.table
    places = list(zip(table["file"], table["row"], strict=True))
    off = np.abs(table["depth_m"].to_numpy(float) - club.bed(soundings.xy))
    z = np.full(len(table), np.inf)
    alone, sd = model.left_out([np.array([i]) for i in range(len(model.kept))])
    z[model.evidence.rows] = np.abs(model.evidence.depth_m - alone) / sd
    aside = np.zeros(len(table), bool)
    aside[model.evidence.rows[~model.kept]] = True
    used, bad = table["use"].to_numpy(bool), {(place.file, place.row) for place in spoilt}
    tally = empty()
    tally.rows = len(turned)
    for at, place in enumerate(places):
        is_large = place in bad and off[at] > LARGE_M and used[at]
        tally.large += is_large
        tally.small += place in bad and not is_large
        for limit in CURVE_Z:
            warned = used[at] and (z[at] > limit or (limit <= DOUBTFUL_Z and aside[at]))
            tally.found[limit] += bool(warned and is_large)
            tally.false[limit] += bool(warned and place not in bad)
    return tally


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
    soundings, _ = reduce(turned)
    table = soundings.table
    off = np.abs(table["depth_m"].to_numpy(float) - club.bed(soundings.xy)) > SHOWS_M
    fine = {
        Place(f, r) for f, r in zip(table["file"][~off & table["use"]], table["row"][~off & table["use"]], strict=True)
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
            club, _level_off(book, off), f"a level {off:.1f} m off", {"likely-level"}, DAYS[1].date().isoformat()
        )


def _level_off(book: Fieldbook, by_m: float) -> Fieldbook:
    """The mark misread on the second day."""
    levels = (replace(one, shown_m=one.shown_m + by_m * (one.when.instant == DAYS[1])) for one in book.levels)
    return replace(book, levels=tuple(levels))


def _answer(club: Club, turned: Fieldbook, name: str, codes: set[str], where: str) -> Answer:
    told, crossed = named(turned)
    right = [f for f in told if (f.code in codes or _says_both(f, codes)) and where in str(f)]
    return Answer(
        name,
        matters(club, turned),
        bool(right),
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


def lakes(count: int) -> list[Lake]:
    """Made and real lakes in turn; more made ones where the real ones are used up."""
    made, real = list(made_lakes()), list(real_lakes())
    mixed = [lake for pair in zip(made, real, strict=False) for lake in pair]
    return [*mixed, *made[len(real) :]][:count]


def main() -> None:
    """Run the study and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lakes", type=int, default=6)
    parser.add_argument("--dense", action="store_true")
    parser.add_argument("--part", choices=("single", "sheets", "both"), default="both")
    asked = parser.parse_args()
    clubs = {lake.name: club_survey(lake, 900 + k, asked.dense) for k, lake in enumerate(lakes(asked.lakes))}
    print({name: len(club.book.readings) for name, club in clubs.items()}, flush=True)
    start = time.monotonic()
    if asked.part in {"sheets", "both"}:
        _print_sheets(clubs)
    if asked.part in {"single", "both"}:
        _print_single(clubs)
    print(f"{time.monotonic() - start:.0f} s; observers {', '.join(OBSERVERS)}")


def _print_sheets(clubs: dict[str, Club]) -> None:
    answers: list[Answer] = []
    for name, club in clubs.items():
        clean, biases = ([f.code for f in told] for told in named(club.book))
        print(f"{name}: clean sheets name {clean or 'nothing'}; crossovers {biases or 'nothing'}", flush=True)
        answers.append(Answer("clean", False, not clean, bool(clean), tuple(clean)))
        for answer in sheet_wide(club):
            answers.append(answer)
            if not answer.right or answer.other:
                hardly = "" if answer.shows else " (hardly shows)"
                print(f"  {answer.mistake}{hardly}: {answer.codes}; crossovers {answer.crossed}", flush=True)
    for mistake in dict.fromkeys(answer.mistake for answer in answers):
        print(_line(mistake, [answer for answer in answers if answer.mistake == mistake]))
    print(_line("all that shows", [answer for answer in answers if answer.shows]))
    print(_line("all", [answer for answer in answers if answer.mistake != "clean"]))


def _line(what: str, answers: list[Answer]) -> str:
    right, other = sum(a.right for a in answers), sum(a.other for a in answers)
    return f"{what:<20} named rightly {right:3d} of {len(answers):3d}; something else said in {other}"


def _print_single(clubs: dict[str, Club]) -> None:
    print(f"recall/precision at z > {', '.join(map(str, CURVE_Z))} (the check warns from {DOUBTFUL_Z})")
    clean = empty()
    for k, club in enumerate(clubs.values()):
        clean.add(single(club, "mirrored", 0.0, 70 + k))
    alarms = "  ".join(f"{clean.false[z] / clean.rows:11.2%}" for z in CURVE_Z)
    print(f"clean sheets, rows warned of, of {clean.rows}: {alarms}", flush=True)
    for rate in RATES:
        total = empty()
        for kind in KINDS:
            tally = empty()
            for k, club in enumerate(clubs.values()):
                tally.add(single(club, kind, rate, 70 + k))
            total.add(tally)
            print(f"{rate:4.0%} {kind:<18} {tally.large:4d} large {tally.small:4d} small  {tally.line()}", flush=True)
        print(f"{rate:4.0%} {'all':<18} {total.large:4d} large {total.small:4d} small  {total.line()}", flush=True)


if __name__ == "__main__":
    main()
