"""Magnetic declination by the World Magnetic Model: magnetic bearings to true ones."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache

from pygeomag import GeoMag

from survey.errors import PlacingError
from survey.geometry.geodesy import on_compass

MODEL_FROM, MODEL_TO = 2025.0, 2030.0
"""Years for which the World Magnetic Model 2025 holds."""

DECLARE_DECLINATION = 'Set [units] declination = "3E" (or W) in venue.toml.'


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
