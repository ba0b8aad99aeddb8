"""What every page is put in: its policy, its templates, its style and program, its data as JSON.

Knows nothing of what a page says.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader

from maps.drawing.colours import NAMED
from maps.language.catalogue import catalogue_of
from maps.language.escape import FORBIDDEN
from survey.records.venue import Venue

POLICY = (
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; "
    "script-src {hashes}"
)

COLOURS = {name: NAMED[name] for name in ("paper", "ink", "quiet", "accent")}
"""What style sheets call them."""

HASHES = "SCRIPT-HASHES-STAND-HERE"


def with_policy(page: str) -> str:
    """The page with a policy that lets only its own scripts run, each known by its hash (W3C CSP 3)."""
    scripts = re.findall(r"<script>(.*?)</script>", page, flags=re.DOTALL)
    digests = (base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii") for text in scripts)
    return page.replace(HASHES, POLICY.format(hashes=" ".join(f"'sha256-{digest}'" for digest in digests)), 1)


def own_text(name: str) -> str:
    """A file of the page's own, as text; its name includes the folder: ``css/page.css``."""
    return (files("maps") / "page" / name).read_text(encoding="utf-8")


def own_style(*names: str) -> str:
    """Style sheets of the page's own, the chart's colours before them: the one place that knows these is Python."""
    rule = "; ".join(f"--{name}: {colour}" for name, colour in COLOURS.items())
    return f":root {{ {rule} }}\n" + "".join(own_text(f"css/{name}.css") for name in names)


def frame_values(venue: Venue, days: tuple[str, str] | None) -> dict[str, Any]:
    """What the templates of every page need: words, the venue, its stamp and what to mind there."""
    said = catalogue_of(venue)
    return {
        "w": said.texts,
        "venue": venue,
        "stamp": said.stamp(venue.mark, days),
        "level_label": said.say(f"level_{venue.mark.kind or 'none'}", unit=said[f"unit_{venue.mark.unit}"]),
        "cautions": [*(said.again(line) for line in venue.cautions), *said["cautions"]],
    }


def _template(name: str) -> str:
    return own_text(f"html/{name}")


def filled(template: str, values: dict[str, Any]) -> str:
    """A template of the page's own with values put in, every text escaped."""
    own = Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True, loader=FunctionLoader(_template))
    return FORBIDDEN.sub("", own.get_template(template).render(values))


def embedded(data: dict[str, Any]) -> str:
    """JSON that may stand inside a script element: strict, and without a sign that markup is made of."""
    written = json.dumps(data, allow_nan=False, ensure_ascii=True, separators=(",", ":"))
    return written.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
