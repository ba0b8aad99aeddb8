"""The pages examined by axe-core, a reference engine for the rules of W3C WCAG 2.

Skipped, and said, where it is not installed: npm install --no-save axe-core
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from conftest import DESK, PHONE, ask
from made_survey import made_survey

from maps.site import publish

ROOT = Path(__file__).resolve().parents[2]
AXE = Path(os.environ.get("AXE_CORE", ROOT / "node_modules" / "axe-core")) / "axe.min.js"
pytestmark = pytest.mark.skipif(
    not AXE.exists(), reason="accessibility was not examined: npm install --no-save axe-core"
)
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
    page.evaluate(AXE.read_text("utf-8"))
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


@BOTH
def test_the_list_of_everything(site, browser, kind):
    context = browser.new_context(**kind, bypass_csp=True)
    page = context.new_page()
    page.goto((site / "index.html").as_uri())
    assert examined(page) == []
    context.close()


def test_the_engine_sees_what_is_wrong(site, opened):
    page = opened(DESK, site / "pegs" / "peg-12.html", bypass_csp=True)
    page.evaluate("document.querySelector('label[for=float]').remove()")
    assert [found[1] for found in examined(page)] == ["select-name"]
