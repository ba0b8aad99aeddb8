"""Readings where the adjustment has them, with their own errors of place and those they share."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from survey.adjustment.crossed_bearings import own_ellipse, sighted_spots
from survey.adjustment.own_errors import OwnSource, own_sources
from survey.adjustment.shared_errors import (
    Adjustment,
    Casts,
    SharedErrors,
    adjusted_casts,
    peg_axes,
    shared_errors,
)
from survey.arrays import Flags, FloatArray
from survey.records.soundings import Soundings
from survey.records.venue import Venue


@dataclass(frozen=True)
class PlacedReadings:
    """Where n readings lie by some values of the unknowns.

    Parameters
    ----------
    at : ndarray, shape (n, 2)
        Easting and northing, metres.
    along : ndarray, shape (n, 2)
        Unit vector of the cast, or of the long axis of another spot's error.
    position_sd_m : ndarray, shape (n, 2)
        Own position error along and across that, as stated.
    is_cast : ndarray of bool, shape (n,)
    own_sources : tuple of OwnSource
        What they err by singly.
    errors : SharedErrors
    """

    at: FloatArray
    along: FloatArray
    position_sd_m: FloatArray
    is_cast: Flags
    own_sources: tuple[OwnSource, ...]
    errors: SharedErrors


def placed_by(venue: Venue, some: pd.DataFrame, written: FloatArray, adjustment: Adjustment) -> PlacedReadings:
    """Place readings.

    Parameters
    ----------
    venue : Venue
    some : DataFrame
        Rows of the soundings table.
    written : ndarray, shape (n, 2)
        Their spots as written.
    adjustment : mapping
        Values of unknowns; those not in it are nought.
    """
    spots = sighted_spots(some, written, venue)
    along, position = own_ellipse(some, spots.brought)
    observers = [who or file for who, file in zip(some["observer"], some["file"], strict=True)]
    casts = _casts(some, along, observers)
    known = {peg.name: peg.point_sd_m for peg in venue.pegs}
    sds = [*casts.peg_sd_m, *(known[name] for name in spots.peg)]
    axes = peg_axes(venue, [*casts.peg, *spots.peg], sds)
    shift, off = adjusted_casts(casts, axes, adjustment)
    at = written.copy()
    at[casts.row] += shift + off - casts.off
    is_cast = np.zeros(len(some), bool)
    is_cast[casts.row] = True
    far = np.hypot(off[:, 0], off[:, 1])
    turned = far > 0
    along[casts.row[turned]] = off[turned] / far[turned, None]
    errors = shared_errors(some, observers, casts, off, spots, axes)
    moved = errors.moved_by(adjustment)
    at[spots.row] = written[spots.row] + moved[spots.row]
    sources = own_sources(observers, is_cast, some["declared"].tolist())
    return PlacedReadings(at, along, position, is_cast, sources, errors)


def _casts(some: pd.DataFrame, along: FloatArray, observers: list[str]) -> Casts:
    row = np.flatnonzero(((some["peg"] != "") & (some["peg2"] == "")).to_numpy())
    distance = some["distance_m"].to_numpy(float)[row]
    of_table = {name: some[name].to_numpy(float)[row] for name in ("peg_sd_m", "facing_sd_deg")}
    return Casts(
        row=row,
        peg=tuple(some["peg"].iloc[row]),
        off=along[row] * distance[:, None],
        observer=tuple(observers[k] for k in row.tolist()),
        **of_table,
    )


def moved_soundings(soundings: Soundings, venue: Venue, adjustment: Adjustment) -> Soundings:
    """Soundings where the adjustment has them; ``venue`` is the one they were placed by."""
    table = soundings.table
    if not any(adjustment.values()) or table.empty:
        return soundings
    placed = placed_by(venue, table, soundings.xy, adjustment)
    turned = np.degrees(np.arctan2(placed.along[:, 0], placed.along[:, 1])) % 360.0
    new = table.assign(radial_deg=np.where(placed.is_cast, turned, table["radial_deg"]))
    return Soundings(new.set_geometry(gpd.points_from_xy(*placed.at.T, crs=table.crs)))
