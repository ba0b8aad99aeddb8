"""Soundings: readings reduced to the datum and placed on the map, each with its error budget.

A different type from readings on purpose: nothing unreduced can reach the grid.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from survey.errors import SourceRow, SurveyError

COLUMNS: dict[str, str] = {
    "file": "source file",
    "row": "source row",
    "peg": "painted name, empty without",
    "observer": "as written",
    "day": "local date of the reading, ISO, empty if unknown",
    "method": "float, pole, stick, marker, sounder, or edge for a point of a low-water edge",
    "bottom": "as written",
    "kind": "depth, at_least or at_most (one-sided evidence), or none: the bed was not reached",
    "depth_m": "depth below datum, positive down; for bounds the bound, nan for none",
    "sd_m": "standard deviation of that depth, this reading alone, m",
    "level_sd_m": "standard deviation of the level used, shared within level_block, m",
    "level_block": "readings with the same name share their level error; empty: none",
    "distance_m": "from the peg, 0 for a fix or an edge",
    "radial_deg": "grid azimuth in the venue CRS, clockwise from grid north: of the cast, of the long axis where two "
    "sights cross, across an edge",
    "radial_sd_m": "standard deviation of position along the cast, this reading alone, m",
    "tangential_sd_m": "standard deviation of position across the cast, this reading alone, m",
    "peg_sd_m": "standard deviation of the peg's point, each axis, shared by its readings, m",
    "facing_sd_deg": "standard deviation of straight out, shared by the peg's readings; 0 for bearings",
    "peg2": "second peg where two sights cross, else empty; radial and tangential then hold the whole ellipse, "
    "what both pegs bring included",
    "facing2_sd_deg": "standard deviation of the second peg's straight out; 0 for bearings and casts",
    "declared": "which of its own errors were declared, not assumed: depth, distance, direction, with spaces between",
    "hard_depth_m": "depth of the hard bed below datum, nan if not probed",
    "stopped_by": "what kept the plummet from the bed: weed, snag or unreached (nobody says); else empty",
    "use": "False: kept and shown, not used",
    "new_from": "day from which the bed there is new, ISO, where the reading is older (a past reading); else empty",
}


@dataclass(frozen=True)
class Soundings:
    """Placed and reduced readings.

    Parameters
    ----------
    table : GeoDataFrame
        Columns of :data:`COLUMNS` and point geometry in the venue CRS, sorted by file and row.
    """

    table: gpd.GeoDataFrame

    def __post_init__(self) -> None:
        missing = [name for name in COLUMNS if name not in self.table]
        if missing:
            raise SurveyError(f"soundings lack the columns {', '.join(missing)}")
        used = self.table.loc[self.table["use"].astype(bool)]
        for name in ("depth_m", "sd_m", "radial_sd_m", "tangential_sd_m", "peg_sd_m", "level_sd_m"):
            if not np.isfinite(used[name].to_numpy(float)).all():
                raise SurveyError(f"soundings: {name} must be finite in every row in use")

    def __len__(self) -> int:
        return len(self.table)

    @property
    def places(self) -> list[SourceRow]:
        """File and row of each."""
        return [SourceRow(file, row) for file, row in zip(self.table["file"], self.table["row"].tolist(), strict=True)]

    @property
    def xy(self) -> NDArray[np.float64]:
        """Easting and northing, shape (n, 2), metres."""
        return np.column_stack([self.table.geometry.x, self.table.geometry.y])
