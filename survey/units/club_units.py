"""A club's own units: what its distances over the water are counted in, and what its level mark is read in.

Depths follow what a venue shows; these two are units of their own. Knows nothing of sheets.
"""

from __future__ import annotations

from dataclasses import dataclass

from survey.units.lengths import INCH_M, QUARTERS, UNIT_METRES, YARD_M, feet_inches, format_metres

COUNTED_IN = ("m", "yd", "ft", "wrap", "rod", "section")
"""Units that distances over the water may be counted in."""
DISTANCE_PLACES = {"ft": 0}
LEVEL_PLACES = {"m": 2, "cm": 1, "mm": 0, "ft": 2, "yd": 2}
"""Decimals of a level in each unit a mark may be read in; inches are shown to the quarter."""
METRIC = frozenset({"m", "cm", "mm"})
_MANY = {"wrap": "wraps", "rod": "rod lengths", "section": "pole sections"}


@dataclass(frozen=True)
class DistanceUnit:
    """What distances over the water are counted in.

    Parameters
    ----------
    unit : str
        One of :data:`COUNTED_IN`.
    worth_m : float
        Metres in one.
    """

    unit: str = "m"
    worth_m: float = 1.0

    @property
    def places(self) -> int:
        """Most decimals of a number."""
        return DISTANCE_PLACES.get(self.unit, 1)

    def figure(self, length_m: float) -> str:
        """The number without its unit: a tenth at most, feet whole; metres always with their tenth.

        Examples
        --------
        >>> DistanceUnit().figure(15), WRAP.figure(29.26), DistanceUnit("ft", 0.3048).figure(29.26)
        ('15.0', '8', '96')
        """
        text = f"{length_m / self.worth_m:z.{self.places}f}"
        return text if self.unit == "m" else text.removesuffix(".0")

    def shown(self, length_m: float) -> str:
        """A distance with its unit, as findings and commands say it.

        Examples
        --------
        >>> DistanceUnit().shown(15), DistanceUnit("yd", YARD_M).shown(15), WRAP.shown(3.6576), WRAP.shown(15)
        ('15.0 m', '16.4 yd', '1 wrap', '4.1 wraps')
        """
        return self._named(self.figure(length_m))

    def whole(self, length_m: float) -> str:
        """The same to the whole unit.

        Examples
        --------
        >>> DistanceUnit().whole(45.2), DistanceUnit("yd", YARD_M).whole(45.2), WRAP.whole(45.2)
        ('45 m', '49 yd', '12 wraps')
        """
        return self._named(f"{length_m / self.worth_m:.0f}")

    def _named(self, figure: str) -> str:
        words = _MANY.get(self.unit, self.unit)
        return f"{figure} {words.removesuffix('s') if figure == '1' else words}"

    def spans(self, shows: str) -> DistanceUnit:
        """The unit for ways over the water that nobody casts, fetch and drift: wraps and rods are not used for those.

        Examples
        --------
        >>> WRAP.spans("feet").unit, WRAP.spans("metres").unit, DistanceUnit().spans("feet").unit
        ('yd', 'm', 'm')
        """
        if self.unit in UNIT_METRES:
            return self
        return YARDS if shows == "feet" else METRES

    def area(self, area_m2: float, places: int = 0) -> str:
        """An area of water.

        Examples
        --------
        >>> DistanceUnit().area(320.4), DistanceUnit("yd", YARD_M).area(320.4)
        ('320 m²', '383 sq yd')
        """
        figure = f"{area_m2 / self.worth_m**2:.{places}f}"
        return f"{figure} m²" if self.unit == "m" else f"{figure} sq {self.unit}"


METRES = DistanceUnit()
YARDS = DistanceUnit("yd", YARD_M)
WRAP = DistanceUnit("wrap", 3.6576)
"""On sticks twelve feet apart: for the examples here."""


def level_figure(level_m: float, unit: str) -> str:
    """A level as the mark is read, without its unit: inches to the quarter, others in decimals.

    Examples
    --------
    >>> level_figure(0.71, "m"), level_figure(0.4318, "in"), level_figure(0.7112, "ft"), level_figure(-0.0127, "in")
    ('0.71', '17', '2.33', '-½')
    """
    if unit == "in":
        inches, quarter = divmod(int(abs(level_m) / INCH_M * 4 + 0.5), 4)
        sign = "-" if level_m < 0 and (inches or quarter) else ""
        return f"{sign}{inches or ''}{QUARTERS[quarter]}" if inches or quarter else "0"
    text = f"{level_m / UNIT_METRES[unit]:z.{LEVEL_PLACES[unit]}f}"
    return text if unit == "m" or "." not in text else text.rstrip("0").rstrip(".")


def shown_level(level_m: float, unit: str, shows: str) -> str:
    """A level, or a change of it, in the mark's own unit, and beside it as the venue shows depths where that differs.

    Examples
    --------
    >>> shown_level(0.71, "m", "feet"), shown_level(0.71, "m", "metres")
    ('0.71 m (2 ft 4 in)', '0.71 m')
    >>> shown_level(0.4318, "in", "feet"), shown_level(0.762, "ft", "feet"), shown_level(0.4318, "in", "metres")
    ('17 in', '2.5 ft (2 ft 6 in)', '17 in (0.43 m)')
    """
    own = f"{level_figure(level_m, unit)} {unit}"
    if shows == "feet":
        other = "" if unit == "in" else feet_inches(level_m)
    else:
        other = "" if unit in METRIC else format_metres(level_m)
    return own if other in {"", own} else f"{own} ({other})"
