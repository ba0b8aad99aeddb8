"""What is fixed about one lake: water, pegs, level mark, floats, and what the venue declares.

Records only; they check themselves when made. Knows nothing of files or readings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from shapely.geometry import MultiPolygon

from survey.errors import SourceRow, SurveyError
from survey.records.floats import Float
from survey.records.uncertainty import StandardErrors
from survey.records.water_level import LevelMark
from survey.units import Sizes
from survey.units.club_units import DistanceUnit

DistanceFrom = Literal["peg", "edge", "rod tip"]
North = Literal["true", "magnetic", "grid"]


@dataclass(frozen=True)
class BankPoint:
    """A peg's point with what the shore says of it: a peg stands on the bank.

    Parameters
    ----------
    written_easting, written_northing : float
        As its sheet has it, venue CRS, metres.
    out_azimuth_deg : float
        Grid azimuth across the shore, over the water.
    across_sd_m, along_sd_m : float
        Standard deviations of the point across and along the shore, metres.
    """

    written_easting: float
    written_northing: float
    out_azimuth_deg: float
    across_sd_m: float
    along_sd_m: float


@dataclass(frozen=True)
class Peg:
    """A numbered place on the bank.

    Parameters
    ----------
    name : str
        As painted.
    easting, northing : float
        Venue CRS, metres.
    lon, lat : float
        WGS 84, degrees.
    facing_deg : float
        Straight out: true bearing of 12 o'clock, degrees clockwise from north.
    facing_sd_deg, position_sd_m : float
        Standard deviations of the bearing and of the point (each axis).
    facing_declared : bool
        False where straight out was estimated from the bank.
    margin_depth_m : float or None
        Measured depth at the edge, at datum.
    place : SourceRow
        Where in the sheet.
    bank : BankPoint or None
        None: the point is as written.
    position_declared : bool
        False where the error of the point was assumed.
    off_bank : bool
        Stands on a platform or an island, or well back from the water: the outline does not bound its point.
    """

    name: str
    easting: float
    northing: float
    lon: float
    lat: float
    facing_deg: float
    facing_sd_deg: float
    position_sd_m: float
    place: SourceRow
    facing_declared: bool = True
    aliases: tuple[str, ...] = ()
    access: str = ""
    status: str = ""
    note: str = ""
    margin_depth_m: float | None = None
    bank: BankPoint | None = None
    position_declared: bool = False
    off_bank: bool = False

    @property
    def point_sd_m(self) -> float:
        """Standard deviation of the point in either axis, root mean square, metres."""
        if self.bank is None:
            return self.position_sd_m
        return math.hypot(self.bank.across_sd_m, self.bank.along_sd_m) / math.sqrt(2.0)

    @property
    def is_closed(self) -> bool:
        """True where the sheet's status is closed."""
        return self.status.casefold() in {"closed", "shut", "out of use"}

    @property
    def is_accessible(self) -> bool:
        """True where the sheet's access column has an entry."""
        return self.access.casefold() not in {"", "no", "none", "n", "steps"}


@dataclass(frozen=True)
class Limits:
    """Where the bed counts as surveyed.

    Parameters
    ----------
    sd_m : float
        Water with a larger standard deviation is unsurveyed, metres.
    reach_m : float
        Within reach of a peg, in sight over water, metres.
    beyond_sd_m : float
        The stricter limit beyond reach, metres.
    """

    sd_m: float = 0.40
    reach_m: float = 45.0
    beyond_sd_m: float = 0.30


@dataclass(frozen=True)
class Publishing:
    """The club's settings for a published copy.

    Parameters
    ----------
    address : str
        Where the published folder will stand, ``https://...``; empty: nowhere yet.
    hidden_pegs : tuple of str
        Pegs that are left out with everything of theirs, by painted name or alias.
    hides_readings : bool
        True: where single readings fell is left out.
    contact : str
        Mail address under which the club answers for its readings; needed to share them onward.
    hides_place : bool
        True: a published copy does not tell where the lake lies.
    words_file : str
        File in the venue folder with the club's own words; empty: English.
    words : str
        What that file says, as JSON; filled in by who reads it.
    """

    address: str = ""
    hidden_pegs: tuple[str, ...] = ()
    hides_readings: bool = False
    contact: str = ""
    hides_place: bool = False
    words_file: str = ""
    words: str = ""


@dataclass(frozen=True)
class Venue:
    """One lake as its folder declares it.

    Parameters
    ----------
    name : str
    crs : str
        Metric CRS in which everything is worked, for example ``EPSG:32630``.
    water : MultiPolygon
        Water surface without islands, in ``crs``; valid, not empty.
    pegs : tuple of Peg
        In the order of the sheet.
    mark : LevelMark
    edge_depth_m, edge_sd_m : float
        Depth at the water's edge when the outline was traced, and its standard deviation.
    shows : {"feet", "metres"}
        What depths are shown in first.
    distances : DistanceUnit
        What distances over the water are shown in, and plain ones are taken for.
    sizes : Sizes
        What a wrap, a rod length and a pole section are worth here; for questions as for sheets.
    stated : tuple of str
        Defaults that were taken, each a sentence for the page.
    """

    name: str
    crs: str
    water: MultiPolygon
    pegs: tuple[Peg, ...]
    mark: LevelMark = field(default_factory=LevelMark)
    floats: tuple[Float, ...] = ()
    standard_errors: StandardErrors = field(default_factory=StandardErrors)
    limits: Limits = field(default_factory=Limits)
    edge_depth_m: float = 0.0
    edge_sd_m: float = 0.2
    timezone: str = "UTC"
    shows: Literal["feet", "metres"] = "feet"
    distances: DistanceUnit = field(default_factory=DistanceUnit)
    rod_reach_m: float | None = None
    sizes: Sizes = field(default_factory=Sizes)
    declination_deg: float | None = None
    credit: str = ""
    licence: str = ""
    emergency: str = ""
    cautions: tuple[str, ...] = ()
    stated: tuple[str, ...] = ()
    publishing: Publishing = field(default_factory=Publishing)

    def __post_init__(self) -> None:
        if self.water.is_empty or not self.water.is_valid:
            raise SurveyError(f'venue "{self.name}": the water outline is empty or crosses itself.')

    @property
    def spans(self) -> DistanceUnit:
        """What fetch, drift and the like are shown in."""
        return self.distances.spans(self.shows)

    @property
    def edge_at_datum_m(self) -> float:
        """Depth of the traced edge below the datum, metres (positive down)."""
        return self.edge_depth_m - self.mark.outline_rise_m

    def peg(self, name: str) -> Peg | None:
        """The peg of that painted name or alias, None if there is none.

        Painted names win over aliases; names are compared as typed, then without case.
        """
        wanted = name.strip()
        typed, folded = self._pegs_by_name
        return typed.get(wanted) or folded.get(wanted.casefold())

    @cached_property
    def _pegs_by_name(self) -> tuple[dict[str, Peg], dict[str, Peg]]:
        """Pegs by every name they have, as typed and without case; the first of a name, painted ones before aliases."""
        names = [(peg.name, peg) for peg in self.pegs]
        names += [(alias, peg) for peg in self.pegs for alias in peg.aliases]
        # Later entries overwrite earlier ones.
        names.reverse()
        return dict(names), {name.casefold(): peg for name, peg in names}

    def float_named(self, name: str) -> Float | None:
        """The named float, compared without case; None if the venue has none such."""
        return self._floats_by_name.get(name.strip().casefold())

    @cached_property
    def _floats_by_name(self) -> dict[str, Float]:
        return {f.name.casefold(): f for f in reversed(self.floats)}
