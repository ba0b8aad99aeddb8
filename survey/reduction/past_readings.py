"""Past readings: what was plumbed before the bed there was changed. Kept and shown, not used, and no mistakes.

Knows nothing of depths.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from survey.arrays import FloatArray
from survey.findings import Finding, Grade, counted_readings
from survey.records.fieldbook import Change, Fieldbook
from survey.reduction.positions import Placed, VenueGeometry, placed
from survey.units.dates import written_day

CHANGED = "The bed was changed: readings from before are shown as past readings, and not used."
"""What pages and cards say of it; one of the venue's stated sentences."""


def without_past(fieldbook: Fieldbook) -> tuple[Fieldbook, tuple[Finding, ...]]:
    """The fieldbook with readings older than the bed they were taken of no longer in use, and notes that count them.

    A reading of the very day on which the bed is new holds. One without a date may be older, so it is past.

    Parameters
    ----------
    fieldbook : Fieldbook
        Places of readings are as written; one on the line of a polygon lies inside.
    """
    if not fieldbook.changes:
        return fieldbook, ()
    readings, changes = fieldbook.readings, fieldbook.changes
    days = np.array([reading.when.day if reading.when else "" for reading in readings], str)
    xy = _spots(fieldbook)
    findings = [finding for change in changes for finding in _told(change, fieldbook, days, lies_in(change, xy))]
    since = new_from(changes, days, xy)
    retired = tuple(
        replace(reading, use=False, new_from=day) if day else reading
        for reading, day in zip(readings, since, strict=True)
    )
    stated = (*fieldbook.venue.stated, *([CHANGED] if any(since) else []))
    return replace(fieldbook, venue=replace(fieldbook.venue, stated=stated), readings=retired), tuple(findings)


def new_from(changes: Iterable[Change], days: NDArray[np.str_], xy: FloatArray) -> list[str]:
    """The day from which the bed is new at each spot where what was plumbed there on its day is older; else empty.

    Parameters
    ----------
    changes : iterable of Change
        Of several that hold for a spot, the last.
    days : ndarray, shape (n,)
        ISO; an empty one is older than any.
    xy : ndarray, shape (n, 2)
        Venue CRS; nan where a reading has no place, which lies in no polygon.
    """
    since = np.zeros(len(days), "U10")
    for change in sorted(changes, key=lambda change: change.new_from):
        since = np.where(lies_in(change, xy) & (days < change.new_from), change.new_from, since)
    return [str(day) for day in since]


def lies_in(change: Change, xy: FloatArray) -> NDArray[np.bool_]:
    """Which spots, shape (n, 2), a change holds for."""
    if change.area is None:
        return np.ones(len(xy), bool)
    return np.asarray(shapely.intersects_xy(change.area, xy[:, 0], xy[:, 1]))


def softened(findings: Iterable[Finding], fieldbook: Fieldbook) -> tuple[Finding, ...]:
    """Findings of the reduction, those on past readings as notes: what no longer holds is no mistake."""
    past = {reading.place for reading in fieldbook.readings if reading.new_from}
    return tuple(
        replace(f, grade=Grade.NOTE, remedy="") if replace(f.place, column="") in past else f for f in findings
    )


def _spots(fieldbook: Fieldbook) -> FloatArray:
    """Where readings lie, shape (n, 2); nan where that is not known, or where no polygon asks for it."""
    xy = np.full((len(fieldbook.readings), 2), np.nan)
    if all(change.area is None for change in fieldbook.changes):
        return xy
    for k, spot in enumerate(placed(fieldbook.readings, VenueGeometry.of(fieldbook.venue))):
        if isinstance(spot, Placed):
            xy[k] = spot.easting, spot.northing
    return xy


def _told(change: Change, fieldbook: Fieldbook, days: NDArray[np.str_], inside: NDArray[np.bool_]) -> Iterator[Finding]:
    yield _counted(change, days[inside])
    undated = [fieldbook.readings[k] for k in np.flatnonzero(inside & (days == ""))]
    if undated:
        yield Finding(
            Grade.WARNING,
            "past-undated",
            undated[0].place,
            f"{counted_readings(len(undated))} without a date may be from before {written_day(change.new_from)}, when "
            "the bed there was changed: shown as past, not used",
            "Write their dates.",
        )
    pegs = [peg for peg in fieldbook.venue.pegs if peg.margin_depth_m is not None]
    at = np.array([(peg.easting, peg.northing) for peg in pegs], float).reshape(-1, 2)
    names = [peg.name for peg, held in zip(pegs, lies_in(change, at), strict=True) if held]
    if names:
        yield Finding(
            Grade.NOTE,
            "past-margins",
            change.place,
            f"a margin depth has no date, so it is still used here: peg {', '.join(names)}",
            f"Measure it again if it is from before {written_day(change.new_from)}.",
        )


def _counted(change: Change, days: NDArray[np.str_]) -> Finding:
    past, newer = int(((days != "") & (days < change.new_from)).sum()), int((days >= change.new_from).sum())
    return Finding(
        Grade.NOTE,
        "past-readings",
        change.place,
        f"the bed {'of the whole water' if change.area is None else 'in this polygon'} is new from "
        f"{written_day(change.new_from)}{f' ({change.note})' if change.note else ''}: {counted_readings(past)} from "
        f"before {'is' if past == 1 else 'are'} shown as past, not used; {counted_readings(newer)} "
        f"{'is' if newer == 1 else 'are'} from that day or later",
        "" if newer else "Plumb it again: without a reading the bed there is only guessed from what lies around.",
    )
