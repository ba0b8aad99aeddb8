"""Wind on the water: fetch, surface drift, which side it comes from, and which pegs lie sheltered.

Bearings are where wind comes from. Knows nothing of floats and settings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from survey.geometry.fetch import effective_fetch
from survey.geometry.geodesy import Geodesy
from survey.records.venue import Peg, Venue
from survey.units import INCH_M

DRIFT_SHARES = (0.02, 0.03)
"""Of the wind's speed, how fast the surface drifts: 3 % by the American Meteorological Society's Glossary ("wind
drift"), 2 % by Chapman Piloting. Its turn to the right matters on seas, not on ponds."""
MINUTE_S = 60.0
HEAD_DEG, TAIL_DEG = 45.0, 135.0
LIGHT_MS, STIFF_MS = 5.5, 8.0
"""Upper ends of Beaufort forces 3 and 4 (World Meteorological Organization)."""
OVER_DEPTH_M = ((3 * INCH_M, 6 * INCH_M), (6 * INCH_M, 12 * INCH_M), (12 * INCH_M, 18 * INCH_M))
"""Line on the bed in light, moderate and stiff wind: three to six inches, up to eighteen (common practice)."""
RETURN_FLOW = "Near the bottom the flow may run the other way, often strongest close in."
PEG_WATER_M = (5.0, 10.0, 15.0, 20.0, 3.0)
"""Straight out of a peg, the first of these on the water stands for its water (ours)."""

Side = Literal["head", "tail", "left", "right"]
SIDE_WORDS: dict[Side, str] = {
    "head": "in your face", "tail": "from behind you", "left": "from your left", "right": "from your right",
}  # fmt: skip


def surface_drift(wind_ms: float) -> tuple[float, float]:
    """Surface drift, least and most, metres per second."""
    return DRIFT_SHARES[0] * wind_ms, DRIFT_SHARES[1] * wind_ms


def drift_per_minute(wind_ms: float) -> tuple[float, float]:
    """Surface drift in metres per minute: an upper limit for a free float.

    Examples
    --------
    >>> drift_per_minute(10.0)
    (12.0, 18.0)
    """
    least, most = surface_drift(wind_ms)
    return least * MINUTE_S, most * MINUTE_S


def side_of_wind(cast_bearing_deg: float, from_deg: float) -> Side:
    """Where the wind comes from for who casts on a bearing (both clockwise from north).

    Examples
    --------
    >>> side_of_wind(0, 350), side_of_wind(0, 180), side_of_wind(0, 270), side_of_wind(350, 80)
    ('head', 'tail', 'left', 'right')
    """
    off = (from_deg - cast_bearing_deg + 180.0) % 360.0 - 180.0
    if abs(off) <= HEAD_DEG:
        return "head"
    if abs(off) >= TAIL_DEG:
        return "tail"
    return "right" if off > 0 else "left"


def over_depth(wind_ms: float) -> tuple[float, float]:
    """Line to lay on the bed against drift, least and most, metres (common practice; limits of wind ours)."""
    return OVER_DEPTH_M[(wind_ms >= LIGHT_MS) + (wind_ms >= STIFF_MS)]


def usual_over_depth(wind_ms: float) -> float:
    """The middle of that, metres: what a held rig starts with."""
    least, most = over_depth(wind_ms)
    return (least + most) / 2


@dataclass(frozen=True)
class Wind:
    """Today's wind.

    Parameters
    ----------
    speed_ms : float
        Metres per second.
    from_deg : float
        True bearing it comes from.
    """

    speed_ms: float
    from_deg: float


@dataclass(frozen=True)
class Shelter:
    """How a peg lies to the wind.

    Parameters
    ----------
    peg : Peg
    fetch_m : float or None
        Effective fetch of its water; None where no water is found straight out.
    side : {"head", "tail", "left", "right"}
        For a cast straight out.
    """

    peg: Peg
    fetch_m: float | None
    side: Side


def pegs_by_shelter(venue: Venue, from_deg: float) -> tuple[Shelter, ...]:
    """Every open peg with the fetch of its water, the most sheltered first.

    Parameters
    ----------
    venue : Venue
    from_deg : float
        True bearing the wind comes from.
    """
    geometry = Geodesy(venue.crs)
    found = [_shelter(venue, peg, from_deg, geometry) for peg in venue.pegs if not peg.is_closed]
    at_sheet = {peg.name: k for k, peg in enumerate(venue.pegs)}
    return tuple(sorted(found, key=lambda s: (s.fetch_m is None, s.fetch_m or 0.0, at_sheet[s.peg.name])))


def _shelter(venue: Venue, peg: Peg, from_deg: float, geometry: Geodesy) -> Shelter:
    side = side_of_wind(peg.facing_deg, from_deg)
    for out in PEG_WATER_M:
        e, n = geometry.cast(peg.lon, peg.lat, peg.facing_deg, out)
        azimuth = from_deg - geometry.convergence_deg(peg.easting, peg.northing)
        fetch = effective_fetch(venue.water, e, n, azimuth)
        if fetch is not None:
            return Shelter(peg, fetch, side)
    return Shelter(peg, None, side)
