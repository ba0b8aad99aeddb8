"""Numbers as files keep them: whole millimetres, and nothing that JSON cannot hold."""

from __future__ import annotations

import math
from typing import Any


def to_mm(length_m: float | None) -> float | None:
    """A length as files give it: to the millimetre, without a negative zero."""
    return None if length_m is None else round(float(length_m), 3) + 0.0


def finite(value: Any) -> Any:  # noqa: ANN401 - any JSON value
    """The same without what JSON has no word for: nan and infinity become null."""
    if isinstance(value, dict):
        return {key: finite(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [finite(inner) for inner in value]
    # A number of numpy's gives up its own; so nothing need be imported to know it.
    plain = value.item() if hasattr(value, "item") else value
    return None if isinstance(plain, float) and not math.isfinite(plain) else plain
