"""How the page looks: sizes, contrast, the order of things; without a program, and in print."""

from __future__ import annotations

import math

import pytest

from tests.made.browser import DESK, PHONE, SHOWN_M, Outline, ask
from tests.made.survey import NAMES

BOTH = pytest.mark.parametrize("kind", [PHONE, DESK], ids=["phone", "desk"])
SMALL_TARGETS_JS = """() => [...document.querySelectorAll(
    'button, select, input:not([type=radio]):not([type=checkbox]), summary, .choice span, .layer, .leaflet-bar a')]
  .filter(e => e.offsetParent).map(e => [e.outerHTML.slice(0, 60), e.getBoundingClientRect().height])
  .filter(([, high]) => high < 43.9)"""
LETTER_SIZES_JS = """() => [...document.querySelectorAll('body *')]
  .filter(e => e.offsetParent && [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
  .map(e => parseFloat(getComputedStyle(e).fontSize))"""


def ask_for_all(page):
    """An answer with everything about it shown: shot, wind, plumbs, and every fold open."""
    ask(page)
    for fold in page.locator("details.fold > summary").all():
        fold.click()
    page.locator("#takes").fill("2 AAA + 2 BB loaded")
    page.locator("#wind-from").select_option(label="SW")
    page.locator("#wind-speed").fill("12")
    page.locator("#plumb-set").fill("8 ft 6")
    page.locator("#plumb-form button").click()


@BOTH
def test_nothing_is_too_small_to_hit_or_to_read(opened, kind):
    page = opened(kind)
    ask_for_all(page)
    page.locator("#layers summary").click()
    assert page.evaluate(SMALL_TARGETS_JS) == []
    sizes = page.evaluate(LETTER_SIZES_JS)
    assert min(sizes) >= 14


@BOTH
def test_no_page_scrolls_sideways_and_the_answer_has_its_place(opened, kind):
    page = opened(kind)
    ask_for_all(page)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert page.evaluate("(d => d.scrollWidth <= d.clientWidth)(document.querySelector('.desk'))")
    page.locator("#answer").scroll_into_view_if_needed()
    page.evaluate("document.querySelector('.desk').scrollTop = 0")
    chart, answer = (page.locator(part).bounding_box() for part in (".chart", "#answer"))
    if kind is PHONE:
        assert answer["y"] >= chart["y"] + chart["height"]
        assert page.locator(".expect").bounding_box()["y"] < kind["viewport"]["height"]
    else:
        assert answer["x"] >= chart["x"] + chart["width"]


def test_words_stand_out_from_what_they_stand_on(opened):
    """Contrast of every text, W3C Web Content Accessibility Guidelines 2.2, 1.4.3: 4.5 to 1, large text 3 to 1."""
    page = opened()
    ask_for_all(page)
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
    if ((a + 0.05) / (b + 0.05) < (large ? 3 : 4.5)) poor.push([e.textContent.slice(0, 20), s.color, ground(e).join()]);
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
    points = [0.75 * size for size in page.evaluate(LETTER_SIZES_JS)]
    assert min(points) >= 8


def test_the_cast_in_print_ends_where_the_spot_is(opened, worked):
    page = opened()
    ask(page, peg="4", clock="12:00", distance_m=20)
    ends = page.evaluate("() => document.querySelector('#print-chart path.cast').getAttribute('d')")
    (x1, y1), (x2, y2) = (map(float, pair.split(",")) for pair in ends[1:].split("L"))
    assert math.hypot(x2 - x1, y2 - y1) == pytest.approx(20, rel=2e-3), "a unit of the drawing is a metre on the ground"
    assert math.degrees(math.atan2(x2 - x1, y1 - y2)) % 360 == pytest.approx(worked.venue.peg("4").facing_deg, abs=0.1)


def test_every_field_has_a_label_and_the_page_a_language(page_text):
    outline = Outline()
    outline.feed(page_text)
    assert outline.fields <= outline.labels
    assert '<html lang="en">' in page_text
    assert "user-scalable=no" not in page_text
