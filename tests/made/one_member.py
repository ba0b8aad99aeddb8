"""A bed of one member with parameters as of any lake: what shared mistakes are judged by, without the fitting."""

from __future__ import annotations

import numpy as np

from survey.depth_model.model import LakeModel
from survey.depth_model.observations import observations_from
from survey.geometry.water import WaterGeometry
from survey.kriging.covariance import CANDIDATES
from survey.kriging.likelihood import prior_theta
from survey.kriging.partition import Partition, TiledPosterior
from survey.records.fieldbook import Fieldbook
from survey.records.soundings import Soundings
from survey.reduction.reduce import reduce_soundings


def fitted_to(book: Fieldbook) -> tuple[Soundings, LakeModel]:
    """Soundings of a fieldbook, and the bed made of them."""
    soundings, _ = reduce_soundings(book)
    frame = WaterGeometry(book.venue.water)
    observations = observations_from(book.venue, soundings, frame)
    every, across = np.ones(len(observations), bool), frame.has_land_between
    data = observations.data(observations.no_slope, every)
    theta = prior_theta(CANDIDATES[0], across)
    bed = TiledPosterior.on(CANDIDATES[0], theta, data, Partition.over(data.places.xy), across=across)
    here = bed.mean(observations.places, observations.profile.at(observations.places.shore_m))
    bed_slope = observations.tilt_from(
        here, bed.mean(observations.beside, observations.profile.at(observations.beside.shore_m))
    )
    return soundings, LakeModel(frame, observations, every, (bed,), bed_slope)
