"""How deep the margin of a peg is, as values for a page."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point

from survey.bed.margins import MARGIN_LOOK_M, MARGIN_WIDTH_M, margin_upper_m
from survey.records.venue import Peg
from survey.workup import WorkedSurvey

Json = dict[str, Any]


def margin_data(worked: WorkedSurvey, peg: Peg) -> Json:
    """What is known of the depth at the edge by a peg; upper is the 95 % limit at datum."""
    upper = margin_upper_m(worked.bed, peg)
    if peg.margin_depth_m is not None:
        return {"measured": True, "upper_m": upper}
    table = worked.soundings.table
    places = table.geometry.to_numpy()[table["use"].to_numpy(bool)]
    by_peg = places[shapely.distance(places, Point(peg.easting, peg.northing)) <= MARGIN_LOOK_M]
    measured = bool((_from_edge(worked, by_peg) <= MARGIN_WIDTH_M).any())
    return {"measured": measured, "upper_m": upper}


def _from_edge(worked: WorkedSurvey, places: NDArray[np.object_]) -> NDArray[np.float64]:
    return np.asarray(shapely.distance(worked.venue.water.boundary, places), float)
