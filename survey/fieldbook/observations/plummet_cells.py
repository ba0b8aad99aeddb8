"""What a row says of the depth: a length, a bound on it, or only what kept the plummet from the bed.

A remark counts where no depth stands beside it. Knows nothing of settings and places.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import LONGEST, CellReader, RowReader, Unread
from survey.fieldbook.venue.pegs_sheet import DEEPEST_M
from survey.units import Length
from survey.units.lengths import in_unit
from survey.units.plummet import Limit, PlummetWords, Stop, plummet_words, words_of_note

HOW_TO = 'where the bed was not reached write "over 3", "under 2", "no bottom at 12", "weed" or "snag".'
"""The forms that are read."""
STOPPED: dict[Stop, str] = {
    "weed": "with weed",
    "snag": "with a snag",
    "unreached": "where the plummet did not reach the bed",
}
SIDES: dict[Limit, str] = {"at_least": "at least", "at_most": "at most"}


@dataclass(frozen=True)
class Plumbing:
    """What a plummet found: a length, a bound where ``limit`` says so, or only what kept it from the bed."""

    length: Length | None = None
    limit: Limit = ""
    stopped_by: Stop = ""

    @property
    def says_nothing(self) -> bool:
        """Whether the row holds neither."""
        return self == Plumbing()

    @property
    def metres(self) -> float | None:
        """The length; None without."""
        return None if self.length is None else self.length.metres


def read_plumbing(reader: RowReader, remarks: Remarks, *, has_setting: bool) -> Plumbing:
    """What the plummet found; whatever is no plain depth is told as it was read."""
    if reader.row.text("depth") or reader.row.is_unworked("depth"):
        found = reader.written("depth", lambda text: _of_cell(text, reader.cells))
        if found and found.length and reader.checked("depth", found.length, 0.0, DEEPEST_M) is None:
            return Plumbing()
        _tell(reader, "depth", found, remarks)
        return found or Plumbing()
    if has_setting or reader.rejected:
        return Plumbing()
    for column in ("note", "bottom"):
        said = words_of_note(reader.row.text(column)[:LONGEST])
        noted = _of_words(said, reader.cells) if said else None
        if isinstance(noted, Plumbing):
            _tell(reader, column, noted, remarks)
            return noted
    return Plumbing()


def _of_cell(text: str, cells: CellReader) -> Plumbing | Unread:
    said = plummet_words(text)
    if said is None:
        return Unread("depth-unread", f'"{text.strip()}" is not a length', f"Write a length; {HOW_TO}")
    return _of_words(said, cells)


def _of_words(said: PlummetWords, cells: CellReader) -> Plumbing | Unread:
    if not said.length:
        return Plumbing(None, said.limit, said.stopped_by)
    length = cells.length("depth", said.length)
    if isinstance(length, Unread):
        return replace(length, remedy=f"Write a length; {HOW_TO}") if length.code == "depth-unread" else length
    return Plumbing(length, said.limit, said.stopped_by)


def _tell(reader: RowReader, column: str, found: Plumbing | None, remarks: Remarks) -> None:
    row = reader.row
    written, place = row.text(column)[:LONGEST], row.place(column)
    if found is None:
        return
    if found.length is None:
        remarks.note("bed-not-reached", place, f"no depth, kept as a spot {STOPPED[found.stopped_by]}", value=written)
    elif found.limit:
        bound = f"{SIDES[found.limit]} {in_unit(found.length.metres, found.length.unit)}"
        remarks.note("depth-bound", place, f"read as a bound: {bound}", value=written)
    elif words_of_note(row.text("note")[:LONGEST]):
        remarks.warning(
            "note-on-depth",
            row.place("note"),
            "the note says that the bed was not reached, but a depth stands beside it, and is used as one",
            f"If it is none, change the depth: {HOW_TO}",
            row.text("note")[:LONGEST],
        )
