"""The page as people meet it: by touch, by keyboard, without a program, in print; with awkward names."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from maps.page.map_page import page_html
from tests.made.browser import DESK, PHONE, SHOWN_M, Outline, ask, tap_water
from tests.made.survey import NAMES, made_survey, without_extras

BOTH = pytest.mark.parametrize("kind", [PHONE, DESK], ids=["phone", "desk"])
# What the file is.


def test_the_same_survey_makes_the_same_page_to_the_byte(page_text):
    assert page_html(made_survey(), SHOWN_M) == page_text


def test_the_page_links_nothing_and_is_small(page_text):
    outline = Outline()
    outline.feed(page_text)
    assert [link for link in outline.links if not link.startswith(("#", "data:image/png;base64,"))] == []
    styles = "".join(re.findall(r"<style>(.*?)</style>", page_text, re.DOTALL))
    assert re.findall(r"url\((?!#)|@import", styles) == []
    assert len(page_text.encode()) < 1_500_000


def test_only_the_page_s_own_scripts_may_run(page_text, tmp_path, browser):
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page_text).group(1)
    assert "default-src 'none'" in policy
    assert "unsafe-inline" not in policy.split("script-src")[1]
    live = page_text.replace("</main>", "<script>window.wrong = 1</script></main>", 1)
    path = tmp_path / "live.html"
    path.write_text(live, encoding="utf-8")
    page = browser.new_page()
    page.goto(path.as_uri())
    page.evaluate("window.lakeplumb.ready")
    assert page.evaluate("window.wrong") is None
    page.close()


def test_the_data_are_strict_json(worked, page_text):
    data = json.loads(
        re.search(r'<script type="application/json" id="survey-data">(.*?)</script>', page_text, re.DOTALL).group(1),
        parse_constant=lambda word: pytest.fail(f"{word} in the page's data"),
    )
    assert [peg["name"] for peg in data["pegs"]] == [peg.name for peg in worked.venue.pegs]
    assert np.isnan(worked.soundings.table["hard_depth_m"]).all()


# Taps and layers.


@BOTH
def test_a_tap_gives_a_setting_with_its_range_place_sum_and_caution(opened, kind):
    page = opened(kind)
    tap_water(page)
    lead, rest = page.locator("#lead"), page.locator("#rest")
    assert re.search(r"Set\s+\d+\s*ft", lead.inner_text())
    assert re.search(r"Expect .+ to .+", lead.inner_text())
    assert re.search(r"Peg .+, \d+:\d\d, [\d.]+ m, bearing \d+°", lead.inner_text())
    assert re.search(r"at datum.*level.*float.*tip showing.*off the bottom.*=", rest.inner_text(), re.DOTALL)
    assert "Plumb before you fish." in rest.inner_text()
    assert page.locator("#lead").get_attribute("aria-live") == "polite"
    assert page.locator("#profile svg").is_visible()
    assert re.search(r"Depth stretched [\d.]+ times", page.locator("#profile-note").inner_text())


@BOTH
def test_layers_off_and_on_leave_taps_and_pegs_working(opened, kind):
    page = opened(kind)
    for _ in range(2):
        page.locator("#layers summary").click()
        boxes = page.locator("#layer-list input")
        assert boxes.count() == 5
        for k in range(5):
            boxes.nth(k).click()
        page.locator("#layers summary").click()
    tap_water(page)
    assert page.evaluate("window.lakeplumb.answer.surveyed")
    press(page, "12", kind)
    assert page.locator("#peg h2").inner_text() == "Peg 12"


def press(page, peg, kind):
    button = page.locator(f'.peg-mark button[data-peg="{peg}"]')
    if kind is PHONE:
        button.tap()
    else:
        button.click()


@BOTH
def test_a_peg_shows_its_fan_and_spots_and_lets_them_go_again(opened, kind):
    page = opened(kind)
    assert page.locator(".fan-mark").count() == 0
    press(page, "12", kind)
    assert page.locator(".fan-mark").count() > 4
    press(page, "12", kind)
    assert page.locator(".fan-mark").count() == 0
    press(page, "4", kind)
    rows = page.locator("#peg tbody tr")
    assert rows.count() == 3
    rows.nth(0).locator("button").click()
    assert page.evaluate("window.lakeplumb.answer.peg") == "4"
    assert page.locator("#peg tr.shown").count() == 1


def test_off_the_water_no_depth_is_made_up(opened):
    page = opened()
    tap_water(page, 0.02, 0.02)
    answer = page.evaluate("window.lakeplumb.answer")
    assert (answer["state"], answer["depth_m"], answer["settings"]) == ("off water", None, [])
    assert page.locator("#lead .state").inner_text() == "Not on the water"


def test_unsurveyed_dry_and_shallow_water_is_told_and_no_setting_given(opened, worked):
    page = opened()
    unsurveyed = next(p for p in worked.venue.pegs if p.name == "NA")
    assert ask(page, peg=unsurveyed.name, distance_m=10)["setting_m"] is None
    assert page.locator("#lead .state").inner_text() == "Plumb here"
    states = (ask(page, peg=peg.name, distance_m=0.5, level=1.4)["state"] for peg in worked.venue.pegs)
    assert "dry" in states  # and stays the last one asked
    assert page.locator("#lead .state").inner_text() == "Dry at this level"
    long_float = {"length_m": 1.5, "tip_m": 0.1}
    assert ask(page, peg="6", distance_m=15, level=0.42, float=long_float)["setting_m"] > 0
    assert ask(page, peg="6", distance_m=3, float=long_float)["setting_m"] is None
    assert "Too shallow for this float" in page.locator("#lead").inner_text()


def test_where_land_lies_between_it_is_said(opened):
    page = opened()
    told = ask(page, peg="4", clock="1:00", distance_m=25)
    assert told["state"] in {"", "unsurveyed"}
    assert "land lies between" in page.locator(".where").inner_text()


def test_a_tap_with_the_readings_shown_tells_the_reading(opened, worked):
    page = opened()
    page.locator("#layers summary").click()
    page.locator("#layer-readings").click()
    page.locator("#layers summary").click()
    crosses = page.evaluate("() => map_1.getPane('readings').querySelectorAll('path').length")
    assert crosses == len(worked.soundings)
    doubtful = worked.soundings.table[worked.residuals["doubtful"].to_numpy()].iloc[1]
    box = page.evaluate(
        "() => { const paths = [...map_1.getPane('readings').querySelectorAll('path')];"
        "const b = paths.filter(p => p.getAttribute('stroke') === '#9E3A14')[1].getBoundingClientRect();"
        "return [b.x + b.width / 2, b.y + b.height / 2] }"
    )
    page.mouse.click(*box)
    assert f"readings.csv, row {doubtful['row']}" in page.locator("#rest").inner_text()
    assert "About 9 in 10 such readings are wrong." in page.locator("#rest").inner_text()
    assert "deeper than its neighbours" in page.locator("#rest").inner_text()


# The forms.


def test_the_form_gives_the_answer_of_a_script_by_keyboard_alone(opened):
    page = opened()
    page.locator("#ask-peg").focus()
    page.keyboard.type("12")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.locator("#ask-clock").select_option(label="12:30")
    page.locator("#ask-distance").focus()
    page.keyboard.type("14")
    page.keyboard.press("Enter")
    typed = page.evaluate("window.lakeplumb.answer")
    assert typed == ask(page)


@pytest.mark.parametrize(
    ("by", "value", "asked"),
    [("angle", "-20", {"angle_deg": -20}), ("bearing", "200,5", {"bearing_deg": 200.5})],
)
def test_the_form_takes_angles_and_bearings_and_yards(opened, by, value, asked):
    page = opened()
    page.locator("#ask-peg").select_option(label="12")
    page.locator("#ask-by").select_option(by)
    page.locator("#ask-degrees").fill(value)
    page.locator("#ask-unit").select_option("yd")
    page.locator("#ask-distance").fill("12")
    page.locator("#ask-distance-by").select_option("tape")
    page.locator("#ask .go").click()
    told = page.evaluate("window.lakeplumb.answer")
    wanted = page.evaluate(
        "a => window.lakeplumb.ask(a)", {"peg": "12", **asked, "distance_m": 12 * 0.9144, "by": "tape"}
    )
    assert told["depth_m"] == pytest.approx(wanted["depth_m"])
    assert told["lower_m"] == pytest.approx(wanted["lower_m"])


def test_the_form_says_what_is_missing(opened):
    page = opened()
    page.locator("#ask .go").click()
    assert page.locator("#ask-note").inner_text() == "Choose a peg first."
    page.locator("#ask-peg").select_option(label="12")
    page.locator("#ask-distance").fill("far")
    page.locator("#ask .go").click()
    assert page.locator("#ask-note").inner_text() == "Enter a distance above 0 and up to 500 m, like 15, 15 m or 15 ft."


def test_a_level_that_cannot_be_read_gives_no_setting(opened):
    page = opened()
    ask(page)
    page.locator("#level").fill("abc")
    assert "Not a length." in page.locator("#lead").inner_text()
    assert page.evaluate("window.lakeplumb.answer") is None
    page.locator("#level").fill("0,47")
    assert page.evaluate("window.lakeplumb.answer.rise_m") == pytest.approx(-0.05)
    page.locator("#level").fill("")
    assert page.evaluate("window.lakeplumb.answer.rise_m") == 0


def test_a_dip_that_shows_less_means_more_water(opened):
    page = opened()
    low, high = (ask(page, level=level, rig="fast-sinking")["setting_m"] for level in (0.5, 0.3))
    assert high - low == pytest.approx(0.2)


def test_float_rig_and_units_change_the_answer_at_once_and_are_remembered(browser, page_file):
    context = browser.new_context(**DESK)
    page = context.new_page()
    page.goto(page_file.as_uri())
    page.evaluate("window.lakeplumb.ready")
    ask(page)
    before = page.evaluate("window.lakeplumb.answer.setting_m")
    page.locator("#float").select_option(label="My own")
    page.locator("#own-length").fill("20")
    page.locator("#rigs label", has_text="Fast-sinking").click()
    page.locator("#units label", has_text="Metres").click()
    assert page.evaluate("window.lakeplumb.answer.setting_m") != before
    assert page.locator(".set .first").inner_text().strip().endswith("m")
    page.reload()
    page.evaluate("window.lakeplumb.ready")
    assert page.locator("#float option:checked").inner_text() == "My own"
    assert page.locator("#own-length").input_value() == str(round(20 * 2.54, 2))
    assert page.locator("#rigs input:checked").get_attribute("value") == "fast-sinking"
    context.close()


def test_the_page_works_where_nothing_may_be_kept(opened):
    page = opened(before="Object.defineProperty(window, 'localStorage', {get() { throw new Error('no') }})")
    assert ask(page)["depth_m"] > 0


def test_an_older_browser_reads_the_raw_copy(opened):
    new, old = opened(), opened(before="delete window.DecompressionStream")
    assert ask(new)["depth_m"] == ask(old)["depth_m"]


# Names and words from the sources.


def test_awkward_names_are_shown_as_written_and_never_run(opened):
    page = opened()
    assert page.locator(".peg-mark .name").all_text_contents() == list(NAMES)
    assert page.locator("#ask-peg option").all_inner_texts()[1:] == list(NAMES)
    assert page.title() == 'Tansy Pool & "Sons"'
    for name in NAMES:
        assert ask(page, peg=name)["peg"] == name
        assert page.locator("#peg h2").inner_text() == f"Peg {name}"
    assert page.locator(".colophon i, .name b").count() == 0
    assert "<i>Tansy</i>" in page.locator(".colophon").inner_text()


def test_a_venue_with_next_to_nothing_still_makes_a_page(worked, tmp_path, opened):
    path = tmp_path / "bare.html"
    path.write_text(page_html(without_extras(worked)), encoding="utf-8")
    page = opened(PHONE, path)
    tap_water(page, 0.62, 0.75)
    told = page.evaluate("window.lakeplumb.answer")
    assert told["peg"] is None
    assert told["lower_m"] == pytest.approx(told["depth_m"] - 1.959964 * told["sd_m"], abs=1e-4)
    assert page.locator("#level").count() == 0
    assert "no level mark" in page.locator("#level-note").inner_text()
    page.locator(".about details.fold > summary").first.click()
    assert "Too few readings" in page.locator("#holdout").inner_text()


def test_the_page_says_datum_days_level_findings_and_how_honest_it_is(opened, worked):
    page = opened()
    hidden = worked.holdout.readings
    for fold in page.locator(".about details.fold > summary").all():
        fold.click()
    about = page.locator(".about").inner_text()
    for words in (
        "the dip at 0.42 m", "3 May 2026 to 14 June 2026",
        "0.37 m, 0.05 m above the map's level",
        f"Of {hidden} readings, {round(0.94 * hidden)} fell within the 95 % range",
        "Edge depth taken as 0 m", "Errors: 1. Warnings: 1. Notes: 0.",
    ):  # fmt: skip
        assert words in about
    safety = page.locator(".safety").inner_text()
    assert "bans lead shot of 0.06 g to 28.35 g (SI 1986/1992)" in safety
    assert "The north bank is soft after rain." in safety
    assert "Tansy Lane gate, by the old kiln" in safety


def test_margins_are_steep_measured_or_not_measured_but_never_safe(opened, worked):
    page = opened()
    said = {}
    for peg in worked.venue.pegs:
        ask(page, peg=peg.name)
        said[peg.name] = page.locator(".peg-facts").inner_text()
    assert "Steep margin: up to 4 ft" in said['The "Willow"']
    assert "Margin not measured." in said["12"]
    assert not any("safe" in words for words in said.values())
