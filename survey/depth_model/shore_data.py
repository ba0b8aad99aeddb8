"""The water's edge as data for the model: the edge depth all round, and margins that were measured."""

from __future__ import annotations

import numpy as np

from survey.depth_model.trend import Profile
from survey.geometry.water import WaterGeometry
from survey.kriging.data import ConditioningData, unshared
from survey.records.venue import Venue

SHORE_SPACING_M = 6.0
SHORE_POINTS = 140
"""No more than this many shore points: they are spaced wider on a long shore."""
MARGIN_CLEAR_M = 4.0
"""A measured margin replaces the shore points this near to its peg."""
MARGIN_SD_M = 0.05


def shore_data(venue: Venue, frame: WaterGeometry, profile: Profile, level_off_m: float) -> ConditioningData:
    """The water's edge as data; a measured margin stands in for the edge near its peg."""
    length = sum(ring.length for ring in frame.rings)
    xy = frame.shore_points(max(SHORE_SPACING_M, length / SHORE_POINTS))
    values = np.full(len(xy), venue.edge_at_datum_m)
    sds = np.full(len(xy), venue.edge_sd_m)
    measured = [p for p in venue.pegs if p.margin_depth_m is not None]
    for peg in measured:
        far = np.hypot(xy[:, 0] - peg.easting, xy[:, 1] - peg.northing) > MARGIN_CLEAR_M
        xy, values, sds = xy[far], values[far], sds[far]
    if measured:
        xy = np.vstack([xy, [[p.easting, p.northing] for p in measured]])
        values = np.append(values, [p.margin_depth_m or 0.0 for p in measured])
        sds = np.append(sds, np.full(len(measured), MARGIN_SD_M))
    order = np.lexsort((xy[:, 1], xy[:, 0]))
    places = frame.places(xy[order], level_off_m)
    return ConditioningData(
        places,
        values[order],
        sds[order] ** 2,
        unshared(len(xy)),
        profile.at(places.shore_m),
        np.ones(len(xy), bool),
    )
