"""Text made safe to stand in markup."""

from __future__ import annotations

import re
from html import escape

FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
"""Characters that XML 1.0 has no place for."""


def text(words: str) -> str:
    """Words as they may stand in markup, whatever they hold."""
    return escape(FORBIDDEN.sub("", words))
