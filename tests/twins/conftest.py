"""What the tests of twins share: the page's formulas, loaded once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from survey.workup import WorkedSurvey
from tests.twins.formulas import Formulas


@pytest.fixture(scope="session")
def formulas(browser: Browser, worked: WorkedSurvey) -> Iterator[Formulas]:
    loaded = Formulas(browser, worked)
    yield loaded
    loaded.close()
