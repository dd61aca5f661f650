"""The lens models that a calibration chooses among, from the fewest free numbers to the most.

All are special cases of one vector of nine, OpenCV's order: fx, fy, cx, cy (px), k1, k2, p1, p2, k3, so whatever is
chosen, the rest of the program sees the same camera. Distortion: D. C. Brown, "Close-range camera calibration",
Photogrammetric Engineering 37 (8), 1971; formula as in OpenCV's calib3d documentation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.camera.camera import INTRINSICS

Array = NDArray[np.float64]

# The principal point is always free but held loosely to the middle of the frame, so that a handful of views cannot
# send it away. Published spread: 90th percentile 1.6 % of the width; 5 % lets every camera through and still closes
# the problem.
PRINCIPAL_POINT_SHARE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class LensModel:
    """Which of the nine numbers are free.

    name:       as printed and stored.
    one_focal:  fx and fy are one number (square pixels).
    free:       distortion terms that are free; the others are zero.
    """

    name: str
    one_focal: bool
    free: tuple[str, ...]

    def basis(self) -> Array:
        """(9, p) matrix that spreads the free numbers over the nine."""
        focal = [("fx", "fy")] if self.one_focal else [("fx",), ("fy",)]
        groups = [*focal, ("cx",), ("cy",), *((name,) for name in self.free)]
        basis = np.zeros((9, len(groups)))
        for column, names in enumerate(groups):
            for name in names:
                basis[INTRINSICS.index(name), column] = 1.0
        return basis


LENS_MODELS: tuple[LensModel, ...] = (
    LensModel(name="f", one_focal=True, free=()),
    LensModel(name="f+k1", one_focal=True, free=("k1",)),
    LensModel(name="f+k1+k2", one_focal=True, free=("k1", "k2")),
    LensModel(name="f+k1+k2+p1+p2", one_focal=True, free=("k1", "k2", "p1", "p2")),
    LensModel(name="fx+fy+k1+k2+p1+p2", one_focal=False, free=("k1", "k2", "p1", "p2")),
    LensModel(name="fx+fy+k1+k2+p1+p2+k3", one_focal=False, free=("k1", "k2", "p1", "p2", "k3")),
)


def model_named(name: str) -> LensModel:
    """The lens model of that name; KeyError where there is none."""
    return {model.name: model for model in LENS_MODELS}[name]


def folds_within(intrinsics: Array, points_px: Array) -> bool:
    """True where the distortion turns back on itself between the middle and the farthest of `points_px` (N, 2).

    Beyond a fold one pixel stands for two rays. The distorted radius r (1 + k1 r^2 + k2 r^4 + k3 r^6) must grow all
    the way.
    """
    fx, fy, cx, cy, k1, k2, _, _, k3 = intrinsics
    farthest = float(np.hypot((points_px[:, 0] - cx) / fx, (points_px[:, 1] - cy) / fy).max())
    radius = np.linspace(0.0, 4.0 * farthest, 4000)
    square = radius**2
    slope = 1 + 3 * k1 * square + 5 * k2 * square**2 + 7 * k3 * square**3
    distorted = radius * (1 + k1 * square + k2 * square**2 + k3 * square**3)
    turns = np.nonzero(slope <= 0)[0]
    return bool(len(turns) and distorted[: turns[0] + 1].max() < farthest)


def frame_corners_px(size_px: tuple[int, int]) -> Array:
    """(4, 2) the outermost pixels of a picture of (width, height)."""
    right, bottom = size_px[0] - 1.0, size_px[1] - 1.0
    return np.array([[0.0, 0.0], [right, 0.0], [right, bottom], [0.0, bottom]])
