"""How far single directions and distances err by the way they were taken, and whether that way was declared."""

from __future__ import annotations

from survey.records.readings import Cast, DirectionBy, DistanceBy
from survey.records.uncertainty import StandardErrors

DIRECTION_SPREADS: dict[DirectionBy, str] = {
    "aimed": "aimed_deg",
    "compass": "compass_deg",
    "half hours": "half_hour_deg",
    "hours": "hour_deg",
}
DISTANCE_SPREADS: dict[DistanceBy, str] = {
    "pole": "pole_distance_m",
    "tape": "tape_distance_m",
    "wraps": "wraps_distance_m",
    "rod lengths": "rods_distance_m",
    "estimated": "estimated_distance",
}
"""Names in :class:`StandardErrors` by the way a direction or a distance was taken."""


def direction_sd_deg(by: DirectionBy, standard_errors: StandardErrors) -> float:
    """Standard deviation of one direction, degrees, from the way it was taken."""
    return float(getattr(standard_errors, DIRECTION_SPREADS[by]))


def distance_sd_m(by: DistanceBy, distance_m: float, standard_errors: StandardErrors) -> float:
    """Standard deviation of one distance, metres, from the way it was taken."""
    sd = float(getattr(standard_errors, DISTANCE_SPREADS[by]))
    return sd * distance_m if by == "estimated" else sd


def declared_errors(cast: Cast, standard_errors: StandardErrors) -> tuple[str, ...]:
    """Which errors of a cast were declared, not assumed: any of distance and direction."""
    is_distance = cast.by_declared or DISTANCE_SPREADS[cast.by] in standard_errors.declared
    is_direction = cast.direction.by_declared or DIRECTION_SPREADS[cast.direction.by] in standard_errors.declared
    return ("distance",) * is_distance + ("direction",) * is_direction
