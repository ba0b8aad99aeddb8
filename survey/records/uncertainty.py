"""Standard errors assumed for each way of measuring, where the sheets give none."""

from __future__ import annotations

from dataclasses import dataclass, fields

from survey.errors import SurveyError

LARGEST_SPREAD = 100.0


@dataclass(frozen=True)
class StandardErrors:
    """Standard deviations used where the sheets give none (common practice; per venue).

    Parameters
    ----------
    declared : frozenset of str
        Names of those that the venue declared; the others are assumed.
    """

    pole_depth_m: float = 0.02
    stick_depth_m: float = 0.02
    float_depth_near_m: float = 0.06
    float_depth_far_m: float = 0.12
    marker_depth_m: float = 0.15
    aimed_deg: float = 1.5
    compass_deg: float = 4.0
    half_hour_deg: float = 7.5 / 3**0.5
    hour_deg: float = 15.0 / 3**0.5
    pole_distance_m: float = 0.2
    tape_distance_m: float = 0.1
    wraps_distance_m: float = 0.4
    rods_distance_m: float = 0.6
    estimated_distance: float = 0.10
    peg_surveyed_m: float = 1.0
    peg_phone_m: float = 5.0
    facing_declared_deg: float = 0.0
    facing_guessed_deg: float = 15.0
    level_unknown_m: float = 0.25
    declared: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        for name in SPREADS:
            value = getattr(self, name)
            if not 0 <= value < LARGEST_SPREAD:
                raise SurveyError(
                    f"[spreads] {name} = {value:g}: a standard deviation is zero or more, and below {LARGEST_SPREAD:g}."
                )


SPREADS = tuple(field.name for field in fields(StandardErrors) if field.name != "declared")
"""Names of the standard deviations, as in ``[spreads]`` of ``venue.toml``."""
