"""The files made from a worked survey: which there are and how the summary describes them.

They appear together, whole, or not at all; the venue folder is never written to.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from maps.content.spot_rows import spot_answers
from maps.drawing.backdrop import Backdrop
from maps.files.geopackage import write_geopackage
from maps.files.geotiff import write_raster
from maps.files.output_folder import whole_folder
from maps.files.settings_table import write_settings
from maps.files.stored_bed import BED_FILE, write_bed
from maps.files.summary import SUMMARY_FILE, about_tags, our_files, summary
from maps.language.catalogue import catalogue_of
from maps.page.map_page import page_html
from survey.workup import WorkedSurvey


def write_all(
    worked: WorkedSurvey,
    target: Path,
    shown_m: float | None,
    backdrop: Backdrop | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> tuple[Path, ...]:
    """Write every file of a survey; an earlier output is replaced only when all are complete.

    Parameters
    ----------
    worked : WorkedSurvey
    target : Path
        Folder, see :func:`checked_folder`.
    shown_m : float or None
        What the level mark shows, for the settings and the page; None: the datum.
    backdrop : Backdrop, optional
        A picture of the ground to lie under the map.
    tell : callable, optional
        Told in words what is being done.

    Returns
    -------
    tuple of Path
        What was written.
    """
    with whole_folder(target, our_files) as part:
        tell("writing the files")
        _write_files(part, worked, shown_m)
        tell("drawing the map")
        page = page_html(worked, shown_m, backdrop=backdrop)
        (part / "map.html").write_text(page, encoding="utf-8", newline="\n")
        _write_summary(part, worked, shown_m)
        names = sorted(path.name for path in part.iterdir())
    return tuple(target / name for name in names)


def _write_files(folder: Path, worked: WorkedSurvey, shown_m: float | None) -> None:
    about = about_tags(worked)
    answers = spot_answers(worked, _shown_m(worked, shown_m))
    write_bed(folder / BED_FILE, worked)
    write_raster(folder / "depth.tif", worked.bed, worked.venue.crs, about, catalogue_of(worked.venue))
    write_settings(folder / "settings.csv", worked, answers, _shown_m(worked, shown_m))
    write_geopackage(folder / "venue.gpkg", worked, answers, about)


def _write_summary(folder: Path, worked: WorkedSurvey, shown_m: float | None) -> None:
    said = summary(worked, _shown_m(worked, shown_m), folder)
    text = json.dumps(said, indent=2, ensure_ascii=False, allow_nan=False)
    (folder / SUMMARY_FILE).write_text(text + "\n", encoding="utf-8", newline="\n")


def _shown_m(worked: WorkedSurvey, shown_m: float | None) -> float:
    return worked.venue.mark.datum_m if shown_m is None else shown_m
