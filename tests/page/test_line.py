"""A line between two points of the water: the bed's own depths along it, by finger and by keyboard."""

from __future__ import annotations

import numpy as np
import pytest

from survey.geometry.geodesy import Geodesy
from tests.made.browser import DESK, PHONE, SHOWN_M, tap_water

BOTH = pytest.mark.parametrize("kind", [PHONE, DESK], ids=["phone", "desk"])


@BOTH
def test_two_taps_draw_a_line_and_its_section(opened, kind):
    page = opened(kind)
    page.locator("#line-fold > summary").click()
    page.locator("#line-draw").click()
    assert page.locator("#line-note").inner_text().startswith("Tap where the line starts")
    tap_water(page, 0.3, 0.7)
    assert page.locator("#line-note").inner_text().startswith("Tap where it ends")
    tap_water(page, 0.7, 0.6)
    page.locator("#line-drawing svg").wait_for()
    assert "± " in page.locator("#line-note").inner_text()
    assert page.locator("#line-draw").get_attribute("aria-pressed") == "false"
    assert page.evaluate("window.lakeplumb.answer") is None
    tap_water(page)
    assert page.evaluate("window.lakeplumb.answer") is not None
    page.locator("#line-clear").click()
    assert page.locator("#line-drawing svg").count() == 0


def test_the_section_is_the_bed_s_to_the_millimetre(opened, worked):
    page = opened()
    rng = np.random.default_rng(3)
    west, south, east, north = worked.venue.water.bounds
    rise = worked.venue.mark.rise_m(SHOWN_M)
    geometry = Geodesy(worked.venue.crs)
    met = 0
    for _ in range(6):
        ends = np.column_stack([rng.uniform(west, east, 2), rng.uniform(south, north, 2)])
        told = page.evaluate("([a, b]) => window.lakeplumb.section(a, b)", ends.tolist())
        share = np.linspace(0, 1, len(told))
        e, n = (ends[0, k] + share * (ends[1, k] - ends[0, k]) for k in (0, 1))
        depth, sd, _ = worked.bed.at(e, n)
        for said, d, s in zip(told, depth, sd, strict=True):
            assert (said["today_m"] is None) == np.isnan(d)
            if said["today_m"] is not None:
                met += 1
                assert said["today_m"] == pytest.approx(d + rise, abs=1e-9)
                assert said["sd_m"] == pytest.approx(s, abs=1e-9)
        lon, lat = geometry.lonlat(*ends[0])
        _, ground = geometry.bearing_distance(float(lon), float(lat), *ends[1])
        assert told[-1]["out_m"] == pytest.approx(ground, abs=0.02)
    assert met > 100


def test_the_keyboard_has_a_line_from_peg_to_peg(opened):
    page = opened()
    page.locator("#line-fold > summary").click()
    page.locator("#line-from").select_option(label="Peg 1")
    page.locator("#line-to").select_option(label="Peg 8")
    assert "long; deepest" in page.locator("#line-note").inner_text()
    before = page.locator("#line-note").inner_text()
    page.fill("#level", "0.10")
    assert page.locator("#line-note").inner_text() != before
