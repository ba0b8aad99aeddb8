"""What ``venue.toml`` declares, with every default that was taken."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from survey.records.floats import Float
from survey.records.uncertainty import StandardErrors
from survey.records.venue import DistanceFrom, Limits, North, Publishing
from survey.records.water_level import LevelMark
from survey.units import Sizes
from survey.units.club_units import DistanceUnit
from survey.units.dates import DateOrder


@dataclass(frozen=True)
class Declaration:
    """The contents of ``venue.toml``; lengths in metres.

    Parameters
    ----------
    crs : str or None
        None: the UTM zone of the lake's centre.
    on_british_grid : bool
        That is the British National Grid, and grid references need no turning.
    counted_in : DistanceUnit or None
        What distances are shown in; None: what most readings have.
    units : dict
        Unit of bare numbers by column (``depth``, ``distance``, ``setting``, ``tip``, ``level``).
    stated : tuple of str
        Defaults taken, each a sentence.
    """

    name: str
    crs: str | None
    on_british_grid: bool
    timezone: str
    shows: str
    credit: str
    licence: str
    emergency: str
    cautions: tuple[str, ...]
    dates: DateOrder | None
    mark: LevelMark
    edge_depth_m: float
    edge_sd_m: float
    units: dict[str, str]
    sizes: Sizes
    counted_in: DistanceUnit | None
    distance_from: DistanceFrom
    rod_reach_m: float | None
    north: North
    declination_deg: float | None
    limits: Limits
    standard_errors: StandardErrors
    floats: tuple[Float, ...]
    publishing: Publishing
    stated: tuple[str, ...]

    @property
    def distances(self) -> DistanceUnit:
        """What distances are shown in; metres until it is known."""
        return self.counted_in or DistanceUnit()

    @property
    def spans(self) -> DistanceUnit:
        """What ways over the water or the bank that nobody casts are shown in."""
        return self.distances.spans(self.shows)

    @property
    def zone(self) -> ZoneInfo:
        """The zone of times that name none."""
        return ZoneInfo(self.timezone)
