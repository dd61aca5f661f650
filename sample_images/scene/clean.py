"""Cleaning the indirect light: smooth where surface and light are smooth, led by normal, distance and reflectance.

The light that comes straight from the sun is not touched, nor is the print: its pattern is in the reflectance, by
which the light is divided before and multiplied after, so that no edge of the pattern moves.
"""

from __future__ import annotations

import cv2
import numpy as np

from scene.noise import Bitmap
from scene.tracer import Layers

_FLOOR = 0.03
_RING = [(dx, dy) for dy in (-1, 0, 1) for dx in (-1, 0, 1) if (dx, dy) != (0, 0)]


def cleaned(layers: Layers, *, levels: int = 4, sharpness: float = 1.0) -> Bitmap:
    """Radiance (H, W, 3) its indirect part filtered by `levels` steps of an edge-led wavelet (holes 1, 2, 4 ...)."""
    albedo = np.maximum(layers.albedo, np.float32(_FLOOR))
    light = _without_sparks(np.asarray(layers.rest / albedo, dtype=np.float32))
    nearness = np.log(np.maximum(layers.depth, 1.0))
    for level in range(levels):
        light = _step(light, layers.normal, nearness, 2**level, sharpness, level)
    return np.asarray(layers.sun + light * albedo, dtype=np.float32)


def _without_sparks(light: Bitmap) -> Bitmap:
    """No pixel brighter than a few times what lies around it."""
    tone = light.mean(axis=-1)
    around = cv2.GaussianBlur(tone, (0, 0), 1.5)
    limit = 2.5 * np.minimum(around, cv2.medianBlur(tone, 5) * 2 + 0.02) + 0.01
    return np.asarray(light * np.minimum(1, limit / np.maximum(tone, 1e-6))[..., None], dtype=np.float32)


def _step(light: Bitmap, normal: Bitmap, nearness: Bitmap, hole: int, sharpness: float, level: int) -> Bitmap:
    length = np.linalg.norm(normal, axis=-1)
    pure = 0.15 + 0.85 * np.clip(
        (length - 0.90) / 0.09, 0, 1
    )  # a pixel on an edge mixes two surfaces: be lenient there
    unit = normal / np.maximum(length, 1e-3)[..., None]
    tone = np.log(cv2.GaussianBlur(light.mean(axis=-1), (0, 0), 1.0 + hole) + 0.02)
    total, weights = 0.25 * light, np.full(light.shape[:2], 0.25, np.float32)
    for dx, dy in _RING:
        kernel = 0.125 if dx == 0 or dy == 0 else 0.0625
        there = [_moved(plane, dx * hole, dy * hole) for plane in (light, unit, nearness, tone)]
        turn = np.clip(1 - np.einsum("ijk,ijk->ij", unit, there[1]), 0, None)
        weight = np.exp(
            -turn * pure * (40 * sharpness)
            - np.abs(nearness - there[2]) * pure * (60 * sharpness / hole)
            - np.abs(tone - there[3]) * (2.0 + level) * sharpness
        )
        weight = (kernel * weight).astype(np.float32)
        total = total + weight[..., None] * there[0]
        weights = weights + weight
    return np.asarray(total / weights[..., None], dtype=np.float32)


def _moved(plane: Bitmap, dx: int, dy: int) -> Bitmap:
    """The plane's value at (x + dx, y + dy), the border repeated."""
    padded = cv2.copyMakeBorder(plane, max(-dy, 0), max(dy, 0), max(-dx, 0), max(dx, 0), cv2.BORDER_REPLICATE)
    height, width = plane.shape[:2]
    top, left = max(dy, 0), max(dx, 0)
    return np.asarray(padded[top : top + height, left : left + width], dtype=np.float32)
