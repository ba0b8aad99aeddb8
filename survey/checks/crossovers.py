"""Crossovers: readings of nearly the same spot by different people, on other days or with other floats.

They should agree within their errors; what they differ by, on average, is a bias. Knows nothing of grids.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.spatial import cKDTree

from survey.arrays import FloatArray
from survey.depth_model.model import LakeModel
from survey.errors import SourceRow
from survey.findings import LEVEL_SIGN, Finding, Grade
from survey.records.fieldbook import Fieldbook
from survey.records.soundings import Soundings
from survey.reduction.water_levels import LevelHistory
from survey.units import shown_length
from survey.units.dates import written_day

WITHIN_M = 3.0
"""Readings this near each other are of one spot, the bed's slope between them allowed for (ours)."""
MOST_PAIRS = 200_000
"""Crowded surveys are thinned to about so many pairs: a bias is known to a millimetre or two by then."""
LEAST_PAIRS = 5
HUBER_Z = 1.5
ROUNDS = 10
TOLD_M, TOLD_Z = 0.05, 3.0
"""A bias is reported from this size, if it is that many times its error."""
SIGN_NEAR, SIGN_SD = 0.5, 0.25
KINDS = ("observer", "day", "float", "method")


@dataclass(frozen=True)
class Bias:
    """What one observer, day, float or method reads deeper than the others at the same spots.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`.
    name : str
    bias_m : float
        Positive: reads deeper. The biases of a kind add up to nought.
    sd_m : float
    pairs : int
        Crossovers it takes part in.
    """

    kind: str
    name: str
    bias_m: float
    sd_m: float
    pairs: int

    @property
    def is_clear(self) -> bool:
        """Whether it is worth telling of."""
        return abs(self.bias_m) > max(TOLD_M, TOLD_Z * self.sd_m) and self.pairs >= LEAST_PAIRS


@dataclass(frozen=True)
class Pairs:
    """Crossovers.

    Parameters
    ----------
    first, second : ndarray of int, shape (k,)
        Rows of the soundings table.
    apart_m : ndarray, shape (k,)
        Depth of the first less that of the second, the slope of the bed between them taken off.
    sd_m : ndarray, shape (k,)
        What their errors allow, position included.
    """

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    apart_m: FloatArray
    sd_m: FloatArray

    def __len__(self) -> int:
        return len(self.apart_m)


@dataclass(frozen=True)
class Crossovers:
    """The crossover analysis of a survey.

    Parameters
    ----------
    pairs : Pairs
        Of different groups of any kind.
    biases : tuple of Bias
        By kind, then name.
    """

    pairs: Pairs
    biases: tuple[Bias, ...]

    @property
    def rms_z(self) -> float:
        """Root mean square of the differences over what their errors allow; about one if these are right."""
        return float(np.sqrt(np.mean((self.pairs.apart_m / self.pairs.sd_m) ** 2))) if len(self.pairs) else np.nan


def cross_over(
    fieldbook: Fieldbook, soundings: Soundings, model: LakeModel, without: frozenset[SourceRow] = frozenset()
) -> Crossovers:
    """Find the crossovers of a survey and what each observer, day, float and method reads too deep.

    Parameters
    ----------
    fieldbook : Fieldbook
    soundings : Soundings
    model : LakeModel
    without : frozenset of SourceRow
        Rows that take no part: over a bed that changed nobody reads too deep.

    Notes
    -----
    The biases of one kind are the least-squares solution of ``apart = bias(first) - bias(second)``
    over pairs of different names, weighted by their errors and by Huber's weights, of least norm where names
    never meet. Kinds are solved one by one: where an observer has a float of their own, the two cannot be told apart.
    Crossover analysis as in hydrographic survey (IHO C-13, chapter 3, checks by crosslines), from memory.
    """
    some = model.kept
    if without:
        places = soundings.places
        some = some & ~np.array([places[row] in without for row in model.observations.rows], bool)
    pairs = _pairs(model, some)
    names = _names(fieldbook, soundings)
    biases = [bias for kind in KINDS for bias in _biases(kind, names[kind], pairs)]
    return Crossovers(pairs, tuple(biases))


def _pairs(model: LakeModel, some: NDArray[np.bool_]) -> Pairs:
    observations, xy = model.observations, model.observations.places.xy
    i, j = _near(xy, np.flatnonzero(some)).T
    slope = (model.bed_slope.slope[i] + model.bed_slope.slope[j]) / 2.0
    between = ((xy[i] - xy[j]) * slope).sum(axis=1)
    noise = observations.noise_var(model.bed_slope)
    shared = observations.shared(model.bed_slope)[:, ~observations.errors.is_kind("depth offset")]
    between_them = (shared[i] - shared[j]).power(2).sum(axis=1)
    return Pairs(
        observations.rows[i],
        observations.rows[j],
        observations.depth_m[i] - observations.depth_m[j] - between,
        np.sqrt(noise[i] + noise[j] + between_them),
    )


def _near(xy: FloatArray, some: NDArray[np.intp]) -> NDArray[np.intp]:
    """Pairs of some spots near each other, shape (k, 2); of too many spots a fixed draw, which favours no depth."""
    tree = cKDTree(xy[some])
    pairs = (tree.count_neighbors(tree, WITHIN_M) - len(some)) / 2.0
    if pairs > MOST_PAIRS:
        drawn = np.random.default_rng(0).permutation(len(some))[: int(len(some) * (MOST_PAIRS / pairs) ** 0.5)]
        some = np.sort(some[drawn])
        tree = cKDTree(xy[some])
    found = tree.query_pairs(WITHIN_M, output_type="ndarray")
    return np.asarray(some[found[np.lexsort(found.T[::-1])]])


def _names(fieldbook: Fieldbook, soundings: Soundings) -> dict[str, NDArray[np.str_]]:
    table = soundings.table
    floats = {(r.place.file, r.place.row): r.float_name for r in fieldbook.readings if r.setting_m is not None}
    held = [floats.get(place, "") for place in zip(table["file"], table["row"], strict=True)]
    # What an edge has against it is its line, not its day.
    day = np.where(table["method"] == "edge", "", table["day"])
    return {
        "observer": table["observer"].astype(str).str.strip().to_numpy(str),
        "day": day.astype(str),
        "float": np.array(held, str),
        "method": table["method"].to_numpy(str),
    }


def _biases(kind: str, name: NDArray[np.str_], pairs: Pairs) -> Iterator[Bias]:
    first, second = name[pairs.first], name[pairs.second]
    of_two = (first != second) & (first != "") & (second != "")
    known, at = np.unique(np.concatenate([first[of_two], second[of_two]]), return_inverse=True)
    if not len(known):
        return
    row, sign = np.tile(np.arange(of_two.sum()), 2), np.repeat([1.0, -1.0], of_two.sum())
    design = csr_array((sign, (row, at)), shape=(int(of_two.sum()), len(known)))
    bias, spread = _robust(design, pairs.apart_m[of_two], pairs.sd_m[of_two])
    times = np.bincount(at)
    for k, one in enumerate(known):
        yield Bias(kind, str(one), float(bias[k]), float(spread[k]), int(times[k]))


def _robust(design: csr_array, apart_m: FloatArray, sd_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least squares with Huber's weights: solution and its standard deviations, widened where the fit is worse."""
    bias = np.zeros(design.shape[1])
    weight = np.ones(len(apart_m))
    inverse: FloatArray = np.zeros((len(bias), len(bias)))
    for _ in range(ROUNDS):
        scaled = design.multiply((weight / sd_m**2)[:, None]).tocsr()
        inverse = np.asarray(np.linalg.pinv((design.T @ scaled).toarray(), hermitian=True), float)
        bias = inverse @ (scaled.T @ apart_m)
        z = np.abs(apart_m - design @ bias) / sd_m
        weight = np.minimum(1.0, HUBER_Z / np.maximum(z, HUBER_Z))
    misfit = max(1.0, float(np.sum(weight * z**2)) / max(len(apart_m) - len(bias) + 1, 1))
    # One reading takes part in several pairs: together they count for less than as many independent pairs.
    return bias, np.sqrt(2.0 * misfit * np.maximum(np.diag(inverse), 0.0))


def bias_findings(crossovers: Crossovers, soundings: Soundings, fieldbook: Fieldbook) -> Iterator[Finding]:
    """A finding for each clear bias, and for a level mark that is read the wrong way round."""
    table = soundings.table
    names, shows = _names(fieldbook, soundings), fieldbook.venue.shows
    for bias in crossovers.biases:
        if bias.is_clear:
            row = int(np.flatnonzero(names[bias.kind] == bias.name)[0])
            side = "deeper" if bias.bias_m > 0 else "shallower"
            apart = f"{shown_length(abs(bias.bias_m), shows)} ± {shown_length(bias.sd_m, shows)} {side}"
            name = written_day(bias.name) if bias.kind == "day" else bias.name
            is_edge = bias.kind == "method" and bias.name == "edge"
            yield Finding(
                Grade.WARNING,
                f"bias-{bias.kind}",
                SourceRow(str(table["file"].iloc[row]), int(table["row"].iloc[row])),
                f"the water's edge of a low day is {apart} than the readings beside it at {bias.pairs} spots"
                if is_edge
                else f"{bias.kind} {name} reads {apart} than the others at {bias.pairs} shared spots",
                "Check the level of the day on which the edge was walked, and that the edge is of that day."
                if is_edge
                else _REMEDIES[bias.kind],
            )
    yield from _level_sign(crossovers.pairs, soundings, fieldbook)


_REMEDIES = {
    "observer": "Compare how they measure: float, hook, where the setting starts, stretched line.",
    "day": "Check that day's level, and the time zone.",
    "float": "Measure the float again: its length above where it is fixed, and the tip showing.",
    "method": "Plumb a few spots both ways, and note what the plummet or pole sinks into.",
}


def _level_sign(pairs: Pairs, soundings: Soundings, fieldbook: Fieldbook) -> Iterator[Finding]:
    """If the mark is read the wrong way round, depths of two days differ by twice their levels."""
    mark = fieldbook.venue.mark
    levels = LevelHistory(fieldbook.levels, mark, fieldbook.venue.standard_errors)
    if not len(levels):
        return
    at = {(r.place.file, r.place.row): levels.rise(r.when) for r in fieldbook.readings}
    table = soundings.table
    known = [at.get(place) for place in zip(table["file"], table["row"], strict=True)]
    rise = np.array([level.rise_m if level and level.known else np.nan for level in known])
    change = rise[pairs.first] - rise[pairs.second]
    clear = np.isfinite(change) & (np.abs(change) > TOLD_M)
    if clear.sum() < LEAST_PAIRS:
        return
    slope, spread = _robust(csr_array(change[clear][:, None]), pairs.apart_m[clear], pairs.sd_m[clear])
    other = "dip" if mark.kind == "board" else "board"
    unit, short = ("foot", "ft") if fieldbook.venue.shows == "feet" else ("metre", "m")
    for factor, code, words, remedy in (
        (-2.0, LEVEL_SIGN, f"agree if the mark is a {other}, not a {mark.kind}", "Check [level] kind in venue.toml."),
        (-1.0, "level-idle", "agree better without the levels", "Check that the levels are of this lake and time."),
    ):  # fmt: skip
        if spread[0] < SIGN_SD and abs(slope[0] - factor) < min(SIGN_NEAR, 2 * spread[0] + 0.2):
            yield Finding(
                Grade.WARNING,
                code,
                SourceRow(fieldbook.levels[0].place.file),
                f"{int(clear.sum())} spots plumbed at two levels {words} "
                f"(for each {unit} of rise, the depth at datum came out "
                f"{-slope[0]:.2f} ± {spread[0]:.2f} {short} less)",
                remedy,
            )
