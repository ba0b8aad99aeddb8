"""A drawing taken apart: what stands in it, in order, with its numbers, its words and its look."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

GEOMETRY = ("d", "x", "y", "cx", "cy", "r", "transform")
ASIDE = {"title", "defs", "pattern"}
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@dataclass(frozen=True)
class Primitive:
    """One mark: its kind, what it says, its commands with the numbers taken out, these numbers, and how it looks."""

    kind: str
    words: str
    commands: str
    numbers: tuple[float, ...]
    look: tuple[tuple[str, str], ...]

    @property
    def points(self) -> NDArray[np.float64]:
        """Places of a path, or the one place of a circle or a word, shape (n, 2)."""
        return np.reshape(self.numbers if self.kind == "path" else self.numbers[:2], (-1, 2))

    @property
    def runs(self) -> list[NDArray[np.float64]]:
        """The lines of a path, each without a lift of the pen."""
        starts = [k for k, command in enumerate(re.findall("[ML]", self.commands)) if command == "M"]
        return np.split(self.points, starts[1:])


def primitives(svg: str) -> list[Primitive]:
    """The marks of a drawing in SVG, in order."""
    root = ET.fromstring(svg)  # noqa: S314 - our own text
    return [_primitive(element) for element in root if element.tag.split("}")[-1] not in ASIDE]


def _primitive(element: ET.Element) -> Primitive:
    geometry = " ".join(f"{name}:{element.get(name)}" for name in GEOMETRY if element.get(name))
    return Primitive(
        element.tag.split("}")[-1],
        element.text or "",
        NUMBER.sub("#", geometry),
        tuple(map(float, NUMBER.findall(geometry))),
        tuple(sorted((name, value) for name, value in element.attrib.items() if name not in GEOMETRY)),
    )


def assert_same_drawing(one: list[Primitive], other: list[Primitive], within: float) -> None:
    """The same marks in the same order, alike in all but the last figures of their numbers."""
    for mine, theirs in zip(one, other, strict=True):
        assert (mine.kind, mine.words, mine.commands, mine.look) == (
            theirs.kind, theirs.words, theirs.commands, theirs.look,
        )  # fmt: skip
        apart = np.abs(np.subtract(mine.numbers, theirs.numbers)).max(initial=0.0)
        assert apart <= within, f"{mine.kind} {mine.words} {mine.look}"
