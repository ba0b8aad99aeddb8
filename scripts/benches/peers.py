"""Other interpolators, as a person who installs them would use them. Nothing of ours is in them.

A peer takes places (n, 2), depths (n,) and spots (m, 2), and gives depth and standard deviation there, or None
for the second where it states none. One that is not installed is reported as absent.
"""

from __future__ import annotations

import importlib
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator, RBFInterpolator

FloatArray = np.ndarray
Answer = tuple[FloatArray, FloatArray | None]
Peer = Callable[[FloatArray, FloatArray, FloatArray], Answer]

GMT_TENSION = "0.25"
"""For smooth data, by the program's own manual."""
GMT_MOST_NODES = 60_000
"""Its grids have cells of a metre, or coarser ones that keep to this."""
LAGS = 15
VARIOGRAMS = ("Spherical", "Exponential")


def merged(xy: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Peers cannot bear two readings on one spot: they get the mean."""
    spots, index = np.unique(np.round(xy, 2), axis=0, return_inverse=True)
    return spots, np.bincount(index.ravel(), z) / np.bincount(index.ravel())


def thin_plate(xy: FloatArray, z: FloatArray, at: FloatArray) -> Answer:
    """SciPy thin plate, smoothing by five-fold hiding."""
    fold = np.random.default_rng(0).integers(0, 5, len(z))

    def loss(smoothing: float) -> float:
        off = [
            RBFInterpolator(xy[fold != k], z[fold != k], smoothing=smoothing)(xy[fold == k]) - z[fold == k]
            for k in range(5)
        ]
        return float(np.sum(np.concatenate(off) ** 2))

    return RBFInterpolator(xy, z, smoothing=min((0.0, 0.1, 1.0, 10.0, 100.0), key=loss))(at), None


def linear(xy: FloatArray, z: FloatArray, at: FloatArray) -> Answer:
    """SciPy linear on triangles, nearest outside them."""
    found = LinearNDInterpolator(xy, z)(at)
    return np.where(np.isnan(found), NearestNDInterpolator(xy, z)(at), found), None


def pykrige(xy: FloatArray, z: FloatArray, at: FloatArray, chunk: int = 20_000) -> Answer:
    """PyKrige ordinary kriging, fitted spherical variogram; in chunks, for its matrices hold all spots at once."""
    from pykrige.ok import OrdinaryKriging

    model = OrdinaryKriging(xy[:, 0], xy[:, 1], z, variogram_model="spherical", nlags=LAGS)
    parts = [model.execute("points", *at[k : k + chunk].T) for k in range(0, len(at), chunk)]
    mean, var = (np.concatenate([np.asarray(part[i]) for part in parts]) for i in (0, 1))
    return mean, np.sqrt(np.maximum(var, 1e-12))


def gstools(xy: FloatArray, z: FloatArray, at: FloatArray) -> Answer:
    """GSTools ordinary kriging, whichever of two variograms fits better."""
    import gstools as gs

    bins, gamma = gs.vario_estimate(tuple(xy.T), z)
    fitted = []
    for name in VARIOGRAMS:
        model = getattr(gs, name)(dim=2)
        fitted.append((model.fit_variogram(bins, gamma, return_r2=True)[2], name, model))
    model = max(fitted)[2]
    mean, var = gs.krige.Ordinary(model, tuple(xy.T), z, pseudo_inv=False)(tuple(at.T), chunk_size=2000, store=False)
    return mean, np.sqrt(np.maximum(var, 1e-12))


def verde(xy: FloatArray, z: FloatArray, at: FloatArray) -> Answer:
    """Verde spline, damping by cross-validation."""
    import verde as vd

    spline = vd.SplineCV(dampings=(1e-8, 1e-5, 1e-3, 1e-1))
    return spline.fit((xy[:, 0], xy[:, 1]), z).predict((at[:, 0], at[:, 1])), None


def gmt_surface(xy: FloatArray, z: FloatArray, at: FloatArray) -> Answer:
    """GMT: means of cells, then ``surface`` with tension, read off by ``grdtrack``."""

    def grid(folder: Path, region: str, step: str) -> None:
        means = _gmt(folder, "blockmean", "data.txt", region, step)
        (folder / "means.txt").write_text(means, encoding="ascii")
        _gmt(folder, "surface", "means.txt", region, step, f"-T{GMT_TENSION}", "-Gbed.nc")

    return _gridded(grid, xy, z, at), None


def gmt_greenspline(xy: FloatArray, z: FloatArray, at: FloatArray) -> Answer:
    """GMT: ``greenspline`` with tension through all readings on a grid (6.4.0 cannot be asked for single spots)."""

    def grid(folder: Path, region: str, step: str) -> None:
        _gmt(folder, "greenspline", "data.txt", region, step, f"-St{GMT_TENSION}", "-Z1", "-Gbed.nc")

    return _gridded(grid, xy, z, at), None


def _gridded(grid: Callable[[Path, str, str], None], xy: FloatArray, z: FloatArray, at: FloatArray) -> FloatArray:
    west, south = np.floor(np.minimum(xy.min(axis=0), at.min(axis=0))) - 2
    wide, high = np.maximum(xy.max(axis=0), at.max(axis=0)) + 2 - (west, south)
    step = max(1.0, np.ceil((wide * high / GMT_MOST_NODES) ** 0.5))
    wide, high = np.ceil(wide / step) * step, np.ceil(high / step) * step
    region = f"-R{west:.0f}/{west + wide:.0f}/{south:.0f}/{south + high:.0f}"
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        np.savetxt(folder / "data.txt", np.column_stack([xy, z]))
        np.savetxt(folder / "at.txt", at)
        grid(folder, region, f"-I{step:g}")
        found = _gmt(folder, "grdtrack", "at.txt", "-Gbed.nc")
    return np.array([line.split()[2] for line in found.splitlines()], float)


def _gmt(folder: Path, *words: str) -> str:
    done = subprocess.run(["gmt", *words], cwd=folder, capture_output=True, text=True, check=False)  # noqa: S603, S607 (our own words)
    if done.returncode:
        raise RuntimeError(done.stderr.strip().splitlines()[-1])
    return done.stdout


PEERS: dict[str, Peer] = {
    "thin plate": thin_plate,
    "linear": linear,
    "verde": verde,
    "PyKrige": pykrige,
    "GSTools": gstools,
    "GMT surface": gmt_surface,
    "GMT greenspline": gmt_greenspline,
}
_NEEDS = {"verde": "verde", "PyKrige": "pykrige", "GSTools": "gstools"}


def present() -> dict[str, Peer]:
    """The peers that are installed, loaded now so that no measurement pays for it; the absent ones are named."""
    found = {}
    for name, peer in PEERS.items():
        if _absent(name):
            print(f"{name}: absent")
        else:
            found[name] = peer
    return found


def _absent(name: str) -> bool:
    if name.startswith("GMT"):
        return shutil.which("gmt") is None
    try:
        importlib.import_module(_NEEDS.get(name, "scipy"))
    except ImportError:
        return True
    return False


def versions() -> str:
    """Versions of what was compared, for the table's head."""
    names = ("numpy", "scipy", "pykrige", "gstools", "verde", "sklearn")
    told = []
    for name in names:
        try:
            told.append(f"{name} {importlib.import_module(name).__version__}")
        except ImportError:
            told.append(f"{name} absent")
    gmt = _gmt(Path(), "--version").strip() if shutil.which("gmt") else "absent"
    return ", ".join([*told, f"GMT {gmt}"])
