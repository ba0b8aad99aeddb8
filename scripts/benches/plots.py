"""The benchmarks as pictures: told apart by mark and dash as well as by tint, sized for a phone."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from scripts.benches.cost import AT_CELLS, AT_READINGS, CELLS, READINGS, CostRow, slope
from scripts.benches.readings import Thinned
from scripts.benches.scores import BED
from scripts.benches.spit import DEEP_M, SHALLOW_M, SPIT_HALF, WIDTH, Line

mpl.use("Agg")
from matplotlib import pyplot as plt
from matplotlib.ticker import FixedLocator, FuncFormatter, LogLocator, NullFormatter, NullLocator

PAPER, INK, QUIET, ACCENT = "#F7F3EA", "#1E2A2F", "#5B6468", "#9E3A14"
STYLES = {
    BED: (ACCENT, "o", "-"),
    "thin plate": ("#20476F", "s", "--"),
    "linear": ("#5B6468", "v", "-."),
    "verde": ("#46929A", "D", "-"),
    "PyKrige": ("#31798B", "^", ":"),
    "GSTools": ("#1B2F55", "P", ":"),
    "GMT surface": ("#7A8B50", "X", "-."),
    "GMT greenspline": ("#8A6F9E", "*", "--"),
}
SIZE_IN, DPI = 5.4, 150
RUNS = {"readings": list(READINGS), "cells": list(CELLS)}
PLAIN = {
    "figure.facecolor": PAPER, "axes.facecolor": PAPER, "savefig.facecolor": PAPER, "text.color": INK,
    "axes.labelcolor": INK, "xtick.color": INK, "ytick.color": INK, "axes.edgecolor": QUIET, "font.size": 12,
    "axes.spines.top": False, "axes.spines.right": False, "legend.frameon": False,
}  # fmt: skip


def readings_plot(found: list[Thinned], file: Path) -> None:
    """Error against number of readings, both on logarithmic axes."""
    with mpl.rc_context(PLAIN):
        fig, ax = plt.subplots(figsize=(SIZE_IN, SIZE_IN * 1.25), layout="constrained")
        for method in dict.fromkeys(t.method for t in found):
            some = [t for t in found if t.method == method]
            _line(ax, [t.readings for t in some], [t.error_m for t in some], method, method)
        _log_axes(ax, "Readings", "Error over the whole lake, m", sorted({t.readings for t in found}))
        ax.set_title("Error and number of readings\n(three lakes, better case of each peer)", fontsize=12, loc="left")
        fig.legend(loc="outside lower center", ncols=2, handlelength=3)
        _save(fig, file)


def cost_plot(costs: list[CostRow], file: Path) -> None:
    """Seconds against readings and against cells, both on logarithmic axes."""
    with mpl.rc_context(PLAIN):
        fig, both = plt.subplots(2, 1, figsize=(SIZE_IN, SIZE_IN * 1.8), layout="constrained")
        for ax, run, fixed in zip(both, ("readings", "cells"), (AT_CELLS, AT_READINGS), strict=True):
            for method in (BED, "PyKrige"):
                some = [r for r in costs if r.run == run and r.method == method and not r.fault]
                size = [getattr(r, run) for r in some]
                power = slope(costs, run, method, "seconds")
                _line(ax, size, [r.seconds for r in some], method, f"{method}: power {power:.1f}")
                if method == BED:
                    fit = slope(costs, run, method, "fit_s")
                    ax.plot(size, [r.fit_s for r in some], ":", color=ACCENT, label=f"{BED}, its fit: power {fit:.1f}")
            other = "cells" if run == "readings" else "readings"
            ax.set_title(f"Seconds and {run} (at {fixed:,} {other})", fontsize=12, loc="left")
            _log_axes(ax, run.capitalize(), "Seconds, fit and every cell with ±", RUNS[run])
            ax.set_ylim(top=ax.get_ylim()[1] * 6)  # room for the legend
            ax.legend(loc="upper left", handlelength=3)
        _save(fig, file)


def spit_plot(lines: list[Line], file: Path) -> None:
    """A section through the spit: the bed with its range, and what peers that know nothing of land make of it."""
    with mpl.rc_context(PLAIN):
        fig, ax = plt.subplots(figsize=(SIZE_IN, SIZE_IN), layout="constrained")
        for line in lines:
            colour, _, dash = STYLES[line.method]
            depth, half = np.array(line.depth_m), np.array(line.half_m)
            for side in (np.array(line.easting) < WIDTH / 2, np.array(line.easting) > WIDTH / 2):
                east, label = np.array(line.easting)[side], line.method if side[0] else None
                ax.plot(east, depth[side], dash, color=colour, label=label, linewidth=3 if line.method == BED else 1.5)
                if line.method == BED:
                    low, high = depth[side] - half[side], depth[side] + half[side]
                    ax.fill_between(east, low, high, color=colour, alpha=0.2, label=label and "its 95 % range")
        ax.axvspan(WIDTH / 2 - SPIT_HALF, WIDTH / 2 + SPIT_HALF, color=QUIET, label="spit")
        east = np.arange(5.0, WIDTH, 10.0)
        ax.plot(east, np.where(east < WIDTH / 2, DEEP_M, SHALLOW_M), "x", color=INK, label="readings")
        ax.set(xlabel="Metres along the line", ylabel="Depth, m", ylim=(DEEP_M + 1.5, -0.5))
        fig.legend(loc="outside lower center", ncols=2, handlelength=3)
        _save(fig, file)


def _line(ax: Axes, x: list[float], y: list[float], method: str, label: str) -> None:
    colour, mark, dash = STYLES[method]
    ours = method == BED
    ax.plot(
        x, y, color=colour, marker=mark, linestyle=dash, label=label,
        linewidth=3.0 if ours else 1.5, markersize=8 if ours else 6, zorder=3 if ours else 2,
    )  # fmt: skip


def _log_axes(ax: Axes, x: str, y: str, sizes: list[int]) -> None:
    """Both logarithmic; ticks at the sizes measured, and at 1, 2, 5 of every decade."""
    ax.set(xscale="log", yscale="log", xlabel=x, ylabel=y)
    ax.xaxis.set_major_locator(FixedLocator(sizes))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    ax.yaxis.set_minor_formatter(NullFormatter())
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,g}"))
    ax.grid(which="major", color=QUIET, alpha=0.25)


def _save(fig: Figure, file: Path) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    fig.savefig(file, dpi=DPI, metadata={"Software": None})
    plt.close(fig)
