"""The page's formulas in Chromium without a page: their files whole, with the data of the made survey."""

from __future__ import annotations

import json
from typing import Any

from playwright.sync_api import Browser, Page

from maps.drawing.projection import fit_frame
from maps.page.data import grid_data, shared_data
from maps.page.program import PARTS, joined
from survey.workup import WorkedSurvey
from tests.made.browser import SHOWN_M

FORMULAS = tuple(name for name in PARTS if name.startswith("formulas/"))


class Formulas:
    """What stands at the top of the formulas' files, to be asked by name."""

    def __init__(self, browser: Browser, worked: WorkedSurvey) -> None:
        frame = fit_frame(worked.venue.crs, worked.venue.water.bounds)
        data = shared_data(worked, SHOWN_M, frame) | {"grid": grid_data(worked.bed)}
        self.faults: list[str] = []
        self.data: dict[str, Any] = data
        self._page: Page = browser.new_page()
        self._page.on("pageerror", lambda error: self.faults.append(str(error)))
        self._page.add_script_tag(content=f'"use strict";\nconst DATA = {json.dumps(data)};\n{joined(FORMULAS)}')

    def ask(self, script: str, questions: object = None) -> Any:
        """What a script says of all questions, in one call."""
        return self._page.evaluate(script, questions)

    def each(self, call: str, questions: list[Any]) -> list[Any]:
        """For each question, spread over a function's parameters, its answer; ``call`` may be any expression."""
        return self.ask(
            f"questions => questions.map((one) => JSON.parse(JSON.stringify(({call})(...one) ?? null)))", questions
        )

    def close(self) -> None:
        """Close the page; nothing may have gone wrong on it."""
        self._page.close()
        assert self.faults == []
