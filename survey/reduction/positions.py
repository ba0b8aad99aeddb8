"""Where readings are: direction and distance from a peg, two sights or coordinates to a place with its error.

All readings are placed together, because the tools for ellipsoid and shore are quick with many and slow with one.
Knows nothing of depths.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from survey.errors import PlacingError, SurveyError
from survey.findings import Finding, Grade
from survey.geometry.geodesy import Geodesy, on_compass
from survey.geometry.intersection import Sight, meeting
from survey.geometry.magnetic import DECLARE_DECLINATION, declination_deg, true_from_magnetic
from survey.geometry.shoreline import Shoreline
from survey.records.readings import Cast, Direction, Fix, Intersection, Reading
from survey.records.venue import Peg, Venue
from survey.reduction.cast_errors import declared_errors, direction_sd_deg, distance_sd_m


class RejectedReadingError(SurveyError):
    """A reading that cannot become a sounding; carries the finding that explains why."""

    def __init__(self, finding: Finding) -> None:
        self.finding = finding
        super().__init__(str(finding))


def rejected(reading: Reading, code: str, problem: str, remedy: str, value: str = "") -> RejectedReadingError:
    """The error for a reading that is left out.

    A row its own sheet already sets aside is not counted against the venue: a note, not an error.
    """
    return RejectedReadingError(
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
    declared : tuple of str
        Which errors of a cast were declared, not assumed: any of distance and direction.
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
    declared: tuple[str, ...] = ()

    @property
    def sd_m(self) -> float:
        """All of it but the facing in one figure, metres."""
        return math.hypot(self.radial_sd_m, self.tangential_sd_m, self.peg_sd_m)


@dataclass(frozen=True)
class VenueGeometry:
    """A venue with its placing and its shore, made once for all its readings."""

    venue: Venue
    geometry: Geodesy
    shore: Shoreline

    @classmethod
    def of(cls, venue: Venue) -> VenueGeometry:
        """The ground of a venue."""
        return cls(venue, Geodesy(venue.crs), Shoreline(venue.water))


Outcome = Placed | RejectedReadingError
"""Of one reading."""


@dataclass(frozen=True)
class _Thrown:
    """A cast on its way: number of its reading, and how it leaves its peg."""

    number: int
    cast: Cast
    peg: Peg
    bearing_deg: float
    start_m: float

    @property
    def distance_m(self) -> float:
        """From the peg's point."""
        return self.cast.distance_m + self.start_m


def placed(readings: Sequence[Reading], venue_geometry: VenueGeometry) -> list[Outcome]:
    """Put readings on the map.

    Returns
    -------
    list of Placed or LeftOutError
        By reading; the finding of an error names what is missing and the line to add.
    """
    found: dict[int, Outcome] = {}
    thrown: list[_Thrown] = []
    fixed: list[tuple[int, Fix]] = []
    for number, reading in enumerate(readings):
        where = reading.where
        try:
            if isinstance(where, Fix):
                fixed.append((number, where))
                continue
            peg = _peg(reading, reading.peg, "no such peg in the pegs sheet", venue_geometry.venue)
            if isinstance(where, Cast):
                bearing = _true_bearing(reading, where.direction, peg, venue_geometry)
                thrown.append(_Thrown(number, where, peg, bearing, _rod_m(reading, where, venue_geometry.venue)))
            else:
                found[number] = _place_crossing(reading, where, peg, venue_geometry)
        except RejectedReadingError as fault:
            found[number] = fault
    found |= _place_fixes(readings, fixed, venue_geometry.geometry)
    found |= _place_casts(readings, thrown, venue_geometry)
    return [found[number] for number in range(len(readings))]


def _peg(reading: Reading, name: str, problem: str, venue: Venue) -> Peg:
    peg = venue.peg(name)
    if peg is None:
        raise rejected(reading, "peg-unknown", problem, "Add it, or mend the name.", name)
    return peg


def _place_fixes(
    readings: Sequence[Reading], fixed: Sequence[tuple[int, Fix]], geometry: Geodesy
) -> dict[int, Outcome]:
    lonlat = np.array([(fix.x, fix.y) for _, fix in fixed if fix.frame == "lonlat"], float).reshape(-1, 2)
    projected = iter(np.column_stack(geometry.xy(*lonlat.T)).tolist())
    found: dict[int, Outcome] = {}
    for number, fix in fixed:
        e, n = (fix.x, fix.y) if fix.frame == "venue" else next(projected)
        if math.isfinite(e) and math.isfinite(n):
            found[number] = Placed(e, n, 0.0, 0.0, fix.sd_m, fix.sd_m, 0.0, 0.0)
            continue
        found[number] = rejected(
            readings[number],
            "not-placed",
            f"coordinates that have no place in {geometry.crs}",
            "Check them and their order.",
            f"{fix.x:g}, {fix.y:g}",
        )
    return found


def _place_casts(
    readings: Sequence[Reading], thrown: Sequence[_Thrown], venue_geometry: VenueGeometry
) -> dict[int, Outcome]:
    started, found = _from_edge(readings, thrown, venue_geometry)
    geometry, standard_errors = venue_geometry.geometry, venue_geometry.venue.standard_errors
    for one, (e, n) in zip(
        started, _ends(started, [one.distance_m for one in started], geometry).tolist(), strict=True
    ):
        cast, peg, distance = one.cast, one.peg, one.distance_m
        found[one.number] = Placed(
            easting=e,
            northing=n,
            distance_m=distance,
            radial_deg=on_compass(one.bearing_deg - geometry.convergence_deg(peg.easting, peg.northing)),
            radial_sd_m=distance_sd_m(cast.by, cast.distance_m, standard_errors),
            tangential_sd_m=abs(distance) * math.radians(direction_sd_deg(cast.direction.by, standard_errors)),
            peg_sd_m=peg.point_sd_m,
            facing_sd_deg=0.0 if cast.direction.kind == "bearing" else peg.facing_sd_deg,
            declared=declared_errors(cast, standard_errors),
        )
    return found


def _ends(thrown: Sequence[_Thrown], distance_m: Sequence[float], geometry: Geodesy) -> NDArray[np.float64]:
    """Easting and northing of spots along casts, shape (n, 2)."""
    away = [(one.peg.lon, one.peg.lat, one.bearing_deg, far) for one, far in zip(thrown, distance_m, strict=True)]
    return geometry.casts(*np.array(away, float).reshape(-1, 4).T)


def _from_edge(
    readings: Sequence[Reading], thrown: Sequence[_Thrown], venue_geometry: VenueGeometry
) -> tuple[list[_Thrown], dict[int, Outcome]]:
    """The casts, those measured from the water's edge begun there; and those that cross no edge."""
    measured = [one for one in thrown if one.cast.distance_from == "edge"]
    pegs = np.array([(one.peg.easting, one.peg.northing) for one in measured], float).reshape(-1, 2)
    starts = venue_geometry.shore.edges_along(
        pegs, _ends(measured, [1.0] * len(measured), venue_geometry.geometry) - pegs
    )
    start_m = dict(zip((one.number for one in measured), starts.tolist(), strict=True))
    started: list[_Thrown] = []
    found: dict[int, Outcome] = {}
    for one in thrown:
        start = start_m.get(one.number, one.start_m)
        if math.isnan(start):
            found[one.number] = rejected(
                readings[one.number],
                "edge-not-found",
                "the distance is from the water's edge, and this cast meets no edge near its peg",
                "Check the direction and the peg's point, or measure from the peg.",
            )
        else:
            started.append(one if start == one.start_m else replace(one, start_m=start))
    return started, found


def _rod_m(reading: Reading, cast: Cast, venue: Venue) -> float:
    """What the rod adds to the written distance, metres."""
    if cast.distance_from != "rod tip":
        return 0.0
    if venue.rod_reach_m is None:
        raise rejected(
            reading,
            "rod-reach-missing",
            "the distance is from the rod tip, and the rod's reach is not declared",
            'Add to venue.toml, under [units], how far the tip is from the peg: rod_reach = "3.3 m".',
        )
    return venue.rod_reach_m


def _place_crossing(reading: Reading, where: Intersection, peg: Peg, venue_geometry: VenueGeometry) -> Placed:
    """Where two sights cross; errors of the pegs enter the ellipse."""
    other = _peg(reading, where.other_peg, "no such second peg in the pegs sheet", venue_geometry.venue)
    sights = [
        _sight(reading, at, seen, venue_geometry)
        for at, seen in ((peg, where.direction), (other, where.other_direction))
    ]
    try:
        met = meeting(sights[0], sights[1], venue_geometry.venue.spans.whole)
    except PlacingError as fault:
        raise rejected(
            reading,
            "sights-do-not-cross",
            str(fault),
            "Sight the float from two pegs that see it from sides well apart, or measure its distance.",
        ) from fault
    facing, other_facing = (
        0.0 if direction.kind == "bearing" else at.facing_sd_deg
        for at, direction in ((peg, where.direction), (other, where.other_direction))
    )
    ellipse = (met.axis_deg, met.long_sd_m, met.short_sd_m)
    return Placed(met.easting, met.northing, met.distance_m, *ellipse, 0.0, facing, other_facing)


def _sight(reading: Reading, peg: Peg, direction: Direction, venue_geometry: VenueGeometry) -> Sight:
    bearing = _true_bearing(reading, direction, peg, venue_geometry)
    facing_sd = 0.0 if direction.kind == "bearing" else peg.facing_sd_deg
    return Sight(
        peg.easting,
        peg.northing,
        on_compass(bearing - venue_geometry.geometry.convergence_deg(peg.easting, peg.northing)),
        math.hypot(direction_sd_deg(direction.by, venue_geometry.venue.standard_errors), facing_sd),
        peg.point_sd_m,
    )


def _true_bearing(reading: Reading, direction: Direction, peg: Peg, venue_geometry: VenueGeometry) -> float:
    if direction.kind != "bearing":
        return on_compass(peg.facing_deg + direction.value_deg)
    if direction.north == "magnetic":
        return true_from_magnetic(direction.value_deg, _declination(reading, peg, venue_geometry.venue))
    if direction.north == "grid":
        return on_compass(direction.value_deg + venue_geometry.geometry.convergence_deg(peg.easting, peg.northing))
    return on_compass(direction.value_deg)


def _declination(reading: Reading, peg: Peg, venue: Venue) -> float:
    if venue.declination_deg is not None:
        return venue.declination_deg
    if reading.when is None:
        raise rejected(
            reading,
            "magnetic-undated",
            "a magnetic bearing without a date cannot be turned to true north",
            f"Write the date. Or: {DECLARE_DECLINATION}",
        )
    try:
        return declination_deg(peg.lon, peg.lat, reading.when.instant)
    except PlacingError as fault:
        problem = str(fault).removesuffix(f". {DECLARE_DECLINATION}")
        raise rejected(reading, "magnetic-model-years", problem, DECLARE_DECLINATION, reading.when.day) from fault
