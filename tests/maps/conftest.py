"""The made survey, its page, and a real Chromium that writes down whatever the page does wrong."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from made_survey import made_survey
from playwright.sync_api import Browser, Page, sync_playwright

from maps.webmap import page_html
from survey.workup import WorkedSurvey

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
DESK = {"viewport": {"width": 1440, "height": 900}}
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
SHOWN_M = 0.37
"""What the made lake's dip shows on the page: five centimetres above the datum."""


@pytest.fixture(scope="session")
def worked() -> WorkedSurvey:
    return made_survey()


@pytest.fixture(scope="session")
def page_text(worked: WorkedSurvey) -> str:
    return page_html(worked, SHOWN_M)


@pytest.fixture(scope="session")
def page_file(page_text: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "map.html"
    path.write_text(page_text, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    assert chromium, "the page tests need Chromium on the path"
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=chromium, args=FLAGS)
        yield started
        started.close()


Opener = Callable[..., Page]


@pytest.fixture
def opened(browser: Browser, page_file: Path) -> Iterator[Opener]:
    """Opens a page file in a fresh profile; afterwards no request may have left and no error been written."""
    faults: list[str] = []
    contexts = []

    def opener(kind: dict | None = None, path: Path = page_file, *, before: str = "", **more: object) -> Page:
        context = browser.new_context(**(kind or DESK), **more)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda told: faults.append(f"console {told.type}: {told.text}"))
        page.on("pageerror", lambda error: faults.append(f"error: {error}"))
        page.on("request", lambda asked: None if asked.url.startswith(("file:", "data:")) else faults.append(asked.url))
        if before:
            page.add_init_script(before)
        page.goto(path.as_uri())
        if more.get("java_script_enabled", True):
            page.evaluate("window.lakeplumb.ready")
        return page

    yield opener
    for context in contexts:
        context.close()
    assert faults == []


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
