"""The float as a ruler: from what was set and seen to the depth on the day, or a bound on it.

Knows nothing of levels or places.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from survey.records.floats import Float
from survey.records.readings import FloatSeen, Reading
from survey.records.uncertainty import StandardErrors
from survey.records.venue import Venue
from survey.reduction.positions import rejected
from survey.units.lengths import shown_length

Kind = Literal["depth", "at_least", "at_most", "none"]

NEAR_M, FAR_M = 20.0, 30.0
"""A plummet is felt as well as near to, and as badly as beyond, these distances (common practice)."""

_ROUNDING_M = 0.002
FINE_IN = 0.25
"""Floats are short: their lengths are said to the quarter inch."""


@dataclass(frozen=True)
class Plumbed:
    """The depth a reading gives on its day.

    Parameters
    ----------
    kind : {"depth", "at_least", "at_most", "none"}
    depth_m : float
        Metres below the surface of the day, positive down; for bounds the bound; nan for none.
    """

    kind: Kind
    depth_m: float


def plumbed(reading: Reading, venue: Venue) -> Plumbed:
    """Depth on the day, or a bound on it.

    A setting with its float is preferred to a depth written beside it: it is what was observed.

    Raises
    ------
    RejectedReadingError
        The finding names what is missing or impossible.

    Notes
    -----
    With S the setting, e the hook's height off the bed, L the float's length above where it is fixed and p
    the tip showing (geometry; common practice): the float stands: d = S + e + L - p; it sinks:
    d > S + e + L; it lies flat: d <= S + e; it rides as usual: d <= S + e + L - usual tip.
    A setting measured to the float's tip already holds L.
    """
    if reading.setting_m is None:
        if reading.depth_m is None and reading.stopped_by:
            return Plumbed("none", math.nan)
        if reading.depth_m is None:
            raise rejected(
                reading, "depth-missing", "neither a depth nor a setting", "Write one of them, or set use to no."
            )
        found = Plumbed(reading.limit or "depth", reading.depth_m)
    else:
        found = _from_setting(reading, reading.setting_m, _float_of(reading, venue))
    if found.depth_m < 0:
        raise rejected(
            reading,
            "depth-negative",
            "the depth comes out above the water",
            "Check depth, setting and tip: depths are written positive down.",
            shown_length(found.depth_m, venue.shows),
        )
    return found


def _float_of(reading: Reading, venue: Venue) -> Float:
    held_by = venue.float_named(reading.float_name) if reading.float_name else None
    if held_by is None:
        raise rejected(
            reading,
            "float-unknown",
            "a setting gives no depth without its float",
            "Name a float of venue.toml, or add it there under [floats] with its length and tip.",
            reading.float_name,
        )
    if reading.tip_m is not None and reading.tip_m > held_by.length_m + _ROUNDING_M:
        tip, length = (shown_length(one, venue.shows, FINE_IN) for one in (reading.tip_m, held_by.length_m))
        raise rejected(
            reading,
            "tip-too-long",
            f'more tip showing than float "{held_by.name}" is long: {length}',
            "Check the tip and the float's name.",
            tip,
        )
    return held_by


def _from_setting(reading: Reading, setting_m: float, held_by: Float) -> Plumbed:
    to_hold = setting_m + reading.hook_height_m - (held_by.length_m if held_by.setting_to == "tip" else 0.0)
    to_top = to_hold + held_by.length_m
    seen = FloatSeen.STANDS if reading.seen is None and reading.tip_m is not None else reading.seen
    if seen is FloatSeen.STANDS:
        return Plumbed("depth", to_top - (held_by.tip_m if reading.tip_m is None else reading.tip_m))
    if seen is FloatSeen.SUNK:
        return Plumbed("at_least", to_top)
    if seen is FloatSeen.FLAT:
        return Plumbed("at_most", to_hold)
    if seen is FloatSeen.USUAL:
        return Plumbed("at_most", to_top - held_by.tip_m)
    raise rejected(
        reading,
        "seen-missing",
        "there is a setting, but not what the float did",
        "Write stands, sunk, flat or usual under seen.",
    )


def own_sd_m(reading: Reading, distance_m: float | None, standard_errors: StandardErrors) -> float:
    """Standard deviation of the depth itself: as declared, or by method and distance.

    Parameters
    ----------
    reading : Reading
    distance_m : float or None
        From the peg, metres; None where it is not known, which counts as far.
    standard_errors : StandardErrors

    Examples
    --------
    >>> from survey.errors import SourceRow
    >>> from survey.records.readings import Fix
    >>> r = Reading(SourceRow("a.csv", 2), "1", Fix(0, 0, "venue", 1))
    >>> [round(own_sd_m(r, d, StandardErrors()), 3) for d in (5, 20, 25, 30, None)]
    [0.06, 0.06, 0.09, 0.12, 0.12]
    """
    if reading.sd_m is not None:
        return reading.sd_m
    if reading.method == "pole":
        return standard_errors.pole_depth_m
    if reading.method == "stick":
        return standard_errors.stick_depth_m
    if reading.method in {"marker", "sounder"}:
        return standard_errors.marker_depth_m
    return float_sd_m(distance_m, standard_errors)


def float_sd_m(distance_m: float | None, standard_errors: StandardErrors) -> float:
    """How well a float and plummet measure depth at a distance, metres; None counts as far (common practice)."""
    share = 1.0 if distance_m is None else min(max((distance_m - NEAR_M) / (FAR_M - NEAR_M), 0.0), 1.0)
    return standard_errors.float_depth_near_m + share * (
        standard_errors.float_depth_far_m - standard_errors.float_depth_near_m
    )
