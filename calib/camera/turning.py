"""Cameras and pixels when a picture is turned: EXIF orientations 1 to 8 as signed permutations of the axes.

A picture as a person sees it is the sensor's picture turned or mirrored; what calibrates the sensor calibrates each
of its orientations once the numbers are turned along. Orientation values: CIPA DC-008 (Exif), tag 274.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# seen = matrix @ stored, for offsets from the middle of the picture, x right, y down
_SEEN_FROM_STORED: Mapping[int, tuple[tuple[int, int], tuple[int, int]]] = {
    1: ((1, 0), (0, 1)),
    2: ((-1, 0), (0, 1)),
    3: ((-1, 0), (0, -1)),
    4: ((1, 0), (0, -1)),
    5: ((0, 1), (1, 0)),
    6: ((0, -1), (1, 0)),
    7: ((0, -1), (-1, 0)),
    8: ((0, 1), (-1, 0)),
}
ORIENTATIONS = tuple(_SEEN_FROM_STORED)


def turn(from_orientation: int, to_orientation: int) -> Array:
    """(2, 2) signed permutation: pixel offsets of a picture seen with one orientation to those seen with another."""
    before = np.array(_SEEN_FROM_STORED[from_orientation], dtype=np.float64)
    after = np.array(_SEEN_FROM_STORED[to_orientation], dtype=np.float64)
    return np.asarray(after @ before.T, dtype=np.float64)


def one_turn(orientations: Iterable[int]) -> int:
    """The orientation that does what several do one after the other."""
    matrix = np.eye(2)
    for orientation in orientations:
        matrix = np.array(_SEEN_FROM_STORED[orientation]) @ matrix
    return next(found for found, seen in _SEEN_FROM_STORED.items() if np.array_equal(seen, matrix))


def turned_picture(stored: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """A stored picture (h, w) or (h, w, 3) as a person sees it; an orientation that is none of the eight is taken as 1."""
    (xx, xy), (yx, yy) = _SEEN_FROM_STORED.get(orientation, _SEEN_FROM_STORED[1])
    seen = stored if xx else cv2.transpose(stored)
    down, across = yx + yy < 0, xx + xy < 0  # OpenCV goes by blocks: a fifth of the time of a strided copy
    if down or across:
        seen = cv2.flip(seen, -1 if down and across else 0 if down else 1)
    return np.ascontiguousarray(seen, dtype=np.uint8)


def turned_size(size_px: tuple[int, int], matrix: Array) -> tuple[int, int]:
    """(width, height) of the turned picture."""
    width, height = np.abs(matrix) @ np.array(size_px, dtype=np.float64)
    return round(width), round(height)


def turned_pixels(pixels: Array, size_px: tuple[int, int], matrix: Array) -> Array:
    """Pixels (N, 2) of a picture of (width, height), where they are once the picture is turned."""
    before, after = (np.array(size) - 1.0 for size in (size_px, turned_size(size_px, matrix)))
    return np.asarray((pixels - before / 2) @ matrix.T + after / 2, dtype=np.float64)


def turned_intrinsics(intrinsics: Array, size_px: tuple[int, int], matrix: Array) -> tuple[Array, Array]:
    """The nine intrinsics of the turned picture (9,), and the (9, 9) matrix that turns their covariance.

    Radial terms do not care. The tangential terms are a direction, (p2, p1): the decentring adds r^2 (p2, p1) + 2 (x,
    y) ((x, y) . (p2, p1)), which turns with the axes.
    """
    linear = np.zeros((9, 9))
    linear[:2, :2] = np.abs(matrix)
    linear[2:4, 2:4] = matrix
    linear[[4, 5, 8], [4, 5, 8]] = 1.0
    swap = np.array([[0.0, 1.0], [1.0, 0.0]])
    linear[6:8, 6:8] = swap @ matrix @ swap
    turned = linear @ intrinsics
    turned[2:4] = turned_pixels(intrinsics[None, 2:4], size_px, matrix)[0]
    return turned, linear
