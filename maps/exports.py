"""The files made from a worked survey: which there are and what the summary says of them.

They appear together, whole, or not at all; the venue folder is never written to.
"""

from __future__ import annotations

import json
from pathlib import Path

from maps.atomic import whole_folder
from maps.backdrop import Backdrop
from maps.enquiry import spot_answers
from maps.geopackage import write_geopackage
from maps.rasters import write_raster
from maps.store import BED_FILE, write_bed
from maps.summary import SUMMARY_FILE, about_tags, our_files, summary
from maps.tables import Cell, to_mm, write_csv
from maps.webmap import page_html
from maps.words import words_of
from survey.errors import SurveyError
from survey.floats import Rig, rounded
from survey.spots import Answer
from survey.units import INCH_M, clock_text, feet_inches
from survey.workup import WorkedSurvey


def usual_folder(venue_folder: Path) -> Path:
    """Where the files of a venue go when nothing else is said: beside its folder."""
    home = venue_folder.resolve()
    return home.with_name(f"{home.name}-out")


def checked_folder(venue_folder: Path, out: Path | None) -> Path:
    """The output folder, refused where it would mix with the sources.

    Raises
    ------
    SurveyError
        ``out`` is the venue folder, in it, or around it.
    """
    home = venue_folder.resolve()
    target = usual_folder(home) if out is None else out.resolve()
    if target == home or home in target.parents or target in home.parents:
        raise SurveyError(
            f'--out "{out}" and the venue folder lie one in the other. Sources and results are kept apart: '
            f'name another folder, for example "{usual_folder(home)}".'
        )
    return target


def write_all(
    worked: WorkedSurvey, target: Path, shown_m: float | None, backdrop: Backdrop | None = None
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

    Returns
    -------
    tuple of Path
        What was written.
    """
    with whole_folder(target, our_files) as part:
        _write_into(part, worked, shown_m, backdrop)
        names = sorted(path.name for path in part.iterdir())
    return tuple(target / name for name in names)


def _write_into(folder: Path, worked: WorkedSurvey, shown_m: float | None, backdrop: Backdrop | None) -> None:
    shown = worked.venue.mark.datum_m if shown_m is None else shown_m
    about = about_tags(worked)
    answers = spot_answers(worked, shown)
    write_bed(folder / BED_FILE, worked)
    write_raster(folder / "depth.tif", worked.bed, worked.venue.crs, about, words_of(worked.venue))
    write_settings(folder / "settings.csv", worked, answers, shown)
    write_geopackage(folder / "venue.gpkg", worked, answers, about)
    page = page_html(worked, shown_m, backdrop=backdrop)
    (folder / "map.html").write_text(page, encoding="utf-8", newline="\n")
    said = json.dumps(summary(worked, shown, folder), indent=2, ensure_ascii=False, allow_nan=False)
    (folder / SUMMARY_FILE).write_text(said + "\n", encoding="utf-8", newline="\n")


SETTINGS_HEADER = (
    "peg", "spot", "clock", "distance_m", "depth_m", "sd_m", "lower_m", "upper_m",
    *(f"{rig.name.lower()}_{what}" for rig in Rig for what in ("setting_m", "set_ft_in")),
    "float", "state", "level_shown_m", "datum_shown_m", "surveyed_from", "surveyed_to",
)  # fmt: skip


def write_settings(path: Path, worked: WorkedSurvey, answers: tuple[Answer, ...], shown_m: float) -> None:
    """The suggested spots and their settings as a table."""
    write_csv(path, SETTINGS_HEADER, (_settings_row(worked, answer, shown_m) for answer in answers))


def _settings_row(worked: WorkedSurvey, answer: Answer, shown_m: float) -> tuple[Cell, ...]:
    spot, by_rig = answer.spot, {setting.rig: setting.setting_m for setting in answer.settings}
    depths = (answer.depth_m, answer.sd_m, answer.lower_m, answer.upper_m)
    return (
        spot.peg, spot.name, clock_text(spot.angle_deg), to_mm(spot.distance_m), *(to_mm(value) for value in depths),
        *(cell for rig in Rig for cell in (to_mm(by_rig.get(rig)), _set_text(by_rig.get(rig), rig))),
        answer.held_by.name, answer.state, to_mm(shown_m), to_mm(worked.venue.mark.datum_m), *(worked.days or ("", "")),
    )  # fmt: skip


def _set_text(setting_m: float | None, rig: Rig) -> str:
    """Feet and inches in plain letters: a spreadsheet may take the file for another alphabet."""
    if setting_m is None:
        return ""
    text = feet_inches(rounded(setting_m, rig, INCH_M / 2))
    return text.replace(" ½", " 0.5").replace("½", ".5")
