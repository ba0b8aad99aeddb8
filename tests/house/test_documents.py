"""What the documents say holds: their commands run, their files exist, every command is told of."""

import re
import shlex
from pathlib import Path

import pytest
from typer.main import get_command
from typer.testing import CliRunner

import survey
from maps.cli.main import app

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
COMMANDS = [
    shlex.split(line.split("#")[0])[1:]
    for block in re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    for line in block.splitlines()
    if line.startswith(".venv/bin/lakeplumb")
]


def test_readme_s_own_lake_works_from_new_to_a_setting(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    names = [command[0] for command in COMMANDS]
    assert names == ["new", "check", "build", "depth", "publish", "depth", "level", "wind", "shot", "words"]
    for command in COMMANDS:
        told = CliRunner().invoke(app, command)
        assert told.exit_code == 0, told.output
        assert "Plumb before you fish." in told.output or command[0] != "depth"
    assert (tmp_path / "ourlake-out" / "map.html").exists()


def test_every_command_and_every_file_it_writes_is_in_the_readme(tmp_path, monkeypatch):
    for name in get_command(app).commands:
        assert f"lakeplumb {name}" in README
    monkeypatch.chdir(tmp_path)
    for command in COMMANDS[:3]:
        CliRunner().invoke(app, command)
    CliRunner().invoke(app, next(command for command in COMMANDS if command[0] == "publish"))
    for folder in ("ourlake-out", "ourlake-site", "ourlake-site/files"):
        for file in (tmp_path / folder).iterdir():
            assert f"`{file.name}`" in README


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_files_named_in_the_documents_exist(text):
    named = set(re.findall(r"\b((?:survey|maps|tests|scripts|data)/[\w./-]*\w)", text))
    missing = {name for name in named if not (ROOT / name).exists() and not list(ROOT.glob(name))}
    assert named
    assert not missing


def test_modules_named_to_developers_exist():
    for name in set(re.findall(r"`(survey\.\w+|maps\.\w+)", DEVELOPERS)):
        parts = name.split(".")
        assert (ROOT / parts[0] / f"{parts[1]}.py").exists() or (ROOT / parts[0] / parts[1]).is_dir(), name


def test_the_change_log_knows_this_version():
    assert f"## {survey.__version__}" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
