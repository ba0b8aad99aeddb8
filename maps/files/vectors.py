"""Pegs, spots and contours for other programs: GeoJSON (RFC 7946), KML 2.3 and GPX 1.1, all in WGS 84 degrees.

Longitude comes before latitude, depths are metres, positive down. Knows nothing of how the files are handed on.
"""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, mapping

from maps.content.rounding import finite, to_mm
from maps.language.catalogue import Words, catalogue_of
from maps.language.escape import FORBIDDEN
from survey.geometry.geodesy import Geodesy
from survey.records.venue import Peg, Venue
from survey.spots.answer import DRY, OFF_WATER, UNSURVEYED, Answer
from survey.spots.float_setting import FloatSetting, RigStyle, rounded
from survey.units import INCH_M, clock_text, feet_inches
from survey.workup import WorkedSurvey

PLACES = 8
"""Decimals of a degree: a millimetre on the ground."""
KML = "http://www.opengis.net/kml/2.3"
GPX = "http://www.topografix.com/GPX/1/1"
COORDINATES_STEP_M = 0.05

Json = dict[str, Any]


def in_degrees(shape: shapely.Geometry, geometry: Geodesy) -> shapely.Geometry:
    """A shape of the venue in longitude and latitude, rounded to a millimetre."""

    def placed(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.round(np.column_stack(geometry.lonlat(xy[:, 0], xy[:, 1])), PLACES)

    return shapely.transform(shape, placed)


def geojson(features: Iterable[Json], about: dict[str, str]) -> str:
    """A collection of features with the file's description as a foreign member (RFC 7946, 6.1)."""
    collection = {"type": "FeatureCollection", "about": about, "features": list(features)}
    return json.dumps(finite(collection), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _feature(shape: shapely.Geometry, properties: Json) -> Json:
    return {"type": "Feature", "geometry": mapping(shapely.orient_polygons(shape)), "properties": properties}


def contour_features(worked: WorkedSurvey) -> Iterable[Json]:
    """Lines of equal depth below the datum."""
    geometry, lines = Geodesy(worked.venue.crs), worked.isobaths
    for depth, strong, line in zip(lines["depth_m"], lines["strong"], lines.geometry, strict=True):
        shape = in_degrees(line.simplify(COORDINATES_STEP_M), geometry)
        yield _feature(shape, {"depth_m": to_mm(depth), "strong": bool(strong)})


def peg_features(venue: Venue) -> Iterable[Json]:
    """Pegs; ``facing_deg`` is the true bearing of straight out."""
    for peg in venue.pegs:
        said = {
            "name": peg.name, "aliases": list(peg.aliases), "facing_deg": round(peg.facing_deg, 1),
            "access": peg.access, "status": peg.status, "note": peg.note, "margin_depth_m": to_mm(peg.margin_depth_m),
        }  # fmt: skip
        yield _feature(_place(peg.lon, peg.lat), said)


def spot_features(answers: Iterable[Answer]) -> Iterable[Json]:
    """Suggested spots with depth, its range for one cast, and the setting of each rig, at the level of the file."""
    for answer in answers:
        spot = answer.spot
        settings = {f"{s.rig.name.lower()}_setting_m": to_mm(s.setting_m) for s in answer.settings}
        said = {
            "peg": spot.peg, "spot": spot.name, "clock": clock_text(spot.angle_deg),
            "distance_m": to_mm(spot.distance_m), "bearing_deg": round(answer.bearing_deg, 1),
            "depth_m": to_mm(answer.depth_m), "lower_m": to_mm(answer.lower_m), "upper_m": to_mm(answer.upper_m),
            "sd_m": to_mm(answer.sd_m), "float": answer.held_by.name, "state": answer.state, **settings,
        }  # fmt: skip
        yield _feature(_place(answer.lon, answer.lat), said)


def _place(lon: float, lat: float) -> Point:
    return Point(round(lon, PLACES), round(lat, PLACES))


def kml(worked: WorkedSurvey, answers: Sequence[Answer], about: dict[str, str]) -> bytes:
    """Pegs, spots and contours in folders; the settings of a spot stand in its description."""
    venue, said = worked.venue, catalogue_of(worked.venue)
    root = ET.Element("kml", xmlns=KML)
    document = _add(root, "Document")
    _add(document, "name", venue.name)
    _add(document, "description", about_words(said, about))
    pegs, spots = (_peg_mark(said, peg) for peg in venue.pegs), (_spot_mark(venue, a) for a in answers)
    for key, marks in (("folder_pegs", pegs), ("folder_spots", spots)):
        folder = _folder(document, said[key])
        for title, words, lon, lat in marks:
            point = _add(_placemark(folder, title, words), "Point")
            _add(point, "coordinates", f"{lon:.{PLACES}f},{lat:.{PLACES}f}")
    _contour_folder(document, worked)
    return _written(root)


def gpx(venue: Venue, answers: Iterable[Answer], about: dict[str, str]) -> bytes:
    """Spots as waypoints, the setting of each rig in the comment."""
    root = ET.Element("gpx", version="1.1", creator=about["made_by"], xmlns=GPX)
    metadata = _add(root, "metadata")
    _add(metadata, "name", venue.name)
    _add(metadata, "desc", about_words(catalogue_of(venue), about))
    for answer in answers:
        title, words, lon, lat = _spot_mark(venue, answer)
        point = _add(root, "wpt", lat=f"{lat:.{PLACES}f}", lon=f"{lon:.{PLACES}f}")
        for tag, text in (("name", title), ("cmt", words), ("desc", words)):
            _add(point, tag, text)
    return _written(root)


Mark = tuple[str, str, float, float]
"""Name, words, longitude, latitude."""


def _peg_mark(said: Words, peg: Peg) -> Mark:
    straight = said.say("peg_straight", bearing=f"{peg.facing_deg:.0f}°")
    own = ". ".join(words for words in (peg.status, peg.access, peg.note) if words)
    return said.say("peg_title", peg=peg.name), f"{straight} {own}".rstrip(), peg.lon, peg.lat


def _spot_mark(venue: Venue, answer: Answer) -> Mark:
    spot, said = answer.spot, catalogue_of(venue)
    clock, distance = clock_text(spot.angle_deg), said.metres(spot.distance_m, 1)
    where = said.say("mark_where", clock=clock, distance=distance, peg=spot.peg)
    return f"{spot.peg} {said.spot(spot.name)}", f"{where} {setting_words(venue, answer)}", answer.lon, answer.lat


STATE_KEYS = {UNSURVEYED: "mark_unsurveyed", DRY: "mark_dry", OFF_WATER: "mark_off water"}


def setting_words(venue: Venue, answer: Answer) -> str:
    """Water, settings and the caution in one line, for a comment."""
    said, depth = catalogue_of(venue), answer.depth
    if answer.state or depth is None:
        return f"{said[STATE_KEYS[answer.state]]} {said['mark_plumb']}"
    water, lower, upper = (said.length(m, venue.shows) for m in (depth.depth_m, depth.lower_m, depth.upper_m))
    parts = [said.say("mark_water", depth=water, lower=lower, upper=upper)]
    settings = [
        said.say("mark_rig", rig=said.rig(setting.rig, within=True), setting=_set(said, setting, venue.shows))
        for setting in answer.settings
        if setting.setting_m is not None
    ]
    if settings:
        parts.append(said.say("mark_set", settings="; ".join(settings), float=said.float_name(answer.held_by)))
    return " ".join([*parts, said["mark_plumb"]])


def _set(said: Words, setting: FloatSetting, shows: str) -> str:
    step = INCH_M / 2 if shows == "feet" else 0.01
    return said.length(rounded(setting.setting_m or 0.0, RigStyle(setting.rig), step), shows)


def about_words(said: Words, about: dict[str, str]) -> str:
    """The file's description, a line each."""
    lines = ((said[f"about_{key}"], words) for key, words in about.items() if words)
    return "\n".join(said.say("about_line", label=label, words=words) for label, words in lines)


def _contour_folder(document: ET.Element, worked: WorkedSurvey) -> None:
    said = catalogue_of(worked.venue)
    folder = _folder(document, said["folder_contours"])
    for feature in contour_features(worked):
        depth = feature["properties"]["depth_m"]
        title = said.metres(depth)
        mark = _placemark(folder, title, said.say("mark_contour", depth=title, other=feet_inches(depth)))
        home = _add(mark, "MultiGeometry")
        shape = feature["geometry"]
        for line in shape["coordinates"] if shape["type"] == "MultiLineString" else [shape["coordinates"]]:
            run = " ".join(f"{lon:.{PLACES}f},{lat:.{PLACES}f}" for lon, lat in line)
            _add(_add(home, "LineString"), "coordinates", run)


def _folder(document: ET.Element, name: str) -> ET.Element:
    folder = _add(document, "Folder")
    _add(folder, "name", name)
    return folder


def _placemark(folder: ET.Element, title: str, words: str) -> ET.Element:
    mark = _add(folder, "Placemark")
    _add(mark, "name", title)
    _add(mark, "description", words)
    return mark


def _add(parent: ET.Element, tag: str, text: str | None = None, **attributes: str) -> ET.Element:
    child = ET.SubElement(parent, tag, attributes)
    child.text = None if text is None else FORBIDDEN.sub("", text)
    return child


def _written(root: ET.Element) -> bytes:
    ET.indent(root, " ")
    return ET.tostring(root, encoding="utf-8", xml_declaration=True) + b"\n"
