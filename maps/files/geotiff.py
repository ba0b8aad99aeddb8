"""The bed as a cloud-optimised GeoTIFF. Rows are turned here: the file's first row is the north."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.io import MemoryFile
from rasterio.shutil import copy

from maps.language.catalogue import ENGLISH, Words
from survey.bed.grid import Bed, Grid

NODATA = -9999.0


def write_raster(path: Path, bed: Bed, crs: str, about: dict[str, str], said: Words = ENGLISH) -> None:
    """Depth (band 1) and its standard deviation (band 2), float32, metres, north up, tiled with overviews (OGC COG).

    Parameters
    ----------
    path : Path
    bed : Bed
    crs : str
        The venue's.
    about : dict of str
        Written as tags of the file.
    said : Words, optional
        For the descriptions of the bands.
    """
    grid = bed.grid
    with MemoryFile() as memory, memory.open(
        driver="GTiff", dtype="float32", count=2, height=grid.ny, width=grid.nx, crs=crs,
        transform=north_up(grid), nodata=NODATA,
    ) as tif:  # fmt: skip
        tif.update_tags(AREA_OR_POINT="Area", **about)
        tif.units = ("m", "m")
        for band, (values, key) in enumerate(((bed.depth_m, "band_depth"), (bed.sd_m, "band_sd")), start=1):
            tif.write(_north_first(values), band)
            tif.set_band_description(band, said[key])
        # The mean of a band keeps the depth of a smaller copy; nodata stays out of it.
        copy(tif, path, driver="COG", compress="deflate", overview_resampling="average")


def north_up(grid: Grid) -> rasterio.Affine:
    """Transform from (column, row) with row 0 in the north to the venue CRS; whole numbers are outer corners."""
    north = grid.south + grid.ny * grid.cell_m
    return rasterio.Affine(grid.cell_m, 0.0, grid.west, 0.0, -grid.cell_m, north)


def _north_first(values: NDArray[np.float64]) -> NDArray[np.float32]:
    return np.where(np.isnan(values), NODATA, values)[::-1].astype(np.float32)
