"""Whether a start that comes near a solution ends there: searches that leave such starts off, against searches that do not. By hand.

    python -m tests.experiments.focal_starts [--sets 120]

Sets are drawn: cameras from ultra-wide to tele, boards flat, hollow and twisted, zooms between photographs, smears, corners that
are plainly wrong, few views and many. Per set the solution by all starts, and by those that `solve._search` follows to their end.

100 sets: the same solution in all of them, focal lengths apart by 0.003 of their standard uncertainty in most and by 0.08 at most
(which points a robust fit calls strays hangs on the way to it; the lens models that are tried after it adjust anew); 0.42 of the time.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.calibration import solve
from calib.camera.views import PointsSeen
from tests.calib.finding.board_views import SIZE_PX, grid_mm, views


def drawn(rng: np.random.Generator) -> list[PointsSeen]:
    """One set of photographs with what can be wrong of them."""
    focal = float(np.exp(rng.uniform(np.log(0.5), np.log(4.0)))) * max(SIZE_PX)
    camera = np.array([focal, focal, *rng.normal((1999.5, 1499.5), 30.0), *rng.normal(0.0, (0.08, 0.1)), 0.0, 0.0, 0.0])
    board = grid_mm()
    x, y = (board[:, :2] - board[:, :2].mean(axis=0)).T / 100.0
    fault = rng.choice(["none", "none", "hollow", "twisted", "zoom", "smear", "corners"])
    size = float(np.exp(rng.uniform(np.log(0.1), np.log(5.0))))
    if fault in ("hollow", "twisted"):
        board[:, 2] = size * (x * x if fault == "hollow" else x * y)
    found = views(
        rng,
        intrinsics=camera,
        count=int(rng.integers(3, 16)),
        true_mm=board,
        noise_px=float(rng.uniform(0.02, 0.6)),
        tilt_deg=float(rng.uniform(8.0, 45.0)),
        shared_px=size if fault == "smear" else 0.0,
    )
    if fault == "zoom":
        middle = (np.array(SIZE_PX) - 1) / 2
        factor = float(rng.uniform(0.8, 1.25))
        share = int(rng.integers(1, len(found)))
        moved = [replace(view, image_px=(view.image_px - middle) * factor + middle) for view in found[:share]]
        found = [*moved, *found[share:]]
    if fault == "corners":
        found = [replace(view, image_px=view.image_px + wrong_corners(rng, len(board))) for view in found]
    return found


def wrong_corners(rng: np.random.Generator, count: int) -> NDArray[np.float64]:
    """(N, 2) three of them plainly elsewhere."""
    off = np.zeros((count, 2))
    off[rng.integers(0, count, 3)] = rng.normal(0.0, 30.0, (3, 2))
    return off


def all_starts(seen: list[PointsSeen]) -> solve.Solved | None:
    """The best of all starts, each followed to its end."""
    ends = [solve._from_focal(seen, SIZE_PX, share * max(SIZE_PX), []) for share in solve.FOCAL_STARTS]
    return min((end for end in ends if end is not None), key=lambda end: end.adjusted.cost, default=None)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=120)
    count = parser.parse_args().sets
    spent, apart = np.zeros(2), list[float]()
    for seed in range(count):
        seen = drawn(np.random.default_rng([20261127, seed]))
        began = time.process_time()
        full = all_starts(seen)
        middle = time.process_time()
        short = solve._search(seen, SIZE_PX, None)
        spent += middle - began, time.process_time() - middle
        assert (full is None) == (short is None)
        if full is None or short is None:
            continue
        off_px = abs(short.intrinsics[0] - full.intrinsics[0])
        apart.append(float(off_px / max(np.sqrt(full.covariance[0, 0]), 1e-6)))
        if apart[-1] > 0.01:
            costs = short.adjusted.cost / full.adjusted.cost
            print(f"set {seed}: focal length {off_px:.3f} px off, {apart[-1]:.4f} u; cost {costs:.4f} of the best")
    print(
        f"focal lengths apart by {np.median(apart):.4f} u, {np.max(apart):.4f} at most; time {spent[1] / spent[0]:.2f}"
    )


if __name__ == "__main__":
    main()
