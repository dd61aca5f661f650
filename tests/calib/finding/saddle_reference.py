"""The saddle fit once more, slow and readable: one corner, one pixel after the other, scipy's least squares.

Written from the model in `calib.finding.saddle`'s docstring; shares no code with it.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares


def window(
    grey: NDArray[np.uint8], start_px: NDArray[np.float64], axes_px: NDArray[np.float64], reach: float
) -> list[tuple[float, float, float]]:
    """(x, y, value) of every pixel within `reach` cells of the start on both printed axes, offsets from the start."""
    cells_from_px = np.linalg.inv(axes_px)
    pixels = []
    for row in range(grey.shape[0]):
        for column in range(grey.shape[1]):
            offset = np.array([column, row]) - start_px
            if np.abs(cells_from_px @ offset).max() <= reach:
                pixels.append((float(offset[0]), float(offset[1]), float(grey[row, column])))
    return pixels


def saddle(x: float, y: float, p: NDArray[np.float64]) -> float:
    """Grey value of the blurred saddle at one pixel."""
    cx, cy, t1, t2, s1, s2, contrast, mean, gx, gy = p
    d1 = math.cos(t1) * (y - cy) - math.sin(t1) * (x - cx)
    d2 = math.cos(t2) * (y - cy) - math.sin(t2) * (x - cx)
    edges = math.erf(d1 / (math.sqrt(2) * s1)) * math.erf(d2 / (math.sqrt(2) * s2))
    return float(mean + gx * x + gy * y + contrast * edges)


def fit_one_saddle(
    grey: NDArray[np.uint8],
    start_px: NDArray[np.float64],
    axes_px: NDArray[np.float64],
    *,
    contrast: float,
    reach: float = 0.75,
    blur_px: float = 1.0,
) -> NDArray[np.float64]:
    """(2,) the crossing. contrast: signed first guess of the product of both edges."""
    pixels = window(grey, start_px, axes_px, reach)
    t1 = math.atan2(axes_px[1, 0], axes_px[0, 0])
    t2 = math.atan2(axes_px[1, 1], axes_px[0, 1])
    mean = sum(value for _, _, value in pixels) / len(pixels)
    first = np.array([0.0, 0.0, t1, t2, blur_px, blur_px, contrast, mean, 0.0, 0.0])

    def residuals(p: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.array([saddle(x, y, p) - value for x, y, value in pixels])

    solved = least_squares(residuals, first, method="lm", xtol=1e-12, ftol=1e-12)
    crossing: NDArray[np.float64] = start_px + solved.x[:2]
    return crossing
