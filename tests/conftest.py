"""What every test may use: where things are, and a watch that nothing writes into the demo's sources."""

import hashlib
import os
from pathlib import Path

import hypothesis
import pytest

from survey.fieldbook import read_fieldbook
from survey.workup import WorkedSurvey, work_up

ROOT = Path(__file__).resolve().parent.parent

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
