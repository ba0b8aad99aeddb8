"""What the bed costs in seconds and memory by readings and cells, beside PyKrige's single model with its own sd.

The water is an invented outline of as many square metres as cells are asked for, one a square metre; readings lie
scattered over it. Both methods answer every cell; PyKrige in chunks, for its matrices hold all spots of a call.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon

from scripts.benches.lakes import blank_table, placed
from scripts.benches.measure import measured
from scripts.benches.peers import merged, pykrige
from scripts.benches.scores import BED, NAN, fitted
from scripts.benches.waters import CRS, FloatArray, blob, rough
from survey.bed.gridding import make_bed
from survey.geometry.water import WaterGeometry
from survey.records.soundings import Soundings
from survey.records.venue import Venue

SIZES = ((300, 33_000), (1000, 276_000), (5000, 1_100_000))
BESIDE = (300, 1000)
"""PyKrige answers the sizes with so many readings: its cost grows with their square times the cells."""
READINGS, AT_CELLS = (100, 200, 400, 800, 1600, 3200), 33_000
CELLS, AT_READINGS = (8_000, 33_000, 131_000, 524_000), 300
LIMIT_S = 400.0
QUERIES = 200


@dataclass(frozen=True)
class CostRow:
    """One method on one size; memory is the peak over what was loaded before."""

    run: str
    method: str
    readings: int
    cells: int
    fit_s: float = NAN
    ask_s: float = NAN
    memory_mb: float = NAN
    fault: str = ""

    @property
    def seconds(self) -> float:
        """Fit and answers together."""
        return self.fit_s + self.ask_s


@dataclass(frozen=True)
class Scene:
    """A water, soundings scattered over it and the cells asked for, shape (m, 2)."""

    venue: Venue
    soundings: Soundings
    cells: FloatArray


def scene(readings: int, cells: int, seed: int = 60) -> Scene:
    """An invented water of about ``cells`` square metres."""
    unit = blob(seed, 1.0, 0.18)
    water = MultiPolygon([blob(seed, (cells / unit.area) ** 0.5, 0.18)])
    west, south, east, north = water.bounds
    x, y = np.meshgrid(np.arange(west, east), np.arange(south, north))
    grid = np.column_stack([x.ravel(), y.ravel()])
    grid = grid[shapely.contains_xy(water, *grid.T)]
    rng = np.random.default_rng(seed)
    # Twice as many as wanted: those moved onto the land fall away.
    xy = grid[rng.integers(len(grid), size=2 * readings)] + rng.uniform(-0.4, 0.4, (2 * readings, 2))
    xy = xy[shapely.contains_xy(water, *xy.T)][:readings]
    depth = 2.5 * -np.expm1(-WaterGeometry(water).shore_m(xy) / 9.0) + 0.3 * rough(seed, water, 10.0)(xy)
    table = blank_table(np.maximum(depth + rng.normal(0, 0.04, len(xy)), 0.03), 0.04)
    table["radial_sd_m"] = table["tangential_sd_m"] = 1.0
    return Scene(Venue("cost", CRS, water, ()), placed(table, xy), grid)


def bed_cost(run: str, readings: int, cells: int) -> CostRow:
    """Seconds of the bed, from outline and soundings to depth and ± at every cell."""
    here = scene(readings, cells)

    def call() -> tuple[float, float]:
        begun = time.perf_counter()
        model = fitted(here.venue, here.soundings)
        between = time.perf_counter()
        model.predict(here.cells)
        return between - begun, time.perf_counter() - between

    return _cost(run, BED, here, call)


def pykrige_cost(run: str, readings: int, cells: int) -> CostRow:
    """Seconds of PyKrige, from soundings to depth and sd at every cell; its fit is the variogram's, asked for one."""
    here = scene(readings, cells)
    data = merged(here.soundings.xy, here.soundings.table["depth_m"].to_numpy(float))

    def call() -> tuple[float, float]:
        begun = time.perf_counter()
        pykrige(*data, here.cells[:1])
        between = time.perf_counter()
        pykrige(*data, here.cells)
        # The second call fits again: that time is in both and comes off.
        fit = between - begun
        return fit, time.perf_counter() - between - fit

    return _cost(run, "PyKrige", here, call)


def _cost(run: str, method: str, here: Scene, call: Callable[[], tuple[float, float]]) -> CostRow:
    cost = measured(call, LIMIT_S)
    fit, ask = cost.result or (NAN, NAN)
    return CostRow(run, method, len(here.soundings), len(here.cells), fit, ask, cost.memory_mb, cost.fault)


def cost_rows(*, few: bool) -> Iterator[CostRow]:
    """Every size; ``few``: only the small ones."""
    sizes = [s for s in SIZES if s[0] <= BESIDE[0] or not few]
    for readings, cells in sizes:
        yield bed_cost("size", readings, cells)
        if readings in BESIDE:
            yield pykrige_cost("size", readings, cells)
    for readings in READINGS[: 3 if few else None]:
        yield bed_cost("readings", readings, AT_CELLS)
        yield pykrige_cost("readings", readings, AT_CELLS)
    for cells in CELLS[: 2 if few else None]:
        yield bed_cost("cells", AT_READINGS, cells)
        yield pykrige_cost("cells", AT_READINGS, cells)


def slope(rows: list[CostRow], run: str, method: str, value: str) -> float:
    """Exponent of a power law through a run: least squares of log seconds on log size."""
    some = [r for r in rows if r.run == run and r.method == method and not r.fault]
    size = np.log([float(getattr(r, run)) for r in some])
    return float(np.polyfit(size, np.log([getattr(r, value) for r in some]), 1)[0]) if len(some) > 1 else NAN


def one_spot_ms() -> tuple[float, float]:
    """Median milliseconds of one spot after the fit: from the grid, as every answer is given, and from the model."""
    here = scene(*SIZES[0])

    def call() -> tuple[float, float]:
        model = fitted(here.venue, here.soundings)
        bed = make_bed(here.venue, model, 1.0)
        spots = here.cells[:: max(1, len(here.cells) // QUERIES)]
        asks = (lambda xy: bed.at(xy[:1], xy[1:])), (lambda xy: model.predict(xy[None]))
        return _median_ms(asks[0], spots), _median_ms(asks[1], spots)

    return measured(call, LIMIT_S).result or (NAN, NAN)


def _median_ms(ask: Callable[[FloatArray], object], spots: FloatArray) -> float:
    took = []
    for xy in spots:
        begun = time.perf_counter()
        ask(xy)
        took.append(time.perf_counter() - begun)
    return float(np.median(took) * 1000)
