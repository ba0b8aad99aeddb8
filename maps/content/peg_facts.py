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
    """

    peg: Peg
    own: int
    first_day: str
    last_day: str
    near: int
    area_m2: float
    bottoms: tuple[tuple[str, int], ...]
    margin: dict[str, object]

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
    )


def bottom_near(worked: WorkedSurvey, spot: Spot) -> str:
    """The bottom felt nearest to a spot, as written; empty where none was felt near."""
    table = worked.soundings.table
    away = np.where(table["use"].to_numpy(bool), _away(worked, spot.easting, spot.northing), math.inf)
    order = np.argsort(away, kind="stable")
    near = (_plain(table["bottom"].iloc[k]) for k in order if away[k] <= NEAR_SPOT_M)
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
