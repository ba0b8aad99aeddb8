"""Imports run one way: a folder imports only from layers below its own, and no circle stands inside one."""

from __future__ import annotations

import ast
from collections import Counter
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

LAYERS = [
    ["survey.errors", "survey.gc_pause", "survey.processors", "survey.arrays"],
    ["survey.findings", "survey.units", "survey.geometry"],
    ["survey.records", "survey.kriging"],
    ["survey.adjustment"],
    ["survey.fieldbook", "survey.reduction", "survey.depth_model"],
    ["survey.bed"],
    ["survey.checks", "survey.spots"],
    ["survey.workup", "survey.tackle"],
    ["maps.language"],
    ["maps.privacy", "maps.content"],
    ["maps.drawing", "maps.files", "maps.replies"],
    ["maps.page", "maps.print"],
    ["maps.starter", "maps.build", "maps.site"],
    ["maps.cli"],
    ["maps.__main__"],
]
"""From the bottom up; entries of one layer do not import each other."""
WITHIN = [
    ["survey.fieldbook.remarks"],
    ["survey.fieldbook.files"],
    ["survey.fieldbook.naming"],
    ["survey.fieldbook.tables"],
    ["survey.fieldbook.left_out"],
    ["survey.fieldbook.decisions"],
    ["survey.fieldbook.venue", "survey.fieldbook.days"],
    ["survey.fieldbook.observations"],
]
"""The fieldbook's own layers."""
MOST_FILES = 10
NOT_IN_SURVEY = {"maps", "typer", "click", "rich", "folium", "branca", "jinja2", "typst"}
"""What shows or asks; survey works without any of it."""


def modules() -> dict[str, Path]:
    """Every module of the two packages by its dotted name."""
    files = [path for package in ("survey", "maps") for path in sorted((ROOT / package).rglob("*.py"))]
    return {".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path for path in files}


MODULES = modules()


def imported(tree: ast.AST) -> set[str]:
    """Dotted names a module imports, inside functions too; ``from a import b`` is ``a.b`` where that is a module."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"line {node.lineno}: write the whole name, not a relative import"
            both = {f"{node.module}.{alias.name}" for alias in node.names}
            inner = both & set(MODULES)
            names |= inner | ({node.module} if inner != both else set())
    return names


def entry_of(module: str, layers: list[list[str]]) -> tuple[int, str] | None:
    """The layer and entry a module belongs to."""
    found = [(n, e) for n, layer in enumerate(layers) for e in layer if module == e or module.startswith(f"{e}.")]
    return found[0] if len(found) == 1 else None


def against_the_layers(module: str, names: set[str], layers: list[list[str]]) -> list[str]:
    """Own modules among the names that lie neither in a lower layer nor in the module's own entry."""
    here, wrong = entry_of(module, layers), []
    for name in sorted(names & set(MODULES) - {"survey", "maps"}):
        there = entry_of(name, layers)
        if here is None or there is None or not (there[0] < here[0] or there[1] == here[1]):
            wrong.append(name)
    return wrong


def imports_of(module: str) -> set[str]:
    return imported(ast.parse(MODULES[module].read_text("utf-8")))


@pytest.mark.parametrize("module", sorted(set(MODULES) - {"survey", "maps"}))
def test_a_module_stands_in_one_entry_and_imports_from_lower_layers_or_its_own_entry(module):
    assert entry_of(module, LAYERS), f"{module} is in no layer"
    assert against_the_layers(module, imports_of(module), LAYERS) == []


@pytest.mark.parametrize("module", sorted(m for m in MODULES if m.startswith("survey.fieldbook.")))
def test_the_fieldbook_keeps_its_own_layers(module):
    names = {name for name in imports_of(module) if name.startswith("survey.fieldbook.")}
    assert against_the_layers(module, names, WITHIN) == []


def test_no_module_imports_itself_by_way_of_others():
    try:
        order = list(TopologicalSorter({m: (imports_of(m) & set(MODULES)) - {m} for m in MODULES}).static_order())
    except CycleError as circle:
        pytest.fail(f"imports run in a circle: {' -> '.join(circle.args[1])}")
    assert len(order) == len(MODULES)


def test_no_folder_holds_more_than_can_be_looked_over():
    held = Counter(path.parent for path in MODULES.values() if path.name not in {"__init__.py", "__main__.py"})
    crowded = {str(folder.relative_to(ROOT)): n for folder, n in held.items() if n > MOST_FILES}
    assert set(crowded) <= {"maps/cli/commands"}


def test_systematic_checks_and_the_others_do_not_import_each_other():
    for module in (m for m in MODULES if m.startswith("survey.checks.")):
        inside = module.startswith("survey.checks.systematic")
        across = {
            name
            for name in imports_of(module)
            if name.startswith("survey.checks.") and name.startswith("survey.checks.systematic") is not inside
        }
        assert across == set(), module


@pytest.mark.parametrize("module", sorted(m for m in MODULES if m.split(".")[0] == "survey"))
def test_survey_works_without_what_shows_or_asks(module):
    assert {name.split(".")[0] for name in imports_of(module)} & NOT_IN_SURVEY == set()


@pytest.mark.parametrize(
    ("module", "line", "wrong"),
    [
        ("survey.units.lengths", "from survey.records.venue import Peg", ["survey.records.venue"]),
        ("survey.units.lengths", "def f():\n    import survey.workup", ["survey.workup"]),
        ("survey.bed.grid", "from survey import workup", ["survey.workup"]),
        ("survey.bed.grid", "from survey import __version__", []),
        ("survey.spots.answer", "from survey.checks.coverage import SIDE_DEG", ["survey.checks.coverage"]),
        ("survey.workup", "from survey.bed.grid import Bed", []),
    ],
)
def test_the_checker_sees_imports_of_every_form(module, line, wrong):
    assert against_the_layers(module, imported(ast.parse(line)), LAYERS) == wrong
