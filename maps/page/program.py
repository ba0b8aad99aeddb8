"""The pages' program: its parts in reading order, and the pages that each belongs to. The one list of them.

Knows nothing of what the parts do.
"""

from __future__ import annotations

from functools import cache
from typing import Literal

from maps.page.shell import own_text

PageKind = Literal["map", "peg"]
BOTH: tuple[PageKind, ...] = ("map", "peg")
MAP: tuple[PageKind, ...] = ("map",)
PEG: tuple[PageKind, ...] = ("peg",)

PARTS: dict[str, tuple[PageKind, ...]] = {
    "formulas/numbers.js": BOTH,
    "formulas/typed.js": BOTH,
    "formulas/bed.js": BOTH,
    "formulas/settings.js": BOTH,
    "formulas/shot.js": BOTH,
    "formulas/sinking.js": BOTH,
    "formulas/wind.js": BOTH,
    "formulas/level_by_plumbing.js": BOTH,
    "forms/dom.js": BOTH,
    "drawing/marks.js": BOTH,
    "drawing/laid.js": MAP,
    "views/chart.js": MAP,
    "views/fan.js": MAP,
    "views/cross_section.js": BOTH,
    "views/rig.js": BOTH,
    "views/answer.js": BOTH,
    "views/peg_card.js": BOTH,
    "forms/today.js": BOTH,
    "forms/tackle.js": BOTH,
    "forms/today_form.js": BOTH,
    "forms/remember.js": BOTH,
    "forms/ask.js": MAP,
    "forms/plumb.js": BOTH,
    "views/line.js": MAP,
    "views/map.js": MAP,
    "views/peg_sheet.js": PEG,
}
"""By file under ``js``. A part may use at once, while it is read, only what stands in those before it."""

HEAD = '"use strict";\nconst DATA = JSON.parse(document.getElementById("survey-data").textContent);\n'


def parts_of(page: PageKind) -> tuple[str, ...]:
    """The parts of one page, in reading order."""
    return tuple(name for name, pages in PARTS.items() if page in pages)


@cache
def program_of(page: PageKind) -> str:
    """The program of one page, to be put inside one scope."""
    return HEAD + joined(parts_of(page))


def joined(parts: tuple[str, ...]) -> str:
    """Parts one after the other."""
    return "\n".join(own_text(f"js/{name}") for name in parts)
