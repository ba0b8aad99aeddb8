"""A club of feet, yards and inches is asked and answered in them by every command."""

from __future__ import annotations

import json
import re

import pytest
from typer.testing import CliRunner

from maps.cli.main import app
from tests.made.imperial import imperial_venue

METRIC = re.compile(r"(?<![(\d.,])\d[\d.,]* ?(?:m|cm|mm|metres)\b(?![/²])")
"""A metric figure that stands alone: one in brackets is beside the club's own."""
SPOT = ["--peg", "1", "--clock", "12", "--distance", "15"]


@pytest.fixture(scope="module")
def pond(tmp_path_factory):
    folder = imperial_venue(tmp_path_factory.mktemp("pond") / "pond")
    assert CliRunner().invoke(app, ["build", str(folder)]).exit_code == 0
    return folder


def said(*words) -> str:
    return CliRunner().invoke(app, [str(word) for word in words]).output


def bare(text: str) -> list[str]:
    return METRIC.findall(re.sub(r"\([^()]*\)", "", text))


def test_no_command_says_a_metric_figure_alone(pond):
    texts = [
        said("check", pond),
        said("depth", pond, *SPOT, "--level", "17", "--mark", "3 No 4", "--wind", "12 mph SW", "--every", "5"),
        said("depth", pond, *SPOT, "--level", "300"),
        said("depth", pond, "--peg", "1", "--clock", "12", "--distance", "300"),
        said("level", pond, "--plumb", "1; 12; 15; 5 ft 2"),
        said("wind", pond, "--speed", "12 mph", "--from", "SW"),
        said("shot", "3 No 4", "--setting", "6 ft 6"),
    ]
    assert all(len(text) > 60 for text in texts)
    assert [bare(text) for text in texts] == [[]] * len(texts)


def test_a_plain_level_is_in_the_mark_s_own_unit_and_json_stays_metric(pond):
    answer = json.loads(said("depth", pond, *SPOT, "--level", "17", "--json"))
    assert answer["level_m"] == pytest.approx(0.4318, abs=0.0005)  # written to the millimetre
    assert answer["distance_m"] == pytest.approx(13.716, abs=0.0005)


def test_a_level_far_outside_the_records_gives_both_figures(pond):
    assert "60 in is far outside the recorded levels, 23½ in to 27 in" in said("depth", pond, *SPOT, "--level", "60")
    assert "far outside" not in said("depth", pond, *SPOT, "--level", "22")
