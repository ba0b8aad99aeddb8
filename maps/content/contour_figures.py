"""Where the depth figures stand on the contours of a map."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from survey.workup import WorkedSurvey

FIGURES_ACROSS = 8
"""Figures of depth stand at least this share of the lake's length apart."""


def _lines(shape: shapely.Geometry) -> list[LineString]:
    merged = shapely.line_merge(shape)
    return [part for part in shapely.get_parts(merged) if isinstance(part, LineString) and part.length > 0]


def figure_places(worked: WorkedSurvey) -> list[list[NDArray[np.float64]]]:
    """For each contour, where its figures stand: two points of the line, venue metres, round each place.

    Strong lines choose first, then long ones, one figure each before any gets a second; no figure stands close to
    another.
    """
    lines, strong = list(worked.isobaths.geometry), list(worked.isobaths["strong"])
    west, south, east, north = worked.venue.water.bounds
    apart = max(east - west, north - south) / FIGURES_ACROSS
    order = sorted(range(len(lines)), key=lambda k: (not strong[k], -lines[k].length, k))
    waiting = {k: [(line, at) for line in _lines(lines[k]) for at in _places_along(line, apart)] for k in order}
    taken: list[Point] = []
    found: list[list[NDArray[np.float64]]] = [[] for _ in lines]
    while any(waiting.values()):
        for k in order:
            while waiting[k]:
                line, place = waiting[k].pop(0)
                here = line.interpolate(place)
                if all(here.distance(other) >= apart for other in taken):
                    taken.append(here)
                    found[k].append(np.array([line.interpolate(place + d).coords[0] for d in (-1.5, 1.5)]))
                    break
    return found


def _places_along(line: LineString, apart: float) -> list[float]:
    """Distances along a line at which a figure may stand, the middle of the line first."""
    if line.length < apart:
        return []
    every = np.linspace(0.0, line.length, max(3, round(2 * line.length / apart)))[1:-1]
    return sorted(every.tolist(), key=lambda place: (abs(place - line.length / 2) > apart, place))
