"""The page as people meet it: by touch, by keyboard, without a program, in print; with awkward names."""

from __future__ import annotations

import json
import math
import re
from html.parser import HTMLParser

import numpy as np
import pytest
from conftest import DESK, PHONE, SHOWN_M
from made_survey import NAMES, made_survey, without_extras

from maps.webmap import page_html

BOTH = pytest.mark.parametrize("kind", [PHONE, DESK], ids=["phone", "desk"])
ASK = {"peg": "12", "clock": "12:30", "distance_m": 14}


def ask(page, **asked):
    return page.evaluate("asked => window.lakeplumb.ask(asked)", {**ASK, **asked})


def tap_water(page, share_x=0.62, share_y=0.62):
    """Tap or click on the water by shares of the lake's own box on the screen."""
    box = page.evaluate(
        "() => { const b = map_1.getPane('shore').querySelector('path').getBoundingClientRect();"
        "return [b.x, b.y, b.width, b.height] }"
    )
    x, y = box[0] + share_x * box[2], box[1] + share_y * box[3]
    if page.evaluate("navigator.maxTouchPoints"):
        page.touchscreen.tap(x, y)
    else:
        page.mouse.click(x, y)


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
    assert re.search(r"Depth is drawn [\d.]+ times as large", page.locator("#profile-note").inner_text())


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
    assert rows.count() > 4
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
    assert "deeper than what is around it" in page.locator("#rest").inner_text()


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
    page.locator(".go").click()
    told = page.evaluate("window.lakeplumb.answer")
    wanted = page.evaluate(
        "a => window.lakeplumb.ask(a)", {"peg": "12", **asked, "distance_m": 12 * 0.9144, "by": "tape"}
    )
    assert told["depth_m"] == pytest.approx(wanted["depth_m"])
    assert told["lower_m"] == pytest.approx(wanted["lower_m"])


def test_the_form_says_what_is_missing(opened):
    page = opened()
    page.locator(".go").click()
    assert page.locator("#ask-note").inner_text() == "Choose a peg first."
    page.locator("#ask-peg").select_option(label="12")
    page.locator("#ask-distance").fill("far")
    page.locator(".go").click()
    assert page.locator("#ask-note").inner_text() == "Give a distance over 0 and up to 500 m."


def test_a_level_that_cannot_be_read_gives_no_setting(opened):
    page = opened()
    ask(page)
    page.locator("#level").fill("abc")
    assert "Not a length in metres" in page.locator("#lead").inner_text()
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
    assert "Too few readings" in page.locator("#holdout").inner_text()


def test_the_page_says_datum_days_level_findings_and_how_honest_it_is(opened):
    page = opened()
    about = page.locator(".about").inner_text()
    for words in (
        "the level at which the dip shows 0.42 m", "2026-05-03 to 2026-06-14", "0.37 m: 0.05 m above the level of the map",
        "94 of 100 lay within", "Edge depth taken as 0 m", "Errors: 1. Warnings: 1. Notes: 0.",
    ):  # fmt: skip
        assert words in about
    safety = page.locator(".safety").inner_text()
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


# Looks.


@BOTH
def test_nothing_is_too_small_to_hit_or_to_read(opened, kind):
    page = opened(kind)
    ask(page)
    page.locator("#layers summary").click()
    small = page.evaluate("""() => [...document.querySelectorAll('button, select, input:not([type=radio]):not([type=checkbox]), summary, .choice span, .layer, .leaflet-bar a')]
        .filter(e => e.offsetParent && !e.closest('.found'))
        .map(e => [e.tagName + '.' + e.className, e.getBoundingClientRect().height]).filter(([, high]) => high < 43.9)""")
    assert small == []
    tiny = page.evaluate("""() => [...document.querySelectorAll('body *')].filter(e => e.offsetParent && e.childNodes.length
        && [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())).map(e => [e.className, parseFloat(getComputedStyle(e).fontSize)])
        .filter(([, size]) => size < 14)""")
    assert tiny == []


@BOTH
def test_no_page_scrolls_sideways_and_the_answer_has_its_place(opened, kind):
    page = opened(kind)
    ask(page)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    chart, answer = (page.locator(part).bounding_box() for part in (".chart", "#answer"))
    if kind is PHONE:
        assert answer["y"] >= chart["y"] + chart["height"]
        assert page.locator(".expect").bounding_box()["y"] < kind["viewport"]["height"]
    else:
        assert answer["x"] >= chart["x"] + chart["width"]


def test_words_stand_out_from_what_they_stand_on(opened):
    """Contrast of every text, W3C Web Content Accessibility Guidelines 2.2, 1.4.3: 4.5 to 1, large text 3 to 1."""
    page = opened()
    ask(page)
    page.locator("#key summary").click()
    poor = page.evaluate(CONTRAST_JS)
    assert poor == []


CONTRAST_JS = """() => {
  const parse = c => (c.match(/[\\d.]+/g) || []).map(Number);
  const lum = ([r, g, b]) => { const f = v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
    return 0.2126 * f(r) + 0.7152 * f(g) + 0.0722 * f(b); };
  const ground = e => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor);
    if (c.length === 3 || c[3] > 0.9) return c; } return [255, 255, 255]; };
  const poor = [];
  for (const e of document.querySelectorAll('body *')) {
    if (!e.offsetParent || ![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
    const s = getComputedStyle(e);
    if (s.visibility === 'hidden' || e.closest('.unseen')) continue;
    const [a, b] = [lum(parse(s.color)), lum(ground(e))].sort((x, y) => y - x);
    const size = parseFloat(s.fontSize);
    const large = size >= 24 || (size >= 18.66 && s.fontWeight >= 700);
    if ((a + 0.05) / (b + 0.05) < (large ? 3 : 4.5)) poor.push([e.className, e.textContent.slice(0, 20), s.color, ground(e).join()]);
  }
  return poor;
}"""


def test_without_a_program_there_is_a_drawing_and_a_table(opened, worked):
    page = opened(PHONE, java_script_enabled=False)
    drawing = page.locator(".still svg")
    assert drawing.is_visible()
    assert drawing.locator("image").count() == 1
    assert [words for words in drawing.locator("text").all_text_contents() if words in NAMES] == list(NAMES)
    rows = page.locator(".still tbody tr:not(.group)")
    assert rows.count() == len(worked.spots)
    assert "Plumb before you fish." in page.locator(".still").inner_text()
    assert not page.locator(".chart").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["viewport"]["width"]


def test_the_table_without_a_program_agrees_with_the_page(opened, worked):
    page, still = opened(), opened(java_script_enabled=False)
    spot = worked.spots[4]
    told = page.evaluate(
        "a => window.lakeplumb.ask(a)",
        {
            "peg": spot.peg,
            "angle_deg": spot.angle_deg,
            "distance_m": spot.distance_m,
            "level": SHOWN_M,
            "float": "Reed & Rush",
        },
    )
    row = still.locator(".still tbody tr:not(.group)").nth(4).inner_text()
    assert page.locator(".set .second").inner_text() in row
    assert f"{told['depth_m']:.2f} m" in row


def test_in_print_the_drawing_the_cast_and_the_answer_are_shown(opened):
    page = opened()
    ask(page)
    page.emulate_media(media="print")
    assert page.locator("#print-chart svg").is_visible()
    assert page.locator("#print-chart .cast").count() == 3
    assert not page.locator(".chart").is_visible()
    assert page.locator(".set").is_visible()
    least = page.evaluate("""() => Math.min(...[...document.querySelectorAll('.sheet *')].filter(e => e.offsetParent && [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
        .map(e => parseFloat(getComputedStyle(e).fontSize)))""")
    assert least * 0.75 >= 8, "nothing under 8 points in print"


def test_the_cast_in_print_ends_where_the_spot_is(opened, worked):
    page = opened()
    ask(page, peg="4", clock="12:00", distance_m=20)
    ends = page.evaluate("() => document.querySelector('#print-chart path.cast').getAttribute('d')")
    (x1, y1), (x2, y2) = (map(float, pair.split(",")) for pair in ends[1:].split("L"))
    assert math.hypot(x2 - x1, y2 - y1) == pytest.approx(20, rel=2e-3), "a unit of the drawing is a metre on the ground"
    assert math.degrees(math.atan2(x2 - x1, y1 - y2)) % 360 == pytest.approx(worked.venue.peg("4").facing_deg, abs=0.1)


class Outline(HTMLParser):
    """Links, fields and their labels, as a parser of markup finds them."""

    def __init__(self):
        super().__init__()
        self.labels, self.fields, self.links = set(), set(), []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.links += [given[name] for name in ("src", "href", "xlink:href", "action") if name in given]
        if tag == "label":
            self.labels.add(given.get("for"))
        if tag in {"input", "select"}:
            self.fields.add(given["id"])


def test_every_field_has_a_label_and_the_page_a_language(page_text):
    outline = Outline()
    outline.feed(page_text)
    assert outline.fields <= outline.labels
    assert '<html lang="en">' in page_text
    assert "user-scalable=no" not in page_text
