"""The venue's level mark: a board or a dip, and its datum."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

MarkKind = Literal["board", "dip"]


@dataclass(frozen=True)
class LevelMark:
    """The venue's one water level mark.

    Parameters
    ----------
    kind : {"board", "dip"} or None
        A board reads more as the water rises; a dip is the distance down to the water.
        None: the venue declares no mark, and level records cannot be used.
    datum_m : float
        What the mark shows at the level for which published depths hold, metres.
    outline_m : float or None
        What it showed when the outline was traced; None: the datum.
    unit : str
        What its figures are read in, as in :data:`survey.units.lengths.UNIT_METRES`.
    """

    kind: MarkKind | None = None
    datum_m: float = 0.0
    outline_m: float | None = None
    unit: str = "m"

    def height_m(self, shown_m: float) -> float:
        """Height of the surface, positive up, for what the mark shows (metres)."""
        return -shown_m if self.kind == "dip" else shown_m

    def rise_m(self, shown_m: float) -> float:
        """How far the surface stands above the datum, metres, for what the mark shows."""
        return self.height_m(shown_m) - self.height_m(self.datum_m)

    def shown_m(self, rise_m: float) -> float:
        """What the mark shows with the surface so far above the datum, metres."""
        return self.datum_m - rise_m if self.kind == "dip" else self.datum_m + rise_m

    @property
    def outline_rise_m(self) -> float:
        """How far the surface stood above the datum when the outline was traced, metres."""
        return 0.0 if self.outline_m is None else self.rise_m(self.outline_m)
