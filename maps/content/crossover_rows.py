"""Crossovers as rows of a table: who differs from whom, and by how much."""

from __future__ import annotations

from typing import Any

from maps.content.rounding import to_mm
from survey.checks.crossovers import Crossovers


def crossovers_json(crossovers: Crossovers | None) -> dict[str, Any] | None:
    """Crossovers and what each observer, day, float and method reads deeper than the rest."""
    if crossovers is None or not len(crossovers.pairs):
        return None
    return {
        "pairs": len(crossovers.pairs),
        "rms_z": round(crossovers.rms_z, 3),
        "biases": [
            {
                "kind": bias.kind,
                "name": bias.name,
                "bias_m": to_mm(bias.bias_m),
                "sd_m": to_mm(bias.sd_m),
                "pairs": bias.pairs,
            }
            for bias in crossovers.biases
        ],
    }
