"""What is known of one peg beside its depths: its readings, how old and dense they are, the bottom felt, its margin.

Numbers and words as written; sentences are the pages' own.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point

from maps.content.margin import margin_data
from survey.geometry.geodesy import Geodesy
from survey.records.venue import Peg
from survey.spots.cast import Spot
from survey.workup import WorkedSurvey

NEAR_SPOT_M = 4.0
"""Bottom felt this near a spot is shown with the spot (ours)."""
DENSITY_WITHIN_M = 20.0
"""Within this of the peg readings are counted against the water there (ours)."""
BOTTOMS_TOLD = 4
LONGEST_BOTTOM = 24
"""Longest bottom entry that is shown; longer ones are remarks."""


@dataclass(frozen=True)
class PegFacts:
    """One peg.

    Parameters
    ----------
    own : int
        Readings in use that were taken from it.
    first_day, last_day : str
        Of those, ISO; empty where none is dated.
    near : int
        Readings in use within :data:`DENSITY_WITHIN_M`, whoever took them.
    area_m2 : float
        Water within the same distance.
    bottoms : tuple of (str, int)
        Bottom felt from this peg and how often, most often first.
    margin : dict
        ``measured`` and ``upper_m``, metres at datum.
    stops : tuple of (str, float, float)
        What kept the plummet from the bed on casts from this peg, each with degrees from straight out and metres; the
        nearest first.
    """

    peg: Peg
    own: int
    first_day: str
    last_day: str
    near: int
    area_m2: float
    bottoms: tuple[tuple[str, int], ...]
    margin: dict[str, object]
    stops: tuple[tuple[str, float, float], ...] = ()

    @property
    def area_per_reading_m2(self) -> float | None:
        """Water for each reading near the peg; None where there is none."""
        return self.area_m2 / self.near if self.near else None


def peg_facts(worked: WorkedSurvey, peg: Peg) -> PegFacts:
    """What is known of a peg."""
    table = worked.soundings.table
    used = table["use"].to_numpy(bool)
    own = table.loc[used & (table["peg"] == peg.name).to_numpy()]
    days = sorted(day for day in own["day"] if day)
    away = _away(worked, peg.easting, peg.northing)
    round_peg = Point(peg.easting, peg.northing).buffer(DENSITY_WITHIN_M)
    return PegFacts(
        peg=peg,
        own=len(own),
        first_day=days[0] if days else "",
        last_day=days[-1] if days else "",
        near=int((used & (away <= DENSITY_WITHIN_M)).sum()),
        area_m2=float(shapely.intersection(round_peg, worked.venue.water).area),
        bottoms=_counted(own["bottom"]),
        margin=margin_data(worked, peg),
        stops=stops_of(worked, peg),
    )


def stops_of(worked: WorkedSurvey, peg: Peg) -> tuple[tuple[str, float, float], ...]:
    """Weed, snags and beds not reached on casts from a peg; past ones and those not to be shown left out."""
    table = worked.shown.soundings.table
    own = table.loc[(table["peg"] == peg.name) & (table["stopped_by"] != "") & (table["new_from"] == "")]
    straight = peg.facing_deg - Geodesy(worked.venue.crs).convergence_deg(peg.easting, peg.northing)
    turned = (own["radial_deg"].to_numpy(float) - straight + 180.0) % 360.0 - 180.0
    found = zip(own["stopped_by"], turned.round(1).tolist(), own["distance_m"].to_numpy(float).tolist(), strict=True)
    return tuple(sorted(((str(stop), angle, far) for stop, angle, far in found if far > 0), key=lambda s: (s[2], s)))


def bottom_near(worked: WorkedSurvey, spot: Spot) -> str:
    """The bottom felt nearest to a spot, as written, or the weed or snag met; empty where none was near."""
    table = worked.soundings.table
    felt = table["bottom"].where(table["bottom"] != "", table["stopped_by"].replace("unreached", ""))
    counts = table["use"].to_numpy(bool) | ((table["stopped_by"] != "") & (table["new_from"] == "")).to_numpy(bool)
    away = np.where(counts, _away(worked, spot.easting, spot.northing), math.inf)
    order = np.argsort(away, kind="stable")
    near = (_plain(felt.iloc[k]) for k in order if away[k] <= NEAR_SPOT_M)
    return next((word for word in near if word), "")


def _away(worked: WorkedSurvey, easting: float, northing: float) -> NDArray[np.float64]:
    xy = worked.soundings.xy
    return np.hypot(xy[:, 0] - easting, xy[:, 1] - northing)


def _counted(bottoms: object) -> tuple[tuple[str, int], ...]:
    counts = Counter(word for word in map(_plain, bottoms) if word)  # type: ignore[call-overload]
    return tuple(sorted(counts.items(), key=lambda found: (-found[1], found[0]))[:BOTTOMS_TOLD])


def _plain(bottom: object) -> str:
    words = " ".join(str(bottom).split()).casefold()
    return words if len(words) <= LONGEST_BOTTOM else ""
