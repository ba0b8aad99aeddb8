"""The ellipsoid, the venue's metric CRS and the norths: bearings and distances to a spot, and back.

Knows nothing of readings or pegs.
"""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pygeomag import GeoMag
from pyproj import CRS, Geod, Proj, Transformer

from survey.errors import PlacingError

MODEL_FROM, MODEL_TO = 2025.0, 2030.0
"""Years for which the World Magnetic Model 2025 holds."""

DECLARE_DECLINATION = 'Set [units] declination = "3E" (or W) in venue.toml.'


class Geometry:
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


@lru_cache(maxsize=8192)
def declination_deg(lon: float, lat: float, when: datetime, height_km: float = 0.0) -> float:
    """Magnetic declination, degrees, east positive (World Magnetic Model, NOAA/NCEI and BGS).

    Parameters
    ----------
    lon, lat : float
        WGS 84, degrees.
    when : datetime
    height_km : float
        Above the ellipsoid.

    Raises
    ------
    PlacingError
        Outside the model's years.
    """
    start = datetime(when.year, 1, 1, tzinfo=when.tzinfo)
    length = (datetime(when.year + 1, 1, 1, tzinfo=when.tzinfo) - start).total_seconds()
    year = when.year + (when - start).total_seconds() / length
    if not MODEL_FROM <= year <= MODEL_TO:
        raise PlacingError(
            f"the magnetic model holds from {MODEL_FROM:g} to {MODEL_TO:g}, the reading is of {year:.1f}. "
            f"{DECLARE_DECLINATION}"
        )
    return float(_model().calculate(glat=lat, glon=lon, alt=height_km, time=year).d)


@lru_cache(maxsize=1)
def _model() -> GeoMag:
    return GeoMag(coefficients_file="wmm/WMM_2025.COF")


def true_from_magnetic(magnetic_deg: float, declination: float) -> float:
    """True bearing from a magnetic one; declination east positive.

    Examples
    --------
    >>> true_from_magnetic(100, -8), true_from_magnetic(4, -8)
    (92.0, 356.0)
    """
    return on_compass(magnetic_deg + declination)


def on_compass(bearing_deg: float) -> float:
    """A bearing as 0 to below 360 degrees."""
    # Twice: a hair below zero becomes 360 the first time.
    return float(bearing_deg % 360.0 % 360.0)
