"""A reading: one plumbed observation as written, in metres and degrees but otherwise untouched.

Nothing here is reduced to a level or placed on a map; that is for :mod:`survey.geometry` and
:mod:`survey.reduction`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Literal

from survey.errors import SourceRow
from survey.records.venue import DistanceFrom, North
from survey.units.dates import Moment
from survey.units.plummet import Limit, Stop

DirectionKind = Literal["clock", "angle", "bearing"]
DirectionBy = Literal["aimed", "compass", "half hours", "hours"]
DistanceBy = Literal["pole", "tape", "wraps", "rod lengths", "estimated"]
Method = Literal["float", "pole", "stick", "marker", "sounder", "edge"]
"""``edge`` is the water's edge itself on a day of known level, not a reading from a sheet."""


class FloatSeen(str, Enum):
    """What was seen of the float."""

    STANDS = "stands"
    SUNK = "sunk"
    FLAT = "flat"
    USUAL = "usual"


@dataclass(frozen=True)
class Direction:
    """A cast direction as written.

    Parameters
    ----------
    kind : {"clock", "angle", "bearing"}
    value_deg : float
        Clock and angle: degrees from straight out, positive to the right.
        Bearing: degrees clockwise from ``north``.
    north : {"true", "magnetic", "grid"}
        Only for bearings.
    by : {"aimed", "compass", "half hours", "hours"}
        How it was observed; sets its standard deviation.
    by_declared : bool
        False where that was assumed.
    """

    kind: DirectionKind
    value_deg: float
    by: DirectionBy
    north: North = "true"
    by_declared: bool = False


@dataclass(frozen=True)
class Cast:
    """A spot given by direction and distance from a peg; distance in metres.

    ``by_declared`` is False where the way it was measured was assumed.
    """

    direction: Direction
    distance_m: float
    by: DistanceBy
    distance_from: DistanceFrom = "peg"
    by_declared: bool = False


@dataclass(frozen=True)
class Intersection:
    """A spot sighted from two pegs: the reading's own, and another."""

    direction: Direction
    other_peg: str
    other_direction: Direction


@dataclass(frozen=True)
class Fix:
    """A spot given by coordinates: WGS 84 degrees (x = lon) or the venue's CRS (x = easting).

    ``sd_m`` is the standard deviation of each axis in metres.
    """

    x: float
    y: float
    frame: Literal["lonlat", "venue"]
    sd_m: float


@dataclass(frozen=True)
class Reading:
    """One row of a reading sheet.

    Parameters
    ----------
    place : SourceRow
        File and row.
    peg : str
        Painted name of the peg (aliases already resolved); empty for a fix without one.
    where : Cast, Intersection or Fix
    setting_m : float or None
        Hook to where the float is held (or its tip, see ``Float.setting_to``).
    float_name : str
        Empty if none was written.
    seen : FloatSeen or None
    tip_m : float or None
        Tip seen above the water; None: the float's usual tip.
    hook_height_m : float
        Height of the hook above the bed when the plummet rests.
    depth_m : float or None
        Depth given straight, on the day (not at datum).
    limit : {"", "at_least", "at_most"}
        That depth is no more than a bound.
    stopped_by : {"", "weed", "snag", "unreached"}
        What kept the plummet from the bed; without a depth the reading only says so of its spot, and is not in use.
    hard_depth_m : float or None
        Depth to the hard bed under silt, on the day.
    when : Moment or None
    method : {"float", "pole", "stick", "marker", "sounder"}
    sd_m : float or None
        Declared standard deviation of the depth, metres.
    use : bool
        False where the sheet says so: kept, shown, not used.
    new_from : str
        Day from which the bed there is new, ISO, where the reading is older: a past reading, not in use. Else empty.
    """

    place: SourceRow
    peg: str
    where: Cast | Intersection | Fix
    setting_m: float | None = None
    float_name: str = ""
    seen: FloatSeen | None = None
    tip_m: float | None = None
    hook_height_m: float = 0.0
    depth_m: float | None = None
    hard_depth_m: float | None = None
    when: Moment | None = None
    method: Method = "float"
    sd_m: float | None = None
    observer: str = ""
    bottom: str = ""
    use: bool = True
    note: str = ""
    new_from: str = ""
    limit: Limit = ""
    stopped_by: Stop = ""
