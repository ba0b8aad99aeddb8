"""How far the stated size of each source of error is trusted.

Sizes are found with the model's parameters (:func:`survey.kriging.likelihood.fit_with_errors`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class SizePrior(NamedTuple):
    """What is held of true over stated size before the readings are looked at: log-normal, and bounded.

    Parameters
    ----------
    usual : float
        Median.
    log_sd : float
        Standard deviation of its logarithm.
    largest : float
        At most so much.
    """

    usual: float
    log_sd: float
    largest: float = 20.0


ASSUMED: Mapping[str, SizePrior] = {
    "depth": SizePrior(1.0, 0.4, 2.0),
    "distance": SizePrior(0.6, 0.5, 1.0),
    "direction": SizePrior(0.8, 0.5, 1.0),
    "place": SizePrior(1.0, 0.5, 1.0),
    "peg across": SizePrior(1.0, 0.5, 2.0),
    "peg along": SizePrior(1.0, 0.8, 2.0),
    "facing": SizePrior(1.0, 0.7, 1.5),
    "distance scale": SizePrior(1.0, 0.5, 2.0),
    "depth offset": SizePrior(1.0, 0.5, 2.5),
    "level": SizePrior(1.0, 0.3, 2.0),
}
"""By kind. A sheet in the wrong unit must not pass for somebody who measures badly, nor a bed that the model does not
expect (a channel across the lake) for bad casts. What is assumed for places is generous: they are at most as large."""
DECLARED = SizePrior(1.0, 0.35, 1.5)
"""Of sizes that somebody declared: right within a factor of two, nineteen times in twenty."""


class SizeSource(NamedTuple):
    """A source of error whose size is found.

    Parameters
    ----------
    kind : str
    is_declared : bool
        Somebody declared its size; else it was assumed.
    observer : str
        Empty: everybody's.
    """

    kind: str
    is_declared: bool
    observer: str = ""

    @property
    def name(self) -> str:
        """Unlike any other source's."""
        whose = f" by {self.observer}" if self.observer else ""
        return f"{'declared ' * self.is_declared}{self.kind}{whose}"

    @property
    def prior(self) -> SizePrior:
        """What is held of its size."""
        return DECLARED if self.is_declared else ASSUMED[self.kind]
