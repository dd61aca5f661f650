"""Exact pictures of printed codes: every pixel is the mean of RAYS x RAYS small squares, each black by its share."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

RAYS = 5
INK, PAPER, BEHIND = 0.05, 0.9, 0.3
MODULES_UV = np.array([[0.0, 0.0], [7.0, 0.0], [7.0, 7.0], [0.0, 7.0]])


def quad(
    side_px: float, centre_px: tuple[float, float], *, yaw_rad: float = 0.0, roll_rad: float = 0.0
) -> NDArray[np.float64]:
    """(4, 2) corners of a square seen from fifty sides away, turned about the vertical and in the picture's plane."""
    square = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    depth = 1.0 + square[:, :1] * np.sin(yaw_rad) / 50.0
    seen = side_px * square * [np.cos(yaw_rad), 1.0] / depth
    c, s = np.cos(roll_rad), np.sin(roll_rad)
    return np.asarray(seen @ np.array([[c, s], [-s, c]]) + centre_px)


def paint(
    corners_px: NDArray[np.float64], black: NDArray[np.bool_], size_px: int, *, rim: float = 1.5, blur_px: float = 0.8
) -> NDArray[np.float32]:
    """(size, size) light on the sensor of a code on white paper that ends `rim` modules outside it.

    The lens blurs before the pixels average, as in a camera.
    """
    forward, _ = cv2.findHomography(MODULES_UV, corners_px, 0)
    at = (np.arange(size_px * RAYS) + 0.5) / RAYS - 0.5
    x, y = np.meshgrid(at, at)
    uvw = np.stack([x, y, np.ones_like(x)], axis=-1) @ np.linalg.inv(forward).T
    u, v = uvw[..., 0] / uvw[..., 2], uvw[..., 1] / uvw[..., 2]
    width = 7.0 / RAYS / np.linalg.norm(corners_px - np.roll(corners_px, 1, axis=0), axis=1).mean()
    of_u, of_v = (_share(w, np.arange(8.0), width) for w in (u, v))
    share = ((of_u[..., :-1] - of_u[..., 1:]) @ black.T.astype(float) * (of_v[..., :-1] - of_v[..., 1:])).sum(axis=-1)
    paper = np.ones_like(u)
    for w in (u, v):
        ends = _share(w, np.array([-rim, 7.0 + rim]), width)
        paper *= ends[..., 0] - ends[..., 1]
    light = BEHIND + paper * (PAPER - BEHIND) - share * (PAPER - INK)
    light = cv2.GaussianBlur(light, (0, 0), blur_px * RAYS)
    mean = light.reshape(size_px, RAYS, size_px, RAYS).mean(axis=(1, 3))
    return np.asarray(mean, dtype=np.float32)


def _share(at: NDArray[np.float64], lines: NDArray[np.float64], width: float) -> NDArray[np.float64]:
    """How much of a square of that width around each place lies beyond each line: exact along the print's own axes."""
    return np.asarray(np.clip((at[..., None] - lines) / width + 0.5, 0.0, 1.0))


def photographed(
    light: NDArray[np.float32],
    *,
    exposure: float = 1.0,
    gamma: float = 1.0,
    sharpen: float = 0.0,
    noise: float = 0.0,
    rng: np.random.Generator | None = None,
) -> NDArray[np.uint8]:
    """Saturation, tone curve, sharpening and noise of the encoded picture (grey levels)."""
    image = np.clip(light * np.float32(exposure), 0.0, 1.0) ** np.float32(1.0 / gamma)
    if sharpen:
        image = image + np.float32(sharpen) * (image - cv2.GaussianBlur(image, (0, 0), 1.2))
    grey = 255.0 * image
    if rng is not None and noise:
        grey = grey + rng.normal(0.0, noise, grey.shape)
    return np.asarray(np.clip(np.rint(grey), 0, 255), dtype=np.uint8)
