"""The formulas that exist twice get thousands of made-up questions, and page and program give one answer to each.

Questions are drawn with a seed, among them such as lie on a step, a limit or half way between two figures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from maps.content.breakdown import FINE_M, SET_M, terms
from survey.errors import QueryError
from survey.geometry.fetch import effective_fetch
from survey.records.floats import Float
from survey.reduction.depths import float_sd_m
from survey.reduction.water_levels import level_fault
from survey.spots.answer import Answer
from survey.spots.float_setting import (
    DepthRange,
    FloatSetting,
    HookEnd,
    RigStyle,
    fixed_or_sliding,
    rounded,
    setting_for,
)
from survey.spots.level_by_plumbing import LevelPrior, Plumb, found_depth_m, level_found
from survey.spots.next_settings import Sought, what_to_try
from survey.tackle.balance import balances
from survey.tackle.feed import landing
from survey.tackle.shotting import Line, shotted
from survey.tackle.sinking import Sphere, drag_coefficient, fall_s, shot_sphere, sinking_speed
from survey.tackle.wind import drift_per_minute, over_depth, side_of_wind, usual_over_depth
from survey.units import FOOT_M, INCH_M, clock_text, feet_inches
from survey.units.lengths import format_metres
from survey.units.shot_sizes import SIZES_G

QUESTIONS = 2000
LAST_BIT_M = 1e-9
"""Sums of a few lengths in the same order: nothing but the last bit of a double may differ."""
LAST_BIT_G = 1e-9
"""Weights are rounded to a microgram by both: as above."""
POWERS = 1e-9
"""Speeds (m/s), times and coefficients are made with powers, which the two languages round on their own: relative."""
SOLVED_M = 1e-8
"""Equations of up to six plumbs are solved by elimination here and by LAPACK there; a level is shown in centimetres."""
SHORE_M = 1e-3
"""Where a line meets the shore is worked out by two programs; a fetch is said in whole metres."""
WHY_NOT = {
    "": "", "dry at this level": "not_dry", "too shallow for this float": "not_float",
    "not here: three feet of water or less": "not_here", "too shallow for this rig": "not_rig",
}  # fmt: skip
TERM_WORDS = {
    "at datum": "sum_bed", "level": "sum_level", "float": "sum_float", "tip": "sum_tip", "off the bottom": "sum_off",
    "line on the bottom": "sum_on", "bait below the hook": "sum_bait", "rounding": "sum_rounding",
}  # fmt: skip
RULES = "DATA.rules.rigs.find((rig) => rig.name === name)"


def lengths(rng: np.random.Generator, most_m: float, count: int) -> list[float]:
    """Lengths from nothing up: any, whole centimetres, whole and quarter inches, feet."""
    any_m = rng.uniform(0, most_m, count)
    steps = np.array([1e-9, 0.01, INCH_M, INCH_M / 4, FOOT_M, INCH_M / 2])[rng.integers(6, size=count)]
    return (np.round(any_m / steps) * steps).tolist()


def close(one: object, other: object, within: float) -> bool:
    """Alike within so much, numbers in any nesting; keys may stand in any order."""
    if isinstance(one, dict):
        return isinstance(other, dict) and set(one) == set(other) and all(close(one[k], other[k], within) for k in one)
    if isinstance(one, list | tuple):
        if not isinstance(other, list) or len(one) != len(other):
            return False
        return all(close(a, b, within) for a, b in zip(one, other, strict=True))
    if isinstance(one, int | float) and not isinstance(one, bool) and isinstance(other, int | float):
        return abs(one - other) <= within
    return one == other


def assert_same(asked: Sequence[object], ours: Sequence[object], told: Sequence[object], within: float) -> None:
    unlike = [found for found in zip(asked, ours, told, strict=True) if not close(found[1], found[2], within)]
    assert unlike == [], f"{len(unlike)} of {len(asked)}"


# --- settings ---


def floats(rng: np.random.Generator, count: int) -> list[Float]:
    made = []
    for length_m, share in zip(lengths(rng, 0.6, count), rng.uniform(0, 1, count), strict=True):
        held_to = "tip" if rng.random() < 0.3 else "hold"
        kind = ("fixed", "sliding", "pole")[rng.integers(3)]
        made.append(Float("own", length_m, min(round(float(share) * length_m, 3), length_m), held_to, kind))
    return made


def as_page(held_by: Float) -> dict[str, Any]:
    return {key: getattr(held_by, key) for key in ("length_m", "tip_m", "setting_to", "kind")}


def casts(rng: np.random.Generator, count: int) -> list[tuple[DepthRange, Float, RigStyle, HookEnd]]:
    """Depths, floats, rigs and ends of the line."""
    made = []
    for depth_m, held_by in zip(lengths(rng, 6.0, count), floats(rng, count), strict=True):
        lower, upper = depth_m - rng.uniform(0, 0.5), depth_m + rng.uniform(0, 0.5)
        over = None if rng.random() < 0.5 else float(rng.choice([3, 4.5, 9, 15])) * INCH_M
        end = HookEnd(float(rng.choice([0.0, 0.01, 0.03, rng.uniform(0, 0.1)])), over)
        made.append(
            (DepthRange(depth_m - 0.2, 0.1, max(lower, 0.0), upper), held_by, list(RigStyle)[rng.integers(3)], end)
        )
    return made


SETTING_JS = f"""(depth, held, name, end) => {{
  const {{ rig, ...set }} = settingFor(depth, held, {RULES}, end);
  return set;
}}"""


def setting_json(setting: FloatSetting) -> dict[str, Any]:
    return {
        "setting_m": setting.setting_m, "lower_m": setting.lower_m, "upper_m": setting.upper_m,
        "off_m": setting.off_bottom_m, "bait_m": setting.bait_m, "whyNot": WHY_NOT[setting.why_not],
    }  # fmt: skip


def page_cast(depth: DepthRange, held_by: Float, rig: RigStyle, end: HookEnd) -> list[Any]:
    today = {"today_m": depth.depth_m, "lower_m": depth.lower_m, "upper_m": depth.upper_m}
    return [today, as_page(held_by), rig.value, asdict(end)]


def test_settings(formulas):
    made = casts(np.random.default_rng(1), QUESTIONS)
    asked = [page_cast(*one) for one in made]
    ours = [setting_json(setting_for(*one)) for one in made]
    assert {one["whyNot"] for one in ours} == set(WHY_NOT.values())
    assert_same(asked, ours, formulas.each(SETTING_JS, asked), LAST_BIT_M)


def test_settings_rounded(formulas):
    rng = np.random.default_rng(2)
    steps = [*FINE_M.values(), *SET_M.values()]
    asked = [
        [setting_m, list(RigStyle)[rng.integers(3)].value, steps[rng.integers(len(steps))]]
        for setting_m in [
            *lengths(rng, 6.0, QUESTIONS),
            *(k * INCH_M / 4 for k in range(400)),
            *(k / 200 for k in range(400)),
        ]
    ]
    ours = [rounded(setting_m, RigStyle(name), step_m) for setting_m, name, step_m in asked]
    assert_same(
        asked, ours, formulas.each(f"(set_m, name, step_m) => rounded(set_m, {RULES}, step_m)", asked), LAST_BIT_M
    )


def test_what_to_try(formulas):
    rng = np.random.default_rng(3)
    made = [
        (*one, [None, *Sought][rng.integers(4)], [None, 2.5, 3.3][rng.integers(3)]) for one in casts(rng, QUESTIONS)
    ]
    ours = [list(what_to_try(setting_for(*one), one[0], one[1], sought, most)) for *one, sought, most in made]
    asked = [[*page_cast(*one), sought and sought.value, most] for *one, sought, most in made]
    call = f"""(depth, held, name, end, sought, most) =>
      whatToTry(settingFor(depth, held, {RULES}, end), depth.today_m, held, sought, most)"""
    assert sum(map(len, ours)) > QUESTIONS
    assert_same(asked, ours, formulas.each(call, asked), LAST_BIT_M)


def test_the_sum_of_a_setting(formulas):
    rng = np.random.default_rng(4)
    made = [one for one in casts(rng, 2 * QUESTIONS) if setting_for(*one).setting_m is not None]
    ours, asked = [], []
    for depth, held_by, rig, end in made:
        setting = setting_for(depth, held_by, rig, end)
        rise_m = float(rng.choice([0.0, 0.0004, -0.0005, round(rng.uniform(-0.5, 0.5), 3)]))
        shows = ("feet", "metres")[rng.integers(2)]
        answered = SimpleNamespace(held_by=held_by, datum_depth_m=depth.depth_m - rise_m, rise_m=rise_m)
        parts, total_m = terms(cast("Answer", answered), setting, shows)
        ours.append(
            {"terms": [[TERM_WORDS[t.words], round(t.value_m / FINE_M[shows])] for t in parts], "total_m": total_m}
        )
        asked.append([*page_cast(depth, held_by, rig, end), depth.depth_m - rise_m, rise_m, shows])
    call = f"""(depth, held, name, end, datum_depth_m, rise_m, shows) => {{
      const setting = settingFor(depth, held, {RULES}, end);
      const {{ fine_m, set_m }} = DATA.rules.shown;
      const answered = {{ heldBy: held, datum_depth_m, rise_m }};
      const {{ terms, total_m }} = sumTerms(answered, setting, fine_m[shows], set_m[shows]);
      return {{ terms: terms.map((term) => [term.words, term.steps]), total_m }};
    }}"""
    assert len(asked) >= QUESTIONS
    assert {words for one in ours for words, _ in one["terms"]} == set(TERM_WORDS.values())
    assert_same(asked, ours, formulas.each(call, asked), LAST_BIT_M)


def test_fixed_or_sliding(formulas):
    rng = np.random.default_rng(5)
    asked = [
        [setting_m, float(rng.choice([2.0, 3.0, 3.9624, 4.0])), ("fixed", "sliding", "pole")[rng.integers(3)]]
        for setting_m in lengths(rng, 5.0, QUESTIONS)
    ]  # fmt: skip
    keys = {"": "", "use": "sliding_use", "con": "sliding_consider"}
    ours = [keys[fixed_or_sliding(*one)[:3]] for one in asked]
    assert_same(asked, ours, formulas.each("fixedOrSliding", asked), 0.0)


# --- shot ---


def tins(rng: np.random.Generator, count: int) -> list[dict[str, int | None]]:
    """Shot at hand: one to eight sizes, in plenty or a few of each."""
    made = []
    for _ in range(count):
        sizes = set(rng.choice([*SIZES_G], rng.integers(1, 9), replace=False).tolist())
        counts = {size: None if rng.random() < 0.6 else int(rng.integers(1, 12)) for size in SIZES_G if size in sizes}
        made.append(counts)
    return made


def weights(rng: np.random.Generator, count: int) -> list[float]:
    """From a hundredth of a gram to a few grams, mostly as floats are marked."""
    any_g = np.exp(rng.uniform(math.log(0.01), math.log(2.5), count))
    return [
        round(float(g), int(places)) or 0.1 for g, places in zip(any_g, rng.choice([1, 2, 3, 6], count), strict=True)
    ]


STOCK_JS = "const stock = Object.fromEntries(Object.entries(tin).map(([size, n]) => [size, n ?? Infinity]));"


def test_ways_to_make_a_weight(formulas):
    rng = np.random.default_rng(6)
    asked = [[*one, 12] for one in zip(weights(rng, QUESTIONS), tins(rng, QUESTIONS), strict=True)]
    found = [(balances(target, tin), most) for target, tin, most in asked]
    ours = [{"made_g": made.made_g, "ways": [*made.first(most)]} for made, most in found]
    call = f"""(target, tin, most) => {{
      {STOCK_JS}
      const made_g = nearestWeight(target, stock);
      return {{ made_g, ways: waysTo(made_g, stock, most) }};
    }}"""
    assert_same(asked, ours, formulas.each(call, asked), LAST_BIT_G)


LOCK_FAULTS = {"none is left": "shot_lock_all", "All the shot": "shot_lock_all", "are to hold": "shot_lock_none"}


def shot_json(balance_g: float, tin: dict, rig: str, line: list[float], locking: dict) -> dict[str, Any]:
    try:
        found = shotted(balance_g, tin, RigStyle(rig), Line(*line), locking)
    except QueryError as error:
        return {"fault": next(key for words, key in LOCK_FAULTS.items() if words in str(error))}
    placed = [{key: getattr(p, key) for key in ("size", "count", "from_hook_m")} for p in found.placed]
    return {"way": found.way, "placed": placed, "balance_g": found.balance_g, "difference_g": found.difference_g}


def test_shot_on_the_line(formulas):
    rng = np.random.default_rng(7)
    asked = []
    for balance_g, tin in zip(weights(rng, QUESTIONS), tins(rng, QUESTIONS), strict=True):
        length_m = float(rng.uniform(0.16, 5.0))
        line = [length_m, float(min(rng.choice([0.0, 0.15, 0.4]), length_m)), float(rng.choice([0.0, 0.1143, 0.3]))]
        locking = {str(rng.choice([*tin])): int(rng.integers(1, 3))} if rng.random() < 0.3 else {}
        asked.append([balance_g, tin, list(RigStyle)[rng.integers(3)].value, line, locking])
    ours = [shot_json(*one) for one in asked]
    call = f"""(balance, tin, name, [length_m, hook_length_m, on_bed_m], locking) => {{
      {STOCK_JS}
      const found = shotted(balance, stock, {RULES}, {{ length_m, hook_length_m, on_bed_m }}, locking);
      const {{ fault, way, placed, balance_g, difference_g }} = found;
      return fault ? {{ fault }} : {{ way, placed, balance_g, difference_g }};
    }}"""
    assert {one["fault"] for one in ours if "fault" in one} == set(LOCK_FAULTS.values())
    assert_same(asked, ours, formulas.each(call, asked), LAST_BIT_M)


# --- sinking ---


def assert_same_share(asked: Sequence[object], ours: Sequence[float], told: Sequence[float]) -> None:
    """Alike within a share of each value, which may be a thousandth of a metre per second or an hour."""
    one, other = np.array(ours), np.array(told)
    assert len(asked) >= QUESTIONS
    assert np.abs(one - other).max(initial=0, where=np.abs(one) < POWERS) < POWERS
    assert (np.abs(one - other) <= POWERS * np.maximum(np.abs(one), POWERS)).all()


def test_drag(formulas):
    asked = [[value] for value in np.geomspace(1e-4, 3e5, QUESTIONS).tolist()]
    assert_same_share(asked, [drag_coefficient(*one) for one in asked], formulas.each("dragCoefficient", asked))


def spheres(rng: np.random.Generator) -> list[Sphere]:
    """A bait or feed, and shot with it: all that sinks here."""
    bait = Sphere(float(rng.uniform(0.001, 0.03)), float(rng.uniform(1010, 1400)))
    return [bait, *(shot_sphere(float(g)) for g in rng.choice([*SIZES_G.values(), 10.0], rng.integers(0, 6)))]


def test_sinking_speed(formulas):
    rng = np.random.default_rng(8)
    falling = [spheres(rng) for _ in range(QUESTIONS)]
    asked = [[[asdict(sphere) for sphere in one]] for one in falling]
    assert_same_share(asked, [sinking_speed(one) for one in falling], formulas.each("sinkingSpeed", asked))


def test_fall_of_a_rig_and_of_feed(formulas):
    rng = np.random.default_rng(9)
    asked = []
    for depth_m in lengths(rng, 8.0, QUESTIONS):
        shot = [
            [float(rng.uniform(0, depth_m + 0.2)), float(rng.choice([*SIZES_G.values()]))]
            for _ in range(rng.integers(0, 7))
        ]
        asked.append([shot, depth_m, spheres(rng)[0], float(rng.uniform(0, 15))])
    page = [[shot, depth_m, asdict(bait), wind_ms] for shot, depth_m, bait, wind_ms in asked]
    ours = [fall_s([(at, g) for at, g in shot], depth_m, bait) for shot, depth_m, bait, _ in asked]
    assert_same_share(page, ours, formulas.each("(shot, depth_m, bait) => fallS(shot, depth_m, bait)", page))
    fed = [list(asdict(landing(depth_m, wind_ms)).values()) for _, depth_m, _, wind_ms in asked]
    call = "(_, depth_m, bait, wind_ms) => Object.values(feedLanding(depth_m, wind_ms))"
    assert_same_share(page, np.ravel(fed).tolist(), np.ravel(formulas.each(call, page)).tolist())


# --- wind ---


def test_wind(formulas):
    rng = np.random.default_rng(10)
    speeds = [*rng.uniform(0, 40, QUESTIONS).tolist(), *(k / 2 for k in range(81))]
    asked = [[speed] for speed in speeds]
    ours = [[*drift_per_minute(speed), *over_depth(speed), usual_over_depth(speed)] for speed in speeds]
    call = "(ms) => [...driftPerMinute(ms), ...overDepth(ms), usualOverDepth(ms)]"
    assert_same(asked, ours, formulas.each(call, asked), LAST_BIT_M)


def test_the_side_the_wind_comes_from(formulas):
    rng = np.random.default_rng(11)
    whole = [[float(a), float(b)] for a, b in rng.integers(0, 720, (QUESTIONS, 2)) / 2]
    asked = [*whole, *rng.uniform(-360, 720, (QUESTIONS, 2)).tolist()]
    assert_same(asked, [side_of_wind(*one) for one in asked], formulas.each("sideOfWind", asked), 0.0)


def test_fetch(worked, formulas):
    water, rng = worked.venue.water, np.random.default_rng(12)
    west, south, east, north = water.bounds
    spots = rng.uniform([west, south, 0.0], [east, north, 360.0], (QUESTIONS, 3)).tolist()
    ours = [effective_fetch(water, *spot) for spot in spots]
    call = (
        "async (spots) => { const bed = await Bed.load(); return spots.map((spot) => effectiveFetch(bed, ...spot)); }"
    )
    assert sum(fetch is not None for fetch in ours) > QUESTIONS / 4
    assert_same(spots, ours, formulas.ask(call, spots), SHORE_M)


# --- the level by plumbing ---


def test_the_level_by_plumbing(formulas):
    rng = np.random.default_rng(13)
    made = []
    for _ in range(QUESTIONS):
        level, count = rng.normal(0, 0.3), rng.integers(1, 7)
        plumbs = [
            Plumb(
                float(rng.uniform(0, 120)), float(rng.uniform(0, 120)),
                (datum := float(rng.uniform(0.5, 5))) + float(level + rng.normal(0, 0.1) + (rng.random() < 0.15) * 1.5),
                datum, float(rng.uniform(0.01, 0.5)), float(rng.uniform(0.01, 0.2)),
            )
            for _ in range(count)
        ]  # fmt: skip
        made.append((plumbs, LevelPrior(float(rng.normal(0, 0.1)), float(rng.uniform(0.02, 0.6)))))
    asked = [[[[*asdict(plumb).values()] for plumb in plumbs], [*asdict(prior).values()]] for plumbs, prior in made]
    ours = [asdict(level_found(*one)) for one in made]
    call = """(plumbs, prior) => levelFound(plumbs.map(([e, n, found_m, datum_m, bed_sd_m, own_sd_m]) =>
      ({ e, n, found_m, datum_m, bed_sd_m, own_sd_m })), prior)"""
    assert {(one["wrong"] is not None, one["disagree"]) for one in ours} >= {
        (True, False),
        (False, True),
        (False, False),
    }
    assert_same(asked, ours, formulas.each(call, asked), SOLVED_M)


def test_depths_found_and_levels_that_cannot_be(formulas):
    rng = np.random.default_rng(14)
    found = []
    for set_m, held_by in zip(lengths(rng, 5.0, QUESTIONS), floats(rng, QUESTIONS), strict=True):
        tip_m = float(rng.uniform(0, 1)) * held_by.length_m
        if set_m + 0.0 > 0 and set_m - tip_m > 0:
            found.append([set_m, held_by, tip_m])
    ours = [found_depth_m(*one) for one in found]
    told = formulas.each("foundDepthM", [[set_m, as_page(held_by), tip_m] for set_m, held_by, tip_m in found])
    assert_same(found, ours, told, LAST_BIT_M)
    levels = [[float(rise), 4.0] for rise in [*np.arange(-6, 6, 0.01), -4.0, 3.0]]
    assert_same(levels, [level_fault(*one) for one in levels], formulas.each("levelFault", levels), 0.0)
    assert len(found) + len(levels) >= QUESTIONS


def test_the_scatter_of_plumbing(worked, formulas):
    asked = [[out_m] for out_m in lengths(np.random.default_rng(16), 60.0, QUESTIONS)]
    ours = [float_sd_m(out_m, worked.venue.standard_errors) for (out_m,) in asked]
    assert_same(asked, ours, formulas.each("floatSdM", asked), LAST_BIT_M)


# --- shown ---


def test_lengths_and_clocks_as_they_are_shown(formulas):
    rng = np.random.default_rng(15)
    made = [
        *lengths(rng, 8.0, QUESTIONS),
        *(k / 8 for k in range(80)),
        *(k * INCH_M / 8 for k in range(800)),
        1e-9,
        0.0004999,
    ]
    asked = [[sign * length_m] for length_m in made for sign in (1, -1)]
    steps, places = (0.25, 0.5, 1.0), (0, 1, 2, 3)
    ours = [[*(feet_inches(m, step) for step in steps), *(format_metres(m, p) for p in places)] for (m,) in asked]
    call = f"(m) => [...{[*steps]}.map((step) => feetInches(m, step)), ...{[*places]}.map((p) => formatMetres(m, p))]"
    assert_same(asked, ours, formulas.each(call, asked), 0.0)
    angles = [[float(angle)] for angle in [*rng.uniform(-400, 400, QUESTIONS), *np.arange(-400, 400, 1.25)]]
    assert_same(angles, [clock_text(*one) for one in angles], formulas.each("clockText", angles), 0.0)
