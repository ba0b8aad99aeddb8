"""The one stored grid: what page, command and files answer from, kept as whole millimetres.

Knows nothing of how a bed is made.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

import survey
from survey.bed.grid import Bed, Grid
from survey.records.fieldbook import Fieldbook

if TYPE_CHECKING:
    from survey.workup import WorkedSurvey

BED_FILE = "bed.npz"
ADJUSTED = ("easting", "northing", "lon", "lat", "facing_deg", "facing_sd_deg")
"""Fields of a peg that the adjustment changes and commands ask for."""


@dataclass(frozen=True)
class StoredBed:
    """A bed, the first and last day of the readings it rests on (None: no dates), and pegs as adjusted, by name."""

    bed: Bed
    days: tuple[str, str] | None
    pegs: Mapping[str, Mapping[str, float]]

    def applied_to(self, book: Fieldbook) -> Fieldbook:
        """The fieldbook with its pegs where the bed was made from."""
        pegs = tuple(replace(peg, **self.pegs[peg.name]) if peg.name in self.pegs else peg for peg in book.venue.pegs)
        return replace(book, venue=replace(book.venue, pegs=pegs))


def pegs_of(worked: WorkedSurvey) -> dict[str, dict[str, float]]:
    """Where pegs of a worked survey stand and face, by name and field."""
    return {peg.name: {name: getattr(peg, name) for name in ADJUSTED} for peg in worked.venue.pegs}


def write_bed(path: Path, worked: WorkedSurvey) -> None:
    """Store the bed of a worked survey with the digest of its sources and its settings.

    Parameters
    ----------
    path : Path
    worked : WorkedSurvey
    """
    bed, grid = worked.bed, worked.bed.grid
    about = {
        "version": survey.__version__,
        "digest": worked.fieldbook.digest,
        "cell_m": worked.settings.cell_m,
        "days": worked.days,
        "pegs": pegs_of(worked),
        "crs": worked.venue.crs,
        "units": "mm below datum, positive down; row 0 south, column 0 west",
    }
    np.savez_compressed(
        path,
        depth_mm=bed.depth_mm,
        sd_mm=bed.sd_mm,
        beyond_reach=bed.beyond_reach,
        split=bed.split,
        west_south_cell_m=np.array([grid.west, grid.south, grid.cell_m]),
        ny_nx=np.array([grid.ny, grid.nx]),
        water_wkb=np.frombuffer(shapely.to_wkb(bed.water), np.uint8),
        about=np.array(json.dumps(about, sort_keys=True)),
    )


def stored_bed(path: Path, digest: str, cell_m: float | None) -> StoredBed | None:
    """The stored bed, if it was made from these very sources by this version.

    Parameters
    ----------
    path : Path
        Need not exist.
    digest : str
        Of the sources as they are now.
    cell_m : float or None
        Cell asked for; None: whatever the stored grid has, so that everybody reads one grid.

    Returns
    -------
    StoredBed or None
        None where there is no such file, it cannot be read, or it answers for something else.
    """
    try:
        with path.open("rb") as handle, np.load(handle, allow_pickle=False) as kept:
            about = json.loads(str(kept["about"]))
            if not _answers_for(about, digest, cell_m):
                return None
            pegs = {name: {key: float(said[key]) for key in ADJUSTED} for name, said in about["pegs"].items()}
            return StoredBed(_bed_from(kept), tuple(about["days"]) if about["days"] else None, pegs)
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile, shapely.GEOSException):
        return None


def _answers_for(about: dict[str, Any], digest: str, cell_m: float | None) -> bool:
    same_source = about["version"] == survey.__version__ and about["digest"] == digest
    return same_source and cell_m in (None, about["cell_m"])


def _bed_from(kept: Mapping[str, Any]) -> Bed:
    west, south, cell_m = (float(value) for value in kept["west_south_cell_m"])
    ny, nx = (int(value) for value in kept["ny_nx"])
    return Bed(
        grid=Grid(west, south, cell_m, ny, nx),
        water=shapely.from_wkb(kept["water_wkb"].tobytes()),
        depth_mm=kept["depth_mm"],
        sd_mm=kept["sd_mm"],
        beyond_reach=kept["beyond_reach"],
        split=kept["split"],
    )
