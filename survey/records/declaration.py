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
    dates : {"dmy", "mdy", "ymd"} or None
        Usual order of day and month; None if none is declared.
    dates_in : dict
        The order of a single file, by its name: beyond doubt.
    counted_in : DistanceUnit or None
        What distances are shown in; None: what most readings have.
    units : dict
        Unit of bare numbers by column (``depth``, ``distance``, ``setting``, ``tip``, ``level``).
    off_bank : tuple of str
        Pegs that do not stand on the bank of the outline, by painted name or alias.
    since : str
        First day whose readings hold everywhere, ISO; empty: all do.
    stated : tuple of str
        Defaults taken, each a sentence.
    unread : frozenset of str
        Keys that stand there and could not be read, like ``crs`` or ``[units] depth``.
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
    dates_in: dict[str, DateOrder]
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
    off_bank: tuple[str, ...]
    since: str
    stated: tuple[str, ...]
    unread: frozenset[str] = frozenset()

    def is_unsure_of(self, section: str) -> bool:
        """Whether something in a section could not be read: what lacks for it is no fault of a sheet."""
        return any(key.startswith(f"[{section}]") for key in self.unread)

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
