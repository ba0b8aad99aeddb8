"""Sizes of errors with the parameters of the bed, where a rough bed must not pass for bad casts.

The likelihood alone takes whatever misfits on a slope for errors of place, and then smooths the bed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from survey.depth_model.screening import Screened
from survey.kriging.covariance import CANDIDATES
from survey.kriging.likelihood import Fitted, fit_with_errors
from survey.kriging.partition import Partition, TiledPosterior

PLACES = ("distance", "direction", "place")
DOUBTED = 0.75
"""Errors of place found larger than this, beside what is stated, may be the bed's."""
AT_MOST = (0.5, 0.3)
"""Smaller sizes are tried then, at most so large beside what is stated."""
LEAST_GAIN = 0.01
"""They are taken where each reading is foretold from the others so much better."""


def sized(found: Screened, start: Fitted, across: bool) -> Fitted:
    """Parameters of the first member and sizes of errors, from what was kept.

    Parameters
    ----------
    found : Screened
    start : Fitted
        Where to begin.
    across : bool
        Land stands between waters.

    Notes
    -----
    Sizes by restricted maximum likelihood. Where those of places come out large, smaller ones are tried and the choice
    is made by the squared error of each reading predicted without itself (Wahba 1990, chapter 4, from memory): how
    smooth the bed is to be is then told by the bed, not by what the noise is held to be.
    """
    member, observations = CANDIDATES[0], found.observations
    bare, sources = observations.bare_data(found.bed_slope, found.kept)
    best = fit_with_errors(member, bare, sources, across, start)
    of_places = {source.size.name for source in observations.own_sources if source.size.kind in PLACES}
    if max((size for name, size in best.factors.items() if name in of_places), default=0.0) < DOUBTED:
        return best
    least = _left_out_m(found, best, across)
    for most in AT_MOST:
        held = [replace(s, largest=min(s.largest, most)) if s.name in of_places else s for s in sources]
        tried = fit_with_errors(member, bare, held, across, best)
        error = _left_out_m(found, tried, across)
        if error < (1.0 - LEAST_GAIN) * least:
            best, least = tried, error
    return best


def _left_out_m(found: Screened, fitted: Fitted, across: bool) -> float:
    """Root mean square error of readings that were kept, each predicted from the others, metres."""
    data = replace(found.observations, factors=fitted.factors).data(found.bed_slope, found.kept)
    bed = TiledPosterior.on(CANDIDATES[0], fitted.theta, data, Partition.over(data.places.xy), across=across)
    n = int(found.kept.sum())
    mean, _ = bed.cross_validate([np.array([k]) for k in range(n)])
    return float(np.sqrt(np.mean((data.values[:n] - mean[:n]) ** 2)))
