"""The section along one cast as a still drawing: water, the bed with its ±, and the rig to scale.

The page draws the same live, of the same description; this is for print and for where no program runs. Knows nothing of
pages.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from maps.drawing.colours import INK
from maps.drawing.description import Json, Values, description, drawn
from maps.drawing.peg_fan import shortened
from maps.drawing.still_map import FONTS
from maps.language.catalogue import Words, catalogue_of
from maps.language.escape import text
from survey.arrays import FloatArray
from survey.bed.grid import Bed
from survey.geometry.geodesy import Geodesy
from survey.records.floats import Float
from survey.records.venue import Peg, Venue
from survey.spots.answer import Answer
from survey.spots.cast import Spot
from survey.spots.float_setting import FloatSetting, RigStyle
from survey.spots.questions import Question
from survey.units import FOOT_M, Z_95
from survey.units.lengths import UNIT_METRES
from survey.workup import WorkedSurvey


def profile_note(venue: Venue, profile: Profile, rig: Rigged | None) -> str:
    """How a section is to be read, and which rig stands in it."""
    said = catalogue_of(venue)
    times = said.decimal(f"{profile.exaggeration:.1f}")
    if rig is None or rig.setting is None:
        return said.say("peg_profile_bare", times=times)
    return said.say("peg_profile_note", times=times, rig=said.rig(rig.setting.rig, within=True))


def cast_profile(worked: WorkedSurvey, peg: Peg, spot: Spot, shown_m: float) -> Profile:
    """The drawing of the section through a spot."""
    venue = worked.venue
    rise = venue.mark.rise_m(shown_m)
    along = section(venue, worked.bed, peg, spot.angle_deg, spot.distance_m, rise)
    return Profile(along, peg.name, venue, catalogue_of(venue))


DESCRIBED = description("section")


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

    out_m: FloatArray
    depth_m: FloatArray
    sd_m: FloatArray


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
    out = np.linspace(0.0, far_m * DESCRIBED["further"] + DESCRIBED["beyond_m"], DESCRIBED["samples"] + 1)
    e1, n1 = Geodesy(venue.crs).cast(peg.lon, peg.lat, peg.facing_deg + angle_deg, float(out[-1]))
    share = out / out[-1]
    e, n = peg.easting + share * (e1 - peg.easting), peg.northing + share * (n1 - peg.northing)
    depth, sd, _ = bed.at(e, n)
    return Section(out, depth + rise_m, sd)


@dataclass(frozen=True)
class Rigged:
    """What is drawn at the spot: the answer there, and the setting of the rig that is shown (None: no setting)."""

    answer: Answer
    setting: FloatSetting | None


def rigged(question: Question, venue: Venue, bed: Bed, rig: RigStyle = RigStyle.SLOW) -> Rigged:
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
    venue : Venue
        For its units.
    said : Words
    described : dict, optional
        The section's description.
    """

    def __init__(self, along: Section, peg: str, venue: Venue, said: Words, described: Json = DESCRIBED) -> None:
        self._described = described
        self._along, self._peg, self._said = along, peg, said
        self._shows, self._counted = venue.shows, venue.distances
        wet = ~np.isnan(along.depth_m)
        deepest = float((along.depth_m + Z_95 * along.sd_m)[wet].max(initial=described["least_deep_m"]))
        self._deep = described["room_below"] * deepest
        self.far_m = float(along.out_m[-1])
        self._frame = {
            "width": described["width"],
            "left": described["left"],
            "right": described["width"] - described["right"],
            "surface": described["sky"],
            "base": described["height"] - described["foot"],
        }
        self._out = (self._frame["right"] - self._frame["left"]) / self.far_m
        self._down = (self._frame["base"] - self._frame["surface"]) / self._deep

    @property
    def exaggeration(self) -> float:
        """How many times as large as distance depth is drawn."""
        return self._down / self._out

    def drawn(self, title: str, rig: Rigged | None = None) -> str:
        """The section as SVG text; words of the sources are escaped."""
        things = {
            "runs": [self._run(run) for run in _runs(self._along)],
            "axes": [{}],
            "depth_ticks": self._depth_ticks(),
            "out_ticks": self._out_ticks(),
            **(self._rig(rig) if rig else {}),
        }
        marks = drawn(self._described["layers"], self._frame, things, self._said.texts)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="profile" viewBox="0 0 {self._described["width"]}'
            f' {self._described["height"]}" role="img" font-family="{FONTS}" font-size="14" fill="{INK}">'
            f"<title>{text(title)}</title>{marks}</svg>"
        )

    def _x(self, out_m: float) -> float:
        return self._frame["left"] + out_m * self._out

    def _y(self, down_m: float) -> float:
        return self._frame["surface"] + down_m * self._down

    def _run(self, run: Section) -> Values:
        half = Z_95 * run.sd_m
        upper, lower = self._line(run.out_m, run.depth_m - half), self._line(run.out_m, run.depth_m + half)
        return {
            "first": self._x(run.out_m[0]),
            "last": self._x(run.out_m[-1]),
            "bed": "L".join(self._line(run.out_m, run.depth_m)),
            "band": "L".join([*upper, *reversed(lower)]),
        }

    def _line(self, out_m: FloatArray, down_m: FloatArray) -> list[str]:
        pairs = zip(out_m, np.maximum(down_m, 0.0), strict=True)
        return [f"{self._x(out):.1f} {self._y(down):.1f}" for out, down in pairs]

    def _depth_ticks(self) -> list[Values]:
        steps = self._described["depth_steps"][self._shows]
        unit_m, unit = (FOOT_M, "ft") if self._shows == "feet" else (1.0, "m")
        step = _step(self._deep / unit_m, steps, self._described["most_steps_down"])
        return [
            {"down": self._y(k * step * unit_m), "words": self._said.decimal(f"{k * step:g} {unit}")}
            for k in range(int(self._deep / unit_m / step) + 1)
        ]

    def _out_ticks(self) -> list[Values]:
        counted = self._counted
        far = self.far_m / counted.worth_m
        step = _step(far, self._described["out_steps"], self._described["most_steps_out"])
        last = int(far / step)
        return [
            {
                "out": self._x(k * step * counted.worth_m),
                "words": self._out_words(k, last, step) if k else shortened(self._peg),
            }
            for k in range(last + 1)
        ]

    def _out_words(self, k: int, last: int, step: int) -> str:
        """A distance on the axis; wraps and the like are too long a word to stand at each."""
        bare = self._counted.unit not in UNIT_METRES and k < last
        return str(k * step) if bare else self._said.counted(str(k * step), self._counted)

    def _rig(self, rig: Rigged) -> dict[str, list[Values]]:
        answer, setting = rig.answer, rig.setting
        out = self._x(answer.spot.distance_m)
        if setting is None or setting.setting_m is None or answer.depth_m is None:
            return {"bare_spots": [{"out": out}]}
        held_by, hold = answer.held_by, answer.held_by.below_surface_m
        end = hold + setting.setting_m - (held_by.length_m if held_by.setting_to == "tip" else 0.0)
        hook, lies = min(end, answer.depth_m), max(end - answer.depth_m, 0.0)
        laid = max(lies * self._out, self._described["least_laid"]) if lies > self._described["least_lying_m"] else 0.0
        line = {"out": out, "hold": self._y(hold), "hook": self._y(hook), "end": out + laid}
        shot = [hold + share * (hook - hold) for share in self._described["shot_shares"][setting.rig.value]]
        return {
            "rigs": [line],
            "floats" if held_by.length_m else "bare_lines": [{**line, **self._float(held_by, line["hold"])}],
            "shot": [{"out": out, "down": self._y(down), "radius": self._described["shot_radius"]} for down in shot],
            "clearances": self._clearance(out, answer.depth_m, setting.off_bottom_m),
        }

    def _float(self, held_by: Float, foot: float) -> Values:
        surface = self._frame["surface"]
        top = min(self._y(-held_by.tip_m), surface - self._described["least_tip"])
        return {"top": top, "waist": surface + self._described["waist"] * (foot - surface)}

    def _clearance(self, out: float, depth: float, off: float) -> list[Values]:
        if off <= 0:
            return []
        length, top = self._said.length(off, self._shows), self._y(depth - off)
        label = self._clear_of_bed(out, top, length)
        return [{"out": out, "top": top, "bed": self._y(depth), "length": length, "label": label}]

    def _clear_of_bed(self, out: float, top: float, length: str) -> float:
        """Where a label beside the spot keeps off the bed: over it, or under it where the water is too shallow."""
        rule, frame = self._described["label"], self._frame
        wide = rule["letter"] * len(f"{length} {self._said['sum_off']}" if rule["says_off"] else length)
        near, far = rule["away"], rule["away"] + wide
        ends = (out + near, out + far) if out < frame["width"] - rule["turn"] else (out - far, out - near)
        x = self._frame["left"] + self._along.out_m * self._out
        beside = (ends[0] <= x) & (x <= ends[1]) & ~np.isnan(self._along.depth_m)
        bed = self._frame["surface"] + np.maximum(self._along.depth_m[beside], 0.0) * self._down
        above = float(np.min(bed, initial=top)) - rule["above"]
        if above >= frame["surface"] + rule["below"]:
            return above
        return min(float(np.max(bed, initial=top)) + rule["below"], frame["base"] - rule["above"])


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
