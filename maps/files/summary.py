"""How a folder of results describes itself: the summary, the tags inside files, and how our own folder is known."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

import survey
from maps.content.crossover_rows import crossovers_json
from maps.content.rounding import to_mm
from maps.language.catalogue import catalogue_of
from maps.privacy.placeless_files import is_placeless
from survey.checks.row_account import account
from survey.checks.standards import CLUB_GRADES_M, TVU, share_within_club_grade, share_within_order
from survey.findings import Grade
from survey.geometry.geodesy import Geodesy
from survey.workup import WorkedSurvey

SUMMARY_FILE = "summary.json"
MADE_BY = "lakeplumb"
BESIDE = (".aux.xml", "-journal", "-shm", "-wal")
"""What other programs leave beside a file they open; of no use beside a new one."""


def our_files(folder: Path) -> frozenset[str] | None:
    """Names of the files an earlier build wrote into a folder; None if none did."""
    try:
        said = json.loads((folder / SUMMARY_FILE).read_text(encoding="utf-8"))
        if not str(said["made_by"]).startswith(f"{MADE_BY} "):
            return None
        names = {SUMMARY_FILE, *(str(file["name"]) for file in said["files"])}
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return frozenset(names | {name + ending for name in names for ending in BESIDE})


def about_tags(worked: WorkedSurvey) -> dict[str, str]:
    """What every file carries inside: whose depths, from which level, of which days; keys are for programs."""
    venue, said = worked.venue, catalogue_of(worked.venue)
    return {
        "title": venue.name,
        "made_by": f"{MADE_BY} {survey.__version__}",
        "units": said["told_units"],
        "sign": said["told_sign"],
        **({"frame": said["told_frame"]} if is_placeless(venue) else {}),
        "datum": said.datum(venue.mark),
        "surveyed": said.days(worked.days, iso=True),
        "edge": said.say("told_edge", depth=said.metres(venue.edge_at_datum_m)),
        "source_digest": worked.fieldbook.digest,
        "caution": said["cautions"][0],
        "credit": venue.credit,
        "licence": venue.licence,
    }


def summary(worked: WorkedSurvey, shown_m: float, folder: Path) -> dict[str, Any]:
    """The contents of ``summary.json``.

    Parameters
    ----------
    worked : WorkedSurvey
    shown_m : float
        What the level mark shows in this build.
    folder : Path
        Where the other files stand, all complete.

    Returns
    -------
    dict
        Plain JSON values; lengths in metres.
    """
    venue, mark = worked.venue, worked.venue.mark
    return {
        "made_by": f"{MADE_BY} {survey.__version__}",
        "name": venue.name,
        "crs": venue.crs,
        "source_digest": worked.fieldbook.digest,
        "datum": {"mark": mark.kind, "shown_m": mark.datum_m, "words": catalogue_of(venue).datum(mark)},
        "level": {"shown_m": to_mm(shown_m), "rise_m": to_mm(mark.rise_m(shown_m))},
        "days": list(worked.days) if worked.days else None,
        "counts": _counts(worked),
        "rows": _rows(worked),
        "findings": {grade.value: sum(f.grade is grade for f in worked.findings) for grade in Grade},
        "findings_by_code": dict(sorted(Counter(f.code for f in worked.findings).items())),
        "crossovers": crossovers_json(worked.crossovers),
        "water": _water(worked),
        "holdout": _holdout(worked),
        "grid": {"cell_m": worked.bed.grid.cell_m, "rows": worked.bed.grid.ny, "columns": worked.bed.grid.nx},
        "stated": list(venue.stated),
        "files": [_file(path) for path in sorted(folder.iterdir())],
    }


def _counts(worked: WorkedSurvey) -> dict[str, int]:
    book, table = worked.fieldbook, worked.soundings.table
    return {
        "pegs": len(worked.venue.pegs),
        "level_records": len(book.levels),
        "rows": book.rows,
        "readings": len(book.readings),
        "rejected": book.rows - len(book.readings),
        "soundings": len(table),
        "soundings_used": int(table["use"].astype(bool).sum()),
        "past": int((table["new_from"] != "").sum()),
        "doubtful": int(worked.residuals["doubtful"].astype(bool).sum()),
    }


def _rows(worked: WorkedSurvey) -> dict[str, int | bool]:
    """How the rows of the reading sheets ended; the middle three make the first."""
    rows = account(worked.fieldbook, worked.soundings, worked.findings)
    return {
        "all": rows.rows,
        "as_depths": rows.as_depths,
        "as_bounds": rows.as_bounds,
        "in_findings": rows.in_findings,
        "adds_up": rows.adds_up,
    }


def _water(worked: WorkedSurvey) -> dict[str, Any]:
    venue, bed = worked.venue, worked.bed
    middle = venue.water.representative_point()
    scale = Geodesy(venue.crs).scale(middle.x, middle.y)
    depth, sd, beyond = bed.depth_m[bed.on_water], bed.sd_m[bed.on_water], bed.beyond_reach[bed.on_water]
    surveyed = (sd <= venue.limits.sd_m) & ~(beyond & (sd > venue.limits.beyond_sd_m))
    return {
        "area_m2": round(venue.water.area / scale**2, 1),
        "depth_max_m": to_mm(float(depth.max())),
        "depth_mean_m": to_mm(float(depth.mean())),
        "sd_median_m": to_mm(float(np.median(sd))),
        "surveyed_share": round(float(surveyed.mean()), 4),
        "club_share": {grade: round(share_within_club_grade(bed, grade), 4) for grade in CLUB_GRADES_M},
        "s44_share": {order: round(share_within_order(bed, order), 4) for order in TVU},
    }


def _holdout(worked: WorkedSurvey) -> dict[str, Any] | None:
    held = worked.holdout
    if held is None:
        return None
    return {
        "readings": held.readings,
        "pegs": held.pegs,
        "rmse_m": to_mm(held.rmse_m),
        "within": _shares(held.within),
        "pit": list(held.pit),
        "single_rmse_m": None if held.single_within is None else to_mm(held.single_rmse_m),
        "single_within": None if held.single_within is None else _shares(held.single_within),
    }


def _shares(within: dict[float, float]) -> dict[str, float]:
    return {f"{nominal:g}": round(inside, 4) for nominal, inside in sorted(within.items())}


def _file(path: Path) -> dict[str, Any]:
    data = path.read_bytes()
    return {"name": path.name, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
