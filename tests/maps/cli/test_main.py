"""What a person types and what comes back: on a made survey, and end to end on a fresh venue."""

import hashlib
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
import rasterio
from typer.testing import CliRunner

import maps.cli.commands.build
import maps.cli.main
import maps.cli.venues
import survey
import survey.workup
from maps.cli.main import app
from maps.files.own_sheet import replaced_sheet
from survey.errors import BedError, Fault, FieldbookError, SourceRow, SurveyError
from survey.findings import Finding, Grade
from survey.records.readings import Cast, Direction, Reading
from survey.records.water_level import LevelMark
from survey.units import Sizes, read_length
from tests.made.own_venue import make_own
from tests.made.survey import made_survey

runner = CliRunner()


def digests(folder: Path) -> dict[str, str]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def run(*words, code=0):
    result = runner.invoke(app, [str(word) for word in words])
    assert result.exit_code == code, result.output
    assert "Traceback" not in result.output
    return result


@pytest.fixture(scope="module")
def worked():
    return made_survey()


@pytest.fixture
def mere(tmp_path):
    (tmp_path / "mere").mkdir()
    return tmp_path / "mere"


@pytest.fixture
def made(worked, monkeypatch):
    """The made survey in place of a venue folder; settings to change it, and how often it was worked up."""

    class Made:
        survey = worked
        workups = 0

        def venue(self, **changes):
            book = self.survey.fieldbook
            self.survey = replace(self.survey, fieldbook=replace(book, venue=replace(book.venue, **changes)))

    state = Made()

    def work_up(_fieldbook, settings, _tell):
        state.workups += 1
        return replace(state.survey, settings=settings)

    monkeypatch.setattr(maps.cli.venues, "read_fieldbook", lambda _: state.survey.fieldbook)
    monkeypatch.setattr(survey.workup, "work_up", work_up)
    return state


@pytest.mark.usefixtures("made")
class TestDepth:
    @pytest.fixture
    def ask(self, mere):
        return lambda *words, code=0: run("depth", mere, *words, code=code)

    @pytest.fixture
    def said(self, ask):
        return lambda *words: json.loads(ask(*words, "--json").stdout)

    def test_the_answer_comes_first_then_why_then_cautions(self, ask):
        lines = ask("--peg", "1", "--clock", "12:30", "--distance", "18", "--level", "0.32").stdout.splitlines()
        assert lines[0].startswith("Set 7 ft 7½ in (2.32 m). Expect ")
        assert lines[0].endswith("Plumb before you fish.")
        assert lines[1] == 'Tansy Pool & "Sons", peg 1, 12:30 (15° right, bearing 218°), 18.0 m (estimated)'
        why = next(line for line in lines if line.startswith("Why"))
        assert why.split(maxsplit=1)[1] == (
            "8 ft 6¾ in at datum + 4 in level − 10 in float + ¾ in tip − 6 in off the bottom = 7 ft 7½ in"
        )
        assert "Level    the dip shows 0.32 m (1 ft ½ in): 0.10 m (4 in) above the datum" in lines
        assert [line.split()[0] for line in lines if line.startswith(("slow", "fast", "held"))] == [
            "slow-sinking",
            "fast-sinking",
            "held",
        ]
        assert lines[-1] == "A starting point, not a promise. Plumb before you fish."

    def test_a_program_gets_one_object_with_units_in_its_keys(self, said, worked):
        answer = said("--peg", "1", "--clock", "12:30", "--distance", "18", "--level", "0.32")
        east, north = answer["easting_m"], answer["northing_m"]
        depth, sd, _ = worked.bed.at(east, north)
        assert answer["datum_depth_m"] == pytest.approx(depth[0], abs=0.001)
        assert answer["sd_m"] == pytest.approx(sd[0], abs=0.001)
        assert answer["depth_m"] == pytest.approx(answer["datum_depth_m"] + 0.10, abs=0.0011)
        assert answer["lower_m"] < answer["depth_m"] < answer["upper_m"]
        assert (answer["angle_deg"], answer["distance_m"]) == (15.0, 18.0)
        assert (answer["level_m"], answer["rise_m"]) == (0.32, 0.1)
        assert (answer["surveyed"], answer["state"], answer["float"]) == (True, "", "Reed & Rush")
        assert [setting["rig"] for setting in answer["settings"]] == ["slow-sinking", "fast-sinking", "held"]
        slow = answer["settings"][0]
        assert answer["setting_m"] == slow["setting_m"]
        # S = d - L + p - c with L 0.254, p 0.02 and c six inches (0.1524 m).
        assert slow["setting_m"] == pytest.approx(answer["depth_m"] - 0.254 + 0.02 - 0.1524, abs=0.0011)
        assert slow["off_bottom_m"] == pytest.approx(0.1524, abs=0.0005)
        assert (slow["set_ft_in"], slow["set_m"], slow["why_not"]) == ("7 ft 7½ in", 2.32, "")
        steps = [round(tried - slow["setting_m"], 3) for tried in slow["try_next_m"][:4]]
        assert steps == pytest.approx([-0.0762, 0.0762, -0.1524, 0.1524], abs=0.0011)

    def test_the_rig_asked_for_leads(self, said):
        answer = said("--peg", "1", "--clock", "12", "--distance", "18", "--rig", "held")
        assert answer["rig"] == "held"
        assert answer["setting_m"] == answer["settings"][2]["setting_m"] > answer["settings"][1]["setting_m"]

    def test_ways_to_say_one_direction_agree(self, said, worked):
        bearing = worked.venue.peg("1").facing_deg + 30
        spots = [
            said("--peg", "1", "--distance", "18", *way)
            for way in (["--clock", "1"], ["--angle", "30"], ["--angle", "30 right"], ["--bearing", f"{bearing}"])
        ]
        places = [(spot["easting_m"], spot["northing_m"]) for spot in spots]
        assert places == [pytest.approx(places[0], abs=0.002)] * 4
        assert len({spot["depth_m"] for spot in spots}) == 1

    def test_a_distance_may_be_said_as_on_the_bank(self, made, said):
        made.venue(sizes=Sizes(wrap_m=3.6576, rod_m=3.96))
        for words, metres in (("20 yd", 18.288), ("5 wraps", 18.288), ("4 rods", 15.84), ("18,5", 18.5)):
            assert said("--peg", "1", "--clock", "12", "--distance", words)["distance_m"] == metres
        wide = said("--peg", "1", "--clock", "12", "--distance", "18.288")
        narrow = said("--peg", "1", "--clock", "12", "--distance", "5 wraps")
        same = said("--peg", "1", "--clock", "12", "--distance", "18.288", "--distance-by", "wraps")
        assert narrow["depth_m"] == wide["depth_m"]
        assert (narrow["lower_m"], narrow["upper_m"]) == (same["lower_m"], same["upper_m"])

    def test_a_float_of_ones_own(self, said):
        named = said("--peg", "1", "--clock", "12", "--distance", "18", "--float", "long 'TOM'")
        measured = said("--peg", "1", "--clock", "12", "--distance", "18", "--float-length", "33 cm", "--tip", "4cm")
        assert named["float"] == "Long 'tom'"
        assert named["setting_m"] == measured["setting_m"]
        tip = said("--peg", "1", "--clock", "12", "--distance", "18", "--float", "Tip ruler", "--rig", "fast-sinking")
        # Measured to the tip: S = d + p.
        assert tip["setting_m"] == pytest.approx(tip["depth_m"] + 0.015, abs=0.0011)

    def test_without_floats_the_setting_is_hook_to_surface(self, made, said):
        made.venue(floats=())
        answer = said("--peg", "1", "--clock", "12", "--distance", "18", "--rig", "fast-sinking")
        assert answer["setting_m"] == answer["depth_m"]
        assert any("from hook to surface" in caution for caution in answer["cautions"])

    def test_unsurveyed_water_has_a_depth_and_no_setting(self, ask, said):
        words = ("--peg", "12", "--clock", "12", "--distance", "50")
        answer = said(*words)
        assert not answer["surveyed"]
        assert answer["depth_m"] > 0
        assert (answer["setting_m"], answer["settings"]) == (None, [])
        assert answer["cautions"][0] == answer["state"] == "Unsurveyed water: plumb here."
        assert ask(*words).stdout.splitlines()[0] == "Unsurveyed water: plumb here."

    def test_dry_water_says_so(self, said, ask):
        words = ("--peg", "1", "--clock", "12", "--distance", "4", "--level", "3.2")
        answer = said(*words)
        assert (answer["state"], answer["settings"]) == ("Dry at this level.", [])
        assert any("Read the mark again" in caution for caution in answer["cautions"])
        assert "above the water at this level" in ask(*words).stdout

    def test_shallow_water_offers_only_what_can_be_fished(self, ask):
        lines = ask("--peg", "4", "--angle", "-20", "--distance", "1", "--rig", "held").stdout.splitlines()
        assert lines[0] == "No held setting here: three feet of water or less."
        assert any(line.startswith("fast-sinking  7 in") for line in lines)

    @pytest.mark.parametrize(
        ("rod", "advice"), [("16 ft", None), ("9 ft 6", "Consider a sliding float."), ("8ft", "Use a")]
    )
    def test_a_setting_near_the_rods_length_wants_a_sliding_float(self, said, rod, advice):
        cautions = said("--peg", "1", "--clock", "12:30", "--distance", "18", "--rod-length", rod)["cautions"]
        found = [caution for caution in cautions if "sliding" in caution]
        assert [caution[: len(advice or "")] for caution in found] == ([advice] if advice else [])

    def test_cautions_tell_of_closed_pegs_and_guessed_bearings(self, made, said, worked):
        assert "Peg 8 is closed." in said("--peg", "8", "--clock", "12", "--distance", "10")["cautions"]
        guessed = tuple(replace(peg, facing_declared=False, facing_sd_deg=15.0) for peg in worked.venue.pegs)
        made.venue(pegs=guessed)
        by_clock = said("--peg", "1", "--clock", "12", "--distance", "10")["cautions"]
        by_bearing = said("--peg", "1", "--bearing", "203", "--distance", "10")["cautions"]
        assert [any("estimated from the bank" in c for c in cautions) for cautions in (by_clock, by_bearing)] == [
            True,
            False,
        ]

    def test_metres_first_where_the_venue_wants_them(self, made, ask):
        made.venue(shows="metres")
        lead = ask("--peg", "1", "--clock", "12:30", "--distance", "18", "--level", "0.32").stdout.splitlines()[0]
        assert lead.startswith("Set 2.32 m (7 ft 7½ in). Expect 2.")

    @pytest.mark.parametrize(
        ("words", "message"),
        [
            (["--peg", "13", "--clock", "12", "--distance", "9"], 'has no peg "13". Nearest: '),
            (["--peg", "the pointe", "--clock", "12", "--distance", "9"], "Nearest: The point"),
            (["--peg", "1", "--distance", "9"], "Give one direction"),
            (["--peg", "1", "--clock", "1", "--angle", "9", "--distance", "9"], "Give one direction"),
            (["--peg", "1", "--clock", "13", "--distance", "9"], '--clock: "13" is not on a clock face'),
            (["--peg", "1", "--bearing", "95 M", "--distance", "9"], "is magnetic. Use a true bearing"),
            (["--peg", "1", "--clock", "12", "--distance", "far"], '--distance: "far" is not a length'),
            (["--peg", "1", "--clock", "12", "--distance", "0"], "0 m is not a cast"),
            (["--peg", "1", "--clock", "12", "--distance", "9 wraps"], 'Add [units] stick_spacing = "12 ft"'),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--float", "reed"], "Nearest: Reed & Rush."),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--tip", "1in"], "--float-length is missing"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--float-length", "1in"], "--tip is missing"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--level", "-60"], "Read the mark again, in metres"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--level", "60"], "and the lake empty"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--mark", "4"], '--mark: "4" can be read in more'),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--fish", "pike"], "Use one of rudd, roach"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--wind", "SW"], "is not a speed and direction"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--bait", "3 ft"], "--bait must be 0 to 10 cm"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--every", "20 m"], "does not divide"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--plumb", "2 m; a"], "has 2 parts"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--plumb", "1; 12; 9; 2 m; sunk"], "Lengthen the"),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--plumb", "2", "--level", "0.4"], "not both"),
            (
                ["--peg", "1", "--clock", "12", "--distance", "9", "--float-length", "1in", "--tip", "2in"],
                "of tip showing",
            ),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--level", "high"], '--level: "high" is not a length'),
            (["--peg", "1", "--clock", "12", "--distance", "9", "--rod-length", "0"], '"0" is not a rod length'),
            (["--peg", "1", "--clock", "12", "--distance", "300"], "On that line the water runs from 0.0 to "),
            (["--peg", "1", "--clock", "6", "--distance", "30"], "no water on that line within 200 m"),
        ],
    )
    def test_what_cannot_be_answered_says_what_to_do(self, ask, words, message):
        result = ask(*words, code=2)
        assert message in result.stderr
        assert result.stdout == ""

    def test_a_level_without_a_mark_is_refused(self, made, ask):
        made.venue(mark=LevelMark())
        words = ("--peg", "1", "--clock", "12", "--distance", "9")
        assert "no level mark is declared in venue.toml" in ask(*words, "--level", "0.3", code=2).stderr
        assert "not corrected for today's level" in ask(*words).stdout

    def test_a_program_is_told_of_a_spot_on_land_too(self, ask):
        result = ask("--peg", "8", "--clock", "12", "--distance", "70", "--json", code=2)
        answer = json.loads(result.stdout)
        assert (answer["state"], answer["depth_m"], answer["settings"]) == ("Not on the water.", None, [])

    def test_the_built_grid_answers_while_it_is_of_these_sources(self, made, mere, said):
        words = ("--peg", "1", "--clock", "12", "--distance", "18")
        fresh = said(*words)
        assert made.workups == 1
        run("build", mere)
        assert made.workups == 2
        assert said(*words) == fresh
        assert made.workups == 2
        said(*words, "--cell", "3")
        assert made.workups == 3
        made.survey = replace(made.survey, fieldbook=replace(made.survey.fieldbook, digest="other"))
        said(*words)
        assert made.workups == 4

    def test_it_writes_nothing(self, mere, said):
        said("--peg", "1", "--clock", "12", "--distance", "18")
        assert [path.name for path in mere.parent.iterdir()] == ["mere"]


@pytest.mark.usefixtures("made")
class TestRig:
    """Shot, wind, level and what to try next, at one spot and without one."""

    SPOT = ("--peg", "1", "--clock", "12:30", "--distance", "18")

    @pytest.fixture
    def ask(self, mere):
        return lambda *words, code=0: run("depth", mere, *self.SPOT, *words, code=code)

    @pytest.fixture
    def said(self, ask):
        return lambda *words: json.loads(ask(*words, "--json").stdout)

    def test_the_float_is_named_and_the_sum_adds_up_as_printed(self, ask):
        lines = ask("--level", "0.33", "--rig", "fast-sinking").stdout.splitlines()
        assert "Float    Reed & Rush: 10 in above where it is fixed, ¾ in showing" in lines
        why = next(line for line in lines if line.startswith("Why")).split(maxsplit=1)[1]
        terms, total = why.split(" = ")
        pieces = re.findall(r"(?:^|([+−]) )((?:\d+ ft ?)?(?:[\d¼½¾]+ in)?)", terms)
        signed = [(-1 if sign == "−" else 1) * read_length(length.strip()).metres for sign, length in pieces if length]
        assert len(signed) >= 4
        assert sum(signed) == pytest.approx(read_length(total).metres, abs=1e-9)
        assert lines[0].startswith(f"Set {total} (")

    def test_shot_fall_feed_and_wind_follow_the_table(self, ask):
        out = ask("--mark", "3 No 4", "--wind", "5 m/s SW", "--rig", "fast-sinking", "--fish", "bream").stdout
        for words in (
            "Shot     1 BB + 1 No 4 down the line, float between stops", "1 ft from the hook: 1 No 4", "Fall     ",
            "SI 1986/1992", "varies by maker", "Feed     on the bottom", "Wind     in your face", "m a minute at most",
            "To hold it, lay 3 in to 6 in", "may run the other way", "takes 0.6 g",
        ):  # fmt: skip
            assert words in out

    def test_without_a_mark_it_says_which_option_places_the_shot(self, ask):
        assert '--mark "3 No 4"' in ask().stdout

    def test_a_program_gets_the_same_in_parts(self, said):
        held = said("--mark", "2 g", "--wind", "20 mph 225", "--rig", "held", "--lock", "2 No 8", "--bait", "1 cm")
        slow, _, last = held["settings"]
        assert last["off_bottom_m"] == pytest.approx(-0.381)
        assert last["shot"]["locking"] == {"No 8": 2}
        assert last["shot"]["balance_g"] == pytest.approx(1.88)
        assert last["wind"]["drift_m_per_min"] == pytest.approx([10.73, 16.09], abs=0.01)
        assert last["wind"]["over_depth_m"] == [0.305, 0.457]
        assert said("--wind", "20 mph south-west")["settings"][2]["wind"] == last["wind"]
        assert slow["setting_m"] == pytest.approx(said()["settings"][0]["setting_m"] - 0.01, abs=0.0011)

    def test_a_plumb_here_sets_the_level_and_moves_the_setting(self, said, ask):
        low, high = (said("--plumb", f"{metres} m", "--month", "5") for metres in (2.3, 2.5))
        assert high["rise_m"] > low["rise_m"]
        assert high["setting_m"] - low["setting_m"] == pytest.approx(high["rise_m"] - low["rise_m"], abs=0.0021)
        assert high["level_sd_m"] > 0.02
        out = ask("--plumb", "2.3 m", "--plumb", "12; 12; 14; 2.4 m", "--month", "5").stdout
        assert "Plumb    peg 12, 14.0 m: " in out
        assert "Level    by your plumb" in out
        assert "You plumbed this spot: use your own depth here," in out
        assert " sd off" not in out
        assert "You plumbed" not in ask("--plumb", "12; 12; 14; 2.4 m", "--month", "5").stdout
        assert "No --level given" not in out

    def test_a_line_of_spots_is_a_table_and_a_list(self, said, ask):
        line = said("--every", "6 m")["line"]
        assert [spot["distance_m"] for spot in line] == [6.0, 12.0, 18.0]
        assert line[-1]["setting_m"] == said()["setting_m"]
        assert "Along this cast, slow-sinking" in ask("--every", "6 m").stdout

    def test_a_float_of_a_personal_file_is_used_by_name(self, said, tmp_path):
        own = tmp_path / "floats.toml"
        own.write_text('[floats.Mine]\nlength = "30 cm"\ntip = "3 cm"\nmark = "2BB"\n', encoding="utf-8")
        answer = said("--floats", own, "--float", "mine")
        assert (answer["float"], answer["float_length_m"]) == ("Mine", 0.3)
        assert answer["settings"][0]["shot"]["balance_g"] == pytest.approx(0.8)
        assert said("--floats", own)["float"] == "Mine"

    def test_what_to_try_follows_the_fish_and_stops_at_the_rod(self, said):
        first = said("--rig", "fast-sinking")["settings"][1]
        bream = said("--rig", "fast-sinking", "--fish", "bream")["settings"][1]["try_next_m"]
        assert bream[:3] == sorted(bream[:3])
        assert bream[0] > first["setting_m"]
        rod = said("--rig", "fast-sinking", "--rod-length", "3 m")["settings"][1]["try_next_m"]
        assert max(rod) <= 0.85 * 3.0 + 0.001

    def test_level_tells_what_the_mark_would_show_and_which_plumb_is_wrong(self, mere):
        spots = (("12; 12; 14", 2.4), ("1; 12:30; 18", 2.35), ("2; 30 left; 12", 2.2))
        plain = [word for where, metres in spots for word in ("--plumb", f"{where}; {metres} m")]
        out = run("level", mere, *plain, "--month", "5").stdout
        assert "the dip would show" in out
        found = json.loads(run("level", mere, *plain, "--month", "5", "--json").stdout)
        assert found["level_m"] == pytest.approx(0.42 - found["rise_m"], abs=0.0011)
        wrong = [*plain[:-1], "2; 30 left; 12; 0.9 m"]
        told = json.loads(run("level", mere, *wrong, "--month", "5", "--json").stdout)
        assert [plumb["set_aside"] for plumb in told["plumbs"]] == [False, False, True]
        assert "set aside: it does not agree with the others" in run("level", mere, *wrong, "--month", "5").stdout

    @pytest.mark.parametrize(
        ("plumb", "says"),
        [
            ("12; 12; 14", "has 3 parts"), ("12; 12; 14; deep", "is not a length"),
            ("12; 12; 300; 2 m", "is not on the water"),
            ("12; 12; 14; 2 m; sunk", "Lengthen the setting"), ("12; 12; 14; 2 m; 9 m", "of tip"),
            ("none; 12; 14; 2 m", "has no peg"),
        ],
    )  # fmt: skip
    def test_a_plumb_that_cannot_be_read_says_how_to_write_it(self, mere, plumb, says):
        assert says in run("level", mere, "--plumb", plumb, code=2).stderr

    def test_wind_ranks_the_pegs(self, mere, worked):
        lines = run("wind", mere, "--speed", "5 m/s", "--from", "SW").stdout.splitlines()
        said = json.loads(run("wind", mere, "--speed", "5 m/s", "--from", "225", "--json").stdout)
        fetches = [peg["fetch_m"] for peg in said["pegs"]]
        assert fetches == sorted(fetches)
        assert f"peg {said['pegs'][0]['peg']} is most sheltered." in lines[0]
        assert len(said["pegs"]) == sum(not peg.is_closed for peg in worked.venue.pegs)
        assert "wind speed with its unit" in run("wind", mere, "--speed", "5", "--from", "SW", code=2).stderr

    def test_shot_needs_no_venue(self):
        lines = run("shot", "3 No 4", "--shot", "3 No 4", "--lock", "2 No 4", "--setting", "2 m").stdout.splitlines()
        assert "50 cm from the hook: 1 No 4" in lines[2]
        said = json.loads(run("shot", "1.25 g", "--shot", "BB, No 4", "--ways", "3", "--json").stdout)
        assert said["difference_g"] == pytest.approx(-0.05)
        assert len(said["ways"]) == 3
        assert "read in more than one way" in run("shot", "4x14", code=2).stderr
        assert "--setting must be above zero" in run("shot", "2BB", "--setting", "0", code=2).stderr

    @pytest.mark.parametrize(("level", "says"), [("-60", "over the mapped banks"), ("60", "and the lake empty")])
    def test_a_build_at_an_absurd_level_is_refused_and_writes_nothing(self, mere, level, says):
        assert says in run("build", mere, "--level", level, code=2).stderr
        assert [path.name for path in mere.parent.iterdir()] == ["mere"]


@pytest.mark.usefixtures("made")
class TestCheck:
    def test_findings_by_sheet_and_row_then_the_sum(self, made, mere):
        place = {row: SourceRow("readings.csv", row) for row in (2, 3, 4)}
        cast = Cast(Direction("clock", 0.0, "half hours"), 4.0, "wraps")
        readings = [Reading(place[2], "1", cast), Reading(place[3], "1", cast, use=False), Reading(place[4], "1", cast)]
        on_land = Finding(Grade.ERROR, "on-land", place[4], "falls on land", "Look at the direction.", "12")
        book = replace(made.survey.fieldbook, readings=tuple(readings), rows=4)
        made.survey = replace(made.survey, fieldbook=book, findings=(*made.survey.findings, on_land))
        lines = run("check", mere, code=1).stdout.splitlines()
        assert 'error    readings.csv, row 4: falls on land (found "12"). Look at the direction.' in lines
        assert lines[-1] == "4 rows read: 1 used, 3 set aside. 2 errors, 1 warning, 0 notes."

    def test_without_errors_it_is_clean(self, made, mere):
        made.survey = replace(made.survey, findings=made.survey.findings[1:])
        assert "0 errors, 1 warning" in run("check", mere).stdout

    def test_a_program_gets_every_finding_in_its_parts(self, mere):
        said = json.loads(run("check", mere, "--json", code=1).stdout)
        assert said["counts"] == {"error": 1, "warning": 1, "note": 0}
        assert said["findings"][0] == {
            "grade": "error",
            "code": "depth-missing",
            "file": "readings.csv",
            "row": 40,
            "column": "depth_m",
            "tag": "",
            "value": "",
            "problem": "no depth",
            "remedy": "Fill it in or strike the row.",
        }

    def test_every_fault_of_an_unreadable_venue_is_told(self, mere, monkeypatch):
        faults = [
            Fault(SourceRow("pegs.csv", 3, "lon"), "not a longitude", "Write degrees.", "x"),
            Fault(SourceRow("venue.toml"), "the file is not TOML", "Mend it."),
        ]

        def refuse(_):
            raise FieldbookError(faults)

        monkeypatch.setattr(maps.cli.venues, "read_fieldbook", refuse)
        told = run("check", mere, code=2)
        assert told.stdout == ""
        assert told.stderr.splitlines() == [
            'pegs.csv, row 3, column "lon": not a longitude (found "x"). Write degrees.',
            "venue.toml: the file is not TOML. Mend it.",
            "",
            "Cannot be read: 2 faults.",
        ]
        said = json.loads(run("check", mere, "--json", code=2).stdout)
        assert [fault["file"] for fault in said["faults"]] == ["pegs.csv", "venue.toml"]

    def test_where_no_bed_can_be_made_the_rest_is_told_still(self, mere, monkeypatch):
        def no_bed(*_):
            raise BedError("there is no reading to make a bed of.")

        monkeypatch.setattr(survey.workup, "work_up", no_bed)
        out = run("check", mere, code=1).stdout
        assert "error    mere: there is no reading to make a bed of." in out
        assert "no depth" in out


@pytest.mark.usefixtures("made")
class TestBuild:
    def test_paths_at_the_end_and_sources_untouched(self, mere):
        (mere / "readings.csv").write_text("peg\n1\n")
        before = digests(mere)
        lines = run("build", mere).stdout.splitlines()
        assert "rows read" in lines[0]
        assert [Path(line).name for line in lines[1:]] == [
            "bed.npz", "depth.tif", "map.html", "settings.csv", "summary.json", "venue.gpkg",
        ]  # fmt: skip
        assert all(Path(line).is_file() for line in lines[1:])
        assert digests(mere) == before

    def test_out_level_and_cell_are_carried_across(self, mere, tmp_path):
        said = json.loads(run("build", mere, "--out", tmp_path / "a" / "b", "--level", "12 cm", "--json").stdout)
        assert said["level"] == {"shown_m": 0.12, "rise_m": 0.3}
        assert (tmp_path / "a" / "b" / "map.html").is_file()

    def test_what_it_refuses_it_leaves_alone(self, mere):
        assert "are one inside the other" in run("build", mere, "--out", mere, code=2).stderr
        (mere.parent / "mere-out").mkdir()
        (mere.parent / "mere-out" / "thesis.doc").write_text("mine")
        assert "left alone" in run("build", mere, code=2).stderr
        assert digests(mere.parent) == {"mere-out/thesis.doc": hashlib.sha256(b"mine").hexdigest()}

    def test_a_disk_that_refuses_is_told_in_words(self, mere, monkeypatch):
        def full(*_):
            raise OSError(28, "No space left on device", "mere-out")

        monkeypatch.setattr(maps.cli.commands.build, "write_all", full)
        assert "mere-out: No space left on device." in run("build", mere, code=2).stderr


def test_the_version_and_the_help():
    assert run("--version").stdout == f"lakeplumb {survey.__version__}\n"
    shown = run("--help").stdout
    assert all(command in shown for command in ("new", "check", "build", "depth"))
    assert "--peg" in run("depth", "--help").stdout


def test_an_unknown_option_is_a_plain_message():
    result = run("depth", "mere", "--pge", "1", code=2)
    assert "No such option: --pge" in result.stderr
    assert "╭" not in result.stderr


def lakeplumb(home, *words, **environment):
    """The program as a process of its own."""
    project = Path(maps.cli.main.__file__).parents[2]
    return subprocess.run(
        [sys.executable, "-m", "maps", *words],
        cwd=home,
        env=os.environ | {"PYTHONPATH": str(project)} | environment,
        capture_output=True,
        check=False,
    )


def test_a_console_of_another_alphabet_loses_signs_not_the_answer(tmp_path):
    told = lakeplumb(tmp_path, "check", "mère 湖", PYTHONIOENCODING="cp1252:strict")
    assert told.returncode == 2
    assert told.stderr.decode("cp1252").startswith("mère ?: there is no such folder")


class TestFreshVenue:
    """`new`, `check`, `build` and `depth` as processes, one after the other, on the example rows made one's own."""

    def test_from_nothing_to_a_setting(self, tmp_path):
        made = lakeplumb(tmp_path, "new", "mere", "--name", "Kettle Mere")
        assert made.returncode == 0, made.stderr
        make_own(tmp_path / "mere")
        before = digests(tmp_path / "mere")
        checked = lakeplumb(tmp_path, "check", "mere")
        assert checked.returncode == 0, checked.stderr
        assert b"18 rows read: 18 used, 0 set aside. 0 errors" in checked.stdout
        built = lakeplumb(tmp_path, "build", "mere", "--cell", "2")
        assert (built.returncode, built.stderr) == (0, b"")
        with rasterio.open(tmp_path / "mere-out" / "depth.tif") as tif:
            assert tif.res == (2.0, 2.0)
        words = (
            "depth",
            "mere",
            "--peg",
            "the steps",
            "--clock",
            "12",
            "--distance",
            "10",
            "--level",
            "0.50",
            "--json",
        )
        asked = lakeplumb(tmp_path, *words)
        assert asked.returncode == 0, asked.stderr
        answer = json.loads(asked.stdout)
        assert (answer["peg"], answer["float"], answer["rise_m"]) == ("2", "example waggler", 0.05)
        # The example rows were drawn from a bed 1.80 m deep there.
        assert answer["lower_m"] < 1.80 + 0.05 < answer["upper_m"]
        assert digests(tmp_path / "mere") == before

    def test_a_folder_that_is_no_venue(self, tmp_path):
        told = lakeplumb(tmp_path, "check", "nowhere")
        assert told.returncode == 2
        assert b"there is no such folder" in told.stderr
        assert b"Traceback" not in told.stderr


class TestDecisions:
    """A venue with an old decisions sheet: the change is shown, written when told to, and then stands."""

    OLD = "row,decision,by\n# on the bank\n3,keep,Maud\n"

    @pytest.fixture
    def lake(self, tmp_path):
        run("new", tmp_path / "lake")
        make_own(tmp_path / "lake")
        (tmp_path / "lake" / "decisions.csv").write_text(self.OLD, encoding="utf-8")
        return tmp_path / "lake"

    def test_the_change_is_shown_and_nothing_written(self, lake):
        before = digests(lake)
        told = run("decisions", lake).stdout
        assert "-3,keep,Maud" in told
        assert re.search(r'^\+3,keep,Maud,\w{4}-\w{4},"peg 1, clock 12, distance \(m\) 5, ', told, re.MULTILINE)
        assert "Nothing is written yet" in told
        assert digests(lake) == before

    def test_told_to_it_writes_and_keeps_the_sheet_before(self, lake):
        before = digests(lake)
        assert "The version before is decisions.csv.before." in run("decisions", lake, "--write").stdout
        after = digests(lake)
        assert after.pop("decisions.csv.before") == before.pop("decisions.csv")
        assert (lake / "decisions.csv").read_text("utf-8").splitlines()[1] == "# on the bank"
        assert after.pop("decisions.csv")
        assert after == before
        assert "Nothing to write." in run("decisions", lake, "--write").stdout

    def test_a_failure_leaves_the_sheet_as_it_was(self, lake, monkeypatch):
        def broken(_):
            raise OSError(28, "No space left on device", "decisions.csv")

        monkeypatch.setattr("maps.files.own_sheet.os.fsync", broken)
        before = digests(lake)
        run("decisions", lake, "--write", code=2)
        assert digests(lake) == before

    def test_a_sheet_changed_meanwhile_is_left_alone(self, lake):
        with pytest.raises(SurveyError, match="was changed meanwhile"):
            replaced_sheet(lake / "decisions.csv", b"other", b"new")
        assert (lake / "decisions.csv").read_text("utf-8") == self.OLD

    def test_without_a_sheet_it_says_so(self, lake):
        (lake / "decisions.csv").unlink()
        assert "There is no decisions sheet" in run("decisions", lake, code=2).stderr
