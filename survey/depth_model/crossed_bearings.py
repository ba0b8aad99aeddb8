"""Crossed sights in the evidence: what the readings of a pair of pegs share, and what is each one's own.

The soundings table holds the whole ellipse of each spot; here the pegs' part is told from the rest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from survey.arrays import FloatArray
from survey.geometry.intersection import leverages
from survey.records.venue import Venue


@dataclass(frozen=True)
class Sighted:
    """Readings where two sights cross, once for each sight, and how their spots move with what its peg has wrong.

    Parameters
    ----------
    row : ndarray of int, shape (k,)
        Of the evidence.
    peg : ndarray of int, shape (k,)
        Peg index.
    moves : ndarray, shape (3, k, 2)
        Metres east and north for one standard deviation of the peg's easting, northing and straight out.
    brought : ndarray, shape (n, 2, 2)
        Covariance that the pegs bring to each reading, to be taken off its ellipse, m2.
    """

    row: NDArray[np.intp]
    peg: NDArray[np.intp]
    moves: FloatArray
    brought: FloatArray


def sighted(some: pd.DataFrame, at: FloatArray, index: Mapping[str, int], venue: Venue) -> Sighted:
    """What pegs bring to the readings where sights from them cross, to first order.

    Parameters
    ----------
    some : DataFrame
        Rows of the soundings table.
    at : ndarray, shape (n, 2)
        Their spots.
    index : mapping
        Peg index by name.
    venue : Venue
    """
    row = np.flatnonzero((some["peg2"] != "").to_numpy())
    known = {peg.name: peg for peg in venue.pegs}
    names = [some["peg"].iloc[row].tolist(), some["peg2"].iloc[row].tolist()]
    points = [np.array([(known[n].easting, known[n].northing) for n in of], float).reshape(-1, 2) for of in names]
    brought, moves = np.zeros((len(some), 2, 2)), []
    for of, lever, facing in zip(
        names, leverages(points[0], points[1], at[row]), ("facing_sd_deg", "facing2_sd_deg"), strict=True
    ):
        point_sd = np.array([known[n].position_sd_m for n in of], float)
        turn_sd = some[facing].to_numpy()[row].astype(float)
        brought[row] += lever.covariance(point_sd, turn_sd)
        across = (*(point_sd * lever.across.T), lever.reach_m * np.radians(turn_sd))
        moves.append(np.stack([lever.way * by_m[:, None] for by_m in across]))
    peg = np.array([index[name] for of in names for name in of], np.intp)
    return Sighted(np.tile(row, 2), peg, np.concatenate(moves, axis=1), brought)


def own_ellipse(some: pd.DataFrame, brought: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Unit vector, shape (n, 2), and standard deviations along and across it of each reading's own position error."""
    radial = np.radians(some["radial_deg"].to_numpy(float))
    out = np.column_stack([np.sin(radial), np.cos(radial)])
    position = some[["radial_sd_m", "tangential_sd_m"]].to_numpy(float, copy=True)
    crossed = np.flatnonzero((some["peg2"] != "").to_numpy())
    if len(crossed):
        axes = np.stack([out, np.column_stack([out[:, 1], -out[:, 0]])], axis=2)[crossed]
        whole = (axes * position[crossed, None, :] ** 2) @ axes.transpose(0, 2, 1)
        values, vectors = np.linalg.eigh(whole - brought[crossed])
        out[crossed] = vectors[:, :, 1]
        position[crossed] = np.sqrt(np.maximum(values[:, ::-1], 0.0))
    return out, position
