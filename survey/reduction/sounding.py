"""One sounding on its way to the table."""

from __future__ import annotations

from dataclasses import dataclass

from survey.errors import SourceRow
from survey.records.readings import Reading
from survey.reduction.depths import Kind
from survey.reduction.positions import Placed
from survey.reduction.water_levels import LevelAt


@dataclass(frozen=True)
class Sounding:
    """One row of the soundings, with the reading it comes from.

    Parameters
    ----------
    reading : Reading
    placed : Placed
    level : LevelAt
    kind : {"depth", "at_least", "at_most", "none"}
    depth_m : float
        Below datum, positive down; for bounds the bound.
    sd_m : float
        Of that depth, this reading alone.
    hard_depth_m : float
        Of the hard bed below datum, nan if not probed.
    use : bool
    """

    reading: Reading
    placed: Placed
    level: LevelAt
    kind: Kind
    depth_m: float
    sd_m: float
    hard_depth_m: float
    use: bool

    @property
    def place(self) -> SourceRow:
        """Where it stands in the sheets."""
        return self.reading.place

    @property
    def day(self) -> str:
        """Local day, ISO; empty if unknown."""
        return self.reading.when.day if self.reading.when else ""
