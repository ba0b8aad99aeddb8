"""Levels that cannot be of one mark: a record far from its neighbours, a datum or outline level far from all records.

Knows nothing of readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from survey.errors import SourceRow
from survey.fieldbook.files.sources import VENUE_FILE
from survey.fieldbook.remarks import Remarks
from survey.records.declaration import Declaration
from survey.records.fieldbook import LevelRecord
from survey.units import FOOT_M, INCH_M
from survey.units.club_units import shown_level
from survey.units.lengths import shown_length

FAR_FROM_USUAL_M = 2.0
"""Small waters seldom move so far between records (ours)."""
FAR_FROM_NEAREST_M = 1.0
"""Nor so far beyond the records round about, or the datum beyond them all (ours)."""
SPREADS = 2.0
"""Where the records themselves differ much, so many times their range (ours)."""
SLIP_M = 0.5
"""With a plain slip that explains it, a level so far beyond the others is told (ours)."""
FIT_M = 0.15
"""A slip explains a level if it falls this near to the others without it (ours)."""
NEIGHBOURS = 2
"""Records looked at before one and after it."""

_POINT = (
    ("with its decimal point one place to the left", 0.1),
    ("with its decimal point one place to the right", 10.0),
    ("with its decimal point two places to the left, or in centimetres,", 0.01),
    ("with its decimal point two places to the right", 100.0),
)
_FROM_METRES = (("in feet, not metres,", FOOT_M), ("in inches, not metres,", INCH_M))
_FROM_FEET = (("in inches, not feet,", INCH_M / FOOT_M), ("in metres, not feet,", 1 / FOOT_M))
_SLIPS = {"ft": (*_FROM_FEET, *_POINT), "in": _POINT, "yd": _POINT}
"""Of levels in a unit, how a level was meant and how much smaller or larger it then is; the likeliest first."""


_MARKS = {
    "datum": ("every depth", "all depths are given for"),
    "outline_level": ("the margins", "at which the outline was traced"),
}
"""What each key moves, and what it means."""


@dataclass(frozen=True)
class _Range:
    """Levels that others showed, metres, and how the venue writes and shows levels."""

    low_m: float
    high_m: float
    unit: str
    shows: str

    @classmethod
    def of(cls, records: Sequence[LevelRecord], declared: Declaration) -> _Range:
        shown = [record.shown_m for record in records]
        return cls(min(shown), max(shown), declared.mark.unit, declared.shows)

    @property
    def spread_m(self) -> float:
        return self.high_m - self.low_m

    def beyond_m(self, shown_m: float) -> float:
        """How far a level lies above the highest (positive) or below the lowest (negative); 0 between them."""
        return max(shown_m - self.high_m, 0.0) + min(shown_m - self.low_m, 0.0)

    @property
    def words(self) -> str:
        """The range as people read it."""
        low, high = shown_level(self.low_m, self.unit, self.shows), shown_level(self.high_m, self.unit, self.shows)
        return low if low == high else f"{low} to {high}"

    def slip(self, shown_m: float) -> str:
        """What would bring a level among the others, as the end of a sentence; empty if nothing plain does."""
        near = max(FIT_M, self.spread_m / 2.0)
        if abs(self.beyond_m(shown_m)) < max(SLIP_M, self.spread_m):
            return ""
        for words, factor in _SLIPS.get(self.unit, (*_POINT, *_FROM_METRES)):
            if abs(self.beyond_m(shown_m * factor)) <= near:
                return f"; {words} it would be {shown_level(shown_m * factor, self.unit, self.shows)}"
        return ""

    def is_far(self, shown_m: float) -> bool:
        """Whether a level is so far from them that it is told without a slip that explains it."""
        return abs(self.beyond_m(shown_m)) > max(FAR_FROM_NEAREST_M, SPREADS * self.spread_m)


def tell_far_levels(records: Sequence[LevelRecord], declared: Declaration, remarks: Remarks) -> None:
    """A warning for every record that is far from the others, and for a datum or outline level far from them all.

    Parameters
    ----------
    records : sequence of LevelRecord
        Sorted by time.
    declared : Declaration
    remarks : Remarks
    """
    believed = []
    for at, record in enumerate(records):
        far = _far_record(records, at, declared)
        if far:
            remarks.warning(
                "level-far",
                record.place,
                f"{far}; it shifts every reading of that day",
                "Check the unit and the decimal point.",
            )
        else:
            believed.append(record)
    if believed and declared.mark.kind is not None:
        known = _Range.of(believed, declared)
        _tell_mark("datum", declared.mark.datum_m, known, remarks)
        if declared.mark.outline_m is not None and declared.mark.outline_m != declared.mark.datum_m:
            _tell_mark("outline_level", declared.mark.outline_m, known, remarks)


def _far_record(records: Sequence[LevelRecord], at: int, declared: Declaration) -> str:
    """Why a record is not believed; empty if it may be right."""
    record, unit, shows = records[at], declared.mark.unit, declared.shows
    usual = median(other.shown_m for other in records)
    round_about = [*records[max(at - NEIGHBOURS, 0) : at], *records[at + 1 : at + 1 + NEIGHBOURS]]
    near = _Range.of(round_about or [record], declared)
    slip = near.slip(record.shown_m)
    written = shown_level(record.shown_m, unit, shows)
    if abs(record.shown_m - usual) > FAR_FROM_USUAL_M:
        return f"{written}, where the levels are mostly near {shown_level(usual, unit, shows)}{slip}"
    if len(round_about) >= NEIGHBOURS and (slip or near.is_far(record.shown_m)):
        return f"{written}, where the records before and after it are {near.words}{slip}"
    return ""


def _tell_mark(key: str, shown_m: float, known: _Range, remarks: Remarks) -> None:
    slip, beyond = known.slip(shown_m), known.beyond_m(shown_m)
    if not slip and not known.is_far(shown_m):
        return
    apart = f"{shown_length(abs(beyond), known.shows)} {'above the highest' if beyond > 0 else 'below the lowest'}"
    moved, meant = _MARKS[key]
    remarks.warning(
        f"{key.replace('_', '-')}-far",
        SourceRow(VENUE_FILE, column=f"[level] {key}"),
        f"{shown_level(shown_m, known.unit, known.shows)} is {apart} of the levels recorded, {known.words}; "
        f"it moves {moved} by as much{slip}",
        f"Write what the mark shows at the level {meant}. Without the line it counts as "
        f"{'0' if key == 'datum' else 'the datum'}.",
    )
