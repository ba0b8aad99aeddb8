"""What is wrong with pegs together: names that clash or were changed, two at one spot, far from water or shore.

Knows nothing of sheets.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon

from survey.errors import SourceRow
from survey.fieldbook.naming.spreadsheet import looks_changed
from survey.fieldbook.remarks import Remarks
from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import Shoreline
from survey.records.venue import Peg
from survey.units import shown_length
from survey.units.club_units import DistanceUnit

SILENT_M = 2.0
SAME_PLACE_M = 2.0
"""Nobody fishes so close beside another (ours)."""
NOTED_M = 10.0
ASTRAY_M = 50_000.0
FITS_M = 1000.0
NAMED = 3


@dataclass(frozen=True)
class PegGround:
    """What pegs are held against: the shore, and the ways between degrees and metres."""

    bank: Shoreline
    geometry: Geodesy

    @classmethod
    def of(cls, water: MultiPolygon, crs: str) -> PegGround:
        """The ground of a venue."""
        return cls(Shoreline(water), Geodesy(crs))


@dataclass(frozen=True)
class PegName:
    """A peg's names, and where they stand."""

    name: str
    aliases: tuple[str, ...]
    place: SourceRow


def tell_changed_names(pegs: Sequence[PegName], remarks: Remarks) -> None:
    """One warning for names that look like a spreadsheet's work."""
    odd = [peg for peg in pegs if looks_changed(peg.name)]
    if odd:
        names = ", ".join(f'"{peg.name}"' for peg in odd[:NAMED]) + (" and others" if len(odd) > NAMED else "")
        remarks.warning(
            "peg-name-changed",
            SourceRow(odd[0].place.file, odd[0].place.row, "peg"),
            f"a spreadsheet seems to have changed the names of {len(odd)} peg{'s' * (len(odd) > 1)}: {names}",
            "Format the column as text and type the names again.",
        )


def tell_clashing_names(pegs: Sequence[PegName], remarks: Remarks) -> None:
    """A fault for each name that two pegs have."""
    painted: dict[str, PegName] = {}
    for peg in pegs:
        first = painted.setdefault(peg.name, peg)
        if first is not peg:
            remarks.fault(
                SourceRow(peg.place.file, peg.place.row, "peg"),
                f"two pegs have this name, the other in row {first.place.row}",
                "Give each its own; other names go under aliases.",
                peg.name,
            )
    owners: dict[str, PegName] = {}
    for peg in pegs:
        for alias in peg.aliases:
            first = owners.setdefault(alias.casefold(), painted.get(alias, peg))
            if first is not peg:
                remarks.fault(
                    SourceRow(peg.place.file, peg.place.row, "aliases"),
                    f'the name also stands for peg "{first.name}"',
                    "Keep it for one of them.",
                    alias,
                )


def tell_same_place(pegs: Sequence[Peg], shows: str, remarks: Remarks) -> None:
    """One warning for pegs of different names at one spot: often one peg before and after it was renamed."""
    points = shapely.points(np.array([(peg.easting, peg.northing) for peg in pegs]).reshape(-1, 2))
    found = shapely.STRtree(points).query(points, predicate="dwithin", distance=SAME_PLACE_M).T.tolist()
    far = {(i, j): float(shapely.distance(points[i], points[j])) for i, j in found}
    pairs = sorted((pegs[j].place, i, j, round(far[i, j], 1)) for i, j in far if i < j and pegs[i].name != pegs[j].name)
    if pairs:
        place, first, second, away = pairs[0]
        more = f", and {len(pairs) - 1} more pairs stand as close" if len(pairs) > 1 else ""
        remarks.warning(
            "pegs-same-place",
            SourceRow(place.file, place.row, "peg"),
            f'the peg stands {shown_length(away, shows)} from peg "{pegs[first].name}" ({pegs[first].place}){more}',
            'If it is that peg under a new name, keep one row and write the other name under "aliases".',
            pegs[second].name,
        )


def tell_astray(pegs: Sequence[Peg], ground: PegGround, remarks: Remarks) -> None:
    """A fault where the pegs lie by another water, and above all if they fit with their axes swapped."""
    if not pegs:
        return
    away = float(np.median([ground.bank.distance_m(peg.easting, peg.northing) for peg in pegs]))
    if away <= FITS_M:
        return
    place = SourceRow(pegs[0].place.file)
    swapped = float(np.median([_swapped_distance_m(peg, ground) for peg in pegs]))
    if swapped <= FITS_M:
        remarks.fault(
            place,
            f"the pegs lie {away / 1000:.0f} km from the outline, but fit when longitude and latitude are swapped",
            "Swap the two columns in pegs, or the two numbers in the outline: longitude comes first there.",
        )
    elif away > ASTRAY_M:
        remarks.fault(
            place,
            f"the pegs lie {away / 1000:.0f} km from the outline",
            "Check the coordinate system and the signs of both (west and south are negative).",
        )


def _swapped_distance_m(peg: Peg, ground: PegGround) -> float:
    if abs(peg.lon) > 90.0:  # noqa: PLR2004 - no latitude
        return np.inf
    easting, northing = (float(value) for value in ground.geometry.xy(peg.lat, peg.lon))
    # The outline may be the one that is swapped, and its zone with it: then the shore is moved instead.
    return ground.bank.distance_m(easting, northing) if np.isfinite([easting, northing]).all() else np.inf


def tell_from_shore(peg: Peg, ground: PegGround, spans: DistanceUnit, remarks: Remarks) -> None:
    """A peg that stands off the shore of the outline."""
    away = ground.bank.distance_m(peg.easting, peg.northing)
    if away <= SILENT_M:
        return
    place = SourceRow(peg.place.file, peg.place.row, "peg")
    problem = f"the peg lies {spans.shown(away)} from the shore of the outline"
    if away <= NOTED_M:
        remarks.note("peg-off-shore", place, problem, value=peg.name)
    else:
        remarks.warning("peg-off-shore", place, problem, "Check its position and the outline there.", peg.name)
