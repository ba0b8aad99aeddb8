"""A question about one spot: where, with which float, at which level. Knows nothing of typed text."""

from __future__ import annotations

import math
from dataclasses import dataclass

from survey.bed.grid import Bed
from survey.errors import QueryError
from survey.geometry.geodesy import Geodesy
from survey.records.floats import BARE_LINE, Float
from survey.records.readings import DistanceBy
from survey.records.venue import Peg, Venue
from survey.spots.answer import Answer, Today, answer
from survey.spots.cast import CastScatter, Spot, scatter_for
from survey.spots.float_setting import BARE_HOOK, HookEnd

MOST_CAST_M = 500.0


@dataclass(frozen=True)
class Question:
    """One spot, at one level, with one float.

    Parameters
    ----------
    spot : Spot
    peg : Peg
    bearing_deg : float
        True bearing of the cast.
    direction_sd_deg : float
        How far a cast said in this way may be off in direction.
    by : DistanceBy
    shown_m, level_sd_m : float
        What the level mark shows today, and its standard deviation: 0 where it was read.
    held_by : Float
    end : HookEnd
    """

    spot: Spot
    peg: Peg
    bearing_deg: float
    direction_sd_deg: float
    by: DistanceBy
    shown_m: float
    held_by: Float
    level_sd_m: float = 0.0
    end: HookEnd = BARE_HOOK

    def scatter(self, venue: Venue) -> CastScatter:
        """How far the cast may fall from the spot."""
        return scatter_for(self.spot.distance_m, self.by, self.direction_sd_deg, venue.standard_errors)

    def answered(self, venue: Venue, bed: Bed) -> Answer:
        """What the bed gives."""
        today = Today(venue.mark.rise_m(self.shown_m), self.held_by, self.level_sd_m, self.end)
        return answer(venue, bed, self.spot, self.bearing_deg, self.scatter(venue), today)


def question_of_spot(venue: Venue, spot: Spot, shown_m: float, held_by: Float) -> Question:
    """The question a suggested spot puts: as if cast by the clock face, its distance estimated."""
    peg = venue.peg(spot.peg)
    if peg is None:
        raise QueryError(f'{venue.name} has no peg "{spot.peg}".')
    bearing = (peg.facing_deg + spot.angle_deg) % 360.0
    return Question(spot, peg, bearing, venue.standard_errors.half_hour_deg, "estimated", shown_m, held_by)


def usual_float(venue: Venue) -> Float:
    """The float taken when none is named: the venue's first, or the bare line."""
    return venue.floats[0] if venue.floats else BARE_LINE


def cast_spot(venue: Venue, peg: Peg, angle_deg: float, distance_m: float) -> Spot:
    """The spot of a cast from a peg's point.

    Parameters
    ----------
    venue : Venue
    peg : Peg
    angle_deg : float
        Degrees from straight out, positive to the right; brought to -180 to 180.
    distance_m : float

    Raises
    ------
    QueryError
        A distance that is no cast.
    """
    if not (math.isfinite(distance_m) and 0 < distance_m <= MOST_CAST_M):
        given, most = (venue.distances.shown(far) for far in (distance_m, MOST_CAST_M))
        raise QueryError(f"{given} is not a cast. Give more than 0 and at most {most}.")
    angle = (angle_deg + 180.0) % 360.0 - 180.0
    easting, northing = Geodesy(venue.crs).cast(peg.lon, peg.lat, peg.facing_deg + angle, distance_m)
    return Spot(peg.name, "asked", angle, distance_m, easting, northing)
