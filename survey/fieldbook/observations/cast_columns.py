"""Where a reading is, as written: direction and distance from a peg, or a position.

Knows nothing of depths.
"""

from __future__ import annotations

from dataclasses import dataclass

from survey.errors import ParseError
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import RowReader
from survey.fieldbook.tables.headers import Row, Table
from survey.fieldbook.tables.position_columns import read_position, ways_given
from survey.fieldbook.tables.vocabulary import (
    DIRECTION_BY,
    DISTANCE_BY,
    DISTANCE_FROM,
    HEADER_NORTHS,
    NORTHS,
    UNIT_DISTANCE_BY,
)
from survey.records.declaration import Declaration
from survey.records.readings import Cast, Direction, DirectionBy, Fix, Intersection
from survey.units import ClockFace, read_angle, read_bearing, read_clock

DIRECTIONS = ("clock", "angle", "bearing")
CLOCKS = ("clock", "clock2")
SECOND = ("clock2", "angle2", "bearing2")
FURTHEST_M = 250.0


@dataclass(frozen=True)
class CastRules:
    """What one sheet and its venue leave to be understood.

    Parameters
    ----------
    declared : Declaration
    clock_by : {"half hours", "hours"}
        How finely the sheet writes the clock.
    """

    declared: Declaration
    clock_by: DirectionBy

    @classmethod
    def of(cls, table: Table, declared: Declaration, remarks: Remarks) -> CastRules:
        """The rules of a sheet: half hours if any of its clock cells is off the hour."""
        faces = {text: face for name in CLOCKS for text in table.distinct(name) if (face := _face(text))}
        half_words = {text for text, face in faces.items() if face.half_word}
        half = next((row for row in table.rows if half_words & {row.text(name) for name in CLOCKS}), None)
        if half:
            remarks.note(
                "half-hour-word",
                half.place("clock"),
                '"half twelve" is read as 12:30, as in British use',
                value=half.text("clock"),
            )
        return cls(declared, "hours" if all(face.on_hour for face in faces.values()) else "half hours")


def _face(text: str) -> ClockFace | None:
    try:
        return read_clock(text)
    except ParseError:
        return None


def silent_on_north(table: Table) -> list[Row]:
    """Rows with a bearing whose north is given by neither header nor north cell nor a letter."""
    if "bearing" not in table.columns or table.columns["bearing"].base in HEADER_NORTHS:
        return []
    bare = {text for text in table.distinct("bearing") if _is_bare_bearing(text)}
    return [row for row in table.rows if row.text("bearing") in bare and not row.text("north")]


def _is_bare_bearing(text: str) -> bool:
    try:
        return read_bearing(text)[1] is None
    except ParseError:
        return False


def is_crossing(row: Row) -> bool:
    """Whether a row names a second sight."""
    return any(name in row.table.columns and row.text(name) for name in ("peg2", *SECOND))


def read_where(reader: RowReader, rules: CastRules, other_peg: str) -> Cast | Intersection | Fix | None:
    """Cast, crossing or fix of a row; None where there is none or it cannot be read (the row is then rejected).

    ``other_peg`` is the peg of a second sight, empty where the row has none.
    """
    directions = [name for name in DIRECTIONS if reader.has(name)]
    by_cast = bool(directions) or reader.has("distance")
    positions = ways_given(reader)
    if by_cast and positions:
        reader.reject(
            "place-twice", positions[0][0], "the spot is given twice, by cast and by position", "Keep one of them."
        )
        return None
    if positions:
        return _fix(reader, rules)
    if is_crossing(reader.row):
        return _crossing(reader, directions, other_peg, rules)
    if not directions and not reader.rejected:
        reader.reject(
            "direction-missing",
            _column(reader.row, DIRECTIONS),
            "there is no direction",
            "Write clock, angle or bearing.",
        )
    if len(directions) > 1:
        reader.reject(
            "direction-twice",
            directions[1],
            f"the direction is given twice, as {directions[0]} and as {directions[1]}",
            "Keep one of them.",
        )
    distance = _distance(reader)
    direction = _direction(reader, directions[0], rules) if directions else None
    start = reader.choice("distance from", DISTANCE_FROM) or rules.declared.distance_from
    if start == "rod tip" and rules.declared.rod_reach_m is None:
        reader.reject(
            "rod-reach-missing",
            "distance from",
            "the distance is from the rod tip, whose reach is not declared",
            'Add to venue.toml: [units] rod_reach = "3 m", with your figure.',
        )
    if reader.rejected or distance is None or direction is None:
        return None
    metres, unit = distance
    by = reader.choice("distance by", DISTANCE_BY) or UNIT_DISTANCE_BY.get(unit)
    return Cast(direction, metres, by or "estimated", start, by_declared=by is not None)


def _crossing(reader: RowReader, directions: list[str], other_peg: str, rules: CastRules) -> Intersection | None:
    """Two sights of one float; no distance is needed, and none may stand beside them."""
    second = [name for name in SECOND if reader.has(name)]
    if reader.has("distance"):
        reader.reject(
            "place-twice", "distance", "the spot is given twice, by two sights and by a distance", "Keep one of them."
        )
    for column, given in (("direction", directions), ("second direction", second)):
        if len(given) > 1:
            reader.reject("direction-twice", given[1], f"the {column} is given twice", "Keep one of them.")
        elif not given and not reader.rejected:
            reader.reject(
                "direction-missing",
                _column(reader.row, SECOND if column.startswith("second") else DIRECTIONS),
                f"there is no {column}",
                "Write clock, angle or bearing for each of the two pegs.",
            )
    if not reader.row.text("peg2"):
        reader.reject("peg-missing", "peg2", "the second sight names no peg", "Fill in peg2.")
    if reader.rejected:
        return None
    first, other = (_direction(reader, given[0], rules) for given in (directions, second))
    return None if first is None or other is None else Intersection(first, other_peg, other)


def _column(row: Row, names: tuple[str, ...]) -> str:
    return next((name for name in names if name in row.table.columns), names[0])


def _fix(reader: RowReader, rules: CastRules) -> Fix | None:
    position = read_position(reader, rules.declared)
    if position is None:
        return None
    return Fix(position.x, position.y, "venue" if position.in_venue_crs else "lonlat", position.sd_m)


def _distance(reader: RowReader) -> tuple[float, str] | None:
    if not reader.has("distance"):
        if not reader.rejected:
            reader.reject("distance-missing", "distance", "there is no distance", "Fill it in.")
        return None
    length = reader.within("distance", 0.0, FURTHEST_M)
    return None if length is None else (length.metres, length.unit)


def _direction(reader: RowReader, kind: str, rules: CastRules) -> Direction | None:
    by = reader.choice("direction by", DIRECTION_BY)
    told = by is not None
    if kind.startswith("clock"):
        face = reader.read(kind, read_clock)
        return None if face is None else Direction("clock", face.angle_deg, by or rules.clock_by, by_declared=told)
    if kind.startswith("angle"):
        angle = reader.read(kind, read_angle)
        return None if angle is None else Direction("angle", angle, by or "compass", by_declared=told)
    found = reader.read(kind, read_bearing)
    if found is None:
        return None
    bearing, lettered = found
    said = {lettered, reader.choice("north", NORTHS), HEADER_NORTHS.get(reader.row.table.columns[kind].base)} - {None}
    if len(said) > 1:
        reader.reject(
            "north-clashes",
            kind,
            f"the bearing is given from {' and from '.join(sorted(map(str, said)))} north",
            "Keep one of them.",
        )
        return None
    north = next(iter(said), None) or rules.declared.north
    return Direction("bearing", bearing, by or "compass", north, told)
