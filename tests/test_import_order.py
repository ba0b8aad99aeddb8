"""Reading order is import order: a module imports only from lines above its own, and every module has a line."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

READING_ORDER = [
    *("survey", "survey.collector", "survey.errors", "survey.findings"),
    *("survey.units.signs", "survey.units.lengths", "survey.units.directions", "survey.units"),
    *("survey.shot", "survey.floatmarks"),
    *("survey.venue", "survey.readings"),
    *("survey.soundings", "survey.decisions", "survey.sight",
"survey.landing", "survey.crossings", "survey.fixes"),
    "survey.placing",
    *("survey.fieldbook.remarks", "survey.fieldbook.sources", "survey.fieldbook.cells"),
    *("survey.fieldbook.archives", "survey.fieldbook.packed", "survey.fieldbook.workbooks"),
    "survey.fieldbook.waypoints",
    *("survey.fieldbook.headers", "survey.fieldbook.dates", "survey.fieldbook.keys", "survey.fieldbook.coordinates"),
    *("survey.fieldbook.floats", "survey.fieldbook.settings"),
    *("survey.fieldbook.shapes", "survey.fieldbook.outline", "survey.fieldbook.rings"),
    *(
        "survey.fieldbook.bank",
        "survey.fieldbook.fields",
        "survey.fieldbook.positions",
        "survey.fieldbook.tabs",
        "survey.fieldbook.copies",
        "survey.fieldbook.moments",
    ),
    *("survey.fieldbook.pegs", "survey.fieldbook.words", "survey.fieldbook.casts"),
    *("survey.fieldbook.swaps", "survey.fieldbook.readings"),
    *("survey.fieldbook.levels", "survey.fieldbook.edges", "survey.fieldbook.decisions", "survey.fieldbook"),
    *("survey.waterlevel", "survey.ruler", "survey.brackets", "survey.edges", "survey.reduction", "survey.accounts"),
    *("survey.water", "survey.covariance", "survey.members", "survey.conditioning", "survey.patches"),
    *("survey.truncation", "survey.profile", "survey.sightings", "survey.evidence", "survey.hearing", "survey.sweeps"),
    *("survey.screening", "survey.doubt", "survey.average"),
    "survey.draws",
    "survey.hypotheses",
    *("survey.judging", "survey.suspects", "survey.trials", "survey.causewords", "survey.causes"),
    *("survey.crossovers", "survey.coverage"),
    *("survey.floats", "survey.bed", "survey.gridding", "survey.misfits", "survey.checks"),
    *("survey.holdout", "survey.isobaths"),
    *("survey.margins", "survey.spots", "survey.swims", "survey.workup"),
    *("survey.whatnext", "survey.levelplumb", "survey.shotting", "survey.windwords", "survey.wind"),
    *("survey.fall", "survey.feed", "survey.rigging"),
    *(
        "maps",
        "maps.words",
        "maps.clubwords",
        "maps.placeless",
        "maps.tints",
        "maps.frame",
        "maps.overlay",
        "maps.tables",
        "maps.summary",
        "maps.page_rules",
        "maps.page_data",
    ),
    *("maps.backdrop", "maps.drawnmap", "maps.options", "maps.enquiry", "maps.page_body", "maps.webmap"),
    *("maps.plumbing", "maps.rigwords", "maps.sums"),
    *("maps.atomic", "maps.rasters", "maps.geopackage", "maps.wording", "maps.lineofspots", "maps.store"),
    *("maps.report", "maps.exports", "maps.newvenue"),
    *("maps.publiccopy", "maps.pegfacts", "maps.fanframe", "maps.fandrawing", "maps.section", "maps.pegpage"),
    *("maps.vectors", "maps.crowd", "maps.letters", "maps.guide", "maps.site"),
    *(
        "maps.console",
        "maps.making",
        "maps.optiongroups",
        "maps.depthcommand",
        "maps.shotcommand",
        "maps.windcommand",
        "maps.levelcommand",
    ),
    "maps.wordscommand",
    *("maps.publishcommand", "maps.commandline", "maps.__main__"),
]
LINE = {name: number for number, name in enumerate(READING_ORDER)}

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


def out_of_order(module: str, names: set[str]) -> list[str]:
    """Own modules among the names that stand on no line above the module's."""
    own = sorted(name for name in names if name.split(".")[0] in {"survey", "maps"})
    return [name for name in own if LINE.get(name, len(LINE)) >= LINE[module]]


def test_every_module_has_a_line_and_every_line_a_module():
    assert sorted(MODULES) == sorted(READING_ORDER)


@pytest.mark.parametrize("module", sorted(MODULES))
def test_a_module_imports_only_from_lines_above(module):
    assert module in LINE, f"{module} is on no line of the reading order"
    assert out_of_order(module, imported(ast.parse(MODULES[module].read_text("utf-8")))) == []


@pytest.mark.parametrize("module", sorted(name for name in MODULES if name.split(".")[0] == "survey"))
def test_survey_works_without_what_shows_or_asks(module):
    roots = {name.split(".")[0] for name in imported(ast.parse(MODULES[module].read_text("utf-8")))}
    assert roots & NOT_IN_SURVEY == set()


@pytest.mark.parametrize(
    ("module", "line", "wrong"),
    [
        ("survey.units", "from survey.venue import Peg", ["survey.venue"]),
        ("survey.units", "def f():\n    import survey.workup", ["survey.workup"]),
        ("survey.bed", "from survey import workup", ["survey.workup"]),
        ("survey.bed", "from survey import __version__", []),
        ("survey.units", "from survey.drawer import thing", ["survey.drawer"]),
        ("survey.workup", "from survey.bed import Bed", []),
    ],
)
def test_the_checker_sees_imports_of_every_form(module, line, wrong):
    assert out_of_order(module, imported(ast.parse(line))) == wrong
