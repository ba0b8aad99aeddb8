"""From readings as written to soundings at datum: the one way from the fieldbook to the grid.

Every reading becomes a sounding, goes into a bracket with another, or is named in a finding.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd

from survey.errors import SourceRow, runs_of_rows
from survey.findings import Finding, Grade, counted_readings, ordered
from survey.gc_pause import collector_paused
from survey.records.fieldbook import Fieldbook
from survey.records.readings import Cast, Intersection, Reading
from survey.records.soundings import COLUMNS, Soundings
from survey.reduction.astray_shore import AshoreError, outline_findings
from survey.reduction.brackets import joined
from survey.reduction.depths import own_sd_m, plumbed
from survey.reduction.positions import Outcome, Placed, RejectedReadingError, VenueGeometry, placed, rejected
from survey.reduction.sounding import Sounding
from survey.reduction.water_levels import LevelAt, LevelHistory
from survey.reduction.waterlines import edge_soundings
from survey.units.club_units import DistanceUnit
from survey.units.dates import written_day
from survey.units.lengths import shown_length

MOST_PULLED_M = 5.0
"""A spot further ashore than this is left out however badly its distance is known (ours)."""

LEAST_PULLED_M = 1.0
LEAST_ASHORE = 0.1
"""Of the unit shown: less than that is said to be less."""

NO_ROW_OF_ITS_OWN = frozenset(
    {
        "bracketed",
        "depth-missing",
        "depth-negative",
        "edge-not-found",
        "float-unknown",
        "island-astray",
        "magnetic-model-years",
        "magnetic-undated",
        "not-placed",
        "on-land",
        "peg-unknown",
        "rod-reach-missing",
        "seen-missing",
        "shore-astray",
        "sights-do-not-cross",
        "tip-too-long",
    }
)
"""Codes of the findings that stand for readings without a sounding of their own."""


@collector_paused()
def reduce_soundings(fieldbook: Fieldbook) -> tuple[Soundings, tuple[Finding, ...]]:
    """Reduce every reading to the datum and place it.

    Parameters
    ----------
    fieldbook : Fieldbook

    Returns
    -------
    Soundings
        Sorted by file and row.
    tuple of Finding
        What was left out, pulled, joined or assumed here; the fieldbook's own are not repeated.
    """
    venue_geometry = VenueGeometry.of(fieldbook.venue)
    levels = LevelHistory(fieldbook.levels, fieldbook.venue.mark, fieldbook.venue.standard_errors)
    answered = frozenset(SourceRow(one.about.file, one.about.row) for one in fieldbook.decisions)
    soundings, findings = _reduced(sorted(fieldbook.readings, key=_order), venue_geometry, levels, answered)
    drawn, said = edge_soundings(fieldbook, venue_geometry, levels)
    soundings += drawn
    findings += said
    findings += _on_levels(soundings, levels, fieldbook) + _on_sounders(soundings)
    soundings, said = joined(soundings, fieldbook.venue.shows)
    return _table(soundings, fieldbook.venue.crs), ordered([*findings, *said])


def _order(record: Reading | Sounding) -> tuple[str, int, str]:
    return record.place.file, record.place.row or 0, record.place.column


def _reduced(
    readings: Sequence[Reading], venue_geometry: VenueGeometry, levels: LevelHistory, answered: frozenset[SourceRow]
) -> tuple[list[Sounding], list[Finding]]:
    soundings: list[Sounding] = []
    spots, pulled = _landed(readings, placed(readings, venue_geometry), venue_geometry)
    ashore = (spot for spot in spots if isinstance(spot, AshoreError))
    findings = outline_findings(venue_geometry.venue, ashore, answered)
    told = {place for finding in findings for place in finding.rows}
    rises = levels.rises([reading.when for reading in readings])
    for number, (reading, spot, level) in enumerate(zip(readings, spots, rises, strict=True)):
        try:
            if isinstance(spot, RejectedReadingError):
                raise spot
            sounding, said = _sounding(reading, spot, level, venue_geometry)
        except RejectedReadingError as fault:
            findings += [] if reading.place in told else [fault.finding]
        else:
            soundings.append(sounding)
            findings += [*pulled.get(number, ()), *said]
    return _behind_land(soundings, findings, venue_geometry), findings


def _sounding(
    reading: Reading, spot: Placed, level: LevelAt, venue_geometry: VenueGeometry
) -> tuple[Sounding, list[Finding]]:
    on_the_day = plumbed(reading, venue_geometry.venue)
    sd_m = own_sd_m(reading, _reach_m(reading, spot, venue_geometry), venue_geometry.venue.standard_errors)
    sounding = Sounding(
        reading=reading,
        placed=spot,
        level=level,
        kind=on_the_day.kind,
        depth_m=on_the_day.depth_m - level.rise_m,
        sd_m=sd_m,
        hard_depth_m=math.nan if reading.hard_depth_m is None else reading.hard_depth_m - level.rise_m,
        use=reading.use,
    )
    return sounding, _doubts(reading, on_the_day.depth_m, sd_m, venue_geometry.venue.shows)


def _reach_m(reading: Reading, placed: Placed, venue_geometry: VenueGeometry) -> float | None:
    """Distance over which the depth was felt, metres; None where no peg is known."""
    if isinstance(reading.where, Cast | Intersection):
        return placed.distance_m
    peg = venue_geometry.venue.peg(reading.peg) if reading.peg else None
    return None if peg is None else math.hypot(placed.easting - peg.easting, placed.northing - peg.northing)


def _landed(
    readings: Sequence[Reading], spots: Sequence[Outcome], venue_geometry: VenueGeometry
) -> tuple[list[Outcome], dict[int, list[Finding]]]:
    """The places on the water, pulled there where they lie ashore by no more than they may be wrong; who was pulled."""
    landed, notes = list(spots), dict[int, list[Finding]]()
    found = [(number, spot) for number, spot in enumerate(spots) if isinstance(spot, Placed)]
    xy = np.array([(spot.easting, spot.northing) for _, spot in found], float).reshape(-1, 2)
    outside = venue_geometry.shore.all_outside_m(xy)
    off = np.flatnonzero(outside)
    for k, (e, n) in zip(off, venue_geometry.shore.pulled(xy[off]).tolist(), strict=True):
        (number, spot), far = found[k], float(outside[k])
        if far > min(max(LEAST_PULLED_M, spot.sd_m), MOST_PULLED_M):
            said = rejected(
                readings[number],
                "on-land",
                f"lands on shore by {_ashore(far, venue_geometry.venue.spans)}",
                "Check peg, direction and distance, and where the distance was measured from.",
            )
            landed[number] = AshoreError(said.finding, readings[number], spot, far)
            continue
        landed[number] = replace(spot, easting=e, northing=n)
        problem = f"lands on shore by {_ashore(far, venue_geometry.venue.spans)}, taken at the water's edge"
        notes[number] = [Finding(Grade.NOTE, "pulled-to-water", readings[number].place, problem)]
    return landed, notes


def _ashore(outside_m: float, spans: DistanceUnit) -> str:
    shown = spans.shown(outside_m)
    return f"less than {spans.shown(LEAST_ASHORE * spans.worth_m)}" if shown == spans.shown(0) else shown


def _behind_land(
    soundings: Sequence[Sounding], findings: list[Finding], venue_geometry: VenueGeometry
) -> list[Sounding]:
    """The soundings, those that their peg cannot see taken out of use and reported."""
    sighted = [
        (number, peg)
        for number, s in enumerate(soundings)
        if isinstance(s.reading.where, Cast | Intersection) and (peg := venue_geometry.venue.peg(s.reading.peg))
    ]
    kept = list(soundings)
    stands = np.array([(peg.easting, peg.northing) for _, peg in sighted], float).reshape(-1, 2)
    spots = [(kept[number].placed.easting, kept[number].placed.northing) for number, _ in sighted]
    seen = venue_geometry.shore.sight.from_pegs(stands, np.array(spots, float).reshape(-1, 2))
    for k in np.flatnonzero(~seen):
        number, peg = sighted[k]
        reading = kept[number].reading
        kept[number] = replace(kept[number], use=False)
        findings.append(
            Finding(
                Grade.WARNING if reading.use else Grade.NOTE,
                "behind-land",
                reading.place,
                f"land lies between peg {peg.name} and where this cast lands; kept and shown, not used",
                "Check the direction, the distance and the peg's point.",
            )
        )
    return kept


def _doubts(reading: Reading, depth_m: float, sd_m: float, shows: str) -> list[Finding]:
    found: list[Finding] = []
    if reading.hard_depth_m is not None and reading.hard_depth_m < depth_m - 3 * sd_m:
        found.append(
            Finding(
                Grade.WARNING,
                "hard-above-bed",
                reading.place,
                f"the hard bed at {shown_length(reading.hard_depth_m, shows)} lies above the bed at "
                f"{shown_length(depth_m, shows)}",
                "Check both depths.",
            )
        )
    if reading.setting_m is not None and reading.depth_m is not None and abs(reading.depth_m - depth_m) > 3 * sd_m:
        found.append(
            Finding(
                Grade.WARNING,
                "two-depths",
                reading.place,
                f"the setting gives {shown_length(depth_m, shows)}, "
                f"but the depth beside it is {shown_length(reading.depth_m, shows)}; the setting is used",
                "Clear the wrong one.",
            )
        )
    return found


def _on_levels(soundings: Sequence[Sounding], levels: LevelHistory, fieldbook: Fieldbook) -> list[Finding]:
    """One finding for each day whose level is not known; one for all of them without usable records."""
    unknown: dict[str, list[Sounding]] = defaultdict(list)
    # A past reading shapes nothing, so its level is missed only where no other reading needs it.
    for sounding in sorted(soundings, key=lambda s: bool(s.reading.new_from)):
        if not sounding.level.known:
            unknown[sounding.day if len(levels) else ""].append(sounding)
    no_mark = bool(fieldbook.levels) and fieldbook.venue.mark.kind is None
    shows, usable = fieldbook.venue.shows, len(levels) > 0
    return [_level_unknown(day, rows, shows, usable=usable, no_mark=no_mark) for day, rows in unknown.items()]


def _level_unknown(day: str, rows: Sequence[Sounding], shows: str, *, usable: bool, no_mark: bool) -> Finding:
    if no_mark:
        when, remedy = "on any day", 'Set [level] kind = "board" or "dip" in venue.toml.'
    elif not usable:
        when, remedy = "on any day", "Add the level mark's reading and its date to the levels sheet."
    elif day:
        when, remedy = f"on {written_day(day)}", "Add a record of that day to the levels sheet."
    else:
        when, remedy = "for readings without a date", "Write their dates."
    return Finding(
        Grade.NOTE if rows[0].reading.new_from else Grade.WARNING,
        "level-unknown",
        SourceRow(rows[0].place.file, rows[0].place.row),
        f"level unknown {when}: {counted_readings(len(rows))} kept as if at datum, sd "
        f"{shown_length(rows[0].level.sd_m, shows)} ({runs_of_rows(row.place for row in rows)})",
        remedy,
    )


def _on_sounders(soundings: Iterable[Sounding]) -> list[Finding]:
    """A sounder has no error of its own among the venue's; the assumed one is reported once a sheet."""
    silent = [s for s in soundings if s.reading.method == "sounder" and s.reading.sd_m is None]
    counted = Counter(s.place.file for s in silent)
    return [
        Finding(
            Grade.NOTE,
            "sounder-sd",
            SourceRow(file),
            f"{counted_readings(count)} by sounder assumed as accurate as a marker rod's",
            "Add an sd column if you know it.",
        )
        for file, count in counted.items()
    ]


def _table(soundings: Sequence[Sounding], crs: str) -> Soundings:
    rows = sorted(soundings, key=_order)
    cells = {name: [cell_of(s) for s in rows] for name, cell_of in _CELLS.items()}
    table = pd.DataFrame(cells if rows else None, columns=list(COLUMNS))
    if table.empty:
        table = table.astype({name: float for name in COLUMNS if name.endswith(("_m", "_deg"))} | {"use": bool})
    points = gpd.points_from_xy([s.placed.easting for s in rows], [s.placed.northing for s in rows])
    return Soundings(gpd.GeoDataFrame(table, geometry=points, crs=crs))


_CELLS: dict[str, Callable[[Sounding], object]] = {
    "file": lambda s: s.reading.place.file,
    "row": lambda s: s.reading.place.row or 0,
    "peg": lambda s: s.reading.peg,
    "observer": lambda s: s.reading.observer,
    "day": lambda s: s.day,
    "method": lambda s: s.reading.method,
    "bottom": lambda s: s.reading.bottom,
    "kind": lambda s: s.kind,
    "depth_m": lambda s: s.depth_m,
    "sd_m": lambda s: s.sd_m,
    "level_sd_m": lambda s: s.level.sd_m,
    "level_block": lambda s: s.level.block,
    "distance_m": lambda s: s.placed.distance_m,
    "radial_deg": lambda s: s.placed.radial_deg,
    "radial_sd_m": lambda s: s.placed.radial_sd_m,
    "tangential_sd_m": lambda s: s.placed.tangential_sd_m,
    "peg_sd_m": lambda s: s.placed.peg_sd_m,
    "facing_sd_deg": lambda s: s.placed.facing_sd_deg,
    "peg2": lambda s: s.reading.where.other_peg if isinstance(s.reading.where, Intersection) else "",
    "facing2_sd_deg": lambda s: s.placed.other_facing_sd_deg,
    "declared": lambda s: " ".join((["depth"] if s.reading.sd_m is not None else []) + list(s.placed.declared)),
    "hard_depth_m": lambda s: s.hard_depth_m,
    "stopped_by": lambda s: s.reading.stopped_by,
    "use": lambda s: s.use,
    "new_from": lambda s: s.reading.new_from,
}
"""What stands in each column of the soundings."""
