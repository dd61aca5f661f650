"""Exact views of boards made with OpenCV's `projectPoints`: an independent projection to test the solve against."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera.lens_models import LENS_MODELS
from calib.camera.views import PointsSeen

Array = NDArray[np.float64]

SIZE_PX = (4000, 3000)
SHORT = LENS_MODELS[1:3]  # of the lens models: what the simulated phone needs, and no time for more
# a phone's main camera: 26 mm-equivalent, a few pixels of distortion left
PHONE = np.array([2950.0, 2950.0, 2010.0, 1490.0, 0.06, -0.12, 0.0, 0.0, 0.0])


def grid_mm(columns: int = 9, rows: int = 7, square_mm: float = 25.0) -> Array:
    x, y = np.meshgrid(np.arange(columns), np.arange(rows))
    grid = np.column_stack([x.ravel(), y.ravel(), np.zeros(columns * rows)]).astype(np.float64)
    return grid * square_mm


def poses(count: int, rng: np.random.Generator, tilt_deg: float = 30.0, near_mm: float = 350.0) -> list[Array]:
    """(6,) camera from board: turned about both axes by up to `tilt_deg`, the board's middle moved about the frame."""
    found = []
    for number in range(count):
        direction = 2 * math.pi * number / count
        tilt = math.radians(tilt_deg) * (0.5 + 0.5 * rng.random())
        rotation = cv2.Rodrigues(tilt * np.array([math.sin(direction), math.cos(direction), 0.0]))[0]
        distance = near_mm * (1.0 + rng.random())
        aim = rng.uniform(-0.25, 0.25, 2) * distance
        translation = np.array([*aim, distance]) - rotation @ grid_mm().mean(axis=0)
        found.append(np.concatenate([cv2.Rodrigues(rotation)[0].ravel(), translation]))
    return found


def seen(object_mm: Array, pose: Array, intrinsics: Array) -> Array:
    """(N, 2) pixels."""
    matrix = np.array([[intrinsics[0], 0, intrinsics[2]], [0, intrinsics[1], intrinsics[3]], [0, 0, 1]])
    return np.asarray(cv2.projectPoints(object_mm, pose[:3], pose[3:], matrix, intrinsics[4:])[0].reshape(-1, 2))


def views(
    rng: np.random.Generator,
    *,
    intrinsics: Array = PHONE,
    count: int = 10,
    noise_px: float = 0.1,
    true_mm: Array | None = None,
    tilt_deg: float = 30.0,
    shared_px: float = 0.0,
) -> list[PointsSeen]:
    """Views of the board as it is (`true_mm`), told as flat; noise per corner, and `shared_px` of smear per view."""
    told = grid_mm()
    true = told if true_mm is None else true_mm
    found = []
    for number, pose in enumerate(poses(count, rng, tilt_deg)):
        image = seen(true, pose, intrinsics) + rng.normal(0, noise_px, (len(told), 2))
        offset = told[:, :2] - told[:, :2].mean(axis=0)
        image = image + shared_px * (offset / np.abs(offset).max()) @ rng.normal(0, 1, (2, 2))
        sigma = np.full(len(told), max(noise_px, 1e-3))
        found.append(PointsSeen(name=f"view{number + 1}", object_mm=told, image_px=image, sigma_px=sigma))
    return found
