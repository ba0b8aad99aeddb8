"""What a page knows, as plain JSON values: the grid, the lake, the pegs, the rules and the words.

Text from the sources stays text here; how it is shown is the page's own affair.
"""

from __future__ import annotations

import base64
import math
import zlib
from dataclasses import asdict
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon

from maps.content.contour_figures import _lines, figure_places
from maps.content.margin import Json, margin_data
from maps.content.peg_facts import stops_of
from maps.content.peg_words import stop_words
from maps.content.rounding import finite
from maps.drawing.colours import Band, band_at
from maps.drawing.description import description
from maps.drawing.fan_casts import fan_casts
from maps.drawing.peg_view import PegView, in_sight
from maps.drawing.projection import POWERS, LocalProjection
from maps.language.catalogue import Words, catalogue_of
from maps.page.rules import drawings, priors, rules
from maps.privacy.placeless_files import is_placeless
from survey.bed.grid import Bed
from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.geometry.geodesy import Geodesy
from survey.records.floats import BARE_LINE, Float
from survey.records.venue import Peg, Venue
from survey.reduction.water_levels import recorded_m
from survey.units.club_units import DistanceUnit
from survey.workup import WorkedSurvey

STEP_M = 10.0
"""Length of the trial casts that measure the venue's grid round a peg."""
FINDINGS_SHOWN = 60
MOVED_M = 1.0
"""A peg that was moved by less is shown where it stands alone."""
SAID_BEFOREHAND = (
    "about_", "band_", "datum_", "days_", "file_", "folder_", "gpkg_", "guide_", "index_", "mark_", "stamp_", "stated_",
    "told_",
)  # fmt: skip
"""How keys of words begin that the page's program never shows."""


def page_data(
    worked: WorkedSurvey, shown_m: float, frame: LocalProjection, hatched: MultiPolygon, cut: tuple[Band, ...]
) -> Json:
    """Everything the page's program needs; finite numbers, text, lists and nothing else.

    Parameters
    ----------
    worked : WorkedSurvey
    shown_m : float
        What the level mark shows when the page opens, metres.
    frame : LocalProjection
    hatched : MultiPolygon
        Unsurveyed water, venue CRS.
    cut : tuple of Band
    """
    said = {
        **shared_data(worked, shown_m, frame),
        "drawings": drawings("section", "fan", "map"),
        "pegs": [{**peg_data(worked, peg), "fan": fan_data(worked.venue, peg)} for peg in worked.venue.pegs],
        "grid": grid_data(worked.bed),
        "bands": [{"from_m": b.from_m, "to_m": b.to_m, "colour": b.colour, "pale": b.pale_line} for b in cut],
        "contours": _contours(worked, cut, hatched),
        "unsurveyed": [_rings_cm(worked, part) for part in hatched.geoms],
        "readings": _readings(worked.shown),
        "findings": _findings(worked),
    }
    return finite(said)


def shared_data(worked: WorkedSurvey, shown_m: float, frame: LocalProjection) -> Json:
    """What the program of the map and that of a peg's page both need; the grid is each one's own."""
    venue, grid = worked.venue, worked.bed.grid
    return {
        "digest": worked.fieldbook.digest[:16],
        "shows": venue.shows,
        "mark": {"kind": venue.mark.kind, "datum_m": venue.mark.datum_m, "unit": venue.mark.unit},
        "records_m": recorded_m(worked.fieldbook.levels),
        "distances": _counted(venue.distances),
        "spans": _counted(venue.spans),
        "shown_m": shown_m,
        "frame": _frame(frame),
        "placeless": is_placeless(venue),
        "outline": _outline(venue.water),
        "scale": Geodesy(venue.crs).scale(*venue.water.representative_point().coords[0][:2]),
        "across_m": math.hypot(grid.nx * grid.cell_m, grid.ny * grid.cell_m),
        "limits": {"sd_m": venue.limits.sd_m, "beyond_sd_m": venue.limits.beyond_sd_m, "reach_m": venue.limits.reach_m},
        "rules": rules(venue),
        "drawings": drawings("section"),
        "words": _words(catalogue_of(venue)),
        "priors": priors(worked.fieldbook),
        "sizes": {"wrap": venue.sizes.wrap_m, "rod": venue.sizes.rod_m, "section": venue.sizes.section_m},
        "floats": [_float(f) for f in (*venue.floats, BARE_LINE)],
        "pegs": [peg_data(worked, peg) for peg in venue.pegs],
        "spots": [
            {"peg": s.peg, "name": s.name, "angle_deg": s.angle_deg, "distance_m": s.distance_m} for s in worked.spots
        ],
    }


def _counted(counted: DistanceUnit) -> Json:
    return {"unit": counted.unit, "worth_m": counted.worth_m, "places": counted.places}


def _words(said: Words) -> Json:
    """The words that the program shows; others are written into the page when it is made."""
    return {key: text for key, text in said.texts.items() if not key.startswith(SAID_BEFOREHAND)}


def packed(values: NDArray[np.generic], *, raw: bool = True) -> Json:
    """An array as base64 of its little-endian bytes, deflated and, for older browsers, raw."""
    flat = np.ascontiguousarray(values).astype(values.dtype.newbyteorder("<"), copy=False).tobytes()
    deflated = base64.b64encode(zlib.compress(flat, 9)).decode("ascii")
    copy = {"raw": base64.b64encode(flat).decode("ascii")} if raw else {}
    return {"type": values.dtype.name, "deflated": deflated, **copy}


def _frame(frame: LocalProjection) -> Json:
    return {
        "lon0": frame.lon0, "lat0": frame.lat0, "e0": frame.e0, "n0": frame.n0,
        "half_deg": frame.half_deg, "half_m": frame.half_m, "powers": POWERS,
        "to_grid": frame.to_grid.tolist(), "to_lonlat": frame.to_lonlat.tolist(),
    }  # fmt: skip


def grid_data(bed: Bed, *, raw: bool = True) -> Json:
    """The stored grid as the page reads it."""
    grid = bed.grid
    split = np.zeros((grid.ny, grid.nx), bool)
    split[: bed.split.shape[0], : bed.split.shape[1]] = bed.split
    flags = bed.beyond_reach.astype(np.uint8) + 2 * split.astype(np.uint8)
    return {
        "west": grid.west, "south": grid.south, "cell_m": grid.cell_m, "ny": grid.ny, "nx": grid.nx,
        "depth_mm": packed(_narrowest(bed.depth_mm), raw=raw), "sd_mm": packed(_narrowest(bed.sd_mm), raw=raw),
        "flags": packed(flags, raw=raw),
    }  # fmt: skip


def _narrowest(whole_mm: NDArray[np.int32]) -> NDArray[np.signedinteger]:
    fits = whole_mm.size == 0 or whole_mm.max() <= np.iinfo(np.int16).max
    return whole_mm.astype(np.int16) if fits else whole_mm


def _outline(water: MultiPolygon) -> Json:
    rings = [np.asarray(r.coords)[:, :2] for part in water.geoms for r in (part.exterior, *part.interiors)]
    islands = [k > 0 for part in water.geoms for k in range(1 + len(part.interiors))]
    return {"counts": [len(r) for r in rings], "islands": islands, "xy": packed(np.concatenate(rings))}


def _float(held_by: Float) -> Json:
    mark = held_by.mark
    return {
        "name": held_by.name, "length_m": held_by.length_m, "tip_m": held_by.tip_m, "setting_to": held_by.setting_to,
        "kind": held_by.kind,
        "mark": None if mark is None else {"balance_g": mark.balance_g, "load_g": mark.load_g},
    }  # fmt: skip


def peg_data(worked: WorkedSurvey, peg: Peg) -> Json:
    """A peg as the page knows it."""
    geometry = Geodesy(worked.venue.crs)
    return {
        "name": peg.name, "aliases": list(peg.aliases), "e": peg.easting, "n": peg.northing,
        "facing_deg": peg.facing_deg, "facing_sd_deg": peg.facing_sd_deg, "facing_declared": peg.facing_declared,
        "convergence_deg": geometry.convergence_deg(peg.easting, peg.northing), "per_m": _grid_per_metre(geometry, peg),
        "closed": peg.is_closed, "accessible": peg.is_accessible, "access": peg.access, "note": peg.note,
        "margin": margin_data(worked, peg), "written": _written(peg),
        "stops": stop_words(catalogue_of(worked.venue), stops_of(worked, peg)),
    }  # fmt: skip


def _written(peg: Peg) -> list[float] | None:
    """Easting and northing of the point as written, where the adjustment moved it far enough to be seen."""
    if peg.bank is None:
        return None
    at = [peg.bank.written_easting, peg.bank.written_northing]
    return at if math.dist(at, (peg.easting, peg.northing)) >= MOVED_M else None


def fan_data(venue: Venue, peg: Peg) -> Json:
    """The casts of a peg's fan."""
    reach_m = venue.limits.reach_m
    seen_m = in_sight(PegView.of(peg, venue.crs), venue.water, reach_m)
    return asdict(fan_casts(seen_m, reach_m, description("fan", "live"), venue.distances))


def _grid_per_metre(geometry: Geodesy, peg: Peg) -> list[list[float]]:
    """Grid easting and northing per metre on the ground to the east and to the north, at a peg.

    Scale and convergence in one, and right also where a projection or a change of datum is not
    exactly a turn and a scale.
    """
    columns = []
    for bearing in (90.0, 0.0):
        there, back = (np.array(geometry.cast(peg.lon, peg.lat, bearing + turn, STEP_M)) for turn in (0.0, 180.0))
        columns.append((there - back) / (2 * STEP_M))
    return np.column_stack(columns).tolist()


def _contours(worked: WorkedSurvey, cut: tuple[Band, ...], hatched: MultiPolygon) -> list[Json]:
    lines = worked.isobaths
    figures = [[_cm(worked, ends) for ends in places] for places in figure_places(worked)]
    return [
        {
            "depth_m": float(depth), "strong": bool(strong), "pale": band_at(depth, cut).pale_line,
            "known": [_line_cm(worked, part) for part in _lines(shape.difference(hatched))],
            "guessed": [_line_cm(worked, part) for part in _lines(shape.intersection(hatched))],
            "figures": figures[k],
        }
        for k, (depth, strong, shape) in enumerate(zip(lines["depth_m"], lines["strong"], lines.geometry, strict=True))
    ]  # fmt: skip


def _line_cm(worked: WorkedSurvey, line: LineString) -> list[int]:
    return _cm(worked, np.asarray(line.simplify(worked.bed.grid.cell_m / 8).coords))


def _rings_cm(worked: WorkedSurvey, part: shapely.Polygon) -> list[list[int]]:
    return [_cm(worked, np.asarray(ring.coords)) for ring in (part.exterior, *part.interiors)]


def _cm(worked: WorkedSurvey, xy: NDArray[np.float64]) -> list[int]:
    """Points as whole centimetres from the grid's corner, easting and northing in turn."""
    corner = [worked.bed.grid.west, worked.bed.grid.south]
    return np.rint(100 * (xy[:, :2] - corner)).astype(int).ravel().tolist()


READING_COLUMNS = (
    "east_cm", "north_cm", "depth_m", "kind", "peg", "day", "source", "used", "doubtful", "residual_m",
    "mistaken", "azimuth_deg", "along_m", "across_m", "new_from", "stopped_by", "changed",
)  # fmt: skip


def _readings(worked: WorkedSurvey) -> Json:
    """Readings as rows, so that column names are not repeated six hundred times."""
    table = worked.soundings.table
    rows = zip(table.to_dict("records"), worked.soundings.xy, worked.residuals.to_dict("records"), strict=True)
    return {"columns": READING_COLUMNS, "rows": [_reading(worked, *row) for row in rows]}


def _reading(worked: WorkedSurvey, row: Json, at: NDArray[np.float64], checked: Json) -> list[Any]:
    return [
        *_cm(worked, at[None, :]), _rounded(row["depth_m"], 3), row["kind"], row["peg"],
        catalogue_of(worked.venue).day(row["day"]),
        catalogue_of(worked.venue).place(SourceRow(row["file"], row["row"])),
        bool(row["use"]), bool(checked["doubtful"]),
        _rounded(checked["residual_m"], 3), _rounded(checked["mistaken"], 3), _rounded(row["radial_deg"], 1),
        _rounded(row["radial_sd_m"], 2), _rounded(row["tangential_sd_m"], 2),
        catalogue_of(worked.venue).day(row["new_from"]) if row["new_from"] else "",
        row["stopped_by"], bool(checked["changed"]),
    ]  # fmt: skip


def _rounded(value: float, places: int) -> float | None:
    return round(float(value), places) if np.isfinite(value) else None


def _findings(worked: WorkedSurvey) -> Json:
    counts = {grade.value: sum(f.grade is grade for f in worked.findings) for grade in Grade}
    listed = [f for f in worked.findings if f.grade is not Grade.NOTE]
    return {
        "counts": counts,
        "told": [_finding(catalogue_of(worked.venue), f) for f in listed[:FINDINGS_SHOWN]],
        "more": max(len(listed) - FINDINGS_SHOWN, 0),
        "answer": catalogue_of(worked.venue).say("findings_answer") if any(f.tag for f in listed) else "",
    }


def _finding(said: Words, finding: Finding) -> str:
    tag = f" [{finding.tag}]" if finding.tag else ""
    listed = {"place": f"{said.place(finding.place)}{tag}", "problem": finding.problem, "remedy": finding.remedy}
    key = "finding_found" if finding.value else "finding_plain"
    return said.say(key, **listed, value=finding.value).rstrip()
