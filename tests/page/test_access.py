"""The pages examined by axe-core, a reference engine for W3C WCAG 2: on screens, in print, without a program."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from maps.site import publish
from tests.made.browser import DESK, PHONE, ask
from tests.made.survey import in_its_own_frame, made_survey

AXE = (files("axe_playwright_python") / "axe.min.js").read_text("utf-8")
RUN_JS = """async () => (await axe.run(document, {
    runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}))
  .violations.map(v => [v.impact, v.id, v.nodes.map(n => n.html.slice(0, 120)).slice(0, 4)])"""
GRAVE = {"serious", "critical"}
BOTH = pytest.mark.parametrize("kind", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    target = tmp_path_factory.mktemp("site") / "pool"
    publish(made_survey(cell_m=2.0), target)
    return target


def examined(page) -> list:
    page.evaluate(AXE)
    return [found for found in page.evaluate(RUN_JS) if found[0] in GRAVE]


@BOTH
def test_the_map_with_an_answer_and_everything_open(site, opened, kind):
    page = opened(kind, site / "map.html", bypass_csp=True)
    ask(page)
    for fold in page.locator("details.fold > summary").all():
        fold.click()
    page.locator("#key summary").click()
    assert examined(page) == []


@BOTH
def test_the_page_of_a_peg(site, opened, kind):
    page = opened(kind, site / "pegs" / "peg-12.html", bypass_csp=True)
    for fold in page.locator("details.fold > summary").all():
        fold.click()
    assert examined(page) == []


@pytest.fixture
def normalised(browser):
    """Opens a page on which no program of its own runs, in fresh profiles."""
    contexts = []

    def open_plain(kind, path):
        context = browser.new_context(**kind, bypass_csp=True)
        contexts.append(context)
        page = context.new_page()
        page.set_content(without_program(path.read_text("utf-8")))
        return page

    yield open_plain
    for context in contexts:
        context.close()


def without_program(text: str) -> str:
    """A page as a browser takes it that runs no scripts: they are gone, and what stands for them is there."""
    unscripted = re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)
    return re.sub(r"</?noscript>", "", unscripted)


@BOTH
@pytest.mark.parametrize("name", ["index.html", "map.html", "pegs/peg-12.html", "pegs/peg-8.html"])
def test_pages_where_no_program_runs(site, normalised, kind, name):
    page = normalised(kind, site / name)
    assert len(page.inner_text("body")) > 500
    assert examined(page) == []


@pytest.mark.parametrize("name", ["map.html", "pegs/peg-12.html"])
def test_pages_as_they_are_printed(site, opened, name):
    page = opened(DESK, site / name, bypass_csp=True)
    if name == "map.html":
        ask(page)
    page.emulate_media(media="print")
    assert examined(page) == []


def test_the_list_as_it_is_printed(site, normalised):
    page = normalised(DESK, site / "index.html")
    page.emulate_media(media="print")
    assert examined(page) == []


def test_the_list_of_a_copy_without_its_place(normalised, tmp_path):
    publish(in_its_own_frame(made_survey(cell_m=2.0)), tmp_path / "pool")
    assert examined(normalised(PHONE, tmp_path / "pool" / "index.html")) == []


def test_the_engine_sees_what_is_wrong(site, opened):
    page = opened(DESK, site / "pegs" / "peg-12.html", bypass_csp=True)
    page.evaluate("document.querySelector('label[for=float]').remove()")
    assert [found[1] for found in examined(page)] == ["select-name"]
