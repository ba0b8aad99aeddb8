"""What is fixed about one lake: water, pegs, level mark, floats, and what the venue declares.

Records only; they check themselves when made. Knows nothing of files or readings.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from shapely.geometry import MultiPolygon

from survey.errors import Place, SurveyError
from survey.floatmarks import FloatMark
from survey.units import Sizes

MarkKind = Literal["board", "dip"]
DistanceFrom = Literal["peg", "edge", "rod tip"]
North = Literal["true", "magnetic", "grid"]
SettingTo = Literal["hold", "tip"]
FloatKind = Literal["fixed", "sliding", "pole"]

LONGEST_FLOAT_M = 1.5
LARGEST_SPREAD = 100.0


@dataclass(frozen=True)
class LevelMark:
    """The venue's one water level mark.

    Parameters
    ----------
    kind : {"board", "dip"} or None
        A board reads more as the water rises; a dip is the distance down to the water.
        None: the venue declares no mark, and level records cannot be used.
    datum_m : float
        What the mark shows at the level for which published depths hold, metres.
    outline_m : float or None
        What it showed when the outline was traced; None: the datum.
    """

    kind: MarkKind | None = None
    datum_m: float = 0.0
    outline_m: float | None = None

    def height_m(self, shown_m: float) -> float:
        """Height of the surface, positive up, for what the mark shows (metres)."""
        return -shown_m if self.kind == "dip" else shown_m

    def rise_m(self, shown_m: float) -> float:
        """How far the surface stands above the datum, metres, for what the mark shows."""
        return self.height_m(shown_m) - self.height_m(self.datum_m)

    def shown_m(self, rise_m: float) -> float:
        """What the mark shows with the surface so far above the datum, metres."""
        return self.datum_m - rise_m if self.kind == "dip" else self.datum_m + rise_m

    @property
    def outline_rise_m(self) -> float:
        """How far the surface stood above the datum when the outline was traced, metres."""
        return 0.0 if self.outline_m is None else self.rise_m(self.outline_m)


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
                f"a float is 0 to {LONGEST_FLOAT_M:g} m long above its hold point."
            )
        if not 0 <= self.tip_m <= max(self.length_m, 0.0):
            raise SurveyError(
                f'float "{self.name}": {self.tip_m:g} m of tip showing, '
                f"but only {self.length_m:g} m of float stands above the hold point."
            )

    @property
    def below_surface_m(self) -> float:
        """Length between hold point and water surface when the float stands, metres."""
        return self.length_m - self.tip_m


BARE_LINE = Float("bare line", 0.0, 0.0)
"""No float chosen: the setting is then the length of line from hook to surface."""


@dataclass(frozen=True)
class Peg:
    """A numbered place on the bank.

    Parameters
    ----------
    name : str
        As painted.
    easting, northing : float
        Venue CRS, metres.
    lon, lat : float
        WGS 84, degrees.
    facing_deg : float
        Straight out: true bearing of 12 o'clock, degrees clockwise from north.
    facing_sd_deg, position_sd_m : float
        Standard deviations of the bearing and of the point (each axis).
    facing_declared : bool
        False where straight out was worked out from the shore.
    margin_depth_m : float or None
        Measured depth at the edge, at datum.
    place : Place
        Where in the sheet.
    """

    name: str
    easting: float
    northing: float
    lon: float
    lat: float
    facing_deg: float
    facing_sd_deg: float
    position_sd_m: float
    place: Place
    facing_declared: bool = True
    aliases: tuple[str, ...] = ()
    access: str = ""
    status: str = ""
    note: str = ""
    margin_depth_m: float | None = None

    @property
    def is_closed(self) -> bool:
        """True where the sheet's status says so."""
        return self.status.casefold() in {"closed", "shut", "out of use"}

    @property
    def is_accessible(self) -> bool:
        """True where the sheet's access column says so."""
        return self.access.casefold() not in {"", "no", "none", "n", "steps"}


@dataclass(frozen=True)
class Spreads:
    """Standard deviations used where the sheets are silent (common practice; per venue)."""

    pole_depth_m: float = 0.02
    stick_depth_m: float = 0.02
    float_depth_near_m: float = 0.06
    float_depth_far_m: float = 0.12
    marker_depth_m: float = 0.15
    aimed_deg: float = 1.5
    compass_deg: float = 4.0
    half_hour_deg: float = 7.5 / 3**0.5
    hour_deg: float = 15.0 / 3**0.5
    pole_distance_m: float = 0.2
    tape_distance_m: float = 0.1
    wraps_distance_m: float = 0.4
    rods_distance_m: float = 0.6
    estimated_distance: float = 0.10
    peg_surveyed_m: float = 1.0
    peg_phone_m: float = 5.0
    facing_declared_deg: float = 0.0
    facing_guessed_deg: float = 15.0
    level_unknown_m: float = 0.25

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if not 0 <= value < LARGEST_SPREAD:
                raise SurveyError(
                    f"[spreads] {name} = {value:g}: a standard deviation is zero or more, and below {LARGEST_SPREAD:g}."
                )


@dataclass(frozen=True)
class Limits:
    """Where the bed counts as surveyed.

    Parameters
    ----------
    sd_m : float
        Water with a larger standard deviation is unsurveyed, metres.
    reach_m : float
        Within reach of a peg, in sight over water, metres.
    beyond_sd_m : float
        The stricter limit beyond reach, metres.
    """

    sd_m: float = 0.40
    reach_m: float = 45.0
    beyond_sd_m: float = 0.30


@dataclass(frozen=True)
class Publishing:
    """What the club says of a copy for everybody.

    Parameters
    ----------
    address : str
        Where the published folder will stand, ``https://...``; empty: nowhere yet.
    hidden_pegs : tuple of str
        Pegs that are left out with everything of theirs, by painted name or alias.
    hides_readings : bool
        True: where single readings fell is left out.
    contact : str
        Mail address under which the club answers for its readings; needed to share them onward.
    hides_place : bool
        True: a published copy does not tell where the lake lies.
    words_file : str
        File in the venue folder with the club's own words; empty: English.
    words : str
        What that file says, as JSON; filled in by who reads it.
    """

    address: str = ""
    hidden_pegs: tuple[str, ...] = ()
    hides_readings: bool = False
    contact: str = ""
    hides_place: bool = False
    words_file: str = ""
    words: str = ""


@dataclass(frozen=True)
class Venue:
    """One lake as its folder declares it.

    Parameters
    ----------
    name : str
    crs : str
        Metric CRS in which everything is worked, for example ``EPSG:32630``.
    water : MultiPolygon
        Water surface without islands, in ``crs``; valid, not empty.
    pegs : tuple of Peg
        In the order of the sheet.
    mark : LevelMark
    edge_depth_m, edge_sd_m : float
        Depth at the water's edge when the outline was traced, and its standard deviation.
    shows : {"feet", "metres"}
        What is shown first.
    sizes : Sizes
        What a wrap, a rod length and a pole section are worth here; for questions as for sheets.
    stated : tuple of str
        Defaults that were taken, each a sentence for the page.
    """

    name: str
    crs: str
    water: MultiPolygon
    pegs: tuple[Peg, ...]
    mark: LevelMark = field(default_factory=LevelMark)
    floats: tuple[Float, ...] = ()
    spreads: Spreads = field(default_factory=Spreads)
    limits: Limits = field(default_factory=Limits)
    edge_depth_m: float = 0.0
    edge_sd_m: float = 0.2
    timezone: str = "UTC"
    shows: Literal["feet", "metres"] = "feet"
    rod_reach_m: float | None = None
    sizes: Sizes = field(default_factory=Sizes)
    declination_deg: float | None = None
    credit: str = ""
    licence: str = ""
    emergency: str = ""
    cautions: tuple[str, ...] = ()
    stated: tuple[str, ...] = ()
    publishing: Publishing = field(default_factory=Publishing)

    def __post_init__(self) -> None:
        if self.water.is_empty or not self.water.is_valid:
            raise SurveyError(f'venue "{self.name}": the water outline is empty or crosses itself.')

    @property
    def edge_at_datum_m(self) -> float:
        """Depth of the traced edge below the datum, metres (positive down)."""
        return self.edge_depth_m - self.mark.outline_rise_m

    def peg(self, name: str) -> Peg | None:
        """The peg of that painted name or alias, None if there is none.

        Painted names win over aliases; names are compared as typed, then without case.
        """
        wanted = name.strip()
        for wanted_as, as_typed in ((wanted, str), (wanted.casefold(), str.casefold)):
            for peg in self.pegs:
                if as_typed(peg.name) == wanted_as:
                    return peg
            for peg in self.pegs:
                if wanted_as in {as_typed(alias) for alias in peg.aliases}:
                    return peg
        return None

    def float_named(self, name: str) -> Float | None:
        """The named float, compared without case; None if the venue has none such."""
        wanted = name.strip().casefold()
        return next((f for f in self.floats if f.name.casefold() == wanted), None)
