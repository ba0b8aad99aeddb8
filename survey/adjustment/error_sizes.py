"""How far the stated size of each source of error is trusted.

Sizes are found with the model's parameters (:func:`survey.kriging.likelihood.fit_with_errors`).
"""

from __future__ import annotations

from collections.abc import Mapping

SIZE_LOG_SD: Mapping[str, float] = {
    "depth": 0.4,
    "distance": 0.7,
    "direction": 0.6,
    "place": 0.5,
    "peg across": 0.5,
    "peg along": 0.8,
    "facing": 0.7,
    "distance scale": 0.5,
    "depth offset": 0.5,
    "level": 0.3,
}
"""Standard deviation of the logarithm of true over stated standard deviation, by source."""

LARGEST: Mapping[str, float] = {"distance": 1.5, "direction": 1.5, "place": 1.5, "facing": 1.5, "peg across": 2.0}
"""True over stated is at most so much: what is stated for these is generous, and a bed that the model does not
expect (a channel across the lake) must not pass for bad casts."""
LARGEST_OF_OTHERS = 20.0
