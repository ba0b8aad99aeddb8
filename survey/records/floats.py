"""A float as a ruler: how long it is, and how much of it shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from survey.errors import SurveyError
from survey.units.float_ratings import FloatMark

SettingTo = Literal["hold", "tip"]

FloatKind = Literal["fixed", "sliding", "pole"]

LONGEST_FLOAT_M = 1.5


@dataclass(frozen=True)
class Float:
    """A float as a ruler.

    Parameters
    ----------
    name : str
    length_m : float
        Length above the point where the line holds it, metres.
    tip_m : float
        How much of that usually shows above the water, metres.
    setting_to : {"hold", "tip"}
        Where this angler measures a setting to.
    kind : {"fixed", "sliding", "pole"}
        How it is held: at one place of the line, sliding up to a stop knot, or on a pole's rig.
    mark : FloatMark or None
        The weight it takes; None: not declared.
    """

    name: str
    length_m: float
    tip_m: float
    setting_to: SettingTo = "hold"
    kind: FloatKind = "fixed"
    mark: FloatMark | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.length_m <= LONGEST_FLOAT_M:
            raise SurveyError(
                f'float "{self.name}": length {self.length_m:g} m; '
                f"a float is 0 to {LONGEST_FLOAT_M:g} m long above where it is fixed."
            )
        if not 0 <= self.tip_m <= max(self.length_m, 0.0):
            raise SurveyError(
                f'float "{self.name}": {self.tip_m:g} m of tip showing, '
                f"but only {self.length_m:g} m of float is above where it is fixed."
            )

    @property
    def below_surface_m(self) -> float:
        """Length between where it is fixed and the water surface when the float stands, metres."""
        return self.length_m - self.tip_m


BARE_LINE = Float("bare line", 0.0, 0.0)
"""No float chosen: the setting is then the length of line from hook to surface."""
