"""Where a reading is: bearings, clock faces, magnetic north and distances to a place with its error.

Placing uses the ellipsoid; projected work happens in the venue's metric CRS. Knows nothing of depths.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pygeomag import GeoMag
from pyproj import CRS, Geod, Proj, Transformer

from survey.crossings import Sight, meeting
from survey.errors import PlacingError, SurveyError
from survey.findings import Finding, Grade
from survey.landing import Shore
from survey.readings import Cast, Crossing, Direction, DirectionBy, DistanceBy, Fix, Reading
from survey.venue import Peg, Spreads, Venue

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

    def bearing_distance(self, lon: float, lat: float, easting: float, northing: float) -> tuple[float, float]:
        """True bearing (0 to 360) and distance in metres from a place to a spot."""
        end_lon, end_lat = self._to_lonlat.transform(easting, northing)
        bearing, _, distance = self._geod.inv(lon, lat, end_lon, end_lat)
        return _on_compass(float(bearing)), float(distance)

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
    return _on_compass(magnetic_deg + declination)


def _on_compass(bearing_deg: float) -> float:
    # Twice: a hair below zero becomes 360 the first time.
    return float(bearing_deg % 360.0 % 360.0)


class LeftOutError(SurveyError):
    """A reading that cannot become a sounding; carries the finding that says why."""

    def __init__(self, finding: Finding) -> None:
        self.finding = finding
        super().__init__(str(finding))


def left_out(reading: Reading, code: str, problem: str, remedy: str, value: str = "") -> LeftOutError:
    """The error for a reading that is left out.

    A row its own sheet already sets aside is not counted against the venue: a note, not an error.
    """
    return LeftOutError(
        Finding(Grade.ERROR if reading.use else Grade.NOTE, code, reading.place, problem, remedy, value)
    )


@dataclass(frozen=True)
class Placed:
    """Where a reading lies and how well that is known.

    Parameters
    ----------
    easting, northing : float
        Venue CRS, metres.
    distance_m : float
        From the peg's point; 0 for a fix.
    radial_deg : float
        Grid azimuth of the cast, clockwise from grid north.
    radial_sd_m, tangential_sd_m : float
        Along and across the cast, this reading alone.
    peg_sd_m, facing_sd_deg : float
        Of the peg's point (each axis) and of straight out: shared by the peg's readings.
    other_facing_sd_deg : float
        Of the second peg's straight out, where two sights cross; their pegs' errors are in the ellipse as well.
    """

    easting: float
    northing: float
    distance_m: float
    radial_deg: float
    radial_sd_m: float
    tangential_sd_m: float
    peg_sd_m: float
    facing_sd_deg: float
    other_facing_sd_deg: float = 0.0

    @property
    def sd_m(self) -> float:
        """All of it but the facing in one figure, metres."""
        return math.hypot(self.radial_sd_m, self.tangential_sd_m, self.peg_sd_m)


def direction_sd_deg(by: DirectionBy, spreads: Spreads) -> float:
    """Standard deviation of one direction, degrees, from the way it was taken."""
    return {
        "aimed": spreads.aimed_deg,
        "compass": spreads.compass_deg,
        "half hours": spreads.half_hour_deg,
        "hours": spreads.hour_deg,
    }[by]


def distance_sd_m(by: DistanceBy, distance_m: float, spreads: Spreads) -> float:
    """Standard deviation of one distance, metres, from the way it was taken."""
    return {
        "pole": spreads.pole_distance_m,
        "tape": spreads.tape_distance_m,
        "wraps": spreads.wraps_distance_m,
        "rod lengths": spreads.rods_distance_m,
        "estimated": spreads.estimated_distance * distance_m,
    }[by]


@dataclass(frozen=True)
class Ground:
    """A venue with its placing and its shore, made once for all its readings."""

    venue: Venue
    geometry: Geometry
    shore: Shore

    @classmethod
    def of(cls, venue: Venue) -> Ground:
        """The ground of a venue."""
        return cls(venue, Geometry(venue.crs), Shore(venue.water))


def place(reading: Reading, ground: Ground) -> Placed:
    """Put a reading on the map.

    Raises
    ------
    LeftOutError
        The finding names what is missing and the line to add.
    """
    if isinstance(reading.where, Fix):
        return _place_fix(reading, reading.where, ground.geometry)
    peg = ground.venue.peg(reading.peg)
    if peg is None:
        raise left_out(
            reading, "peg-unknown", "no such peg in the pegs sheet", "Add it, or mend the name.", reading.peg
        )
    if isinstance(reading.where, Crossing):
        return _place_crossing(reading, reading.where, peg, ground)
    return _place_cast(reading, reading.where, peg, ground)


def _place_fix(reading: Reading, fix: Fix, geometry: Geometry) -> Placed:
    e, n = (fix.x, fix.y) if fix.frame == "venue" else (float(v) for v in geometry.xy(fix.x, fix.y))
    if not (math.isfinite(e) and math.isfinite(n)):
        raise left_out(
            reading,
            "not-placed",
            f"coordinates that have no place in {geometry.crs}",
            "Check them and their order.",
            f"{fix.x:g}, {fix.y:g}",
        )
    return Placed(e, n, 0.0, 0.0, fix.sd_m, fix.sd_m, 0.0, 0.0)


def _place_cast(reading: Reading, cast: Cast, peg: Peg, ground: Ground) -> Placed:
    geometry, spreads = ground.geometry, ground.venue.spreads
    bearing = _true_bearing(reading, cast.direction, peg, ground)
    distance = cast.distance_m + _start_m(reading, cast, peg, bearing, ground)
    e, n = geometry.cast(peg.lon, peg.lat, bearing, distance)
    return Placed(
        easting=e,
        northing=n,
        distance_m=distance,
        radial_deg=_on_compass(bearing - geometry.convergence_deg(peg.easting, peg.northing)),
        radial_sd_m=distance_sd_m(cast.by, cast.distance_m, spreads),
        tangential_sd_m=abs(distance) * math.radians(direction_sd_deg(cast.direction.by, spreads)),
        peg_sd_m=peg.position_sd_m,
        facing_sd_deg=0.0 if cast.direction.kind == "bearing" else peg.facing_sd_deg,
    )


def _place_crossing(reading: Reading, where: Crossing, peg: Peg, ground: Ground) -> Placed:
    """Where two sights meet; errors of the pegs enter the ellipse."""
    other = ground.venue.peg(where.other_peg)
    if other is None:
        raise left_out(
            reading, "peg-unknown", "no such second peg in the pegs sheet", "Add it, or mend the name.", where.other_peg
        )
    sights = [
        _sight(reading, at, seen, ground) for at, seen in ((peg, where.direction), (other, where.other_direction))
    ]
    try:
        met = meeting(*sights)
    except PlacingError as fault:
        raise left_out(
            reading,
            "sights-do-not-cross",
            str(fault),
            "Sight the float from two pegs that see it from sides well apart, or measure its distance.",
        ) from fault
    facings = (
        0.0 if direction.kind == "bearing" else at.facing_sd_deg
        for at, direction in ((peg, where.direction), (other, where.other_direction))
    )
    return Placed(met.easting, met.northing, met.distance_m, met.axis_deg, met.long_sd_m, met.short_sd_m, 0.0, *facings)


def _sight(reading: Reading, peg: Peg, direction: Direction, ground: Ground) -> Sight:
    bearing = _true_bearing(reading, direction, peg, ground)
    facing_sd = 0.0 if direction.kind == "bearing" else peg.facing_sd_deg
    return Sight(
        peg.easting,
        peg.northing,
        _on_compass(bearing - ground.geometry.convergence_deg(peg.easting, peg.northing)),
        math.hypot(direction_sd_deg(direction.by, ground.venue.spreads), facing_sd),
        peg.position_sd_m,
    )


def _true_bearing(reading: Reading, direction: Direction, peg: Peg, ground: Ground) -> float:
    if direction.kind != "bearing":
        return _on_compass(peg.facing_deg + direction.value_deg)
    if direction.north == "magnetic":
        return true_from_magnetic(direction.value_deg, _declination(reading, peg, ground.venue))
    if direction.north == "grid":
        return _on_compass(direction.value_deg + ground.geometry.convergence_deg(peg.easting, peg.northing))
    return _on_compass(direction.value_deg)


def _declination(reading: Reading, peg: Peg, venue: Venue) -> float:
    if venue.declination_deg is not None:
        return venue.declination_deg
    if reading.when is None:
        raise left_out(
            reading,
            "magnetic-undated",
            "a magnetic bearing without a date cannot be turned to true north",
            f"Write the date. Or: {DECLARE_DECLINATION}",
        )
    try:
        return declination_deg(peg.lon, peg.lat, reading.when.instant)
    except PlacingError as fault:
        problem = str(fault).removesuffix(f". {DECLARE_DECLINATION}")
        raise left_out(reading, "magnetic-model-years", problem, DECLARE_DECLINATION, reading.when.day) from fault


def _start_m(reading: Reading, cast: Cast, peg: Peg, bearing_deg: float, ground: Ground) -> float:
    """How far in front of the peg's point the written distance begins, metres."""
    if cast.distance_from == "peg":
        return 0.0
    if cast.distance_from == "rod tip":
        if ground.venue.rod_reach_m is None:
            raise left_out(
                reading,
                "rod-reach-missing",
                "the distance is from the rod tip, and the rod's reach is not declared",
                'Add to venue.toml, under [units], how far the tip is from the peg: rod_reach = "3.3 m".',
            )
        return ground.venue.rod_reach_m
    e, n = ground.geometry.cast(peg.lon, peg.lat, bearing_deg, 1.0)
    edge = ground.shore.edge_along((peg.easting, peg.northing), (e - peg.easting, n - peg.northing))
    if edge is None:
        raise left_out(
            reading,
            "edge-not-found",
            "the distance is from the water's edge, and this cast meets no edge near its peg",
            "Check the direction and the peg's point, or measure from the peg.",
        )
    return edge
