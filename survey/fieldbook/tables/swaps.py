"""Columns of a readings sheet that cannot be what their header names: swapped, or in another unit.

Looked for before any row is believed; knows nothing of the water.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from survey.errors import ParseError, SourceRow
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import LONGEST, carries_unit
from survey.fieldbook.tables.headers import Table
from survey.units import Sizes, read_angle, read_clock, read_length, read_number
from survey.units.lengths import in_unit

LEAST_ROWS = 3
MOST, FEW = 0.8, 0.35
IN_FRONT_DEG = 100.0
"""Hardly anybody casts further round than this from straight out."""
DEEPEST_M = 40.0


@dataclass(frozen=True)
class Swap:
    """Two columns that hold each other's figures, and why that is thought."""

    first: str
    second: str
    why: str


def swapped_columns(table: Table, units: Mapping[str, str | None], sizes: Sizes) -> Swap | None:
    """The two columns of a sheet that look swapped, None if none do.

    Distance and depth: the depth is more than the distance in most rows, which no bank offers. Clock and
    distance: most rows make sense only the other way round. Angle and distance: distances to the left.
    """
    if {"distance", "depth"} <= set(table.columns):
        pairs = zip(*(_metres(table, name, units.get(name), sizes) for name in ("distance", "depth")), strict=True)
        both = [(distance, depth) for distance, depth in pairs if distance is not None and depth is not None]
        # Nought and less is no depth, but may be an angle.
        deeper = sum(depth > distance > 0 for distance, depth in both)
        centimetres = sum(depth > DEEPEST_M for _, depth in both)
        if len(both) >= LEAST_ROWS and deeper >= MOST * len(both) and centimetres < MOST * len(both):
            return Swap("distance", "depth", f"in {deeper} of {len(both)} rows the water is deeper than it is far")
    for name, is_direction in (("clock", _is_clock), ("angle", _is_angle)):
        if {"distance", name} <= set(table.columns):
            found = _direction_swap(table, name, is_direction)
            if found:
                return found
    return None


def _direction_swap(table: Table, name: str, is_direction: Callable[[str], bool]) -> Swap | None:
    cells = [pair for pair in zip(table.texts[name], table.texts["distance"], strict=True) if all(pair)]
    texts = {text for pair in cells for text in pair}
    turns, fars = ({text for text in texts if is_so(text[:LONGEST])} for is_so in (is_direction, _is_distance))
    as_written = sum(turn in turns and far in fars for turn, far in cells)
    other_way = sum(far in turns and turn in fars for turn, far in cells)
    if len(cells) >= LEAST_ROWS and other_way >= MOST * len(cells) and as_written <= FEW * len(cells):
        return Swap(name, "distance", f"{other_way} of {len(cells)} rows make sense only the other way round")
    return None


def _metres(table: Table, name: str, unit: str | None, sizes: Sizes) -> list[float | None]:
    """Lengths of a column by row, None where a cell is none."""
    known: dict[str, float | None] = {"": None}
    for text in table.distinct(name):
        try:
            known[text] = read_length(text[:LONGEST], unit, sizes).metres
        except ParseError:
            known[text] = None
    return [known[text] for text in table.texts.get(name, ())]


def _is_clock(text: str) -> bool:
    try:
        return abs(read_clock(text).angle_deg) <= IN_FRONT_DEG
    except ParseError:
        return False


def _is_angle(text: str) -> bool:
    try:
        return abs(read_angle(text)) <= IN_FRONT_DEG
    except ParseError:
        return False


def _is_distance(text: str) -> bool:
    try:
        return carries_unit(text) or read_number(text) > 0
    except ParseError:
        return False


def tell_swapped(table: Table, swap: Swap, remarks: Remarks) -> None:
    """Reject every row of a sheet with swapped columns."""
    first, second = (table.columns[name].shown for name in (swap.first, swap.second))
    for row in table.rows:
        remarks.error(
            "columns-swapped",
            row.place(swap.first),
            f"columns {first} and {second} look swapped: {swap.why}",
            "Swap their headers; no row of this sheet is used until then.",
        )


def note_centimetres(table: Table, units: Mapping[str, str | None], sizes: Sizes, remarks: Remarks) -> None:
    """Say that the depths of a sheet look like centimetres, where nearly all are too deep by far as written."""
    depths = [depth for depth in _metres(table, "depth", units.get("depth"), sizes) if depth is not None]
    deep = [depth for depth in depths if depth > DEEPEST_M]
    if len(depths) >= LEAST_ROWS and len(deep) >= MOST * len(depths) and max(depths) <= DEEPEST_M * 100:
        most = in_unit(DEEPEST_M, units.get("depth") or "m")
        remarks.warning(
            "unit-doubtful",
            SourceRow(table.sheet.label, table.header_index + 1, table.columns["depth"].header),
            f"{len(deep)} of {len(depths)} depths are over {most} as written: they look like centimetres",
            'Write the unit in the header, like "depth (cm)".',
        )
