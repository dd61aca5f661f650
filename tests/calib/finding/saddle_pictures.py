"""Exact saddles: two straight edges through a known point, and what a camera does to them."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

SIZE_PX = 61
RAYS = 8  # on each axis of a pixel; an edge is a ramp one ray wide, so that edges along the grid are exact too


def ideal(
    crossing_px: tuple[float, float],
    axes_px: NDArray[np.float64],
    *,
    dark_lower_right: bool = True,
    black: float = 0.05,
    white: float = 0.9,
    blur_px: float = 1.0,
) -> NDArray[np.float64]:
    """(61, 61) light, 0-1. Pixel (0, 0) is the centre of the top-left pixel; axes_px as in calib.finding.saddle."""
    fine = (np.arange(SIZE_PX * RAYS) + 0.5) / RAYS - 0.5
    offset = np.stack(np.meshgrid(fine - crossing_px[0], fine - crossing_px[1]))  # (2, n, n)
    cells_from_px = np.linalg.inv(axes_px)
    normals = cells_from_px / np.linalg.norm(cells_from_px, axis=1, keepdims=True)
    right, lower = np.clip(np.einsum("ij,jnk->ink", normals, offset) * RAYS + 0.5, 0.0, 1.0)
    dark = right * lower + (1 - right) * (1 - lower)
    sharp = white + (black - white) * (dark if dark_lower_right else 1 - dark)
    # the lens blurs before the pixels collect
    through_lens = np.asarray(cv2.GaussianBlur(sharp, (0, 0), blur_px * RAYS) if blur_px else sharp)
    pixels: NDArray[np.float64] = through_lens.reshape(SIZE_PX, RAYS, SIZE_PX, RAYS).mean(axis=(1, 3))
    return pixels


def axes(cell_px: float = 20.0, turn_rad: float = 0.1, shear: float = 0.1, squeeze: float = 0.9) -> NDArray[np.float64]:
    """(2, 2) steps of one cell to the right and down, turned, sheared and squeezed as by a view from the side."""
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    return cell_px * np.array([[c * squeeze, -s + shear], [s * squeeze, c]])


def encoded(light: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Clipped and rounded to 8 bits."""
    return np.asarray(np.rint(255 * np.clip(light, 0, 1)), dtype=np.uint8)


def tone_curve(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Gamma 1/2.2 with an S curve mixed in, as phones do (common practice, no source)."""
    v = np.clip(light, 0, 1) ** (1 / 2.2)
    mixed: NDArray[np.float64] = v + 0.4 * (v * v * (3 - 2 * v) - v)
    return mixed


def sharpened(picture: NDArray[np.float64]) -> NDArray[np.float64]:
    """Unsharp mask of strength 1."""
    soft = cv2.GaussianBlur(picture, (0, 0), 1.2)
    result: NDArray[np.float64] = 2.0 * picture - soft
    return result


def bloomed(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two and a half times overexposed, an eighth of the light spread wide: white eats into black."""
    spread = cv2.GaussianBlur(2.5 * light, (0, 0), 4.0)
    result: NDArray[np.float64] = 0.875 * 2.5 * light + 0.125 * spread
    return result
