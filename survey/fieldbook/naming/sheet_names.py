"""The pegs that a list of names means, with what was taken for what and what is missing, each told once a sheet."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence

from survey.errors import SourceRow
from survey.fieldbook.naming.matching import Matched, PegNames
from survey.fieldbook.remarks import Remarks
from survey.records.venue import Peg

LONGEST = 100
"""Characters of a name; what is longer is none."""
NAMED = 3
UNKNOWN_NAMED = 12
NAMES_OFFERED = 3
UNUSED_OFFERED = 6

Rows = Mapping[str, Sequence[int]]
"""Rows in which each name stands, at least one."""


def pegs_meant(named: Rows, pegs: Sequence[Peg], place: SourceRow, remarks: Remarks) -> Mapping[str, str]:
    """The painted name for every name of a sheet that means a peg; whatever is not plain is told.

    Parameters
    ----------
    named : mapping
        Names as typed, and their rows.
    pegs : sequence of Peg
    place : SourceRow
        The sheet, and the column with the names.
    remarks : Remarks
    """
    matched = PegNames(pegs).matched([name for name in named if len(name) <= LONGEST])
    matched.unknown |= {name: "" for name in named if len(name) > LONGEST}
    _tell_taken(matched.by_habit, named, place, remarks)
    _tell_recovered(matched.recovered, named, place, remarks)
    if matched.unknown:
        _tell_unknown(matched, named, pegs, place, remarks)
    return matched.painted


def _tell_taken(taken: Mapping[str, str], named: Rows, place: SourceRow, remarks: Remarks) -> None:
    if taken:
        remarks.note(
            "pegs-taken",
            SourceRow(place.file, _first_row(taken, named), place.column),
            f"{_rows(_rows_of(taken, named))} name pegs in another way than the pegs sheet: {_pairs(taken, named)}",
            "If one of them is another peg, add it to pegs.",
        )


def _tell_recovered(taken: Mapping[str, str], named: Rows, place: SourceRow, remarks: Remarks) -> None:
    if taken:
        remarks.warning(
            "pegs-recovered",
            SourceRow(place.file, _first_row(taken, named), place.column),
            f"a spreadsheet seems to have changed the pegs' names in {_rows(_rows_of(taken, named))}: "
            f"{_pairs(taken, named)}",
            "Format the column as text and type the names again.",
        )


def _tell_unknown(matched: Matched, named: Rows, pegs: Sequence[Peg], place: SourceRow, remarks: Remarks) -> None:
    unknown = sorted(matched.unknown, key=lambda name: named[name][0])
    rows = sorted({row for name in unknown for row in named[name]})
    problem = _one(unknown[0], len(rows)) if len(unknown) == 1 else _many(unknown, named, len(rows))
    reasons = dict.fromkeys(f"{why} ({name})" for name in unknown[:NAMED] if (why := matched.unknown[name]))
    remarks.error(
        "peg-unknown",
        SourceRow(place.file, rows[0], place.column),
        "; ".join((problem, *reasons)),
        _offer(unknown, matched, pegs),
        unknown[0][:LONGEST],
        tuple(rows[1:]),
    )


def _one(name: str, rows: int) -> str:
    many = f", in {rows} rows" if rows > 1 else ""
    return f'"{name[:LONGEST]}" is not a peg of this water{many}'


def _many(names: Sequence[str], named: Rows, rows: int) -> str:
    shown = ", ".join(f'"{name[:LONGEST]}" ({_rows(len(named[name]))})' for name in names[:UNKNOWN_NAMED])
    more = f" and {len(names) - UNKNOWN_NAMED} more" if len(names) > UNKNOWN_NAMED else ""
    return f"{len(names)} names are not pegs of this water: {shown}{more}; {_rows(rows)} not used"


def _offer(unknown: Sequence[str], matched: Matched, pegs: Sequence[Peg]) -> str:
    """The nearest names; for several names also the pegs that nothing in the sheet names."""
    names = [name for peg in pegs for name in (peg.name, *peg.aliases)]
    close = difflib.get_close_matches(unknown[0][:LONGEST], names, n=NAMES_OFFERED, cutoff=0.5)
    nearest = f"Nearest names in pegs: {', '.join(close or sorted(names)[:NAMES_OFFERED])}."
    named = set(matched.painted.values())
    unused = [peg.name for peg in pegs if peg.name not in named]
    if 0 < len(unused) <= UNUSED_OFFERED:
        which = ", ".join(unused)
        nearest += f" Not named in this sheet: {which}. For a new name of a peg, write it under aliases in pegs."
    return nearest


def _first_row(names: Mapping[str, str], named: Rows) -> int:
    return min(named[name][0] for name in names)


def _rows_of(names: Mapping[str, str], named: Rows) -> int:
    return len({row for name in names for row in named[name]})


def _rows(count: int) -> str:
    return f"{count} row{'s' if count > 1 else ''}"


def _pairs(names: Mapping[str, str], named: Rows) -> str:
    order = sorted(names, key=lambda name: (named[name][0], name))
    pairs = ", ".join(f'"{name}" was taken for "{names[name]}"' for name in order[:NAMED])
    return pairs + (f" and {len(order) - NAMED} more in the same way" if len(order) > NAMED else "")
