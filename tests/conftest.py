"""What every test may use: where things are, surveys, a real Chromium that notes whatever a page does wrong.

A watch sees to it that nothing writes into the demo's sources.
"""

import hashlib
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import hypothesis
import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from maps.page.map_page import page_html
from survey.fieldbook import read_fieldbook
from survey.workup import WorkedSurvey, work_up
from tests.made.browser import CHROMIUM_FLAGS, DESK, SHOWN_M
from tests.made.survey import made_survey

ROOT = Path(__file__).resolve().parents[1]

# A busy machine is slow, not wrong; and what CI says should depend on the change alone.
hypothesis.settings.register_profile("lakeplumb", deadline=None, derandomize="CI" in os.environ)
hypothesis.settings.load_profile("lakeplumb")


def _digest(folder: Path) -> dict[str, str]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.fixture(scope="session")
def project() -> Path:
    return ROOT


@pytest.fixture(scope="session")
def demo_venue() -> Path:
    return ROOT / "data" / "sallowby-pit"


@pytest.fixture(scope="session")
def demo_worked(demo_venue: Path) -> WorkedSurvey:
    """The demo venue worked up, once for all tests of a process."""
    return work_up(read_fieldbook(demo_venue))


@pytest.fixture(scope="session", autouse=True)
def _sources_stay_as_they_are():
    before = _digest(ROOT / "data")
    yield
    assert _digest(ROOT / "data") == before, "a test wrote into data/"


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
        started = play.chromium.launch(executable_path=chromium, args=CHROMIUM_FLAGS)
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
