"""The section along one cast as a still drawing: water, the bed with its ±, and the rig to scale.

The page draws the same with its own program; this is for print and for where no program runs. Knows nothing of pages.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from maps.drawing.colours import ACCENT, HALO, INK, SURFACE, WATER
from maps.drawing.peg_fan import shortened
from maps.drawing.still_map import FONTS
from maps.language.catalogue import Words, words_of
from maps.language.escape import text
from survey.bed.grid import Bed
from survey.geometry.geodesy import Geometry
from survey.records.floats import Float
from survey.records.venue import Peg, Venue
from survey.spots.answer import Answer
from survey.spots.cast import Spot
from survey.spots.float_setting import Rig, Setting
from survey.spots.questions import Question
from survey.units import FOOT_M, RANGE_Z
from survey.workup import WorkedSurvey


def profile_note(venue: Venue, profile: Profile, rig: Rigged | None) -> str:
    """How a section is to be read, and which rig stands in it."""
    said = words_of(venue)
    times = said.decimal(f"{profile.exaggeration:.1f}")
    if rig is None or rig.setting is None:
        return said.say("peg_profile_bare", times=times)
    return said.say("peg_profile_note", times=times, rig=said.rig(rig.setting.rig, within=True))


def cast_profile(worked: WorkedSurvey, peg: Peg, spot: Spot, shown_m: float) -> Profile:
    """The drawing of the section through a spot."""
    venue = worked.venue
    rise = venue.mark.rise_m(shown_m)
    along = section(venue, worked.bed, peg, spot.angle_deg, spot.distance_m, rise)
    return Profile(along, peg.name, venue.shows, words_of(venue))


WIDTH, HEIGHT = 340.0, 190.0
SKY, FOOT, LEFT, RIGHT = 30.0, 26.0, 42.0, 14.0
SAMPLES = 140
FURTHER = 1.12
"""A section goes so many times as far as its spot, and a little more."""
BEYOND_M = 3.0
LEAST_DEEP_M, ROOM_BELOW = 0.5, 1.06
"""A section is drawn at least so deep, and so many times as deep as its bed goes."""
DEPTH_STEPS_M = {"feet": tuple(feet * FOOT_M for feet in (1, 2, 5, 10, 20)), "metres": (0.25, 0.5, 1.0, 2.0, 5.0, 10.0)}
MOST_STEPS_DOWN = 6.0
OUT_STEPS_M = (1, 2, 5, 10, 20, 50, 100, 200)
MOST_STEPS_OUT = 5.5
"""Scales have the first step of which no more than that fit, else the last."""
SHOT_SHARES: dict[Rig, tuple[float, ...]] = {
    Rig.SLOW: (0.3, 0.5, 0.7),
    Rig.FAST: (0.6, 0.65, 0.7, 0.88),
    Rig.HELD: (0.55, 0.6, 0.9),
}
"""Where shot is drawn, as shares of the line from the float down."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Section:
    """The bed along a cast.

    Parameters
    ----------
    out_m : ndarray, shape (n,)
        Distances from the peg.
    depth_m, sd_m : ndarray, shape (n,)
        Depth today and its standard deviation; nan off the water.
    """

    out_m: Floats
    depth_m: Floats
    sd_m: Floats


def section(venue: Venue, bed: Bed, peg: Peg, angle_deg: float, far_m: float, rise_m: float) -> Section:
    """Read the bed along a cast.

    Parameters
    ----------
    venue : Venue
    bed : Bed
    peg : Peg
    angle_deg : float
        Degrees from straight out, positive to the right.
    far_m : float
        How far out the spot lies; the section goes a little further.
    rise_m : float
        Level above datum.
    """
    out = np.linspace(0.0, far_m * FURTHER + BEYOND_M, SAMPLES + 1)
    e1, n1 = Geometry(venue.crs).cast(peg.lon, peg.lat, peg.facing_deg + angle_deg, float(out[-1]))
    share = out / out[-1]
    e, n = peg.easting + share * (e1 - peg.easting), peg.northing + share * (n1 - peg.northing)
    depth, sd, _ = bed.at(e, n)
    return Section(out, depth + rise_m, sd)


@dataclass(frozen=True)
class Rigged:
    """What is drawn at the spot: the answer there, and the setting of the rig that is shown (None: no setting)."""

    answer: Answer
    setting: Setting | None

    @property
    def has_setting(self) -> bool:
        """True where there is a float to draw."""
        return self.setting is not None and self.setting.setting_m is not None


def rigged(question: Question, venue: Venue, bed: Bed, rig: Rig = Rig.SLOW) -> Rigged:
    """The answer to a question with the rig to draw; the first that has a setting where the one wished has none."""
    answer = question.answered(venue, bed)
    able = [setting for setting in answer.settings if setting.setting_m is not None]
    return Rigged(answer, next((s for s in able if s.rig is rig), able[0] if able else None))


class Profile:
    """The drawing.

    Parameters
    ----------
    along : Section
    peg : str
        Painted name.
    shows : {"feet", "metres"}
    said : Words
    """

    def __init__(self, along: Section, peg: str, shows: str, said: Words) -> None:
        self._along, self._peg, self._shows, self._said = along, peg, shows, said
        wet = ~np.isnan(along.depth_m)
        upper = along.depth_m[wet] + RANGE_Z * along.sd_m[wet]
        self._deep = ROOM_BELOW * max(LEAST_DEEP_M, float(upper.max()) if wet.any() else 0.0)
        self.far_m = float(along.out_m[-1])
        self._out = (WIDTH - LEFT - RIGHT) / self.far_m
        self._down = (HEIGHT - SKY - FOOT) / self._deep

    @property
    def exaggeration(self) -> float:
        """How many times as large as distance depth is drawn."""
        return self._down / self._out

    def drawn(self, title: str, rig: Rigged | None = None) -> str:
        """The section as SVG text; words of the sources are escaped."""
        parts = [*self._bed(), *self._scales(), *(self._rig(rig) if rig else ())]
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="profile" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img"'
            f' font-family="{FONTS}" font-size="14" fill="{INK}"><title>{text(title)}</title>{"".join(parts)}</svg>'
        )

    def _x(self, out_m: float) -> float:
        return LEFT + out_m * self._out

    def _y(self, down_m: float) -> float:
        return SKY + max(down_m, 0.0) * self._down

    def _bed(self) -> Iterable[str]:
        for run in _runs(self._along):
            bed = self._line(run.out_m, run.depth_m)
            upper = self._line(run.out_m, run.depth_m - RANGE_Z * run.sd_m)
            lower = self._line(run.out_m, run.depth_m + RANGE_Z * run.sd_m)
            first, last = self._x(run.out_m[0]), self._x(run.out_m[-1])
            water = f"M{first:.1f} {SKY}L{'L'.join(bed)}L{last:.1f} {SKY}Z"
            yield f'<path d="{water}" fill="{WATER}" fill-opacity=".55"/>'
            band = "L".join([*upper, *reversed(lower)])
            yield f'<path d="M{band}Z" fill="{INK}" fill-opacity=".17"/>'
            yield f'<path d="M{"L".join(bed)}" fill="none" stroke="{INK}" stroke-width="2"/>'
            yield f'<path d="M{first:.1f} {SKY}H{last:.1f}" stroke="{SURFACE}" stroke-width="1.6"/>'

    def _line(self, out_m: Floats, down_m: Floats) -> list[str]:
        return [f"{self._x(out):.1f} {self._y(down):.1f}" for out, down in zip(out_m, down_m, strict=True)]

    def _scales(self) -> Iterable[str]:
        base = HEIGHT - FOOT
        yield f'<path d="M{LEFT} {SKY}V{base}H{WIDTH - RIGHT}" fill="none" stroke="{INK}" stroke-width=".8"/>'
        step, words = self._depth_step()
        for k in range(int(self._deep / step) + 1):
            y = self._y(k * step)
            yield f'<path d="M{LEFT - 4} {y:.1f}h4" stroke="{INK}"/>'
            yield f'<text x="{LEFT - 7}" y="{y + 5:.1f}" text-anchor="end">{words(k * step)}</text>'
        every = _step(self.far_m, OUT_STEPS_M, MOST_STEPS_OUT)
        for k in range(int(self.far_m / every) + 1):
            x = self._x(k * every)
            anchor = "end" if x > WIDTH - 40 else "middle"
            said = f"{k * every:g} m" if k else text(shortened(self._peg))
            yield f'<path d="M{x:.1f} {base}v4" stroke="{INK}"/>'
            yield f'<text x="{x:.1f}" y="{base + 18}" text-anchor="{anchor}">{said}</text>'

    def _depth_step(self) -> tuple[float, object]:
        step = _step(self._deep, DEPTH_STEPS_M[self._shows], MOST_STEPS_DOWN)
        if self._shows == "feet":
            return step, lambda down: f"{round(down / FOOT_M)} ft"
        return step, lambda down: self._said.decimal(f"{down:g} m")

    def _rig(self, rig: Rigged) -> Iterable[str]:
        answer, setting = rig.answer, rig.setting
        x = self._x(answer.spot.distance_m)
        if setting is None or setting.setting_m is None or answer.depth_m is None:
            mark = f"M{x:.1f} {SKY - 16}v13m-5 -6l5 7l5 -7"
            yield f'<path d="{mark}" fill="none" stroke="{ACCENT}" stroke-width="1.4"/>'
            return
        held_by = answer.held_by
        hold = held_by.below_surface_m
        line = setting.setting_m - (held_by.length_m if held_by.setting_to == "tip" else 0.0)
        hook = min(hold + line, answer.depth_m)
        lies = max(hold + line - answer.depth_m, 0.0)
        laid = max(lies * self._out, 5.0) if lies else 0.0
        yield (
            f'<path d="M{x:.1f} {self._y(hold):.1f}V{self._y(hook):.1f}{f"h{laid:.1f}" if laid else ""}" fill="none"'
            f' stroke="{INK}" stroke-width="1.4"/>'
        )
        yield from self._float(x, held_by, hold)
        for share in SHOT_SHARES[setting.rig]:
            yield f'<circle cx="{x:.1f}" cy="{self._y(hold + share * (hook - hold)):.1f}" r="2.4"/>'
        yield (
            f'<path d="M{x + laid:.1f} {self._y(hook) - 5:.1f}v3a3 3 0 0 0 6 0" fill="none" stroke="{INK}"'
            ' stroke-width="1.4"/>'
        )
        yield from self._clearance(x, answer.depth_m, setting.off_bottom_m)

    def _float(self, x: float, held_by: Float, hold: float) -> Iterable[str]:
        if not held_by.length_m:
            yield f'<circle cx="{x:.1f}" cy="{SKY}" r="3"/>'
            return
        top, foot = min(SKY - held_by.tip_m * self._down, SKY - 7), self._y(hold)
        waist = (SKY + 2 * foot) / 3
        yield f'<path d="M{x:.1f} {top:.1f}V{SKY}" stroke="{ACCENT}" stroke-width="3.4"/>'
        yield (
            f'<path d="M{x - 1.5:.1f} {SKY}L{x - 3.4:.1f} {waist:.1f}L{x:.1f} {foot:.1f}'
            f'L{x + 3.4:.1f} {waist:.1f}L{x + 1.5:.1f} {SKY}Z"/>'
        )

    def _clearance(self, x: float, depth: float, off: float) -> Iterable[str]:
        if off <= 0:
            return
        top, base, right = self._y(depth - off), self._y(depth), x < WIDTH - 110
        at, side = (x + 12, 9) if right else (x - 12, -9)
        words = self._said.length(off, self._shows)
        yield (
            f'<path d="M{at - 4:.1f} {top:.1f}h8m-8 {base - top:.1f}h8m-4 0V{top:.1f}" fill="none" stroke="{ACCENT}"'
            ' stroke-width="1.4"/>'
        )
        yield (
            f'<text x="{at + side:.1f}" y="{top - 4:.1f}" text-anchor="{"start" if right else "end"}" fill="{ACCENT}"'
            f' font-weight="650" stroke="{HALO}" stroke-width="3" paint-order="stroke">{words}</text>'
        )


def _runs(along: Section) -> Iterable[Section]:
    """Stretches of water, each without a gap."""
    wet = ~np.isnan(along.depth_m)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], wet, [False]])))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if end - start > 1:
            yield replace(
                along,
                out_m=along.out_m[start:end],
                depth_m=along.depth_m[start:end],
                sd_m=along.sd_m[start:end],
            )


def _step(most: float, steps: Sequence[float], fitting: float) -> float:
    return next((step for step in steps if most / step <= fitting), steps[-1])


def casts_of(answers: Iterable[Answer]) -> tuple[Answer, ...]:
    """The usual casts of a peg: of the spots in one direction the furthest, left to right."""
    furthest: dict[float, Answer] = {}
    for answer in answers:
        angle = round(answer.spot.angle_deg, 3)
        if angle not in furthest or answer.spot.distance_m > furthest[angle].spot.distance_m:
            furthest[angle] = answer
    return tuple(furthest[angle] for angle in sorted(furthest))
