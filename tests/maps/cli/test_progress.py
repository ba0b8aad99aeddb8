"""Progress: a line on a terminal that names the step, and nothing in a pipe."""

import io
import time

import pytest

from maps.cli import console


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def shown(monkeypatch):
    """What is written to stderr while steps are told."""
    monkeypatch.setattr(console, "QUIET_FOR_S", 0.0)
    monkeypatch.setenv("TERM", "xterm")

    def run(stderr: io.StringIO) -> str:
        monkeypatch.setattr("sys.stderr", stderr)
        with console.progress() as tell:
            tell("fitting the bed")
            # Drawn by a thread, some twelve times a second.
            time.sleep(0.3)
        return stderr.getvalue()

    return run


def test_a_terminal_is_told_the_step(shown):
    assert "Fitting the bed" in shown(Terminal())


def test_a_pipe_is_told_nothing(shown):
    assert shown(io.StringIO()) == ""
