"""Crossed sights: what the readings of a pair of pegs share, and what is each one's own.

The soundings table holds the whole ellipse of each spot; here the pegs' part is told from the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from survey.arrays import FloatArray
from survey.geometry.intersection import leverages
from survey.records.venue import Venue


@dataclass(frozen=True)
class SightedSpots:
    """Readings where two sights cross, once for each sight, and how their spots move with what its peg has wrong.

    Parameters
    ----------
    row : ndarray of int, shape (k,)
        Of the readings.
    peg : tuple of str
        k names.
    way, across : ndarray, shape (k, 2)
        The spot moves along ``way`` (metres) for a metre of the peg's point along ``across`` (a unit vector).
    turned_m : ndarray, shape (k,)
        Metres that count like those across for one standard deviation of the peg's straight out.
    brought : ndarray, shape (n, 2, 2)
        Covariance that the pegs bring to each reading, to be taken off its ellipse, m2.
    """

    row: NDArray[np.intp]
    peg: tuple[str, ...]
    way: FloatArray
    across: FloatArray
    turned_m: FloatArray
    brought: FloatArray


def sighted_spots(some: pd.DataFrame, at: FloatArray, venue: Venue) -> SightedSpots:
    """What pegs bring to the readings where sights from them cross, to first order.

    Parameters
    ----------
    some : DataFrame
        Rows of the soundings table.
    at : ndarray, shape (n, 2)
        Their spots.
    venue : Venue
    """
    row = np.flatnonzero((some["peg2"] != "").to_numpy())
    known = {peg.name: peg for peg in venue.pegs}
    names = [some["peg"].iloc[row].tolist(), some["peg2"].iloc[row].tolist()]
    points = [np.array([(known[n].easting, known[n].northing) for n in of], float).reshape(-1, 2) for of in names]
    brought, turned = np.zeros((len(some), 2, 2)), []
    levers = leverages(points[0], points[1], at[row])
    for of, lever, facing in zip(names, levers, ("facing_sd_deg", "facing2_sd_deg"), strict=True):
        point_sd = np.array([known[n].point_sd_m for n in of], float)
        turn_sd = some[facing].to_numpy()[row].astype(float)
        brought[row] += lever.covariance(point_sd, turn_sd)
        turned.append(lever.reach_m * np.radians(turn_sd))
    return SightedSpots(
        np.tile(row, 2),
        tuple(name for of in names for name in of),
        np.concatenate([lever.way for lever in levers]),
        np.concatenate([lever.across for lever in levers]),
        np.concatenate(turned),
        brought,
    )


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
