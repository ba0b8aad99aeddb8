"""Longitude and latitude to the venue's grid and back without a projection library.

A page has no such library, so both ways are polynomials fitted round one lake and checked there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from survey.arrays import FloatArray
from survey.errors import SurveyError
from survey.geometry.geodesy import Geodesy

POWERS = tuple((i, j) for i in range(4) for j in range(4 - i))
"""Exponents of the two scaled coordinates, degree 3 together."""
MOST_RESIDUAL_M = 0.001
MARGIN_M = 60.0
EARTH_M = 6378137.0
"""Radius of the sphere of Web Mercator (EPSG 3857)."""


@dataclass(frozen=True)
class LocalProjection:
    """Polynomials between WGS 84 degrees and venue metres round one lake.

    Parameters
    ----------
    lon0, lat0, e0, n0 : float
        Middle of the lake, degrees and metres.
    half_deg, half_m : float
        Scales that bring the coordinates into about -1 to 1.
    to_grid : ndarray, shape (2, 10)
        Coefficients of :data:`POWERS` for easting - e0 and northing - n0, metres.
    to_lonlat : ndarray, shape (2, 10)
        Coefficients for longitude - lon0 and latitude - lat0, degrees.
    """

    lon0: float
    lat0: float
    e0: float
    n0: float
    half_deg: float
    half_m: float
    to_grid: FloatArray
    to_lonlat: FloatArray

    def grid(self, lon: ArrayLike, lat: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Easting and northing, metres, of longitudes and latitudes in degrees."""
        dlon = wrapped(np.asarray(lon, float) - self.lon0)
        e, n = _evaluate(self.to_grid, dlon / self.half_deg, (np.asarray(lat, float) - self.lat0) / self.half_deg)
        return self.e0 + e, self.n0 + n

    def lonlat(self, easting: ArrayLike, northing: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Longitude and latitude, degrees; longitude runs on past 180 rather than jump."""
        u = (np.asarray(easting, float) - self.e0) / self.half_m
        v = (np.asarray(northing, float) - self.n0) / self.half_m
        lon, lat = _evaluate(self.to_lonlat, u, v)
        return self.lon0 + lon, self.lat0 + lat


def wrapped(dlon_deg: FloatArray) -> FloatArray:
    """A difference of longitudes as -180 to 180 degrees."""
    return (dlon_deg + 180.0) % 360.0 - 180.0


def mercator(lon: ArrayLike, lat: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Web Mercator x and y, metres on its sphere, of degrees."""
    y = EARTH_M * np.log(np.tan(np.pi / 4 + np.radians(lat) / 2))
    return EARTH_M * np.radians(lon), y


def from_mercator(x: ArrayLike, y: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Longitude and latitude, degrees, of Web Mercator metres."""
    lat = np.degrees(2 * np.arctan(np.exp(np.asarray(y) / EARTH_M)) - np.pi / 2)
    return np.degrees(np.asarray(x) / EARTH_M), lat


def fit_projection(crs: str, bounds: tuple[float, float, float, float]) -> LocalProjection:
    """Fit the polynomials to the projection and check them between the points of the fit.

    Parameters
    ----------
    crs : str
        Metric CRS.
    bounds : tuple of float
        West, south, east, north of the lake in ``crs``, metres.

    Raises
    ------
    SurveyError
        Where they miss the projection by a millimetre or more (a lake of many kilometres).
    """
    geometry = Geodesy(crs)
    west, south, east, north = bounds
    e0, n0 = (west + east) / 2, (south + north) / 2
    half_m = max(east - west, north - south) / 2 + MARGIN_M
    lon0, lat0 = (float(v) for v in geometry.lonlat(e0, n0))
    half_deg = math.degrees(half_m / EARTH_M)
    u, v = (a.ravel() for a in np.meshgrid(np.linspace(-1, 1, 9), np.linspace(-1, 1, 9)))
    lon, lat = geometry.lonlat(e0 + half_m * u, n0 + half_m * v)
    dlon, dlat = wrapped(lon - lon0), lat - lat0
    # Across a change of datum the projection does not quite undo its own inverse: each way is fitted on itself.
    there_e, there_n = geometry.xy(lon, lat)
    frame = LocalProjection(
        lon0,
        lat0,
        e0,
        n0,
        half_deg,
        half_m,
        to_grid=_fitted(dlon / half_deg, dlat / half_deg, there_e - e0, there_n - n0),
        to_lonlat=_fitted(u, v, dlon, dlat),
    )
    _check(frame, geometry)
    return frame


def _check(frame: LocalProjection, geometry: Geodesy) -> None:
    u, v = (a.ravel() for a in np.meshgrid(np.linspace(-1, 1, 16), np.linspace(-1, 1, 16)))
    e, n = frame.e0 + frame.half_m * u, frame.n0 + frame.half_m * v
    lon, lat = geometry.lonlat(e, n)
    misses = [a - b for a, b in zip(frame.grid(lon, lat), geometry.xy(lon, lat), strict=True)]
    own_lon, own_lat = frame.lonlat(e, n)
    misses += [math.radians(EARTH_M) * wrapped(own_lon - lon), math.radians(EARTH_M) * (own_lat - lat)]
    worst = max(float(np.abs(miss).max()) for miss in misses)
    if worst >= MOST_RESIDUAL_M:
        raise SurveyError(f"the page cannot place this lake: its frame misses {geometry.crs} by {1000 * worst:.1f} mm.")


def _fitted(u: FloatArray, v: FloatArray, first: FloatArray, second: FloatArray) -> FloatArray:
    return np.linalg.lstsq(_terms(u, v), np.column_stack([first, second]), rcond=None)[0].T


def _evaluate(coefficients: FloatArray, u: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
    # Summed term by term: a matrix of all terms would be large for a picture's pixels.
    first, second = np.zeros(np.shape(u)), np.zeros(np.shape(u))
    for (i, j), a, b in zip(POWERS, *coefficients, strict=True):
        term = u**i * v**j
        first, second = first + a * term, second + b * term
    return first, second


def _terms(u: FloatArray, v: FloatArray) -> FloatArray:
    return np.column_stack([u**i * v**j for i, j in POWERS])
