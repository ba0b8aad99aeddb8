"""The pages' program as text: one list of its parts, and no constant of the survey typed a second time."""

from __future__ import annotations

import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

from maps.page.program import PARTS, parts_of
from maps.page.rules import drawings, rules
from survey.units import FOOT_M, INCH_M, YARD_M, Z_95
from survey.units.lengths import SHOWN_AS_NOTHING_M
from survey.units.wind_speeds import SPEEDS_MS

ROOT = Path(__file__).resolve().parents[3]
PROGRAM = ROOT / "maps" / "page" / "js"
TELLING_FIGURES = 3
"""A number of fewer figures may mean anything: 0.5, 12, 100."""
NEVER_TYPED = {1.96, Z_95, SHOWN_AS_NOTHING_M, INCH_M, FOOT_M, YARD_M, SPEEDS_MS["mph"], 1852.0}
SPELT = re.compile(r"(?<![\w.#])(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?(?![\w.])")


def test_every_part_of_the_program_is_listed_once_and_there():
    files = {str(path.relative_to(PROGRAM)) for path in PROGRAM.rglob("*") if path.is_file()}
    assert set(PARTS) == files


@pytest.mark.parametrize("kind", ["map", "peg"])
def test_formulas_stand_before_the_parts_that_use_them_and_the_page_s_own_part_last(kind):
    folders = [name.split("/")[0] for name in parts_of(kind)]
    first_other = next(k for k, folder in enumerate(folders) if folder != "formulas")
    assert "formulas" not in folders[first_other:]
    assert parts_of(kind)[-1] == {"map": "views/map.js", "peg": "views/peg_sheet.js"}[kind]


def test_formulas_and_what_is_set_today_know_nothing_of_elements():
    apart = [name for name in PARTS if name.startswith("formulas/") or name == "forms/today.js"]
    for name in apart:
        text = re.sub(r"//.*", "", (PROGRAM / name).read_text(encoding="utf-8"))
        assert not re.search(r"\b(?:document|window|localStorage|byId|el|svg|setText)\b", text), name


def figures(value: float) -> int:
    """How many figures a number needs: 0.0254 three, 30.0 one."""
    return len(f"{value:.15g}".split("e")[0].replace(".", "").strip("0-"))


def numbers_in(table: object) -> Iterator[float]:
    """Every number of a JSON value."""
    if isinstance(table, dict | list | tuple):
        for value in table.values() if isinstance(table, dict) else table:
            yield from numbers_in(value)
    elif isinstance(table, int | float) and not isinstance(table, bool):
        yield float(table)


def typed_in_program() -> dict[str, set[float]]:
    """The numbers spelt out in each part, its remarks aside."""
    texts = {name: re.sub(r"//.*", "", (PROGRAM / name).read_text(encoding="utf-8")) for name in PARTS}
    return {name: {float(spelt) for spelt in SPELT.findall(text)} for name, text in texts.items()}


def test_no_constant_of_the_table_is_typed_again_in_the_program(worked):
    table = {
        value
        for value in numbers_in([rules(worked.venue), drawings("section", "fan", "map")])
        if figures(value) >= TELLING_FIGURES
    }
    assert len(table) > 20
    again = {name: typed & (table | NEVER_TYPED) for name, typed in typed_in_program().items()}
    assert {name: found for name, found in again.items() if found} == {}


def python_numbers(path: Path) -> list[float]:
    """The numbers spelt out in a Python file, its texts and remarks aside."""
    tokens = tokenize.generate_tokens(io.StringIO(path.read_text(encoding="utf-8")).readline)
    return [
        float(t.string.replace("_", ""))
        for t in tokens
        if t.type == tokenize.NUMBER and re.fullmatch(r"[\d._e+-]+", t.string)
    ]


def test_the_commonest_constants_stand_once_in_python():
    files = [path for package in ("survey", "maps") for path in (ROOT / package).rglob("*.py")]
    found = [value for path in files for value in python_numbers(path)]
    once = (Z_95, SHOWN_AS_NOTHING_M, INCH_M, FOOT_M, YARD_M, SPEEDS_MS["mph"])
    assert {value: found.count(value) for value in once} == dict.fromkeys(once, 1)
    assert 1.96 not in found
