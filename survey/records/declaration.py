"""What ``venue.toml`` declares, with every default that was taken."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from survey.records.floats import Float
from survey.records.uncertainty import StandardErrors
from survey.records.venue import DistanceFrom, Limits, North, Publishing
from survey.records.water_level import LevelMark
from survey.units import Sizes
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
    units : dict
        Unit of bare numbers by column (``depth``, ``distance``, ``setting``, ``tip``, ``level``).
    since : str
        First day whose readings hold everywhere, ISO; empty: all do.
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
    distance_from: DistanceFrom
    rod_reach_m: float | None
    north: North
    declination_deg: float | None
    limits: Limits
    standard_errors: StandardErrors
    floats: tuple[Float, ...]
    publishing: Publishing
    since: str
    stated: tuple[str, ...]

    @property
    def zone(self) -> ZoneInfo:
        """The zone of times that name none."""
        return ZoneInfo(self.timezone)
