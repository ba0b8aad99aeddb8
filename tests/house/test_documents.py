"""What the documents say holds: commands run, examples give what stands there, files exist, nothing is left out."""

import doctest
import inspect
import re
import shlex
from fnmatch import fnmatch
from importlib import import_module
from pathlib import Path

import pytest
from typer.testing import CliRunner

import survey
from maps.cli.main import SUMMARIES, app
from tests.made.own_venue import make_own

ROOT = Path(__file__).resolve().parents[2]
KILO = 1000
NAMES = [
    "README.md",
    "data/README.md",
    "maps/README.md",
    "survey/README.md",
    "scripts/README.md",
    "DEVELOPERS.md",
    "survey/DECISIONS.md",
    "maps/DECISIONS.md",
    "survey/FAULTS.md",
]
"""In the order in which they are read, and their commands run."""
TEXTS = {name: (ROOT / name).read_text(encoding="utf-8") for name in NAMES}
MOST_BYTES = {"README.md": 7 * KILO, "DEVELOPERS.md": 8 * KILO}
FOLDERS = ("survey", "maps", "tests", "scripts", "data")
OUT, SITE = "ourlake-out", "ourlake-site"


def commands_of(name: str) -> list[list[str]]:
    """Commands of lakeplumb in a document's blocks for the shell, without the program itself."""
    lines = [line for block in re.findall(r"```sh\n(.*?)```", TEXTS[name], re.DOTALL) for line in block.splitlines()]
    return [shlex.split(line, comments=True)[1:] for line in lines if line.startswith(".venv/bin/lakeplumb")]


COMMANDS = {name: commands_of(name) for name in NAMES}


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """A folder in which every command of every document has been run in order, and what each said.

    As the documents have it, the examples are made the club's own after `new`; one reading is decided about.
    """
    folder, said = tmp_path_factory.mktemp("documents"), []
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for command in (command for commands in COMMANDS.values() for command in commands):
            result = CliRunner().invoke(app, command)
            said.append((command, result.exit_code, result.output))
            if command[0] == "new":
                make_own(folder / command[1])
                (folder / command[1] / "decisions.csv").write_text("row,decision\n2,noted\n", encoding="utf-8")
    return folder, said


def test_every_command_in_the_documents_runs(ran):
    folder, said = ran
    assert [(command, output) for command, code, output in said if code != 0] == []
    assert (folder / OUT / "map.html").exists()


def test_the_readme_goes_from_an_empty_folder_to_a_setting_and_a_site():
    assert [command[0] for command in COMMANDS["README.md"]] == ["new", "check", "build", "depth", "publish"]


def test_every_answer_for_a_spot_says_to_plumb(ran):
    answers = [output for command, _, output in ran[1] if command[0] == "depth"]
    assert answers
    assert all("Plumb before you fish." in output for output in answers)


@pytest.mark.parametrize("name", list(SUMMARIES))
def test_a_command_is_described_and_run_in_the_documents(name):
    assert f"`lakeplumb {name} " in TEXTS["maps/README.md"]
    assert name in {command[0] for commands in COMMANDS.values() for command in commands}


@pytest.mark.parametrize("name", list(SUMMARIES))
def test_a_command_is_listed_with_the_first_sentence_of_its_description(name):
    said = inspect.getdoc(getattr(import_module(f"maps.cli.commands.{name}"), name))
    assert said.split("\n\n")[0].replace("\n", " ") == SUMMARIES[name]


def test_every_command_has_its_module():
    modules = {path.stem for path in (ROOT / "maps/cli/commands").glob("*.py")} - {"__init__"}
    assert modules == set(SUMMARIES)


@pytest.mark.parametrize("folder", [OUT, SITE, f"{SITE}/files"])
def test_every_file_a_command_writes_is_in_the_documents(ran, folder):
    written = [path.name for path in (ran[0] / folder).iterdir()]
    assert len(written) > 1
    assert [name for name in written if f"`{name}`" not in TEXTS["maps/README.md"]] == []


def test_every_file_of_a_new_venue_is_in_the_documents(ran):
    told = re.findall(r"`([\w*-]+\.[\w*]+)`", TEXTS["data/README.md"] + TEXTS["maps/README.md"])
    made = [path.name for path in (ran[0] / "ourlake").iterdir()]
    assert len(made) > 1
    assert [name for name in made if not any(fnmatch(name, pattern) for pattern in told)] == []


@pytest.mark.parametrize("name", NAMES)
def test_files_named_in_a_document_exist(name):
    named = set(re.findall(rf"(?<![\w./-])((?:{'|'.join(FOLDERS)})/[\w./*-]*\w)", TEXTS[name]))
    missing = [path for path in named if not (ROOT / path).exists() and not list(ROOT.glob(path))]
    assert named
    assert missing == []


@pytest.mark.parametrize("name", NAMES)
def test_modules_and_constants_named_without_their_folder_exist(name):
    sources = [path for top in ("survey", "maps", "tests") for path in (ROOT / top).rglob("*") if path.is_file()]
    files = {path.name for path in sources}
    code = "\n".join(path.read_text("utf-8") for path in sources if path.suffix == ".py")
    assert set(re.findall(r"`([\w-]+\.(?:py|js|typ))`", TEXTS[name])) <= files
    assert [word for word in re.findall(r"`([A-Z]+_[A-Z_]+)`", TEXTS[name]) if f"{word} " not in code] == []


@pytest.mark.parametrize("name", NAMES)
def test_links_of_a_document_lead_to_a_file_and_a_heading(name):
    links = re.findall(r'(?:\]\(|src=")([^)"#\s]*)(?:#([\w-]+))?[)"]', TEXTS[name])
    for to, heading in links:
        path = (ROOT / name).parent / to
        assert path.exists(), to
        if heading:
            titles = re.findall(r"^#+ (.+)$", path.read_text(encoding="utf-8"), re.MULTILINE)
            assert heading in {re.sub(r"[^\w -]", "", title).lower().replace(" ", "-") for title in titles}


@pytest.mark.parametrize("name", NAMES)
def test_scripts_named_in_a_document_exist(name):
    for module in set(re.findall(r"-m (scripts[\w.]+\w)", TEXTS[name])):
        assert (ROOT / module.replace(".", "/")).with_suffix(".py").exists(), module


def test_every_script_that_is_run_is_described():
    run = [path for path in (ROOT / "scripts").rglob("*.py") if '__name__ == "__main__"' in path.read_text("utf-8")]
    modules = [".".join(path.relative_to(ROOT).with_suffix("").parts) for path in run]
    assert len(modules) > 1
    assert [module for module in modules if f"-m {module}" not in TEXTS["scripts/README.md"]] == []


def test_every_folder_of_the_code_is_in_the_map_for_developers():
    modules = [*ROOT.glob("survey/*/*.py"), *ROOT.glob("maps/*/*.py")]
    folders = {path.parent.relative_to(ROOT).as_posix() for path in modules}
    assert len(folders) > 1
    assert [folder for folder in sorted(folders) if f"`{folder}`" not in TEXTS["DEVELOPERS.md"]] == []


@pytest.mark.parametrize("name", [name for name in NAMES if ">>> " in TEXTS[name]])
def test_examples_give_what_stands_below_them(name, monkeypatch):
    monkeypatch.chdir(ROOT)
    found = doctest.testfile(str(ROOT / name), module_relative=False, encoding="utf-8")
    assert found.attempted > 0
    assert found.failed == 0


def test_the_numbers_have_examples():
    assert TEXTS["survey/README.md"].count(">>> ") > 1


@pytest.mark.parametrize("name", list(MOST_BYTES))
def test_the_first_pages_stay_short(name):
    assert (ROOT / name).stat().st_size <= MOST_BYTES[name]


def test_every_key_of_a_new_venue_file_is_in_its_document():
    starter = (ROOT / "maps/starter/venue.toml").read_text(encoding="utf-8")
    keys = set(re.findall(r"^(?:# )?([a-z_]+) = ", starter, re.MULTILINE))
    assert len(keys) > 1
    assert [key for key in sorted(keys) if f"`{key}`" not in TEXTS["data/README.md"]] == []


def test_the_change_log_knows_this_version():
    assert f"## {survey.__version__}" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
