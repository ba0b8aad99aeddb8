"""The bed as a picture in Web Mercator: tints stepped at the contours, shaded by slope.

The grid is warped before it is drawn, so picture and lines agree wherever the venue's grid is
turned against true north. Row 0 of a picture is the north. Knows nothing of pages.
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass

import numpy as np
import shapely
from affine import Affine
from numpy.typing import NDArray
from rasterio.features import shapes
from scipy.ndimage import distance_transform_edt, gaussian_filter
from shapely.geometry import MultiPolygon, Polygon, shape

from maps.drawing.colours import INK, PAPER, TINTS, Band, rgb
from maps.drawing.projection import LocalProjection, from_mercator, mercator
from survey.bed.grid import Bed
from survey.records.venue import Limits

MOST_PIXELS = 400_000
SHADES = 4
"""Steps of shading to either side of level ground."""
SHADE_STRENGTH = 0.16
"""Share of ink or paper mixed into a tint on the steepest slopes; less than half a step of tint."""
SLOPE_AT_FULL_SHADE = 0.35


@dataclass(frozen=True)
class Sheet:
    """The bed at the pixels of a picture.

    Parameters
    ----------
    west, north, pixel : float
        Corner of the first pixel and side of a pixel, metres of Web Mercator.
    ground_m : float
        Side of a pixel on the ground, metres.
    depth_m : ndarray, shape (rows, columns)
        Below datum, positive down; nan off the water. Row 0 is the north.
    surveyed : ndarray of bool, shape (rows, columns)
        Known well enough by the venue's limits.
    """

    west: float
    north: float
    pixel: float
    ground_m: float
    depth_m: NDArray[np.float64]
    surveyed: NDArray[np.bool_]

    @property
    def corners(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """South-west and north-east corner, each (lat, lon) in degrees, as the page's map wants them."""
        rows, columns = self.depth_m.shape
        lon, lat = from_mercator(
            [self.west, self.west + columns * self.pixel], [self.north - rows * self.pixel, self.north]
        )
        return (float(lat[0]), float(lon[0])), (float(lat[1]), float(lon[1]))


def sample_bed(bed: Bed, frame: LocalProjection, limits: Limits) -> Sheet:
    """Read the bed at every pixel of a picture that covers the water.

    Parameters
    ----------
    bed : Bed
    frame : LocalProjection
    limits : Limits
        When water counts as surveyed.
    """
    shore = shapely.get_coordinates(bed.water)
    x, y = mercator(*frame.lonlat(shore[:, 0], shore[:, 1]))
    stretch = 1.0 / np.cos(np.radians(frame.lat0))
    ground = max(bed.grid.cell_m / 4, float(np.sqrt(np.ptp(x) * np.ptp(y) / stretch**2 / MOST_PIXELS)))
    pixel = ground * stretch
    west, north = float(x.min() - 2 * pixel), float(y.max() + 2 * pixel)
    columns, rows = int((x.max() - west) / pixel) + 3, int((north - y.min()) / pixel) + 3
    lon, lat = from_mercator(west + (np.arange(columns) + 0.5) * pixel, north - (np.arange(rows) + 0.5) * pixel)
    e, n = frame.grid(*np.meshgrid(lon, lat))
    shapely.prepare(bed.water)
    depth, sd, beyond = (a.reshape(rows, columns) for a in bed.at(e.ravel(), n.ravel()))
    surveyed = (sd <= limits.sd_m) & ~(beyond & (sd > limits.beyond_sd_m))
    return Sheet(west, north, pixel, ground, depth, surveyed)


def picture(sheet: Sheet, cut: tuple[Band, ...], smooth_m: float) -> bytes:
    """The tinted and shaded water as a PNG, clear on land and on unsurveyed water.

    Parameters
    ----------
    sheet : Sheet
    cut : tuple of Band
    smooth_m : float
        Slopes shorter than this are not shaded, metres (the cell: what lies below it is no relief).
    """
    wet = ~np.isnan(sheet.depth_m)
    if not wet.any():
        return _png(np.zeros(wet.shape, np.uint8), [(0, 0, 0)])
    band = np.searchsorted([b.from_m for b in cut[1:]], np.where(wet, sheet.depth_m, 0.0), side="right")
    shade = np.rint(SHADES * _slope_light(sheet, wet, smooth_m)).astype(int) + SHADES
    index = np.where(wet & sheet.surveyed, 1 + band * (2 * SHADES + 1) + shade, 0)
    palette = [rgb(PAPER)] + [_shaded(TINTS[b.tint], step / SHADES) for b in cut for step in range(-SHADES, SHADES + 1)]
    return _png(index.astype(np.uint8), palette)


def unsurveyed(sheet: Sheet, frame: LocalProjection, water: MultiPolygon) -> MultiPolygon:
    """Unsurveyed water in the venue CRS, drawn at the pixels of the sheet."""
    mask = (~np.isnan(sheet.depth_m) & ~sheet.surveyed).astype(np.uint8)
    # Grown by a pixel and cut back by the outline, so that no sliver is left along the shore.
    grown = np.where(np.isnan(sheet.depth_m), _nearest(mask, np.isnan(sheet.depth_m)), mask).astype(np.uint8)
    to_mercator = Affine(sheet.pixel, 0, sheet.west, 0, -sheet.pixel, sheet.north)
    areas = [shape(s).simplify(0.8 * sheet.pixel) for s, _ in shapes(grown, mask=grown > 0, transform=to_mercator)]

    def placed(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(frame.grid(*from_mercator(xy[:, 0], xy[:, 1])))

    drawn = np.array([shapely.transform(area, placed) for area in areas], object)
    met = shapely.intersection(shapely.union_all(shapely.make_valid(drawn)), water)
    return MultiPolygon([part for part in shapely.get_parts(met) if isinstance(part, Polygon) and part.area > 0])


def _slope_light(sheet: Sheet, wet: NDArray[np.bool_], smooth_m: float) -> NDArray[np.float64]:
    """Light from the north-west on the bed, -1 to 1, 0 on level ground."""
    filled = _nearest(np.where(wet, sheet.depth_m, 0.0), ~wet)
    south, east = np.gradient(gaussian_filter(filled, smooth_m / sheet.ground_m), sheet.ground_m)
    # A bed that deepens to the south-east turns its face from the light.
    return np.clip(-(south + east) / np.sqrt(2.0) / SLOPE_AT_FULL_SHADE, -1, 1)


def _nearest(values: NDArray[np.generic], missing: NDArray[np.bool_]) -> NDArray[np.generic]:
    where = distance_transform_edt(missing, return_distances=False, return_indices=True)
    return values[tuple(where)]


def _shaded(colour: str, light: float) -> tuple[int, int, int]:
    toward = rgb(PAPER if light > 0 else INK)
    share = SHADE_STRENGTH * abs(light)
    red, green, blue = (round((1 - share) * c + share * t) for c, t in zip(rgb(colour), toward, strict=True))
    return red, green, blue


def _png(index: NDArray[np.uint8], palette: list[tuple[int, int, int]]) -> bytes:
    """An indexed PNG (W3C PNG, third edition) whose entry 0 is clear."""
    rows, columns = index.shape
    lines = np.column_stack([np.zeros(rows, np.uint8), index]).tobytes()
    header = struct.pack(">IIBBBBB", columns, rows, 8, 3, 0, 0, 0)
    parts = [
        (b"IHDR", header),
        (b"PLTE", bytes(c for colour in palette for c in colour)),
        (b"tRNS", b"\0"),
        (b"IDAT", zlib.compress(lines, 9)),
        (b"IEND", b""),
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, body) for kind, body in parts)


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
