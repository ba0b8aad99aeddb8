"""A small worked survey of an invented lake, put together straight from the records.

The bed is a closed form, so nothing here depends on how beds are interpolated. The lake has an
island, a spit with a bay behind it and water nobody plumbed; the pegs have awkward names.
"""

from __future__ import annotations

from dataclasses import replace

import contourpy
import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon

from maps.privacy.own_frame import own_crs
from survey.bed.grid import NO_VALUE, Bed, Grid
from survey.checks.validation import Holdout
from survey.errors import SourceRow
from survey.findings import Finding, Grade
from survey.geometry.geodesy import Geodesy
from survey.records.fieldbook import Fieldbook
from survey.records.floats import Float
from survey.records.soundings import Soundings
from survey.records.venue import Peg, Venue
from survey.records.water_level import LevelMark
from survey.spots.suggested import suggested
from survey.workup import WorkedSurvey

CRS = "EPSG:32630"
EAST, NORTH = 545080.0, 5995060.0
NAMES = (
    "1",
    "2",
    "O'Neary's Stage",
    "4",
    'The "Willow"',
    "6",
    "7`a",
    "8",
    "</script><b>x</b>",
    "Weir & Gate",
    "{{ 7*7 }}",
    "12",
    "NA",
    "007",
)
FLOATS = (Float("Reed & Rush", 0.254, 0.02), Float("Long 'tom'", 0.33, 0.04), Float("Tip ruler", 0.2, 0.015, "tip"))


def _water() -> MultiPolygon:
    turn = np.radians(np.arange(0, 360, 3))
    radius = 58 + 11 * np.cos(2 * turn) + 5 * np.sin(3 * turn) + 1.5 * np.sin(11 * turn)
    lake = Polygon(np.column_stack([EAST + radius * np.sin(turn), NORTH + radius * np.cos(turn)]))
    spit = LineString([(EAST + 34, NORTH + 70), (EAST + 27, NORTH + 26)]).buffer(0.2, quad_segs=4)
    island = Point(EAST - 18, NORTH - 12).buffer(7.0, quad_segs=6)
    return MultiPolygon([lake.difference(spit).difference(island)])


def _pegs(water: MultiPolygon) -> tuple[Peg, ...]:
    geometry = Geodesy(CRS)
    shore = water.geoms[0].exterior
    along = [shore.length * (k + 0.3) / len(NAMES) for k in range(len(NAMES))]
    return tuple(_peg(k, geometry, water, shore.interpolate(s), s) for k, s in enumerate(along))


def _peg(k: int, geometry: Geodesy, water: MultiPolygon, at: Point, s: float) -> Peg:
    before, after = (water.geoms[0].exterior.interpolate(s + d) for d in (-5, 5))
    azimuth = np.degrees(np.arctan2(after.x - before.x, after.y - before.y)) + 90.0
    ahead = Point(at.x + 3 * np.sin(np.radians(azimuth)), at.y + 3 * np.cos(np.radians(azimuth)))
    if not water.contains(ahead):
        azimuth += 180.0
    lon, lat = geometry.lonlat(at.x, at.y)
    facing = (azimuth + geometry.convergence_deg(at.x, at.y)) % 360.0
    return Peg(
        NAMES[k],
        at.x,
        at.y,
        float(lon),
        float(lat),
        float(facing),
        0.0,
        1.0,
        SourceRow("pegs.csv", k + 2),
        aliases=("The point",) if k == 3 else (),
        access="level" if k in (1, 5) else "",
        status="closed" if k == 7 else "",
        note="Mind the branch" if k == 2 else "",
        margin_depth_m=1.3 if k == 4 else None,
    )


def _bed(
    water: MultiPolygon, plumbed: NDArray[np.float64], cell_m: float, reach_m: float, pegs: tuple[Peg, ...]
) -> Bed:
    west, south, east, north = water.bounds
    grid = Grid(
        west - cell_m, south - cell_m, cell_m, int((north - south) / cell_m) + 3, int((east - west) / cell_m) + 3
    )
    e, n = np.meshgrid(grid.eastings, grid.northings)
    wet = shapely.contains_xy(water, e, n)
    far = np.sqrt(((e[..., None] - plumbed[:, 0]) ** 2 + (n[..., None] - plumbed[:, 1]) ** 2).min(axis=-1))
    peg_far = np.sqrt(np.min([(e - p.easting) ** 2 + (n - p.northing) ** 2 for p in pegs], axis=0))
    depth = np.where(wet, np.round(1000 * true_depth(water, e, n)), NO_VALUE).astype(np.int32)
    sd = np.where(wet, np.round(60 + 22 * np.clip(far, 0, 40)), NO_VALUE).astype(np.int32)
    return Bed(grid, water, depth, sd, (peg_far > reach_m) & wet, _split(water, grid, wet))


def true_depth(water: MultiPolygon, e: NDArray[np.float64], n: NDArray[np.float64]) -> NDArray[np.float64]:
    """Depth of the made bed below datum, metres, same shape as ``e`` and ``n``."""
    shore = shapely.distance(water.boundary, shapely.points(e, n))
    basin = 2.4 * (1 - np.exp(-shore / 5.0)) + 0.9 * (1 - np.exp(-((shore / 22.0) ** 2)))
    hole = 1.3 * np.exp(-((e - EAST + 5) ** 2 + (n - NORTH - 28) ** 2) / 180.0)
    bar = 1.1 * np.exp(-(((n - NORTH + 34) - 0.3 * (e - EAST)) ** 2) / 30.0) * (1 - np.exp(-shore / 12.0))
    return np.maximum(basin + hole - bar, 0.02)


def _split(water: MultiPolygon, grid: Grid, wet: NDArray[np.bool_]) -> NDArray[np.bool_]:
    near = (
        shapely.distance(water.boundary, shapely.points(*np.meshgrid(grid.eastings, grid.northings))) < 2 * grid.cell_m
    )
    split = np.zeros((grid.ny - 1, grid.nx - 1), bool)
    for i, j in zip(*np.nonzero(near[:-1, :-1] & near[1:, 1:]), strict=True):
        centres = [(grid.eastings[j + b], grid.northings[i + a]) for a in (0, 1) for b in (0, 1) if wet[i + a, j + b]]
        lines = [LineString([p, q]) for k, p in enumerate(centres) for q in centres[k + 1 :]]
        split[i, j] = not all(shapely.covers(water, lines))
    return split


def _soundings(venue: Venue, seed: int = 7) -> Soundings:
    rng, geometry, rows = np.random.default_rng(seed), Geodesy(CRS), []
    for peg in venue.pegs[:11]:
        for angle in (-45, -20, 0, 20, 45):
            for distance in (4, 9, 15, 22, 30):
                e, n = geometry.cast(peg.lon, peg.lat, peg.facing_deg + angle + rng.normal(0, 2), distance)
                if venue.water.contains(Point(e, n)):
                    rows.append((peg.name, angle, float(distance), e, n))
    table = pd.DataFrame(rows, columns=["peg", "angle", "distance_m", "e", "n"])
    return Soundings(_reduced(venue, table, rng))


def _reduced(venue: Venue, rows: pd.DataFrame, rng: np.random.Generator) -> gpd.GeoDataFrame:
    count = len(rows)
    depth = true_depth(venue.water, rows["e"].to_numpy(), rows["n"].to_numpy()) + rng.normal(0, 0.05, count)
    facing = rows["peg"].map({p.name: p.facing_deg for p in venue.pegs})
    columns = {
        "file": "readings.csv",
        "row": np.arange(count) + 2,
        "peg": rows["peg"],
        "observer": "M. Sedge",
        "day": np.where(np.arange(count) < 150, "2026-05-03", "2026-06-14"),
        "method": "float",
        "bottom": "silt",
        "kind": "depth",
        "depth_m": depth,
        "sd_m": 0.06,
        "level_sd_m": 0.01,
        "level_block": "a",
        "distance_m": rows["distance_m"],
        "radial_deg": (facing + rows["angle"]) % 360,
        "radial_sd_m": 0.1 * rows["distance_m"],
        "tangential_sd_m": 0.07 * rows["distance_m"],
        "peg_sd_m": 1.0,
        "facing_sd_deg": 0.0,
        "peg2": "",
        "facing2_sd_deg": 0.0,
        "declared": "",
        "hard_depth_m": np.nan,
        "use": np.arange(count) != 5,
        "new_from": "",
        "stopped_by": "",
    }
    return gpd.GeoDataFrame(columns, geometry=gpd.points_from_xy(rows["e"], rows["n"]), crs=CRS)


def _isobaths(bed: Bed, step_m: float = 0.25) -> gpd.GeoDataFrame:
    e, n = np.meshgrid(bed.grid.eastings, bed.grid.northings)
    lines = contourpy.contour_generator(e, n, true_depth(bed.water, e, n))
    found: list[tuple[float, bool, LineString | MultiLineString]] = []
    for k in range(1, int(np.nanmax(bed.depth_m) / step_m) + 1):
        drawn = [LineString(line) for line in lines.lines(k * step_m) if len(line) > 1]
        kept = shapely.intersection(MultiLineString(drawn), bed.water)
        parts = [g for g in shapely.get_parts(kept) if isinstance(g, LineString) and g.length > 1]
        found += [(k * step_m, k % 5 == 0, part) for part in parts]
    depth, strong, shapes = zip(*found, strict=True)
    return gpd.GeoDataFrame({"depth_m": depth, "strong": strong}, geometry=list(shapes), crs=CRS)


def made_venue() -> Venue:
    """The invented lake: water, pegs, a dip mark, three floats, text that tries to be live."""
    water = _water()
    return Venue(
        'Tansy Pool & "Sons"',
        CRS,
        water,
        _pegs(water),
        LevelMark("dip", 0.42, 0.42),
        FLOATS,
        credit="Surveyed by the <i>Tansy</i> Anglers",
        licence="CC BY 4.0",
        emergency="Tansy Lane gate, by the old kiln",
        cautions=("The north bank is soft after rain.",),
        stated=("Edge depth taken as 0 m at the traced outline.",),
    )


def made_survey(cell_m: float = 1.0) -> WorkedSurvey:
    """The whole made survey at a given cell, metres."""
    venue = made_venue()
    soundings = _soundings(venue)
    bed = _bed(venue.water, soundings.xy, cell_m, venue.limits.reach_m, venue.pegs)
    doubtful = np.arange(len(soundings)) % 41 == 3
    residual = np.where(doubtful, 0.6, 0.03)
    residuals = pd.DataFrame(
        {
            "fitted_m": soundings.table["depth_m"] - residual,
            "residual_m": residual,
            "z": residual / 0.1,
            "mistaken": np.where(doubtful, 0.9, 0.01),
            "doubtful": doubtful,
            "changed": False,
        }
    )
    findings = (
        Finding(
            Grade.ERROR,
            "depth-missing",
            SourceRow("readings.csv", 40, "depth_m"),
            "no depth",
            "Fill it in or strike the row.",
        ),
        Finding(
            Grade.WARNING,
            "unlike-neighbours",
            SourceRow("readings.csv", 5),
            "0.6 m deeper than its neighbours",
            "Plumb it again.",
        ),
    )
    return WorkedSurvey(
        Fieldbook(venue, (), (), findings, len(soundings) + 1, "5e" * 32),
        soundings,
        bed,
        residuals,
        _isobaths(bed),
        suggested(venue, bed),
        findings,
        Holdout(len(soundings), 11, 0.184, {0.5: 0.56, 0.8: 0.83, 0.95: 0.94}),
    )


def without_extras(worked: WorkedSurvey) -> WorkedSurvey:
    """The same survey with no pegs, floats, spots, mark, contours or readings: the least a page can be made of."""
    venue = replace(
        worked.venue, pegs=(), floats=(), mark=LevelMark(), credit="", licence="", emergency="", cautions=(), stated=()
    )
    return replace(
        worked,
        fieldbook=replace(worked.fieldbook, venue=venue, findings=()),
        soundings=Soundings(worked.soundings.table.iloc[:0]),
        residuals=worked.residuals.iloc[:0],
        isobaths=worked.isobaths.iloc[:0],
        spots=(),
        findings=(),
        holdout=None,
    )


def moved_to(worked: WorkedSurvey, crs: str) -> WorkedSurvey:
    """The made lake declared in another grid: the same places on the ground, sampled afresh there."""
    there = gpd.GeoSeries([worked.venue.water], crs=CRS).to_crs(crs)
    water, geometry = there.iloc[0], Geodesy(crs)
    pegs = []
    for peg in worked.venue.pegs:
        e, n = geometry.xy(peg.lon, peg.lat)
        pegs.append(replace(peg, easting=float(e), northing=float(n)))
    venue = replace(worked.venue, crs=crs, water=water, pegs=tuple(pegs))
    table = worked.soundings.table.to_crs(crs)
    xy = np.column_stack([table.geometry.x, table.geometry.y])
    bed = _bed(water, xy, worked.bed.grid.cell_m, venue.limits.reach_m, venue.pegs)
    return replace(
        worked,
        fieldbook=replace(worked.fieldbook, venue=venue),
        soundings=Soundings(table),
        bed=bed,
        isobaths=worked.isobaths.to_crs(crs),
        spots=(),
    )


def publishing(worked: WorkedSurvey, **keys: object) -> WorkedSurvey:
    """The same survey with other keys of ``[publish]``."""
    venue = replace(worked.venue, publishing=replace(worked.venue.publishing, **keys))
    return replace(worked, fieldbook=replace(worked.fieldbook, venue=venue))


def in_its_own_frame(worked: WorkedSurvey) -> WorkedSurvey:
    """The made lake in its own frame, its place to be hidden."""
    moved = publishing(moved_to(worked, own_crs(worked.venue)), hides_place=True)
    return replace(moved, spots=suggested(moved.venue, moved.bed))
