"""What the page lays on its map, asked of the map itself: kinds, panes, places in the venue's metres, words, looks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from playwright.sync_api import Page

from maps.drawing.projection import LocalProjection

LAID_JS = """panes => {
  const kindOf = layer => layer instanceof L.CircleMarker ? "circle" : layer instanceof L.Marker ? "text" : "path";
  const deep = at => Array.isArray(at) ? at.map(deep) : [at.lng, at.lat];
  const lines = at => typeof at[0]?.[0] === "number" ? [at] : at.flatMap(lines);
  const closed = (layer, line) => layer instanceof L.Polygon ? [...line, line[0]] : line;
  const placesOf = (layer, kind) => kind === "circle" || kind === "text" ? [[deep(layer.getLatLng())]]
    : lines(deep(layer.getLatLngs())).map(line => closed(layer, line));
  const laid = [];
  map_1.eachLayer(layer => {
    const isMark = layer instanceof L.Path || layer instanceof L.Marker;
    if (!isMark || !panes.includes(layer.options.pane)) return;
    const [kind, options] = [kindOf(layer), layer.options];
    const span = kind === "text" ? layer.getElement().querySelector("span") : null;
    const turn = span && span.style.transform ? parseFloat(span.style.transform.slice(7)) : 0;
    laid.push({ kind, pane: options.pane, color: options.color, weight: Number(options.weight), fill: options.fillColor,
      words: span ? span.textContent : "", turn, parts: placesOf(layer, kind) });
  });
  return laid }"""


@dataclass(frozen=True)
class Laid:
    """One thing on the map; ``look`` is whatever the map was told of its looks."""

    kind: str
    pane: str
    parts: tuple[NDArray[np.float64], ...]
    words: str
    turn: float
    look: dict[str, Any]

    @property
    def points(self) -> NDArray[np.float64]:
        """All its places, shape (n, 2)."""
        return np.concatenate(self.parts)


def laid_on_map(page: Page, frame: LocalProjection, panes: list[str]) -> list[Laid]:
    """What lies in these panes, in the order in which it was laid."""
    return [
        Laid(
            one["kind"],
            one["pane"],
            tuple(_places(part, frame) for part in one["parts"]),
            one["words"],
            one["turn"],
            one,
        )
        for one in page.evaluate(LAID_JS, panes)
    ]


def _places(part: list[list[float]], frame: LocalProjection) -> NDArray[np.float64]:
    lonlat = np.asarray(part)
    return np.column_stack(frame.grid(lonlat[:, 0], lonlat[:, 1]))
