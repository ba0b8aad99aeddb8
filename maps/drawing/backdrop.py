"""The club's own picture of the ground, warped to lie under the map: a GeoTIFF, or a picture with a world file.

It stands in the venue folder as ``background.tif``, ``.png`` or ``.jpg`` and is only read.
"""

from __future__ import annotations

import base64
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.io import MemoryFile
from rasterio.warp import Resampling, reproject, transform_bounds

from maps.drawing.colours import PAPER, rgb
from maps.drawing.projection import from_mercator
from maps.privacy.placeless_files import sea_crs
from survey.errors import SurveyError
from survey.geometry.geodesy import Geodesy
from survey.records.venue import Venue

STEM = "background"
ENDINGS = (".tif", ".tiff", ".png", ".jpg", ".jpeg")
MERCATOR = "EPSG:3857"
ROUND_M = 40.0
"""Ground shown round the water."""
MOST_ACROSS = 1100
"""Pixels of the longer side: enough for a phone, and the page stays small."""
WASH = 0.35
"""Share of paper mixed in, so that names and lines keep their contrast."""
QUALITY = 70

Picture = NDArray[np.uint8]


@dataclass(frozen=True)
class Backdrop:
    """A picture in Web Mercator.

    Parameters
    ----------
    source : str
        JPEG as a ``data:`` address.
    corners : tuple of (float, float)
        South-west and north-east corner, each (lat, lon) in degrees.
    placeless : bool
        True: laid where a copy without its place is, not where the lake lies.
    """

    source: str
    corners: tuple[tuple[float, float], tuple[float, float]]
    placeless: bool = False


@dataclass(frozen=True)
class _Room:
    """Where the picture is laid.

    Parameters
    ----------
    crs : str
        In which it is warped.
    bounds : tuple of float
        West, south, east, north in ``crs``.
    corners : tuple of (float, float)
        What the page's map calls them, see :class:`Backdrop`.
    """

    crs: str
    bounds: tuple[float, float, float, float]
    corners: tuple[tuple[float, float], tuple[float, float]]


def backdrop_of(folder: Path, venue: Venue, shown: Venue | None = None) -> Backdrop | None:
    """The picture of a venue folder; None where there is none.

    Parameters
    ----------
    folder : Path
    venue : Venue
        As its folder declares it: a world file is in its grid.
    shown : Venue, optional
        The same in the frame in which it is worked up, where that is another: the picture of a lake that hides its
        place is laid in the lake's own frame.

    Raises
    ------
    SurveyError
        There are two, it cannot be read, its place is not known, or it does not meet the water.
    """
    found = sorted(
        path for path in folder.iterdir() if path.stem.casefold() == STEM and path.suffix.casefold() in ENDINGS
    )
    if not found:
        return None
    if len(found) > 1:
        raise SurveyError(f"{' and '.join(path.name for path in found)}: which of them lies under the map? Keep one.")
    try:
        return _warped(found[0], venue, shown)
    except RasterioError as trouble:
        raise SurveyError(f"{found[0].name}: not a picture that can be read ({trouble}). Save it again.") from None


def _room(venue: Venue, *, placeless: bool) -> _Room:
    west, south, east, north = venue.water.bounds
    bounds = (west - ROUND_M, south - ROUND_M, east + ROUND_M, north + ROUND_M)
    if placeless:
        crs = venue.crs
        lon, lat = Geodesy(sea_crs(venue)).lonlat(*(np.reshape(bounds, (2, 2)) - np.floor([west, south])).T)
    else:
        crs, bounds = MERCATOR, transform_bounds(venue.crs, MERCATOR, *bounds)
        lon, lat = from_mercator([bounds[0], bounds[2]], [bounds[1], bounds[3]])
    return _Room(crs, bounds, ((float(lat[0]), float(lon[0])), (float(lat[1]), float(lon[1]))))


def _warped(path: Path, venue: Venue, shown: Venue | None) -> Backdrop:
    placeless = shown is not None and shown.publishing.hides_place
    room = _room(shown or venue, placeless=placeless)
    bounds = room.bounds
    wide, high = bounds[2] - bounds[0], bounds[3] - bounds[1]
    pixel = max(wide, high) / MOST_ACROSS
    shape = (max(round(high / pixel), 1), max(round(wide / pixel), 1))
    transform = rasterio.Affine(wide / shape[1], 0.0, bounds[0], 0.0, -high / shape[0], bounds[3])
    with warnings.catch_warnings():
        # Said below in our own words, with what to do.
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(path) as src:
            bands = _colours(path, src)
            if src.transform.is_identity:
                raise SurveyError(
                    f"{path.name}: where the picture lies is not known. Save it as GeoTIFF, or put its world file "
                    f"beside it ({path.stem}.{path.suffix[1:2]}{path.suffix[-1:]}w), in the venue's map grid."
                )
            placed = np.zeros((4, *shape), np.uint8)
            reproject(
                bands, placed, src_transform=src.transform, src_crs=src.crs or venue.crs, dst_transform=transform,
                dst_crs=room.crs, resampling=Resampling.bilinear,
            )  # fmt: skip
    if not placed[3].any():
        raise SurveyError(f"{path.name}: the picture does not meet the water. Check its coordinate system.")
    source = f"data:image/jpeg;base64,{base64.b64encode(_jpeg(_washed(placed))).decode('ascii')}"
    return Backdrop(source, room.corners, placeless)


def _colours(path: Path, src: rasterio.DatasetReader) -> Picture:
    """Red, green, blue and where the picture holds anything, shape (4, rows, columns)."""
    if set(src.dtypes) != {"uint8"}:
        raise SurveyError(f"{path.name}: colours of {src.dtypes[0]} are not shown. Save it with eight bits a colour.")
    data, mask = src.read(), src.dataset_mask()
    if src.count == 1:
        try:
            table = np.array([src.colormap(1).get(k, (0, 0, 0, 0))[:3] for k in range(256)], np.uint8)
            data = np.moveaxis(table[data[0]], -1, 0)
        except ValueError:
            data = np.repeat(data, 3, axis=0)
    return np.concatenate([data[:3], mask[None]]).astype(np.uint8)


def _washed(placed: Picture) -> Picture:
    paper = np.array(rgb(PAPER), float)[:, None, None]
    share = (1 - WASH) * placed[3] / 255
    return np.rint(share * placed[:3] + (1 - share) * paper).astype(np.uint8)


def _jpeg(picture: Picture) -> bytes:
    _, rows, columns = picture.shape
    with MemoryFile() as memory:
        with warnings.catch_warnings():
            # A picture inside the page needs no place of its own.
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with memory.open(driver="JPEG", width=columns, height=rows, count=3, dtype="uint8", quality=QUALITY) as out:
                out.write(picture)
        return bytes(memory.read())
