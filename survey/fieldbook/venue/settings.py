"""``venue.toml``: what the club declares about its water, with every default that was taken stated.

Knows nothing of sheets and outlines.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import replace
from typing import cast, get_args
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pyproj import CRS
from pyproj.exceptions import CRSError

from survey.errors import SurveyError
from survey.fieldbook.files.sources import ROLES, VENUE_FILE, Source
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.tables.cells import size_line
from survey.fieldbook.venue.float_keys import read_floats
from survey.fieldbook.venue.own_units import own_size
from survey.fieldbook.venue.toml_keys import Keys, parsed
from survey.records.declaration import Declaration
from survey.records.uncertainty import SPREADS, StandardErrors
from survey.records.venue import DistanceFrom, Limits, North, Publishing
from survey.records.water_level import LevelMark, MarkKind
from survey.units import Sizes, read_length, unit_named
from survey.units.club_units import COUNTED_IN, YARDS, DistanceUnit, shown_level
from survey.units.coordinates import read_declination
from survey.units.dates import ORDERS, DateOrder
from survey.units.lengths import UNIT_METRES

COLUMN_UNITS = ("depth", "distance", "setting", "tip", "level")
OWN_KEYS = ("level", "edge", "limits", "units", "spreads", "publish", "files", "pegs", "survey")
"""Sections whose keys are all known."""
SECTIONS = (*OWN_KEYS, "floats", "dates_in")
SHOWN = ("feet", "metres")
FAR_M = 10.0
"""Longer ones are distances, not depths."""
BRITISH_GRID = CRS.from_epsg(27700)


def read_settings(source: Source, remarks: Remarks) -> Declaration:
    """Read ``venue.toml``; what is not understood in it is a fault, and takes its default.

    Parameters
    ----------
    source : Source
    remarks : Remarks
        Without faults so far: all it has at the end are of this file.

    Raises
    ------
    FieldbookError
        If it is not TOML.
    """
    top = Keys(parsed(source.data, VENUE_FILE, remarks), "", remarks)
    remarks.stop_if_faulty()
    if not top.text("name"):
        top.wrong("name", "the water has no name", 'Write name = "Your water".')
    shows = top.choice("shows", SHOWN, "feet") or "feet"
    stated = Stated(shows)
    crs, zone = _crs(top, stated), _timezone(top, stated)
    sections = {name: Keys(_section(top, name), name, remarks) for name in OWN_KEYS}
    level, edge, units = sections["level"], sections["edge"], sections["units"]
    sections["files"].allowed.extend(ROLES)
    mark, level_unit = _mark(level, stated)
    sizes = _sizes(units)
    declared = Declaration(
        name=top.text("name"),
        crs=crs,
        on_british_grid=crs is not None and CRS.from_user_input(crs) == BRITISH_GRID,
        timezone=zone,
        shows=shows,
        credit=top.text("credit"),
        licence=top.text("licence"),
        emergency=top.text("emergency"),
        cautions=top.texts("cautions"),
        dates=cast("DateOrder | None", top.choice("dates", ORDERS)),
        dates_in=_dates_in(Keys(_section(top, "dates_in"), "dates_in", remarks)),
        mark=mark,
        edge_depth_m=_stated(edge, "depth", 0.0, "Depth at the traced edge: 0 m", stated),
        edge_sd_m=_positive(edge, "sd", 0.2, "Depth at the edge: ± {} (1 sd)", stated),
        units=_column_units(units, level_unit),
        sizes=sizes,
        counted_in=_counted_in(top, sizes),
        distance_from=cast("DistanceFrom", units.choice("distance_from", get_args(DistanceFrom), "peg")),
        rod_reach_m=units.length("rod_reach"),
        north=cast("North", units.choice("north", get_args(North), "true")),
        declination_deg=units.read("declination", read_declination, 'Write declination = "3E", or W.'),
        limits=_limits(sections["limits"], stated),
        standard_errors=_spreads(sections["spreads"]),
        floats=read_floats(top),
        publishing=_publishing(sections["publish"]),
        off_bank=sections["pegs"].texts("off_bank"),
        since=sections["survey"].day("since"),
        stated=tuple(stated),
    )
    for table in (top, *sections.values()):
        table.tell_unknown()
    return replace(declared, unread=_unread(remarks))


def _unread(remarks: Remarks) -> frozenset[str]:
    """Keys and sections with a fault; an unknown key at the top may be a section misspelt."""
    keys = {fault.place.column for fault in remarks.faults}
    near = (difflib.get_close_matches(key, SECTIONS, n=1) for key in keys if not key.startswith("["))
    return frozenset(keys | {f"[{section}]" for found in near for section in found})


class Stated(list[str]):
    """Defaults that were taken, each a sentence; lengths in metres as the file has them, and in feet beside."""

    def __init__(self, shows: str) -> None:
        super().__init__()
        self.shows = shows

    def add(self, sentence: str, length_m: float) -> None:
        """A sentence with a length at its ``{}``."""
        far = length_m > FAR_M and self.shows == "feet"
        both = f"{length_m:g} m ({YARDS.whole(length_m)})" if far else shown_level(length_m, "m", self.shows)
        self.append(f"{sentence.format(both)}.")


def _section(top: Keys, name: str) -> object:
    return top.values[name] if top.has(name) else {}


def _crs(top: Keys, stated: list[str]) -> str | None:
    given = top.text("crs")
    if not given:
        stated.append("Map grid: the UTM zone of the lake's centre.")
        return None
    try:
        crs = CRS.from_user_input(given)
    except CRSError:
        top.wrong(
            "crs",
            "this coordinate system is not known",
            'Write its EPSG code, like crs = "EPSG:32630", or delete the line.',
        )
        return None
    if not crs.is_projected or any(axis.unit_conversion_factor != 1.0 for axis in crs.axis_info):
        top.wrong(
            "crs", "this coordinate system is not in metres", "Name a projected one in metres, like the UTM zone."
        )
        return None
    if crs == BRITISH_GRID:
        # Measured against OSTN15 at 255 points over Great Britain: 1.8 m on average, 3.8 m at most.
        stated.append(
            "Longitudes and latitudes agree with the national grid to about 2 m, 4 m at worst; "
            "grid references fit it exactly."
        )
    return given


def _timezone(top: Keys, stated: Stated) -> str:
    name = top.text("timezone")
    if not name:
        stated.append("Times without a zone: UTC.")
        return "UTC"
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        top.wrong("timezone", "this time zone is not known", 'Write it like timezone = "Europe/London".')
        return "UTC"
    return name


def _dates_in(files: Keys) -> dict[str, DateOrder]:
    """The order of dates of single files, by name."""
    orders = {file: files.choice(file, ORDERS) for file in files.values}
    return {file: cast("DateOrder", order) for file, order in orders.items() if order}


def _mark(level: Keys, stated: Stated) -> tuple[LevelMark, str | None]:
    """The level mark, and the unit of bare level numbers."""
    kind = cast("MarkKind | None", level.choice("kind", get_args(MarkKind)))
    unit = _unit(level, "unit")
    datum, outline = level.length("datum", unit), level.length("outline_level", unit)
    if kind is None:
        stated.append("No level mark is declared: depths are as they were on the day.")
    if datum is None:
        stated.append("Depths are for the mark at 0.")
    if outline is None:
        stated.append("Outline traced at the datum.")
    mark_unit = unit or (None if datum is None else _own_unit(level, "datum"))
    return LevelMark(kind, datum or 0.0, outline, mark_unit or "m"), unit


def _own_unit(level: Keys, key: str) -> str | None:
    """The unit that a length has beside it; None for a plain number."""
    value = level.values[key]
    unit = read_length(value, "m").unit if isinstance(value, str) else None
    return unit if unit in UNIT_METRES else None


def _unit(keys: Keys, key: str) -> str | None:
    word = keys.text(key)
    if word and unit_named(word) is None:
        keys.wrong(key, "this is not a unit of length", f'Write {key} = "m", "ft", "in", "cm" or "yd".')
    return unit_named(word) if word else None


def _column_units(units: Keys, level_unit: str | None) -> dict[str, str]:
    found = {name: _unit(units, name) for name in COLUMN_UNITS}
    found["level"] = found["level"] or level_unit
    return {name: unit for name, unit in found.items() if unit}


def _counted_in(top: Keys, sizes: Sizes) -> DistanceUnit | None:
    """What distances are shown in; None where the file is silent."""
    word = top.text("distances")
    unit = unit_named(word) if word else None
    if not word:
        return None
    if unit not in COUNTED_IN:
        top.wrong(
            "distances", "distances are not shown in this", 'Write distances = "yards", "metres", "feet" or "wraps".'
        )
        return None
    worth_m = own_size(unit, sizes)
    if worth_m is None:
        top.wrong("distances", "the length of one is not declared", size_line(unit))
        return None
    return DistanceUnit(unit, worth_m)


def _sizes(units: Keys) -> Sizes:
    return Sizes(*(_size(units, key) for key in ("stick_spacing", "rod_length", "pole_section")))


def _size(units: Keys, key: str) -> float | None:
    size = units.length(key)
    if size is not None and size <= 0:
        units.wrong(key, "a size must be above zero", f'Write {key} = "2 m", with your figure.')
        return None
    return size


def _stated(keys: Keys, key: str, default: float, sentence: str, stated: Stated) -> float:
    """A length, or its default with the sentence that states it."""
    value = keys.length(key)
    if value is None:
        stated.add(sentence, default)
        return default
    return value


def _positive(keys: Keys, key: str, default: float, sentence: str, stated: Stated) -> float:
    value = _stated(keys, key, default, sentence, stated)
    if value <= 0:
        keys.wrong(key, "this must be above zero", f'Write {key} = "{default:g} m", with your figure.')
        return default
    return value


def _limits(limits: Keys, stated: Stated) -> Limits:
    usual = Limits()
    return Limits(
        _positive(limits, "sd", usual.sd_m, "Surveyed water: ± {} or better (1 sd)", stated),
        _positive(limits, "reach", usual.reach_m, "Within reach: {} from a peg, in sight over water", stated),
        _positive(limits, "beyond_sd", usual.beyond_sd_m, "Beyond reach: ± {} or better (1 sd)", stated),
    )


def _publishing(publish: Keys) -> Publishing:
    address = publish.text("address")
    if address and not re.fullmatch(r"https?://[^\s\"<>]+", address):
        publish.wrong("address", "this is not a web address", 'Write address = "https://example.org/our-lake/".')
    contact = publish.text("contact")
    if contact and not re.fullmatch(r"[\w.%+-]+@[A-Za-z0-9.-]+\.[A-Za-z]{2,}", contact):
        publish.wrong("contact", "this is not a mail address", 'Write contact = "secretary@example.org".')
    return Publishing(
        address=address,
        hidden_pegs=publish.texts("hide_pegs"),
        hides_readings=publish.flag("hide_readings"),
        contact=contact,
        hides_place=publish.flag("hide_place"),
        words_file=publish.text("words"),
    )


def _spreads(keys: Keys) -> StandardErrors:
    usual = StandardErrors()
    values = {
        name: keys.length(name, "m")
        if isinstance(keys.values.get(name), str) and name.endswith("_m")
        else keys.number(name, getattr(usual, name))
        for name in SPREADS
    }
    read = {name: value for name, value in values.items() if value is not None}
    try:
        return StandardErrors(**read, declared=frozenset(name for name in read if keys.has(name)))
    except SurveyError as trouble:
        keys.wrong("", str(trouble), "Correct the figure.")
        return usual
