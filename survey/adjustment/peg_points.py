"""Pegs stand on the bank: their written points drawn to the outline, as far as their errors and the outline's allow.

Across the shore the outline bounds a peg's point; along it only its readings can. How far all points lie from the
outline also tells how good they are. Knows nothing of readings.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.special import ndtr

from survey.arrays import FloatArray
from survey.geometry.geodesy import Geodesy
from survey.geometry.shoreline import Shoreline
from survey.records.venue import BankPoint, Peg, Venue

AT_EDGE_SD_M = 0.7
"""How far from the traced edge a peg stands that stands at the water, the error of tracing included."""
SET_BACK_M = 10.0
"""Pegs that stand back from the water are held to stand anywhere up to this far from it."""
LEAST_ALONG_M = 0.5
"""A peg is a place to stand, not a point."""
FACTOR_LOG_SD = 1.0
"""How far the stated error of points is trusted: standard deviation of the logarithm of true over stated."""
LINE_M = 0.5
"""How far the line on which pegs stand lies from the traced edge: mean of an exponential distribution to either side,
which holds a small offset to nought and lets a clear one stand."""
ELSEWHERE_SHARE, ELSEWHERE_M = 0.05, 40.0
"""So many pegs stand neither there nor near the bank, or are mistaken: anywhere within a belt so wide."""
LEAST_SHARE, LEAST_SD_M = 0.01, 0.01
BACK_PRIOR = (1.5, 8.5)
"""Parameters of the beta distribution of the share of pegs that stand back: about one in seven."""
ASTRAY_SD = 3.0
"""A point further off than the bank and this many of its standard deviations is left as it is written."""
ELSEWHERE = ("platform", "staging", "island", "set back", "jetty", "pontoon", "boat")
"""Words in a peg's note that say it does not stand on the bank of the outline."""


@dataclass(frozen=True)
class _Group:
    """Pegs whose points are equally good: distances from the water (negative over it) and their stated error."""

    pegs: tuple[Peg, ...]
    back_m: FloatArray
    sd_m: float


def pegs_on_bank(venue: Venue) -> Venue:
    """The venue with its pegs' points drawn to the bank.

    Each point's distance from the water is either that of a peg at the edge or of one that stands back; the error of
    the points, as a factor on what is stated, and the share that stands back are found from all pegs of one stated
    error together (maximum a posteriori on a grid). Mean and variance of the mixture then replace the point's.

    Notes
    -----
    Moments of a mixture of two truncated or plain normal distributions; a truncated normal's are those of Johnson,
    Kotz and Balakrishnan 1994, section 13.10.1 (from memory).
    """
    shore = Shoreline(venue.water)
    by_sd: dict[float, list[Peg]] = defaultdict(list)
    for peg in venue.pegs:
        elsewhere = peg.off_bank or any(word in peg.note.casefold() for word in ELSEWHERE)
        if peg.position_sd_m > 0 and not elsewhere:
            by_sd[peg.position_sd_m].append(peg)
    geodesy = Geodesy(venue.crs)
    groups = (_group(pegs, sd, shore) for sd, pegs in sorted(by_sd.items()))
    drawn = {peg.name: peg for group in groups for peg in _drawn(group, shore, geodesy)}
    return replace(venue, pegs=tuple(drawn.get(peg.name, peg) for peg in venue.pegs))


def _group(pegs: Iterable[Peg], sd_m: float, shore: Shoreline) -> _Group:
    pegs = tuple(pegs)
    back = np.array([shore.distance_m(peg.easting, peg.northing) for peg in pegs])
    wet = shapely.intersects_xy(shore.water, *np.array([(peg.easting, peg.northing) for peg in pegs]).T)
    back = np.where(wet, -back, back)
    near = np.flatnonzero(np.abs(back) <= SET_BACK_M + ASTRAY_SD * sd_m)
    return _Group(tuple(pegs[k] for k in near), back[near], sd_m)


def _drawn(group: _Group, shore: Shoreline, geodesy: Geodesy) -> list[Peg]:
    if not group.pegs:
        return []
    found = _most_probable(group)
    mean, across = found.moments(group.back_m)
    along = max(found.sd_m, LEAST_ALONG_M)
    return [
        _moved(peg, back, m, BankPoint(peg.easting, peg.northing, 0.0, a, along), shore, geodesy)
        for peg, back, m, a in zip(group.pegs, group.back_m.tolist(), mean.tolist(), across.tolist(), strict=True)
    ]


@dataclass(frozen=True)
class Standing:
    """Where pegs of a group stand, and how well their points are known.

    Parameters
    ----------
    sd_m : float
        Error of the written points, each axis.
    line_m : float
        Most stand so far behind the traced edge: the outline's error, or where the bank is walked.
    share : float
        Of those that stand back, anywhere up to :data:`SET_BACK_M`.
    """

    sd_m: float
    line_m: float
    share: float

    def weights(self, back_m: FloatArray) -> FloatArray:
        """Chances that pegs stand on the line, back from it, or elsewhere, by what is written, shape (3, n)."""
        line, back = _densities(back_m - self.line_m, self.sd_m)
        shares = np.array([1 - self.share, self.share])[:, None] * (1 - ELSEWHERE_SHARE)
        each = np.vstack([shares * [line, back], np.full(len(back_m), ELSEWHERE_SHARE / ELSEWHERE_M)])
        return np.asarray(each / each.sum(axis=0))

    def moments(self, back_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where pegs stand behind the edge by what is written, and the standard deviation of that, metres."""
        off, kept = back_m - self.line_m, AT_EDGE_SD_M**2 / (AT_EDGE_SD_M**2 + self.sd_m**2)
        # Of a normal distribution cut off at both ends.
        both = math.hypot(self.sd_m, AT_EDGE_SD_M)
        low, high = -off / both, (SET_BACK_M - off) / both
        mass = np.maximum(ndtr(high) - ndtr(low), 1e-12)
        p, q = (np.exp(-0.5 * z**2) / math.sqrt(2 * math.pi) for z in (low, high))
        mean_back = np.clip(off + both * (p - q) / mass, 0.0, SET_BACK_M)
        var_back = both**2 * np.clip(1 + (low * p - high * q) / mass - ((p - q) / mass) ** 2, 0.0, 1.0)
        means = np.array([off * kept, mean_back, off])
        variances = np.array([np.full(len(off), kept * self.sd_m**2), var_back, np.full(len(off), self.sd_m**2)])
        weights = self.weights(back_m)
        mean = (weights * means).sum(axis=0)
        spread = (weights * (variances + means**2)).sum(axis=0) - mean**2
        return self.line_m + mean, np.sqrt(np.maximum(spread, LEAST_SD_M**2))


def _densities(off_m: FloatArray, sd_m: float) -> tuple[FloatArray, FloatArray]:
    """Of distances written behind the line, for pegs on it and for pegs that stand back, per metre."""
    both = math.hypot(sd_m, AT_EDGE_SD_M)
    scaled = off_m / both
    line = np.exp(-0.5 * scaled**2) / (both * math.sqrt(2 * math.pi))
    return line, (ndtr(scaled) - ndtr(scaled - SET_BACK_M / both)) / SET_BACK_M


def _most_probable(group: _Group) -> Standing:
    """By a grid over all three, refined once."""
    best = Standing(group.sd_m, 0.0, BACK_PRIOR[0] / sum(BACK_PRIOR))
    for width in (1.0, 0.15):
        sds = best.sd_m * np.exp(width * np.linspace(-4.0, 2.0, 25))
        lines = best.line_m + width * np.linspace(-6.0, 10.0, 33)
        shares = np.clip(best.share + width * np.linspace(-0.5, 0.9, 15), LEAST_SHARE, 1 - LEAST_SHARE)
        found = np.array([[_log_probability(group, sd, line, shares) for line in lines] for sd in sds.tolist()])
        i, j, k = np.unravel_index(int(np.argmax(found)), found.shape)
        best = Standing(float(sds[i]), float(lines[j]), float(shares[k]))
    return best


def _log_probability(group: _Group, sd_m: float, line_m: float, shares: FloatArray) -> FloatArray:
    """Of these and the written distances, up to a constant, by share."""
    line, back = _densities(group.back_m - line_m, sd_m)
    (a, b), near = BACK_PRIOR, 1 - ELSEWHERE_SHARE
    each = near * (np.outer(1 - shares, line) + np.outer(shares, back)) + ELSEWHERE_SHARE / ELSEWHERE_M
    off = 0.5 * (math.log(sd_m / group.sd_m) / FACTOR_LOG_SD) ** 2 + abs(line_m) / LINE_M
    of_shares = (a - 1) * np.log(shares) + (b - 1) * np.log(1 - shares)
    return np.asarray(np.log(each).sum(axis=1) + of_shares - off)


def _moved(peg: Peg, back_m: float, stands_m: float, bank: BankPoint, shore: Shoreline, geodesy: Geodesy) -> Peg:
    """The peg so far behind the edge, straight across the shore from where it was written."""
    at = np.array([peg.easting, peg.northing])
    azimuth = shore.out_azimuth_deg(*at.tolist())
    out = np.array([math.sin(math.radians(azimuth)), math.cos(math.radians(azimuth))])
    bank = replace(bank, out_azimuth_deg=azimuth)
    return moved_peg(replace(peg, bank=bank), (back_m - stands_m) * out, geodesy)


def moved_peg(peg: Peg, by_m: FloatArray, geodesy: Geodesy) -> Peg:
    """The peg with its point moved so many metres east and north, shape (2,)."""
    east, north = (np.array([peg.easting, peg.northing]) + by_m).tolist()
    lon, lat = geodesy.lonlat(east, north)
    return replace(peg, easting=east, northing=north, lon=float(lon), lat=float(lat))
