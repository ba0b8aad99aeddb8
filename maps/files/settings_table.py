"""``settings.csv``: the suggested spots and their settings as a table."""

from __future__ import annotations

from pathlib import Path

from maps.content.rounding import to_mm
from maps.files.tables import Cell, write_csv
from survey.spots.answer import Answer
from survey.spots.float_setting import RigStyle, rounded
from survey.units import INCH_M, clock_text, feet_inches
from survey.workup import WorkedSurvey

SETTINGS_HEADER = (
    "peg", "spot", "clock", "distance_m", "depth_m", "sd_m", "lower_m", "upper_m",
    *(f"{rig.name.lower()}_{what}" for rig in RigStyle for what in ("setting_m", "set_ft_in")),
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
        *(cell for rig in RigStyle for cell in (to_mm(by_rig.get(rig)), _set_text(by_rig.get(rig), rig))),
        answer.held_by.name, answer.state, to_mm(shown_m), to_mm(worked.venue.mark.datum_m), *(worked.days or ("", "")),
    )  # fmt: skip


def _set_text(setting_m: float | None, rig: RigStyle) -> str:
    """Feet and inches in plain letters: a spreadsheet may take the file for another alphabet."""
    if setting_m is None:
        return ""
    text = feet_inches(rounded(setting_m, rig, INCH_M / 2))
    return text.replace(" ½", " 0.5").replace("½", ".5")
