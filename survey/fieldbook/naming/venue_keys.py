"""Pegs that keys of ``venue.toml`` name, with what was taken for what and what is missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from survey.errors import SourceRow
from survey.fieldbook.files.sources import VENUE_FILE
from survey.fieldbook.naming.matching import PegNames
from survey.fieldbook.remarks import Remarks
from survey.records.venue import Peg


@dataclass(frozen=True)
class NamedPegs:
    """Pegs that a key of ``venue.toml`` names.

    Parameters
    ----------
    code : str
        Begins the codes of its findings.
    key : str
        With its section, as people know it.
    otherwise : str
        What happens while a name is unknown.
    """

    code: str
    key: str
    otherwise: str


HIDDEN = NamedPegs("hide-pegs", "[publish] hide_pegs", "nothing can be published until it is found")
OFF_BANK = NamedPegs("off-bank", "[pegs] off_bank", "no peg is taken for it")


def pegs_named(names: Sequence[str], pegs: Sequence[Peg], where: NamedPegs, remarks: Remarks) -> tuple[str, ...]:
    """The names of pegs as painted where one peg is meant; the others stay, with a warning."""
    matched, place = PegNames(pegs).matched(names), SourceRow(VENUE_FILE, column=where.key)
    for name, peg in (matched.by_habit | matched.recovered).items():
        remarks.note(f"{where.code}-taken", place, f'"{name}" was taken for peg "{peg}"', "Write it as in pegs.", name)
    for name, why in matched.unknown.items():
        because = f": {why}" if why else ""
        remarks.warning(
            f"{where.code}-unknown",
            place,
            f'there is no peg "{name}"{because}; {where.otherwise}',
            "Correct the name.",
            name,
        )
    return tuple(matched.painted.get(name, name) for name in names)
