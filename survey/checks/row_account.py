"""Every source row ends as a depth, as a bound, or in a finding: the count of each, which add up to the rows.

Knows nothing of the bed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from survey.errors import SourceRow
from survey.findings import Finding
from survey.records.fieldbook import Fieldbook
from survey.records.soundings import Soundings


@dataclass(frozen=True)
class Account:
    """How the rows of the reading sheets ended.

    Parameters
    ----------
    rows : int
        That held anything.
    as_depths, as_bounds : int
        Soundings of either kind.
    in_findings : int
        Rows without a sounding of their own that a finding names.
    lost : tuple of SourceRow
        Rows of none of these: a fault of ours, never empty space in the sheet.
    """

    rows: int
    as_depths: int
    as_bounds: int
    in_findings: int
    lost: tuple[SourceRow, ...]

    @property
    def adds_up(self) -> bool:
        """Whether the three counts make the rows."""
        return self.as_depths + self.as_bounds + self.in_findings == self.rows and not self.lost


def account(fieldbook: Fieldbook, soundings: Soundings, findings: Iterable[Finding]) -> Account:
    """How each row ended.

    Parameters
    ----------
    fieldbook : Fieldbook
    soundings : Soundings
        Of its readings.
    findings : iterable of Finding
        All of them.
    """
    table = soundings.table
    rows = {(place.file, place.row) for place in fieldbook.row_places}
    is_depth = (table["kind"] == "depth").tolist()
    kinds = dict(zip(zip(table["file"], table["row"], strict=True), is_depth, strict=True))
    reported = {where for finding in findings for where in finding.row_places}
    bare = set(zip(table["file"][table["kind"] == "none"], table["row"][table["kind"] == "none"], strict=True))
    sounded = {where: kind for where, kind in kinds.items() if where in rows - bare}
    rest = rows - set(sounded)
    return Account(
        rows=len(rows),
        as_depths=sum(sounded.values()),
        as_bounds=len(sounded) - sum(sounded.values()),
        in_findings=len(rest & reported),
        lost=tuple(SourceRow(file, row) for file, row in sorted(rest - reported, key=str)),
    )
