"""A part of pytest that writes down which test runs which lines, and what processor time it takes.

Named to pytest by ``scripts/mutation/run.py``. What a fixture runs counts for every test that asks for the
fixture, also where it was made for an earlier one. Tests that fail or need a browser are left out.
"""

from __future__ import annotations

import json
import os
import time
from collections import defaultdict
from collections.abc import Generator
from pathlib import Path

import coverage
import pytest

WRITTEN = "LAKEPLUMB_COVERED"
"""Names the file that is written."""
FIXTURE = "fixture "
OTHERWISE = "otherwise"

cover = coverage.Coverage(data_file=None, source=["survey"], messages=False)
cover.start()
seconds: dict[str, float] = defaultdict(float)
asked: dict[str, list[str]] = {}
sound: set[str] = set()
around: list[str] = [OTHERWISE]


def _enter(context: str) -> float:
    around.append(context)
    cover.switch_context(context)
    return time.process_time()


def _leave(since: float) -> None:
    seconds[around.pop()] += time.process_time() - since
    cover.switch_context(around[-1])


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave out what needs a browser."""
    items[:] = [item for item in items if "browser" not in getattr(item, "fixturenames", ())]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """Lines of a test, what is made for it alone included."""
    since = _enter(item.nodeid)
    made = getattr(item, "_fixtureinfo", None)
    asked[item.nodeid] = [_fixture(one) for ones in made.name2fixturedefs.values() for one in ones] if made else []
    try:
        return (yield)
    finally:
        _leave(since)


@pytest.hookimpl(wrapper=True)
def pytest_fixture_setup(fixturedef: pytest.FixtureDef) -> Generator[None, object, object]:
    """Lines of a fixture that several tests share."""
    since = _enter(around[-1] if fixturedef.scope == "function" else _fixture(fixturedef))
    try:
        return (yield)
    finally:
        _leave(since)


def _fixture(fixturedef: pytest.FixtureDef) -> str:
    return f"{FIXTURE}{fixturedef.baseid}::{fixturedef.argname}"


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Only tests that pass can tell of a change."""
    if report.when == "call" and report.passed:
        sound.add(report.nodeid)
    elif report.failed:
        sound.discard(report.nodeid)


def pytest_sessionfinish() -> None:
    """Write down lines and seconds of each test."""
    cover.stop()
    data, root = cover.get_data(), Path.cwd()
    ran: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for file in data.measured_files():
        path = Path(file).relative_to(root).as_posix()
        for line, contexts in data.contexts_by_lineno(file).items():
            for context in contexts:
                ran[context][path].append(line)
    tests = {}
    for test in sorted(sound):
        parts = [test, *(name for name in asked[test] if name in ran)]
        paths = {path for part in parts for path in ran[part]}
        lines = {path: sorted({line for part in parts for line in ran[part].get(path, ())}) for path in sorted(paths)}
        tests[test] = {"seconds": round(sum(seconds[part] for part in parts), 3), "lines": lines}
    Path(os.environ[WRITTEN]).write_text(json.dumps(tests), encoding="utf-8")
