"""Readings in the form in which hydrographic offices take soundings from the public: GeoJSON by IHO B-12.

IHO B-12, Guidance to Crowdsourced Bathymetry, edition 3.0.0, convention "GeoJSON CSB 3.1". Names nobody who plumbed.
"""

from __future__ import annotations

import json
import math
import uuid
from typing import Any

import survey
from maps.content.rounding import finite, to_mm
from maps.files.vectors import PLACES
from survey.geometry.geodesy import Geodesy
from survey.units.dates import Moment
from survey.workup import WorkedSurvey

CONVENTION = "GeoJSON CSB 3.1"
NODE = "LAKEPLUMB"

Json = dict[str, Any]


def crowd_geojson(worked: WorkedSurvey, about: dict[str, str]) -> str | None:
    """Plumbed depths below the datum with their time and uncertainty.

    Parameters
    ----------
    worked : WorkedSurvey
    about : dict of str
        Licence and datum in words.

    Returns
    -------
    str or None
        None where the club gives no contact, which the convention demands, or shows no reading with a date.
    """
    venue = worked.venue
    features = _features(worked) if venue.publishing.contact else []
    if not features:
        return None
    last = max(feature["properties"]["time"] for feature in features)
    collection = {
        "type": "FeatureCollection",
        "crs": {"type": "name", "properties": {"name": "EPSG:4326"}},
        "properties": {
            "trustedNode": _node(worked, about),
            "platform": {
                "type": "angler on the bank", "soundSpeedDocumented": False, "positionOffsetsDocumented": True,
                "dataProcessed": True, "contributorComments": about["caution"],
            },
            "processing": _processing(about, last),
        },
        "features": features,
    }  # fmt: skip
    return json.dumps(finite(collection), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _node(worked: WorkedSurvey, about: dict[str, str]) -> Json:
    venue = worked.venue
    # No vessel: one name for all who plumbed this water, the same in every copy.
    own = uuid.uuid5(uuid.NAMESPACE_DNS, f"{venue.name} {venue.publishing.contact}")
    return {
        "providerOrganizationName": venue.name, "providerEmail": venue.publishing.contact,
        "uniqueVesselID": f"{NODE}-{own}", "convention": CONVENTION,
        "dataLicense": about["licence"] or "not stated", "providerLogger": "lakeplumb",
        "providerLoggerVersion": survey.__version__, "navigationCRS": "EPSG:4326",
        "verticalReferenceOfDepth": "Waterline", "vesselPositionReferencePoint": "ReferencePlace",
    }  # fmt: skip


def _processing(about: dict[str, str], stamp: str) -> list[Json]:
    # The day of the last reading stands for that of the work: the same sources, the same bytes.
    reduced = {
        "type": "VerticalReduction", "timestamp": stamp, "reference": "water level of the lake",
        "datum": about["datum"], "method": "Observed Waterlevel",
    }  # fmt: skip
    budget = {
        "type": "Uncertainty", "timestamp": stamp, "name": "error budget of a plumbed reading",
        "parameters": {"k": 1}, "version": survey.__version__,
        "comment": "standard deviations in metres: east, north, down", "reference": "JCGM 100:2008",
    }  # fmt: skip
    return [reduced, budget]


def _features(worked: WorkedSurvey) -> list[Json]:
    shown = worked.shown
    table, geometry = shown.soundings.table, Geodesy(worked.venue.crs)
    times = {(r.place.file, r.place.row): r.when for r in worked.fieldbook.readings}
    doubtful = shown.residuals["doubtful"].to_numpy(bool)
    sound = (table["use"].to_numpy(bool) & ~doubtful & (table["kind"] == "depth").to_numpy()) & (table["day"] != "")
    features = []
    for row, (x, y) in zip(table.loc[sound].to_dict("records"), shown.soundings.xy[sound], strict=True):
        lon, lat = (round(float(v), PLACES) for v in geometry.lonlat(x, y))
        said = {
            "depth": to_mm(row["depth_m"]), "time": _utc(times.get((row["file"], row["row"])), row["day"]),
            "uncertainty": _uncertainty(row),
        }  # fmt: skip
        place = {"type": "Point", "coordinates": [lon, lat]}
        features.append({"type": "Feature", "geometry": place, "properties": said})
    return features


def _uncertainty(row: Json) -> list[float | None]:
    """Standard deviations to the east, to the north and down, metres."""
    turn = math.radians(row["radial_deg"])
    along, across, peg = row["radial_sd_m"], row["tangential_sd_m"], row["peg_sd_m"]
    east = math.hypot(along * math.sin(turn), across * math.cos(turn), peg)
    north = math.hypot(along * math.cos(turn), across * math.sin(turn), peg)
    return [to_mm(east), to_mm(north), to_mm(math.hypot(row["sd_m"], row["level_sd_m"]))]


def _utc(when: Moment | None, day: str) -> str:
    return when.instant.strftime("%Y-%m-%dT%H:%M:%SZ") if when else f"{day}T12:00:00Z"
