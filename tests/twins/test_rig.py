"""Rig, wind and level on the page: the survey's formulas to the last figure, and what the forms do with them."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest

from maps.content.breakdown import terms
from maps.page.map_page import page_html
from maps.replies.plumbs import plumbed
from maps.replies.question import TypedOptions, question_from
from survey.errors import SurveyError
from survey.geometry.fetch import effective_fetch
from survey.records.floats import Float
from survey.records.water_level import LevelMark
from survey.reduction.water_levels import level_fault
from survey.spots.answer import Answer, Today, answer
from survey.spots.cast import scatter_for
from survey.spots.float_setting import HookEnd, RigStyle, fixed_or_sliding
from survey.spots.level_by_plumbing import LevelPrior, Plumb, level_found
from survey.spots.next_settings import Sought
from survey.tackle.advice import Tackle, advised
from survey.tackle.balance import balances
from survey.tackle.feed import landing
from survey.tackle.shotting import Line, shotted
from survey.tackle.sinking import Sphere, drag_coefficient, fall_s, sinking_speed
from survey.tackle.wind import Wind, drift_per_minute, over_depth, pegs_by_shelter, side_of_wind, usual_over_depth
from survey.units import feet_inches, read_length
from survey.units.float_ratings import read_mark
from survey.units.shot_sizes import read_shot
from tests.made.browser import DESK, PHONE, ask
from tests.made.survey import EAST, NORTH
from tests.twins.test_answers import ASK_ALL, random_questions

TABLE = Path(__file__).resolve().parents[1] / "data" / "rig_vectors.json"
VECTORS = json.loads(TABLE.read_text(encoding="utf-8"))["vectors"]


def or_none(read, *values):
    """What a reader gives; None where it refuses, as the page does."""
    try:
        return read(*values)
    except SurveyError:
        return None


def shot_json(found):
    return {
        "way": found.way, "placed": [asdict(p) for p in found.placed], "balance_g": found.balance_g,
        "difference_g": found.difference_g, "first_ways": list(found.ways[:5]),
    }  # fmt: skip


def level_json(plumbs, prior):
    return asdict(level_found([Plumb(*p) for p in plumbs], LevelPrior(*prior)))


def ways_json(target, stock, most):
    found = balances(target, stock)
    return {"made_g": found.made_g, "ways": list(found.first(most))}


SLIDING = {"": "", "use": "sliding_use", "con": "sliding_consider"}
PYTHON = {
    "readMark": lambda text: None if (mark := or_none(read_mark, text)) is None else asdict(mark),
    "readShot": lambda text: or_none(read_shot, text),
    "readLength": lambda text, unit: None if (got := or_none(read_length, text, unit)) is None else got.metres,
    "waysTo": ways_json,
    "shotted": lambda balance, tin, rig, line, lock: shot_json(
        shotted(balance, read_shot(tin), RigStyle(rig), Line(*line), read_shot(lock) if lock else {})
    ),
    "dragCoefficient": drag_coefficient,
    "sinkingSpeed": lambda spheres: sinking_speed([Sphere(*s) for s in spheres]),
    "fallS": lambda shot, depth, bait: fall_s(shot, depth, Sphere(*bait)),
    "feedLanding": lambda depth, wind: asdict(landing(depth, wind)),
    "driftPerMinute": lambda wind: list(drift_per_minute(wind)),
    "overDepth": lambda wind: list(over_depth(wind)),
    "sideOfWind": side_of_wind,
    "levelFault": level_fault,
    "levelFound": level_json,
    "fixedOrSliding": lambda setting, rod, kind: SLIDING[fixed_or_sliding(setting, rod, kind)[:3]],
}
# How the page's functions take the same questions, and how their answers read as JSON.
PAGE_JS = """([name, args]) => {
  const call = window.lakeplumb.call;
  const stock = (s) => Object.fromEntries(Object.entries(s).map(([k, n]) => [k, n === null ? Infinity : n]));
  const sphere = ([diameter_m, density]) => ({ diameter_m, density });
  const rig = {
    "slow-sinking": { shallower_first: true, clearance_m: 0.15 }, "fast-sinking": { clearance_m: 0 },
    held: { clearance_m: -0.11 },
  };
  const plumb = ([e, n, found_m, datum_m, bed_sd_m, own_sd_m]) => ({ e, n, found_m, datum_m, bed_sd_m, own_sd_m });
  const own = {
    waysTo: (target, s, most) => {
      const made_g = call("nearestWeight", target, stock(s));
      return { made_g, ways: call("waysTo", made_g, stock(s), most) };
    },
    shotted: (balance, tin, name, [length_m, hook_length_m, on_bed_m], lock) => {
      const line = { length_m, hook_length_m, on_bed_m };
      const locking = lock ? call("readShot", lock) : {};
      const found = call("shotted", balance, call("readShot", tin), rig[name], line, locking);
      const { way, placed, balance_g, difference_g, ways } = found;
      return { way, placed, balance_g, difference_g, first_ways: ways.slice(0, 5) };
    },
    sinkingSpeed: (spheres) => call("sinkingSpeed", spheres.map(sphere)),
    fallS: (shot, depth, bait) => call("fallS", shot, depth, sphere(bait)),
    levelFound: (plumbs, prior) => call("levelFound", plumbs.map(plumb), prior),
  };
  const out = name in own ? own[name](...args) : call(name, ...args);
  return JSON.parse(JSON.stringify(out));
}"""


def alike(one, other):
    """Equal to nine figures, whatever the nesting; key order aside."""
    if isinstance(one, dict):
        return set(one) == set(other) and all(alike(one[k], other[k]) for k in one)
    if isinstance(one, list | tuple):
        return len(one) == len(other) and all(alike(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, float | int) and not isinstance(one, bool) and other is not None:
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)
    return one == other


def test_the_table_of_vectors_gets_one_answer_from_program_and_page(opened):
    page = opened()
    assert {v["call"] for v in VECTORS} == set(PYTHON)
    for vector in VECTORS:
        ours = PYTHON[vector["call"]](*vector["args"])
        told = page.evaluate(PAGE_JS, [vector["call"], vector["args"]])
        assert alike(told, ours), (vector, told, ours)
        if "out" in vector:
            assert alike(ours, vector["out"]), (vector, ours)


# --- at many spots ---

MARKS = ["3 No 4", "2BB", "1.2 g", "2 AAA + 2 BB loaded", None]
TINS = ["SSG, AAA, BB, No 1, No 4, No 6, No 8, No 10", "10 No 4, 6 BB, No 8", "3 AAA, 2 No 10, 9 No 6"]


def with_tackle(asked: list[dict], seed: int) -> list[dict]:
    rng = np.random.default_rng(seed)
    told = []
    for exact in asked:
        # As a person types: no more figures than the command reads, and most of it on the water.
        one = {key: round(value, 4) if isinstance(value, float) else value for key, value in exact.items()}
        one["distance_m"] = round(1 + exact["distance_m"] / 2, 4)
        wind = {"speed_ms": float(rng.uniform(0, 12)), "from_deg": float(rng.uniform(0, 360))}
        tackle = {
            "shot": TINS[rng.integers(len(TINS))], "locking": {"No 8": 1} if rng.random() < 0.3 else {},
            "hook_length_m": float(rng.choice([0.0, 0.15, 0.4])), "bait_m": float(rng.choice([0.0, 0.01, 0.03])),
            "rod_length_m": [None, 3.0, 3.96][rng.integers(3)],
            "sought": [None, *(s.value for s in Sought)][rng.integers(4)],
        }  # fmt: skip
        if tackle["shot"] == TINS[2]:
            tackle["locking"] = {}
        mark = MARKS[rng.integers(len(MARKS))]
        told.append({**one, "tackle": tackle, "wind": wind if rng.random() < 0.8 else None, "mark": mark})
    return told


def python_advice(worked, one: dict) -> tuple[Answer, dict]:
    venue, spread = worked.venue, worked.venue.standard_errors
    peg = venue.peg(one["peg"])
    by = {"clock": "clock", "angle_deg": "angle", "bearing_deg": "bearing"}[
        next(k for k in one if k in {"clock", "angle_deg", "bearing_deg"})
    ]
    typed = {by: one["clock"] if by == "clock" else repr(one[f"{by}_deg"])}
    question = question_from(venue, TypedOptions(peg.name, repr(one["distance_m"]), by=one["by"], **typed))
    wind = None if one["wind"] is None else Wind(**one["wind"])
    tackle = one["tackle"]
    own = Tackle(
        read_shot(tackle["shot"]), tackle["locking"], tackle["hook_length_m"], tackle["bait_m"], tackle["rod_length_m"],
        None if tackle["sought"] is None else Sought(tackle["sought"]),
    )  # fmt: skip
    held_by = one_float(worked, one["float"], one["mark"])
    end = HookEnd(own.bait_m, None if wind is None else usual_over_depth(wind.speed_ms))
    today = Today(venue.mark.rise_m(one["level"]), held_by, 0.0, end)
    scatter = scatter_for(question.spot.distance_m, question.by, question.direction_sd_deg, spread)
    found = answer(venue, worked.bed, question.spot, question.bearing_deg, scatter, today)
    return found, {s.rig.value: advised(venue, found, s, own, wind) for s in found.settings}


def one_float(worked, named, mark) -> Float:
    own = Float("own", named["length_m"], named["tip_m"]) if isinstance(named, dict) else None
    held_by = own or (Float("bare line", 0.0, 0.0) if named is None else worked.venue.float_named(named))
    return replace(held_by, mark=None if mark is None else read_mark(mark))


def test_at_random_spots_with_random_tackle_page_and_program_say_the_same_of_every_rig(worked, opened):
    asked = with_tackle(random_questions(worked, 420, seed=41), seed=42)
    told = opened().evaluate(ASK_ALL, asked)
    compared = 0
    for one, page in zip(asked, told, strict=True):
        found, advice = python_advice(worked, one)
        for setting, ours in zip(page["settings"], found.settings, strict=True):
            assert setting["setting_m"] == (None if ours.setting_m is None else pytest.approx(ours.setting_m, abs=1e-3))
            assert setting["off_bottom_m"] == pytest.approx(ours.off_bottom_m)
            assert_same_advice(setting["advice"], advice[ours.rig.value])
        compared += bool(found.settings)
    assert compared >= 200


def assert_same_advice(page, ours) -> None:
    if ours is None:
        assert page is None
        return
    assert page["tries"] == pytest.approx(list(ours.tries), abs=1e-3)
    assert page["sliding"] == SLIDING[ours.sliding[:3]]
    assert page["landing"]["most_s"] == pytest.approx(ours.landing.most_s, rel=1e-3)
    assert page["landing"]["most_m"] == pytest.approx(ours.landing.most_m, rel=1e-3)
    assert (page["shotting"] is None) == (ours.shotting is None)
    if ours.shotting is not None:
        assert page["shotting"]["way"] == ours.shotting.way
        assert page["shotting"]["difference_g"] == pytest.approx(ours.shotting.difference_g)
        places = [
            (p["size"], p["count"], pytest.approx(p["from_hook_m"], abs=1e-3)) for p in page["shotting"]["placed"]
        ]
        assert places == [(p.size, p.count, p.from_hook_m) for p in ours.shotting.placed]
        assert page["least_fall_s"] == pytest.approx(ours.least_fall_s, rel=1e-3)
    assert (page["blown"] is None) == (ours.blown is None)
    if ours.blown is not None:
        assert page["blown"]["fetch_m"] == pytest.approx(ours.blown.fetch_m, abs=1e-3)
        assert page["blown"]["side"] == ours.blown.side
        assert page["blown"]["drift_m_per_min"] == pytest.approx(list(ours.blown.drift_m_per_min))
        over = ours.blown.over_depth_m
        assert page["blown"]["over_depth_m"] == (None if over is None else pytest.approx(list(over)))


@pytest.mark.parametrize("from_deg", [0.0, 133.0, 225.0])
def test_pegs_are_ranked_as_the_program_ranks_them(worked, opened, from_deg):
    told = opened().evaluate("d => window.lakeplumb.shelter(d)", from_deg)
    ours = pegs_by_shelter(worked.venue, from_deg)
    assert [s["side"] for s in told] == [s.side for s in ours]
    assert [s["peg"] for s in told] == [s.peg.name for s in ours]
    assert [s["fetch_m"] for s in told] == pytest.approx([s.fetch_m for s in ours], abs=1e-2)


def test_fetch_off_the_water_is_none_and_behind_the_island_short(worked, opened):
    page = opened()
    spots = [(EAST - 18, NORTH - 12, 0.0), (EAST - 18, NORTH - 20, 0.0), (EAST, NORTH, 77.0)]
    for e, n, azimuth in spots:
        told = page.evaluate("s => window.lakeplumb.fetch(...s)", [e, n, azimuth])
        ours = effective_fetch(worked.venue.water, e, n, azimuth)
        assert told == (None if ours is None else pytest.approx(ours, abs=1e-3))
    assert effective_fetch(worked.venue.water, *spots[0]) is None


# --- one plumb sets the level ---


def test_a_plumb_on_the_page_is_the_command_s_plumb(worked, opened):
    page = opened()
    held_by = worked.venue.floats[0]
    asked = {"peg": "12", "clock": "12:30", "distance_m": 14}
    found_m = 2.9
    typed = f"12; 12:30; 14; {found_m - held_by.length_m + held_by.tip_m} m"
    for month in (2, 9):
        ours = plumbed(worked.fieldbook, worked.bed, [typed], held_by, month)
        told = page.evaluate("([a, d]) => window.lakeplumb.plumb(a, d)", [asked, found_m])
        (plumb,) = ours.plumbs
        for key in ("found_m", "datum_m", "bed_sd_m", "own_sd_m"):
            assert told[key] == pytest.approx(getattr(plumb, key), abs=1e-4), key
        prior = [ours.prior.rise_m, ours.prior.sd_m]
        level = page.evaluate("([p, prior]) => window.lakeplumb.call('levelFound', [p], prior)", [told, prior])
        assert level["rise_m"] == pytest.approx(ours.found.rise_m, abs=1e-4)
        assert level["sd_m"] == pytest.approx(ours.found.sd_m, abs=1e-4)


BOTH = pytest.mark.parametrize("kind", [PHONE, DESK], ids=["phone", "desk"])


@BOTH
def test_plumbing_moves_level_and_every_setting_and_removing_it_moves_them_back(opened, kind):
    page = opened(kind)
    before = ask(page, rig="fast-sinking")
    page.locator("#plumb-fold summary").click()
    page.locator("#plumb-set").fill("8 ft 6")
    page.locator("#plumb-form button").click()
    after = page.evaluate("window.lakeplumb.answer")
    assert after["rise_sd_m"] > 0.02
    moved = after["rise_m"] - before["rise_m"]
    assert abs(moved) > 0.02
    assert after["setting_m"] - before["setting_m"] == pytest.approx(moved, abs=1e-6)
    assert after["upper_m"] - after["lower_m"] > before["upper_m"] - before["lower_m"]
    assert page.locator("#level").input_value() == f"{after['shown_m']:.2f}"
    assert "± " in page.locator("#plumb-level").inner_text()
    page.locator("#plumb-list button").click()
    assert page.evaluate("window.lakeplumb.answer")["setting_m"] == pytest.approx(before["setting_m"])


def test_a_level_that_is_typed_takes_the_plumb_s_place(opened):
    page = opened()
    ask(page)
    page.locator("#plumb-fold summary").click()
    page.locator("#plumb-set").fill("2,5 m")
    page.locator("#plumb-form button").click()
    assert page.locator("#plumb-list li").count() == 1
    page.locator("#level").fill("0.42")
    assert page.locator("#plumb-list li").count() == 0
    assert page.evaluate("window.lakeplumb.answer.rise_sd_m") == 0


@pytest.mark.parametrize(
    ("set_to", "seen", "says"),
    [("", "stands", "Enter the length"), ("far", "stands", "Enter the length"), ("2 m", "sunk", "Lengthen"),
     ("2 m", "flat", "Shorten"), ("2 m", "tip", "how much of the float showed")],
)  # fmt: skip
def test_what_is_no_plumb_is_told_and_changes_no_level(opened, set_to, seen, says):
    page = opened()
    before = ask(page)
    page.locator("#plumb-fold summary").click()
    page.locator("#plumb-set").fill(set_to)
    page.locator("#plumb-seen").select_option(seen)
    page.locator("#plumb-form button").click()
    assert says in page.locator("#plumb-note").inner_text()
    assert page.evaluate("window.lakeplumb.answer.rise_m") == before["rise_m"]


# --- what is typed ---


def test_a_distance_in_feet_is_read_as_feet(opened):
    page = opened()
    page.locator("#ask-peg").select_option(label="12")
    page.locator("#ask-distance").fill("45 ft")
    page.locator("#ask .go").click()
    assert page.evaluate("window.lakeplumb.answer.distance_m") == pytest.approx(45 * 0.3048)


@pytest.mark.parametrize(
    ("field", "bad"), [("#ask-distance", "far"), ("#ask-distance", "-3"), ("#ask-distance", "15 pints")]
)
def test_after_a_bad_distance_the_old_answer_is_gone(opened, field, bad):
    page = opened()
    ask(page)
    page.locator(field).fill(bad)
    page.locator("#ask .go").click()
    assert page.evaluate("window.lakeplumb.answer") is None
    assert page.locator(".set").count() == 0
    assert page.locator("#rigging").is_hidden()
    assert page.locator("#profile").is_hidden()


@pytest.mark.parametrize(
    ("field", "bad", "good"),
    [("#takes", "4x14", "3 No 4"), ("#bait", "3 ft", "½"), ("#rod-length", "long", "13 ft"),
     ("#locking", "No 7", "2 No 8"),     ("#at-hand", "lead", "BB, No 8"), ("#hook-length", "-2", "6")],
)  # fmt: skip
def test_bad_tackle_withdraws_the_answer_until_it_is_put_right(opened, field, bad, good):
    page = opened()
    ask(page)
    page.locator("#tackle-fold summary").click()
    page.locator(field).fill(bad)
    assert page.evaluate("window.lakeplumb.answer") is None
    assert page.locator("#tackle-note").inner_text() == page.locator("#lead").inner_text() != ""
    page.locator(field).fill(good)
    assert page.evaluate("window.lakeplumb.answer.setting_m") > 0
    assert page.locator("#tackle-note").inner_text() == ""


@pytest.mark.parametrize(("level", "says"), [("-60", "over the mapped banks"), ("60", "leave the lake empty")])
def test_at_an_absurd_level_there_is_no_answer_and_never_negative_water(opened, level, says):
    page = opened()
    ask(page)
    page.locator("#level").fill(level)
    assert says in page.locator("#lead").inner_text()
    assert page.evaluate("window.lakeplumb.answer") is None
    assert "Water today -" not in page.inner_text("body")


def test_low_water_is_dry_or_unsurveyed_but_never_negative(worked, opened):
    page = opened()
    for one in random_questions(worked, 60, seed=9):
        page.evaluate(ASK_ALL, [{**one, "level": 3.4}])
        assert "Water today -" not in page.locator("#answer").inner_text()
        assert "guess -" not in page.locator("#answer").inner_text()


def test_the_sum_adds_up_as_it_is_printed(worked, opened):
    page = opened()
    for one in with_tackle(random_questions(worked, 40, seed=21), seed=5):
        page.evaluate(ASK_ALL, [one])
        found, _ = python_advice(worked, one)
        chosen = next((s for s in found.settings if s.rig.value == one["rig"] and s.setting_m is not None), None)
        if chosen is None:
            continue
        parts, total = terms(found, chosen, "feet")
        assert sum(term.value_m for term in parts) == pytest.approx(total, abs=1e-9)
        shown = page.locator(".sum b").all_inner_texts()
        assert shown == [feet_inches(abs(t.value_m), 0.25) for t in parts] + [feet_inches(total, 0.25)]


# --- what is shown ---


@BOTH
def test_shot_fall_feed_and_wind_are_told_with_what_to_mind(opened, kind):
    page = opened(kind)
    ask(page, rig="fast-sinking")
    assert "Enter the weight printed on your float" in page.locator("#rigging").inner_text()
    page.locator("#rigging button").first.click()
    page.locator("#takes").fill("3 No 4")
    page.locator("#wind-fold summary").click()
    page.locator("#wind-from").select_option(label="SW")
    page.locator("#wind-speed").fill("12")
    told = page.locator("#rigging").inner_text()
    for words in (
        "1 BB + 1 No 4", "together in the lower half", "seconds or more to sink", "vary by maker",
        "lead-free above No 8", "more at a time, less often", "downwind", "effective fetch", "m a minute at most",
        "may run the other way", "Most sheltered now",
    ):  # fmt: skip
        assert words in told
    assert page.locator(".line-drawing circle").count() == 2
    assert page.locator("#profile circle").count() >= 2
    page.locator(".sheltered button").first.click()
    assert page.locator("#peg").inner_text().startswith("Peg ")


def test_shot_is_drawn_to_scale_along_the_line(opened):
    page = opened()
    told = ask(page, rig="fast-sinking", mark="2.0 g")
    chosen = next(s for s in told["settings"] if s["rig"] == "fast-sinking")
    placed = chosen["advice"]["shotting"]["placed"]
    length = chosen["setting_m"]
    hook, top = 16 + 150, 16
    ys = sorted(
        {
            round(float(y), 1)
            for y in page.eval_on_selector_all(".line-drawing circle", "cs => cs.map(c => c.getAttribute('cy'))")
        }
    )
    lowest = max(ys)
    assert lowest == pytest.approx(top + (hook - top) * (1 - placed[-1]["from_hook_m"] / length), abs=0.2)


def test_a_bare_number_keeps_its_meaning_when_the_units_change(opened):
    page = opened()
    ask(page)
    page.locator("#tackle-fold summary").click()
    page.locator("#hook-length").fill("6")
    page.locator("#rod-length").fill("13")
    page.locator("#units label", has_text="Metres").click()
    assert page.locator("#hook-length").input_value() == "6 in"
    assert page.locator("#rod-length").input_value() == "13 ft"


def test_a_wind_half_said_is_no_wind_and_no_fault(opened):
    page = opened()
    ask(page)
    page.locator("#wind-fold summary").click()
    page.locator("#wind-from").select_option(label="W")
    assert page.evaluate("window.lakeplumb.answer.setting_m") > 0
    assert "Most sheltered" not in page.locator("#rigging").inner_text()
    page.locator("#wind-speed").fill("windy")
    assert page.evaluate("window.lakeplumb.answer") is None
    page.locator("#wind-speed").fill("15")
    page.locator("#rigs label", has_text="Held").click()
    assert "9 in of line" in page.locator("#rig-note").inner_text()
    assert "Most sheltered" in page.locator("#rigging").inner_text()


def test_without_a_level_mark_a_plumb_still_sets_the_level(worked, tmp_path, opened):
    venue = replace(worked.venue, mark=LevelMark())
    bare = replace(worked, fieldbook=replace(worked.fieldbook, venue=venue))
    path = tmp_path / "bare.html"
    path.write_text(page_html(bare), encoding="utf-8")
    page = opened(path=path)
    before = ask(page)
    page.locator("#plumb-fold summary").click()
    page.locator("#plumb-set").fill("9 ft")
    page.locator("#plumb-form button").click()
    assert page.evaluate("window.lakeplumb.answer.rise_m") != before["rise_m"]
    assert "chart's level" in page.locator("#level-note").inner_text()
    page.locator("#plumb-list button").click()
    assert "no level mark" in page.locator("#level-note").inner_text()


def test_the_float_s_mark_own_float_and_tackle_are_remembered(browser, page_file):
    context = browser.new_context(**DESK)
    first = context.new_page()
    first.goto(page_file.as_uri())
    first.evaluate("window.lakeplumb.ready")
    first.locator("#float").select_option(label="My own")
    first.locator("#own-to").select_option("tip")
    first.locator("#tackle-fold summary").click()
    first.locator("#takes").fill("2BB")
    first.locator("#fish").select_option("tench")
    second = context.new_page()
    second.goto(page_file.as_uri())
    second.evaluate("window.lakeplumb.ready")
    assert second.locator("#takes").input_value() == "2BB"
    assert second.locator("#fish").input_value() == "tench"
    assert second.locator("#own-to").input_value() == "tip"
    context.close()


def test_what_to_try_follows_the_fish(opened):
    page = opened()
    ask(page, rig="fast-sinking")
    page.locator("#tackle-fold summary").click()
    page.locator("#fish").select_option("bream")
    page.locator("#others-fold > summary").click()
    assert "more line on the bottom first" in page.locator("#more").inner_text()
    sides = page.locator(".tries small").all_inner_texts()
    assert [side.split()[-1] for side in sides[:3]] == ["deeper"] * 3
    page.locator("#fish").select_option("rudd")
    assert page.locator(".tries small").all_inner_texts()[0].endswith("shallower")


def test_a_line_of_spots_has_water_and_setting_at_each(opened):
    page = opened()
    ask(page)
    page.locator("#along-fold summary").click()
    rows = page.locator("#along tbody tr")
    assert rows.count() >= 2
    assert all(" ft" in text or " in" in text for text in rows.all_inner_texts())
