"""The ellipsoid, the venue's metric CRS and the norths: bearings and distances to a spot, and back.

Knows nothing of readings or pegs.
"""

from __future__ import annotations

from functools import lru_cache

import convertbng.cutil
import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS, Geod, Proj, Transformer

from survey.errors import ParseError, PlacingError


def lonlat_of_grid(easting: float, northing: float) -> tuple[float, float]:
    """Longitude and latitude of a British National Grid point, by OSTN15 (ETRS89, as WGS 84 here).

    Raises
    ------
    ParseError
        Outside the area the transformation covers.
    """
    lon, lat = convertbng.cutil.convert_osgb36_to_ll(np.array([easting]), np.array([northing]))
    if not (np.isfinite(lon[0]) and np.isfinite(lat[0])):
        raise ParseError("the grid reference lies outside Great Britain and its waters")
    return float(lon[0]), float(lat[0])


class Geodesy:
    """Placing on the ellipsoid for one venue CRS.

    Parameters
    ----------
    crs : str
        Projected CRS in metres.
    """

    def __init__(self, crs: str) -> None:
        self.crs = crs
        self._geod, self._to_lonlat, self._to_crs, self._proj = _tools(crs)

    def lonlat(self, easting: ArrayLike, northing: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """WGS 84 longitude and latitude, degrees."""
        return self._to_lonlat.transform(easting, northing)

    def xy(self, lon: ArrayLike, lat: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Easting and northing in the venue CRS, metres."""
        return self._to_crs.transform(lon, lat)

    def cast(self, lon: float, lat: float, bearing_deg: float, distance_m: float) -> tuple[float, float]:
        """Easting and northing of a spot at a true bearing and distance from a place."""
        end_lon, end_lat, _ = self._geod.fwd(lon, lat, bearing_deg, distance_m)
        e, n = self._to_crs.transform(end_lon, end_lat)
        return float(e), float(n)

    def casts(
        self, lon: ArrayLike, lat: ArrayLike, bearing_deg: ArrayLike, distance_m: ArrayLike
    ) -> NDArray[np.float64]:
        """Easting and northing, shape (n, 2), of spots at true bearings and distances from places."""
        end_lon, end_lat, _ = self._geod.fwd(lon, lat, bearing_deg, distance_m)
        return np.column_stack(self._to_crs.transform(end_lon, end_lat))

    def bearing_distance(self, lon: float, lat: float, easting: float, northing: float) -> tuple[float, float]:
        """True bearing (0 to 360) and distance in metres from a place to a spot."""
        end_lon, end_lat = self._to_lonlat.transform(easting, northing)
        bearing, _, distance = self._geod.inv(lon, lat, end_lon, end_lat)
        return on_compass(float(bearing)), float(distance)

    def convergence_deg(self, easting: float, northing: float) -> float:
        """Grid north against true north: true bearing = grid azimuth + convergence."""
        return _convergence_deg(self.crs, easting, northing)

    def scale(self, easting: float, northing: float) -> float:
        """Grid metres for one metre on the ground."""
        lon, lat = self._to_lonlat.transform(easting, northing)
        return float(self._proj.get_factors(lon, lat).meridional_scale)


@lru_cache(maxsize=16)
def _tools(crs: str) -> tuple[Geod, Transformer, Transformer, Proj]:
    target = CRS.from_user_input(crs)
    if not target.is_projected or target.axis_info[0].unit_conversion_factor != 1.0:
        raise PlacingError(f'CRS "{crs}" is not in metres. Name a projected CRS in metres, for example the UTM zone.')
    return (
        Geod(ellps="WGS84"),
        Transformer.from_crs(target, "EPSG:4326", always_xy=True),
        Transformer.from_crs("EPSG:4326", target, always_xy=True),
        Proj(target),
    )


@lru_cache(maxsize=4096)
def _convergence_deg(crs: str, easting: float, northing: float) -> float:
    # Asked for every reading of a peg.
    _, to_lonlat, _, proj = _tools(crs)
    return float(proj.get_factors(*to_lonlat.transform(easting, northing)).meridian_convergence)


def on_compass(bearing_deg: float) -> float:
    """A bearing as 0 to below 360 degrees."""
    # Twice: a hair below zero becomes 360 the first time.
    return float(bearing_deg % 360.0 % 360.0)
