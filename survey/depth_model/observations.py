"""Soundings as the model wants them: places, values, and errors split into own and shared.

The order of rows never matters: evidence is sorted by place and value first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.sparse import csr_array, hstack

from survey.arrays import FloatArray
from survey.depth_model.crossed_bearings import Sighted, own_ellipse, sighted
from survey.depth_model.trend import Profile, outer_slope
from survey.errors import BedError
from survey.geometry.water import Locations, WaterGeometry
from survey.kriging.data import ConditioningData, unshared
from survey.records.soundings import Soundings
from survey.records.venue import Venue

SHORE_SPACING_M = 6.0
SHORE_POINTS = 140
"""No more than this many shore points: they are spaced wider on a long shore."""
SIGMA_STEP = 2.0**0.5
"""A reading's neighbours stand so many standard deviations of its position away: the mean square of
four depth differences is then the variance that position brings, on a slope and over an edge."""
LEAST_STEP_M = 0.5
PROFILE_REACH = 0.95
"""The mean profile is followed out to this quantile of the readings' distances to shore."""
MARGIN_CLEAR_M = 4.0
"""A measured margin replaces the shore points this near to its peg."""
MARGIN_SD_M = 0.05


@dataclass(frozen=True)
class BedSlope:
    """The bed about each reading, as far as position errors meet it.

    Parameters
    ----------
    slope : ndarray, shape (n, 2)
        Gradient of depth (east, north), dimensionless, for errors that readings share.
    own_var : ndarray, shape (n,)
        Variance that the reading's own position error brings, m2.
    """

    slope: FloatArray
    own_var: FloatArray


@dataclass(frozen=True)
class Observations:
    """Readings as observations, before the part that depends on the bed's slope.

    Parameters
    ----------
    places : Locations
        n readings of depth.
    beside : Locations
        4n: each reading's neighbours further and nearer along the cast, right and left of it.
    beside_wet : ndarray of bool, shape (4n,)
    steps_m : ndarray, shape (n, 2)
        How far those stand, along and across.
    depth_m, own_var : ndarray, shape (n,)
    level : csr_array, shape (n, b)
        Level error shared within blocks, metres.
    along : ndarray, shape (n, 2)
        Unit vector of the cast in the venue CRS.
    position_sd_m : ndarray, shape (n, 2)
        The reading's own position error along and across the cast.
    turn : ndarray, shape (n, 2)
        How the spot moves with the peg's straight-out bearing, one standard deviation, metres.
    peg, peg_sd_m : ndarray, shape (n,)
        Peg index (-1: none) and the standard deviation of its point; for a cast.
    sighted : Sighted
        The same where two sights cross.
    rows : ndarray of int, shape (n,)
        Position of each in the soundings table.
    trusted : ndarray of bool, shape (n,)
        Never set aside: somebody decided to keep them.
    bounds : Bounds
    shore : ConditioningData
    profile : Profile
    level_off_m : float
        See :meth:`survey.geometry.water.WaterGeometry.places`.
    outer_slope : float
        Depth gained per metre from shore among the outermost readings, dimensionless.
    """

    places: Locations
    beside: Locations
    beside_wet: NDArray[np.bool_]
    steps_m: FloatArray
    depth_m: FloatArray
    own_var: FloatArray
    level: csr_array
    along: FloatArray
    position_sd_m: FloatArray
    turn: FloatArray
    peg: NDArray[np.intp]
    peg_sd_m: FloatArray
    sighted: Sighted
    rows: NDArray[np.intp]
    trusted: NDArray[np.bool_]
    bounds: Bounds
    shore: ConditioningData
    profile: Profile
    level_off_m: float
    outer_slope: float

    def __len__(self) -> int:
        return len(self.depth_m)

    def data(self, bed_slope: BedSlope, keep: NDArray[np.bool_]) -> ConditioningData:
        """Readings and shore for conditioning.

        Parameters
        ----------
        bed_slope : BedSlope
            Turns position error into depth error.
        keep : ndarray of bool, shape (n,)
            Readings to use.
        """
        own = self.own_var + bed_slope.own_var
        shared = hstack([self.level, self._peg_columns(bed_slope.slope)], format="csr")
        readings = ConditioningData(
            self.places, self.depth_m, own, shared, self.profile.at(self.places.shore_m), np.zeros(len(self), bool)
        )
        return readings.take(keep).joined(self.shore)

    def _peg_columns(self, slope: FloatArray) -> csr_array:
        """How each peg's easting, northing and straight out move the depths of its readings, shape (n, 3 pegs)."""
        cast, sighted = np.flatnonzero(self.peg >= 0), self.sighted
        pegs = np.concatenate([self.peg[cast], sighted.peg])
        if not len(pegs):
            return unshared(len(self))
        rows, shape = np.concatenate([cast, sighted.row]), (len(self), int(pegs.max()) + 1)
        turn = (self.turn * slope).sum(axis=1)
        of_casts = (self.peg_sd_m * slope[:, 0], self.peg_sd_m * slope[:, 1], turn)
        moved = (sighted.moves * slope[sighted.row]).sum(axis=2)
        columns = [np.concatenate([of[cast], of_sights]) for of, of_sights in zip(of_casts, moved, strict=True)]
        return hstack([csr_array((column, (rows, pegs)), shape=shape) for column in columns], format="csr")

    def tilt_from(self, here: FloatArray, beside: FloatArray) -> BedSlope:
        """What position errors do, from the bed's depths at the readings and at ``beside``."""
        beside = np.where(self.beside_wet, beside, self.profile.edge_m).reshape(4, -1)
        squares = 0.25 * (beside - here) ** 2
        share = (SIGMA_STEP * self.position_sd_m / self.steps_m) ** 2
        own = (squares[0] + squares[1]) * share[:, 0] + (squares[2] + squares[3]) * share[:, 1]
        rise = np.column_stack([beside[0] - beside[1], beside[2] - beside[3]]) / (2 * self.steps_m)
        side = np.column_stack([self.along[:, 1], -self.along[:, 0]])
        return BedSlope(rise[:, :1] * self.along + rise[:, 1:] * side, own)

    @property
    def no_slope(self) -> BedSlope:
        """A level bed: position errors bring nothing."""
        return BedSlope(np.zeros((len(self), 2)), np.zeros(len(self)))


@dataclass(frozen=True)
class Bounds:
    """One-sided evidence: the bed is at least, or at most, so deep.

    Parameters
    ----------
    places : Locations
    limit_m, own_var : ndarray, shape (k,)
    side : ndarray, shape (k,)
        +1: at least; -1: at most.
    rows : ndarray of int, shape (k,)
    """

    places: Locations
    limit_m: FloatArray
    own_var: FloatArray
    side: FloatArray
    rows: NDArray[np.intp]

    def __len__(self) -> int:
        return len(self.limit_m)

    def take(self, index: NDArray[np.bool_] | NDArray[np.intp]) -> Bounds:
        """The bounds of an index."""
        return Bounds(
            self.places.take(index), self.limit_m[index], self.own_var[index], self.side[index], self.rows[index]
        )


def observations_from(
    venue: Venue, soundings: Soundings, frame: WaterGeometry, trusted: frozenset[tuple[str, int]] = frozenset()
) -> Observations:
    """Evidence from soundings.

    Parameters
    ----------
    venue : Venue
    soundings : Soundings
    frame : WaterGeometry
    trusted : frozenset of (str, int)
        File and row of readings that are never set aside.

    Raises
    ------
    BedError
        Not one depth can be used.
    """
    table, xy = soundings.table, soundings.xy
    used = table["use"].to_numpy(bool)
    is_depth = (table["kind"] == "depth").to_numpy(bool)
    rows = _canonical(np.flatnonzero(used & is_depth), xy, table)
    if not len(rows):
        raise BedError("no reading with a depth can be used, so there is no bed. The check lists the rows set aside.")
    some, at = table.iloc[rows], xy[rows]
    shore = frame.shore_m(at)
    level_off = float(np.quantile(shore, PROFILE_REACH))
    places = frame.places(at, level_off)
    profile = Profile.through(places.shore_m, some["depth_m"].to_numpy(float), venue.edge_at_datum_m)
    index = {name: k for k, name in enumerate(sorted((set(some["peg"]) | set(some["peg2"])) - {""}))}
    crossed = sighted(some, at, index, venue)
    out, position = own_ellipse(some, crossed.brought)
    side = np.column_stack([out[:, 1], -out[:, 0]])
    # Where two sights cross, straight out is among what the pegs bring.
    facing = np.where(some["peg2"] == "", some["facing_sd_deg"], 0.0)
    turned = some["distance_m"].to_numpy(float) * np.radians(facing)
    steps = np.maximum(SIGMA_STEP * position, LEAST_STEP_M)
    beside = np.vstack([at + s * v * steps[:, k : k + 1] for k, v in enumerate((out, side)) for s in (1.0, -1.0)])
    return Observations(
        places=places,
        beside=frame.places(beside, level_off),
        beside_wet=shapely.intersects_xy(frame.water, beside[:, 0], beside[:, 1]),
        steps_m=steps,
        depth_m=some["depth_m"].to_numpy(float),
        own_var=some["sd_m"].to_numpy(float) ** 2,
        level=_level_columns(some),
        along=out,
        position_sd_m=position,
        turn=side * turned[:, None],
        peg=np.array([index.get(name, -1) for name in some["peg"]], np.intp),
        peg_sd_m=some["peg_sd_m"].to_numpy(float),
        sighted=crossed,
        rows=rows,
        trusted=np.array([key in trusted for key in zip(some["file"], some["row"], strict=True)], bool),
        bounds=_bounds(table, xy, used & ~is_depth, frame, level_off),
        shore=_shore(venue, frame, profile, level_off),
        profile=profile,
        level_off_m=level_off,
        outer_slope=outer_slope(shore, some["depth_m"].to_numpy(float)),
    )


def _canonical(rows: NDArray[np.intp], xy: FloatArray, table: pd.DataFrame) -> NDArray[np.intp]:
    """Rows by place, depth and what else they bring: two of one spot and depth may be of different days."""
    some = table.iloc[rows]
    names = [np.unique(some[name].astype(str).to_numpy(str), return_inverse=True)[1] for name in ("peg", "level_block")]
    sds = [some[name].to_numpy(float) for name in ("tangential_sd_m", "radial_sd_m", "sd_m", "depth_m")]
    return rows[np.lexsort((*names, *sds, xy[rows, 1], xy[rows, 0]))]


def _level_columns(some: pd.DataFrame) -> csr_array:
    names = some["level_block"].astype(str).to_numpy(str)
    at = np.flatnonzero(names != "")
    blocks, block = np.unique(names[at], return_inverse=True)
    return _blocks(at, block, some["level_sd_m"].to_numpy(float)[at], (len(some), len(blocks)))


def _blocks(row: NDArray[np.intp], column: NDArray[np.intp], value: FloatArray, shape: tuple[int, int]) -> csr_array:
    """A matrix with at most one value in each row."""
    return csr_array((value, (row, column)), shape=shape)


def _bounds(
    table: pd.DataFrame, xy: FloatArray, which: NDArray[np.bool_], frame: WaterGeometry, level_off_m: float
) -> Bounds:
    rows = _canonical(np.flatnonzero(which), xy, table)
    some = table.iloc[rows]
    own = some["sd_m"].to_numpy(float) ** 2 + some["level_sd_m"].to_numpy(float) ** 2
    side = np.where(some["kind"] == "at_least", 1.0, -1.0)
    return Bounds(frame.places(xy[rows], level_off_m), some["depth_m"].to_numpy(float), own, side, rows)


def _shore(venue: Venue, frame: WaterGeometry, profile: Profile, level_off_m: float) -> ConditioningData:
    """The water's edge as data; a measured margin stands in for the edge near its peg."""
    length = sum(ring.length for ring in frame.rings)
    xy = frame.shore_points(max(SHORE_SPACING_M, length / SHORE_POINTS))
    values = np.full(len(xy), venue.edge_at_datum_m)
    sds = np.full(len(xy), venue.edge_sd_m)
    measured = [p for p in venue.pegs if p.margin_depth_m is not None]
    for peg in measured:
        far = np.hypot(xy[:, 0] - peg.easting, xy[:, 1] - peg.northing) > MARGIN_CLEAR_M
        xy, values, sds = xy[far], values[far], sds[far]
    if measured:
        xy = np.vstack([xy, [[p.easting, p.northing] for p in measured]])
        values = np.append(values, [p.margin_depth_m or 0.0 for p in measured])
        sds = np.append(sds, np.full(len(measured), MARGIN_SD_M))
    order = np.lexsort((xy[:, 1], xy[:, 0]))
    places = frame.places(xy[order], level_off_m)
    return ConditioningData(
        places,
        values[order],
        sds[order] ** 2,
        unshared(len(xy)),
        profile.at(places.shore_m),
        np.ones(len(xy), bool),
    )
