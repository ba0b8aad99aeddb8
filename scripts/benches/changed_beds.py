"""A club's survey plumbed again in later years, over a bed that was changed in one patch or over the same bed.

Knows nothing of checks. Built on ``club_surveys``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from scripts.benches.club_surveys import BY_DEPTH, DATUM_M, WAGGLER, Club, moment
from survey.errors import SourceRow
from survey.records.fieldbook import Fieldbook, LevelRecord
from survey.records.readings import FloatSeen, Reading
from survey.reduction.reduce import reduce_soundings

NEW_DAYS = (datetime(2027, 4, 10, 11, tzinfo=UTC), datetime(2027, 8, 21, 11, tzinfo=UTC))
NEW_SHOWN_M = (0.55, 0.30)
PATCH_PEGS, CONTROL_PEGS = 6, 8
ROUND_M = 8.0
"""The bed is changed so far round where the pegs of the patch were plumbed."""
DEPTH_SD_M, TURN_SD_DEG, FAR_SD = 0.04, 4.0, 0.04
"""As in the first survey."""


@dataclass(frozen=True)
class Visit:
    """A day of plumbing again.

    Parameters
    ----------
    day : int
        Index into :data:`NEW_DAYS`.
    observer : str
    pegs : tuple of str
    """

    day: int
    observer: str
    pegs: tuple[str, ...]


def patch_pegs(club: Club, seed: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Neighbouring plumbed pegs whose water is changed, and others spread over the rest."""
    rng = np.random.default_rng(seed)
    plumbed = sorted({reading.peg for reading in club.book.readings})
    pegs = [peg for peg in club.book.venue.pegs if peg.name in plumbed]
    at = np.array([(peg.easting, peg.northing) for peg in pegs])
    away = np.hypot(*(at - at[rng.integers(len(pegs))]).T)
    order = np.argsort(away, kind="stable")
    rest = order[PATCH_PEGS + 4 :]
    spread = rest[np.linspace(0, len(rest) - 1, CONTROL_PEGS).astype(int)]
    return tuple(pegs[k].name for k in order[:PATCH_PEGS]), tuple(pegs[k].name for k in spread)


def two_visits(patch: Sequence[str], others: Sequence[str]) -> tuple[Visit, ...]:
    """Two people on two days, each over the patch and elsewhere."""
    return (
        Visit(0, "Hollin", (*patch, *others[::2])),
        Visit(1, BY_DEPTH, (*patch[1:], *others[1::2])),
    )


def one_visit(patch: Sequence[str]) -> tuple[Visit, ...]:
    """Somebody new, on one day, over the patch alone."""
    return (Visit(0, "Reeve", tuple(patch)),)


def plumbed_again(club: Club, patch: Sequence[str], visits: Sequence[Visit], by_m: float, seed: int) -> Club:
    """The survey with later visits, the bed about the patch deeper by so much since then."""
    soundings, _ = reduce_soundings(club.book)
    spots = {
        (file, row): xy
        for file, row, xy in zip(soundings.table["file"], soundings.table["row"], soundings.xy, strict=True)
    }
    in_patch = [spots[r.place.file, r.place.row] for r in club.book.readings if r.peg in patch and _key(r) in spots]
    area = shapely.union_all(shapely.buffer(shapely.points(np.array(in_patch)), ROUND_M))
    rng = np.random.default_rng(seed)
    new: list[Reading] = []
    for visit in visits:
        for old in (r for r in club.book.readings if r.peg in visit.pegs and _key(r) in spots):
            depth = _found(club.bed, spots[_key(old)], old, area, by_m, rng)
            shown = NEW_SHOWN_M[visit.day]
            new.append(_written(old, visit, max(depth + shown - DATUM_M, 0.0), len(new)))
    levels = tuple(
        LevelRecord(moment(day), shown, SourceRow("levels.csv", 10 + k))
        for k, (day, shown) in enumerate(zip(NEW_DAYS, NEW_SHOWN_M, strict=True))
    )
    return replace(club, book=_with(club.book, new, levels))


def _key(reading: Reading) -> tuple[str, int | None]:
    return reading.place.file, reading.place.row


def _found(
    bed: Callable[[np.ndarray], np.ndarray],
    at: np.ndarray,
    old: Reading,
    area: BaseGeometry,
    by_m: float,
    rng: np.random.Generator,
) -> float:
    """Depth at datum where a cast like an old one falls this time."""
    far = old.where.distance_m
    fell = at + rng.normal(0, 1, 2) * far * (FAR_SD + np.radians(TURN_SD_DEG)) / 2
    changed = by_m if shapely.intersects_xy(area, *fell) else 0.0
    return float(max(bed(fell[None, :])[0] + changed + rng.normal(0, DEPTH_SD_M), 0.03))


def _written(old: Reading, visit: Visit, depth: float, number: int) -> Reading:
    plumbed = {"depth_m": depth, "setting_m": None, "float_name": "", "seen": None, "method": "pole"}
    if visit.observer != BY_DEPTH and depth > WAGGLER.below_surface_m:
        plumbed = {"depth_m": None, "setting_m": depth - WAGGLER.below_surface_m, "method": "float"}
        plumbed |= {"float_name": WAGGLER.name, "seen": FloatSeen.STANDS}
    place = SourceRow(f"readings-{visit.observer.lower()}.csv", 1000 + number)
    return replace(old, place=place, observer=visit.observer, when=moment(NEW_DAYS[visit.day]), **plumbed)


def _with(book: Fieldbook, new: Sequence[Reading], levels: tuple[LevelRecord, ...]) -> Fieldbook:
    readings = tuple(sorted((*book.readings, *new), key=lambda r: (r.place.file, r.place.row or 0)))
    return replace(
        book,
        readings=readings,
        levels=(*book.levels, *levels),
        rows=len(readings),
        row_places=tuple(r.place for r in readings),
    )
