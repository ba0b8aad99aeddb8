"""The page of one peg in a real browser: the survey's figures, with and without a program, offline, on a slow phone."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from maps.content.peg_facts import bottom_near, peg_facts
from maps.content.spot_rows import spot_answers
from maps.drawing.colours import bands
from maps.drawing.cross_section import section
from maps.drawing.peg_fan import Fan, PublishedSurvey
from maps.drawing.peg_view import PegView
from maps.drawing.picture import sample_bed, unsurveyed
from maps.drawing.projection import fit_projection
from maps.page.peg_page import cut_round, peg_page
from survey.geometry.geodesy import Geodesy
from tests.made.browser import DESK, PHONE, SHOWN_M
from tests.made.survey import made_survey

BOTH = pytest.mark.parametrize("kind", [PHONE, DESK], ids=["phone", "desk"])
PEG = "12"


@pytest.fixture(scope="module")
def lake():
    worked = made_survey()
    frame = fit_projection(worked.venue.crs, worked.venue.water.bounds)
    hatched = unsurveyed(sample_bed(worked.bed, frame, worked.venue.limits), frame, worked.venue.water)
    return PublishedSurvey(worked, bands(worked.isobaths["depth_m"]), hatched)


@pytest.fixture(scope="module")
def folder(lake, tmp_path_factory):
    """The pages of all pegs of the made lake, numbered in their order."""
    home = tmp_path_factory.mktemp("pegs")
    frame = fit_projection(lake.worked.venue.crs, lake.worked.venue.water.bounds)
    for k, peg in enumerate(lake.worked.venue.pegs):
        text = peg_page(lake, frame, peg, SHOWN_M, (("../map.html", "Map"),))
        (home / f"{k}.html").write_text(text, encoding="utf-8")
    return home


def file_of(folder, lake, name):
    return folder / f"{[peg.name for peg in lake.worked.venue.pegs].index(name)}.html"


@BOTH
def test_every_peg_s_spots_get_the_survey_s_answers_at_any_level(lake, folder, opened, kind):
    for shown in (SHOWN_M, 0.61):
        wanted = spot_answers(lake.worked, shown)
        for name in (PEG, "O'Neary's Stage", "</script><b>x</b>"):
            page = opened(kind, file_of(folder, lake, name))
            page.fill("#level", f"{shown:.2f}")
            told = page.evaluate("window.lakeplumb.answers()")
            of_peg = [answer for answer in wanted if answer.spot.peg == name]
            assert len(told) == len(of_peg) > 0
            for answer, page_says in zip(of_peg, told, strict=True):
                for key in ("depth_m", "lower_m", "upper_m"):
                    assert page_says[key] == pytest.approx(getattr(answer, key), abs=1e-6)
                for setting, said in zip(answer.settings, page_says["settings"], strict=True):
                    assert (said is None) == (setting.setting_m is None)
                    assert said is None or said == pytest.approx(setting.setting_m, abs=1e-6)


def test_the_table_says_the_same_with_and_without_a_program(lake, folder, opened):
    path = file_of(folder, lake, PEG)
    still = opened(PHONE, path, java_script_enabled=False)
    live = opened(PHONE, path)
    cells = "rows => rows.map(r => [...r.cells].slice(1).map(c => c.innerText.replace(/\\s+/g, ' ').trim()))"
    # Locators read the page from outside, so they work where it runs no program of its own.
    without = [[c.inner_text() for c in r.locator("td").all()][1:] for r in still.locator("#spot-table tbody tr").all()]
    tidy = [[re.sub(r"\s+", " ", cell).strip() for cell in row] for row in without]
    assert tidy == live.eval_on_selector_all("#spot-table tbody tr", cells)
    assert tidy


@BOTH
def test_without_a_program_there_are_drawing_table_section_and_no_dead_form(lake, folder, opened, kind):
    page = opened(kind, file_of(folder, lake, PEG), java_script_enabled=False)
    for shown in (".fan svg", ".cast-drawing svg", "#spot-table", ".safety"):
        assert page.locator(shown).first.is_visible()
    assert not page.locator("#today").is_visible()
    assert page.get_by_text("Plumb before you fish.").first.is_visible()
    assert page.get_by_text("Scripts are off").is_visible()


@BOTH
def test_level_float_and_units_are_remembered_with_the_map_and_fall_back_in_silence(lake, folder, browser, kind):
    context = browser.new_context(**kind)
    page = context.new_page()
    page.goto(file_of(folder, lake, PEG).as_uri())
    page.evaluate("window.lakeplumb.ready")
    page.fill("#level", "0.50")
    page.locator("#units label", has_text="Metres").click()
    page.goto(file_of(folder, lake, "4").as_uri())
    page.evaluate("window.lakeplumb.ready")
    assert page.input_value("#level") == "0.50"
    assert page.locator("#spot-table td b").first.inner_text().endswith(" m")
    context.close()


def test_the_page_works_where_nothing_may_be_kept_and_on_a_phone_six_times_as_slow(lake, folder, opened):
    broken = "Object.defineProperty(window, 'localStorage', {get() { throw new DOMException('no'); }})"
    page = opened(PHONE, file_of(folder, lake, PEG), before=broken)
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 6})
    page.context.set_offline(True)
    before = page.locator(".set .first").inner_text()
    page.fill("#level", "0.20")
    assert page.locator(".set .first").inner_text() != before


def test_what_the_page_knows_follows_the_level(lake, folder, opened):
    """Margin by the peg: what was measured at datum, and steep over a metre (the project's own limit)."""
    steep = next(peg for peg in lake.worked.venue.pegs if peg.margin_depth_m)
    page = opened(PHONE, file_of(folder, lake, steep.name))
    assert "Steep margin" in page.locator("#margin").inner_text()
    page.fill("#level", "0.90")
    assert "Steep" not in page.locator("#margin").inner_text()
    page.fill("#level", "nonsense")
    assert "Not a length" in page.locator("#lead").inner_text()


@pytest.mark.parametrize("scripts", [True, False], ids=["live", "still"])
def test_a_guessed_facing_is_warned_of_once(lake, tmp_path, opened, scripts):
    venue = lake.worked.venue
    pegs = tuple(replace(peg, facing_declared=False, facing_sd_deg=15.0) for peg in venue.pegs)
    guessed = replace(lake.worked, fieldbook=replace(lake.worked.fieldbook, venue=replace(venue, pegs=pegs)))
    frame = fit_projection(venue.crs, venue.water.bounds)
    peg = next(peg for peg in pegs if peg.name == PEG)
    path = tmp_path / "peg.html"
    path.write_text(peg_page(replace(lake, worked=guessed), frame, peg, SHOWN_M, ()), encoding="utf-8")
    said = opened(PHONE, path, java_script_enabled=scripts).locator("body").inner_text()
    assert said.count("usually within 15°, sometimes twice that") == 1
    assert "estimated from the bank" in said.split("What is known here")[1]


def test_a_spot_is_chosen_by_the_keyboard_and_read_out(lake, folder, opened):
    page = opened(DESK, file_of(folder, lake, PEG))
    button = page.locator("#spot-table button").first
    button.focus()
    page.keyboard.press("Enter")
    assert page.locator("#spot-table button").first.get_attribute("aria-pressed") == "true"
    assert page.evaluate("document.activeElement.id") == "answer"
    assert page.locator("#lead").get_attribute("aria-live") == "polite"


@BOTH
def test_nothing_is_too_small_and_nothing_runs_out_of_the_page(lake, folder, opened, kind):
    from tests.page.test_looks import CONTRAST_JS, LETTER_SIZES_JS, SMALL_TARGETS_JS  # noqa: PLC0415

    page = opened(kind, file_of(folder, lake, PEG))
    for fold in page.locator("details.fold > summary").all():
        fold.click()
    assert page.evaluate(SMALL_TARGETS_JS) == []
    assert min(page.evaluate(LETTER_SIZES_JS)) >= 14
    assert page.evaluate(CONTRAST_JS) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_the_cut_grid_answers_like_the_whole_within_its_square(lake):
    rng = np.random.default_rng(11)
    for peg in lake.worked.venue.pegs[:4]:
        cut = cut_round(lake.worked.bed, peg, 40.0)
        assert cut.depth_mm.size < lake.worked.bed.depth_mm.size
        e, n = peg.easting + rng.uniform(-38, 38, 200), peg.northing + rng.uniform(-38, 38, 200)
        for mine, whole in zip(cut.at(e, n), lake.worked.bed.at(e, n), strict=True):
            np.testing.assert_allclose(mine.astype(float), whole.astype(float), atol=1e-9)


def test_straight_out_is_up_in_the_fan_and_a_metre_is_a_metre(lake):
    """A cast by the ellipsoid (pyproj's Geod) lands where the drawing has it, to a decimetre."""
    geometry = Geodesy(lake.worked.venue.crs)
    for peg in lake.worked.venue.pegs[:5]:
        frame = PegView.of(peg, lake.worked.venue.crs)
        for angle, right, ahead in ((0, 0, 30), (90, 30, 0), (-30, -15, 25.98)):
            at = geometry.cast(peg.lon, peg.lat, peg.facing_deg + angle, 30.0)
            np.testing.assert_allclose(frame.local(np.array([at]))[0], [right, ahead], atol=0.1)
            back = frame.venue(np.array([right]), np.array([ahead]))
            np.testing.assert_allclose(np.column_stack(back)[0], at, atol=0.1)


def test_the_fan_ends_at_land_and_takes_no_markup_from_names(lake):
    peg = lake.worked.venue.peg("</script><b>x</b>")
    drawn = Fan(lake, peg, ()).drawn()
    assert "<b>" not in drawn
    seen = Fan(lake, peg, ())._in_sight
    assert set(seen) == set(range(-90, 91))
    assert 0 < max(seen.values()) <= lake.worked.venue.limits.reach_m + 1e-9


def test_the_section_reads_the_bed_along_the_cast(lake):
    worked, peg = lake.worked, lake.worked.venue.peg(PEG)
    along = section(worked.venue, worked.bed, peg, 15.0, 20.0, 0.1)
    geometry = Geodesy(worked.venue.crs)
    k = int(np.argmin(np.abs(along.out_m - 12.0)))
    e, n = geometry.cast(peg.lon, peg.lat, peg.facing_deg + 15.0, float(along.out_m[k]))
    depth, sd, _ = worked.bed.at(e, n)
    assert along.depth_m[k] == pytest.approx(depth[0] + 0.1, abs=2e-3)
    assert along.sd_m[k] == pytest.approx(sd[0], abs=2e-3)


def test_facts_count_the_readings_of_the_peg_and_those_near(lake):
    worked = lake.worked
    peg = worked.venue.peg("1")
    table = worked.soundings.table
    own = table[(table["peg"] == "1") & table["use"]]
    facts = peg_facts(worked, peg)
    assert (facts.own, facts.first_day) == (len(own), own["day"].min())
    assert facts.bottoms == (("silt", len(own)),)
    away = np.hypot(table.geometry.x - peg.easting, table.geometry.y - peg.northing)
    assert facts.near == int((table["use"] & (away <= 20.0)).sum())
    assert 0 < facts.area_m2 < np.pi * 20**2
    nobody = replace(worked, soundings=replace(worked.soundings, table=table.assign(use=False)))
    assert peg_facts(nobody, peg).area_per_reading_m2 is None
    assert bottom_near(nobody, worked.spots[0]) == ""


@pytest.mark.parametrize("width", [390, 360])
@pytest.mark.parametrize("program", [True, False], ids=["program", "none"])
def test_on_a_narrow_screen_no_figure_of_the_spots_is_broken_and_cells_stay_cells(
    lake, folder, browser, width, program
):
    """A length keeps to one line, nothing is cut off, and a screen reader still finds rows, cells and their heads."""
    context = browser.new_context(viewport={"width": width, "height": 844}, java_script_enabled=program)
    page = context.new_page()
    page.goto(file_of(folder, lake, PEG).as_uri())
    if program:
        page.wait_for_function("() => window.lakeplumb.ready.then(() => true)")
    table = page.locator("#spot-table")
    assert table.evaluate("e => e.scrollWidth <= e.clientWidth")
    rows = table.get_by_role("row").count() - 1
    assert rows >= 2
    assert table.get_by_role("cell").count() == 5 * rows
    assert table.get_by_role("columnheader").count() == 5
    lines = table.locator("b").evaluate_all("all => all.map(e => e.getClientRects().length)")
    assert set(lines) <= {1}
    assert bool(lines) is program
    context.close()
