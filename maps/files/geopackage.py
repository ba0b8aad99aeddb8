"""The survey as a GeoPackage: what a person needs to look at it, or go on with it, in a GIS.

Times are text, in UTC beside the local time: a GIS shows stored times in zones of its own.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
from numpy.typing import NDArray
from shapely.geometry import Point

from maps.language.catalogue import catalogue_of
from maps.privacy.placeless_files import crs_of_files, is_placeless
from survey.records.fieldbook import Fieldbook
from survey.records.venue import Peg, Venue
from survey.spots.answer import Answer
from survey.spots.float_setting import RigStyle
from survey.units.dates import Moment
from survey.workup import WorkedSurvey

LAYERS = {
    "outline": "MultiPolygon",
    "pegs": "Point",
    "readings": "Point",
    "contours": "MultiLineString",
    "spots": "Point",
}


def write_geopackage(path: Path, worked: WorkedSurvey, answers: tuple[Answer, ...], about: dict[str, str]) -> None:
    """Layers ``outline``, ``pegs``, ``readings``, ``contours`` and ``spots`` in the venue CRS.

    In a copy without its place: in metres from a corner of the water, by an engineering CRS.

    Parameters
    ----------
    path : Path
        Must not exist.
    worked : WorkedSurvey
    answers : tuple of Answer
        One per suggested spot.
    about : dict of str
        Written as metadata of the file.
    """
    venue, said = worked.venue, catalogue_of(worked.venue)
    isobaths, crs = worked.isobaths, crs_of_files(venue)
    layers = {
        "outline": _outline(venue),
        "pegs": _pegs(venue),
        "readings": _readings(worked.shown),
        "contours": gpd.GeoDataFrame(isobaths[["depth_m", "strong"]], geometry=isobaths.geometry, crs=venue.crs),
        "spots": _spots(venue, answers),
    }  # fmt: skip
    with _last_change(worked.days):
        for name, kind in LAYERS.items():
            words = said[f"gpkg_{name}"]
            layer = layers[name].set_crs(crs, allow_override=True)
            pyogrio.write_dataframe(
                layer, path, layer=name, driver="GPKG", append=path.exists(), geometry_type=kind,
                promote_to_multi=kind.startswith("Multi"), layer_options={"DESCRIPTION": words}, dataset_metadata=about,
            )  # fmt: skip


@contextmanager
def _last_change(days: tuple[str, str] | None) -> Iterator[None]:
    """Date the file by the last day of its readings, not of its making: the same sources, the same bytes."""
    day = days[1] if days else "1970-01-01"
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{day}T00:00:00.000Z"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def _outline(venue: Venue) -> gpd.GeoDataFrame:
    said = {name: getattr(venue, name) for name in ("name", "edge_at_datum_m", "credit", "licence")}
    return gpd.GeoDataFrame([said], geometry=[venue.water], crs=venue.crs)


def _frame(rows: list[dict[str, object]], columns: dict[str, str], points: list[Point], crs: str) -> gpd.GeoDataFrame:
    """Rows as a layer whose columns keep their types even with no rows."""
    table = pd.DataFrame(rows, columns=list(columns)).astype(columns)
    return gpd.GeoDataFrame(table, geometry=points, crs=crs)


PEG_COLUMNS = {
    "name": "str", "aliases": "str", "access": "str", "status": "str", "note": "str", "facing_deg": "float64",
    "facing_sd_deg": "float64", "facing_declared": "bool", "position_sd_m": "float64", "margin_depth_m": "float64",
    "lon": "float64", "lat": "float64", "moved_east_m": "float64", "moved_north_m": "float64",
    "out_azimuth_deg": "float64", "across_sd_m": "float64", "along_sd_m": "float64",
}  # fmt: skip
PLACE_COLUMNS = ("lon", "lat")


def _pegs(venue: Venue) -> gpd.GeoDataFrame:
    rows = [
        {**{name: getattr(peg, name) for name in PEG_COLUMNS if hasattr(peg, name)}, **_adjusted(peg)}
        for peg in venue.pegs
    ]
    columns = {name: kind for name, kind in PEG_COLUMNS.items() if name not in PLACE_COLUMNS or not is_placeless(venue)}
    return _frame(rows, columns, [Point(peg.easting, peg.northing) for peg in venue.pegs], venue.crs)


def _adjusted(peg: Peg) -> dict[str, object]:
    """Names in one cell, and how the point was moved from where it was written; nan where no shore bounds it."""
    bank = peg.bank
    moved = (0.0, 0.0) if bank is None else (peg.easting - bank.written_easting, peg.northing - bank.written_northing)
    across = (math.nan,) * 3 if bank is None else (bank.out_azimuth_deg, bank.across_sd_m, bank.along_sd_m)
    names = ("moved_east_m", "moved_north_m", "out_azimuth_deg", "across_sd_m", "along_sd_m")
    return {"aliases": "; ".join(peg.aliases), **dict(zip(names, (*moved, *across), strict=True))}


def _readings(worked: WorkedSurvey) -> gpd.GeoDataFrame:
    table = worked.soundings.table
    places = list(zip(table["file"], table["row"], strict=True))
    written = _as_written(worked.fieldbook)
    flags = _flags(worked)
    extra = pd.DataFrame(
        [written.get(place, NOTHING_WRITTEN) for place in places], index=table.index, columns=list(NOTHING_WRITTEN)
    )
    scores = worked.residuals[["fitted_m", "residual_m", "z", "mistaken", "doubtful"]].set_axis(table.index)
    flagged = pd.Series([flags.get(place, "") for place in places], index=table.index, name="flags", dtype="str")
    plain = table.drop(columns=table.geometry.name).assign(state=_state(table))
    return gpd.GeoDataFrame(
        pd.concat([plain, scores, flagged, extra], axis=1), geometry=table.geometry, crs=worked.venue.crs
    )


def _state(table: pd.DataFrame) -> NDArray[np.str_]:
    """Whether a reading shapes the bed: used, not used, or past (older than the bed where it lies)."""
    return np.where(table["new_from"] != "", "past", np.where(table["use"].to_numpy(bool), "used", "not used"))


NOTHING_WRITTEN: dict[str, object] = {
    "setting_m": float("nan"), "float": "", "seen": "", "when_utc": "", "when_local": "", "note": "",
}  # fmt: skip


def _as_written(fieldbook: Fieldbook) -> dict[tuple[str, int | None], dict[str, object]]:
    zone = ZoneInfo(fieldbook.venue.timezone)
    return {
        (reading.place.file, reading.place.row): {
            "setting_m": float("nan") if reading.setting_m is None else reading.setting_m,
            "float": reading.float_name,
            "seen": reading.seen.value if reading.seen else "",
            "when_utc": _utc(reading.when),
            "when_local": _local(reading.when, zone),
            "note": reading.note,
        }
        for reading in fieldbook.readings
    }


def _utc(when: Moment | None) -> str:
    return when.instant.strftime("%Y-%m-%dT%H:%M:%SZ") if when else ""


def _local(when: Moment | None, zone: ZoneInfo) -> str:
    if when is None:
        return ""
    if when.half_width:
        return f"{when.day}, time not written"
    return when.instant.astimezone(zone).strftime("%Y-%m-%d %H:%M ") + zone.key


def _flags(worked: WorkedSurvey) -> dict[tuple[str, int | None], str]:
    codes = defaultdict(list)
    for finding in worked.findings:
        codes[finding.place.file, finding.place.row].append(finding.code)
    return {place: ", ".join(sorted(set(found))) for place, found in codes.items()}


SPOT_COLUMNS = {
    "peg": "str", "spot": "str", "angle_deg": "float64", "bearing_deg": "float64", "distance_m": "float64",
    "datum_depth_m": "float64", "sd_m": "float64", "depth_m": "float64", "lower_m": "float64", "upper_m": "float64",
    "surveyed": "bool", "state": "str", "float": "str",
} | {f"{rig.name.lower()}_setting_m": "float64" for rig in RigStyle}  # fmt: skip


def _spots(venue: Venue, answers: tuple[Answer, ...]) -> gpd.GeoDataFrame:
    rows = [_spot_row(answer) for answer in answers]
    return _frame(rows, SPOT_COLUMNS, [Point(a.spot.easting, a.spot.northing) for a in answers], venue.crs)


def _spot_row(answer: Answer) -> dict[str, object]:
    said = ("bearing_deg", "datum_depth_m", "sd_m", "depth_m", "lower_m", "upper_m", "surveyed", "state")
    return (
        {
            "peg": answer.spot.peg,
            "spot": answer.spot.name,
            "angle_deg": answer.spot.angle_deg,
            "distance_m": answer.spot.distance_m,
        }
        | {name: getattr(answer, name) for name in said}
        | {"float": answer.held_by.name}
        | {f"{s.rig.name.lower()}_setting_m": s.setting_m for s in answer.settings}
    )
