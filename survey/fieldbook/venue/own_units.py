"""What a club counts distances in and reads its level mark in: as ``venue.toml`` has it, else as its sheets do.

Counts cells and their units; whether they can be used is for the readers of the sheets.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from survey.errors import ParseError
from survey.fieldbook.tables.headers import Table
from survey.records.declaration import Declaration
from survey.units import Length, Sizes, read_length
from survey.units.club_units import METRES, YARDS, DistanceUnit
from survey.units.lengths import UNIT_METRES

MIXED_LEVELS = "The level mark's unit is not declared and its sheets use several: plain levels are metres."
ANY_SIZES = Sizes(1.0, 1.0, 1.0)
"""Only the unit of a cell is asked here."""
SAME_AS = {"cm": "m", "mm": "m", "in": "ft"}


def with_own_units(
    declared: Declaration, reading_tables: Sequence[Table], level_tables: Sequence[Table]
) -> Declaration:
    """The declaration with both units filled in from the sheets where it leaves them open."""
    declared = replace(declared, counted_in=declared.counted_in or _most_distances(declared, reading_tables))
    used = [declared.units["level"]] if "level" in declared.units else [*_units_of("level", declared, level_tables)]
    stated = (*declared.stated, MIXED_LEVELS) if len(used) > 1 else declared.stated
    unit = used[0] if len(used) == 1 else "m" if used else declared.mark.unit
    mark = replace(declared.mark, unit=unit if unit in UNIT_METRES else "m")
    return replace(declared, mark=mark, stated=stated)


def _most_distances(declared: Declaration, tables: Sequence[Table]) -> DistanceUnit:
    """The unit of more than half the distances; else yards where a club that shows feet has none in metres."""
    used: Counter[str] = Counter()
    for unit, count in _units_of("distance", declared, tables).items():
        used[SAME_AS.get(unit, unit)] += count
    unit, count = max(used.items(), key=lambda one: one[1], default=("m", 0))
    worth_m = own_size(unit, declared.sizes)
    if worth_m is not None and 2 * count > used.total():
        return DistanceUnit(unit, worth_m)
    return YARDS if used and not used["m"] and declared.shows == "feet" else METRES


def own_size(unit: str, sizes: Sizes) -> float | None:
    """Metres in a unit of distance; None where the venue would have to say and has not."""
    return {"wrap": sizes.wrap_m, "rod": sizes.rod_m, "section": sizes.section_m, **UNIT_METRES}[unit]


def _units_of(name: str, declared: Declaration, tables: Sequence[Table]) -> Counter[str]:
    """How many cells of a column are in each unit."""
    used: Counter[str] = Counter()
    for table in tables:
        if name not in table.columns:
            continue
        bare = table.columns[name].unit or declared.units.get(name)
        for text, count in Counter(filter(None, table.texts[name])).items():
            found = _read(text, bare)
            if found is not None and found.metres:
                used[found.unit] += count
    return used


def _read(text: str, bare: str | None) -> Length | None:
    try:
        return read_length(text, bare, ANY_SIZES)
    except (ParseError, KeyError):
        return None
