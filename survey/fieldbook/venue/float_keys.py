"""Floats as a club or an angler declares them: in ``venue.toml``, or in a file of one's own.

Knows nothing of what else ``venue.toml`` says.
"""

from __future__ import annotations

from pathlib import Path
from typing import cast, get_args

from survey.errors import ParseError, SourceRow, SurveyError
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.venue.toml_keys import Keys, parsed
from survey.records.floats import Float, FloatKind, SettingTo
from survey.units.float_ratings import FloatMark, read_mark

MAX_BYTES = 1024 * 1024


def read_floats_file(path: Path) -> tuple[Float, ...]:
    """Read the floats of one angler: the [floats] of a TOML file.

    Raises
    ------
    FieldbookError
        If it cannot be read, with every fault found.
    """
    remarks = Remarks()
    try:
        data = path.read_bytes()
    except OSError as trouble:
        remarks.refuse(
            SourceRow(path.name), f"the file cannot be opened ({trouble.strerror})", "Check its name and where it lies."
        )
    if len(data) > MAX_BYTES:
        remarks.refuse(SourceRow(path.name), "the file is too large to be a list of floats", "Name the right file.")
    top = Keys(parsed(data, path.name, remarks), "", remarks, path.name)
    found = read_floats(top)
    top.tell_unknown()
    if not found and not remarks.faults:
        top.wrong("floats", "there is no float in it", 'Write [floats."My wag"] and below it length and tip.')
    remarks.stop_if_faulty()
    return found


def read_floats(top: Keys) -> tuple[Float, ...]:
    """The floats under [floats], in their order; faults go to the remarks of ``top``."""
    tables = top.values["floats"] if top.has("floats") else {}
    if not isinstance(tables, dict):
        top.wrong("floats", "floats are sections", 'Write [floats."Long wag"] and below it length = "25 cm".')
        return ()
    return tuple(made for name, table in tables.items() if (made := _float(name, table, top)))


def _float(name: str, table: object, top: Keys) -> Float | None:
    keys = Keys(table, f'floats."{name}"', top.remarks, top.file)
    length, tip = keys.length("length"), keys.length("tip")
    setting_to = cast("SettingTo", keys.choice("setting_to", get_args(SettingTo), "hold"))
    kind = cast("FloatKind", keys.choice("kind", get_args(FloatKind), "fixed"))
    mark = _mark(keys)
    keys.tell_unknown()
    if length is None or tip is None:
        missing = [key for key in ("length", "tip") if key not in keys.values]
        if missing:
            keys.wrong(
                missing[0],
                f"the float has no {' and no '.join(missing)}",
                f'Write {missing[0]} = "2 cm", with your figure.',
            )
        return None
    try:
        return Float(name, length, tip, setting_to, kind, mark)
    except SurveyError as trouble:
        keys.wrong("length", str(trouble), "Correct the figures.")
        return None


def _mark(keys: Keys) -> FloatMark | None:
    text = keys.text("mark")
    if not text:
        return None
    try:
        return read_mark(text)
    except ParseError as trouble:
        keys.wrong("mark", str(trouble), 'Write it like mark = "3 No 4", "1.2 g" or "2 AAA + 2 BB loaded".')
        return None
