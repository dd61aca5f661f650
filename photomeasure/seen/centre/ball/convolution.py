"""Small convolutional networks, run with numpy: pictures (H, W, C) of single precision through layers of weights.

A layer's weights are (rows, columns, C, D), its offset (D,). Pictures are padded with zeros, so that a stride of one
keeps their size.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Float32 = NDArray[np.float32]

FLOOR = 1.5  # grey levels: a contrast below it is noise
MOST = 4.0  # standard deviations of the surroundings beyond which a pixel says no more


def evened(picture: Float32, ignored: NDArray[np.bool_], windows_px: tuple[int, ...]) -> Float32:
    """A picture (H, W) against the mean and the spread of its surroundings, once for each window's width (H, W, windows).

    What is ignored (H, W) is nought, and is no part of any surroundings.
    """
    kept = (~ignored).astype(np.float32)
    level = picture * kept
    square = level * level
    planes = np.empty((len(windows_px), *picture.shape), dtype=np.float32)
    for plane, width in zip(
        planes, windows_px, strict=True
    ):  # in place: fresh memory for every step takes longer than the step
        size = (width, width)
        share, mean, spread = (
            np.asarray(cv2.blur(some, size, borderType=cv2.BORDER_CONSTANT), dtype=np.float32)
            for some in (kept, level, square)
        )
        np.maximum(share, np.float32(1e-3), out=share)
        mean /= share
        spread /= share
        spread -= np.multiply(mean, mean, out=share)
        np.sqrt(np.maximum(spread, 0.0, out=spread), out=spread)
        spread += np.float32(FLOOR)
        even = np.subtract(picture, mean, out=mean)
        even /= spread
        np.multiply(np.clip(even, -MOST, MOST, out=even), kept, out=plane)
    return np.moveaxis(planes, 0, -1)


def convolved(picture: Float32, weights: Float32, offset: Float32, *, stride: int = 1, apart: int = 1) -> Float32:
    """Pictures (..., H, W, C) to (..., H', W', D), H' the rounded-up H / stride; taps stand `apart` pixels apart."""
    rows, columns = weights.shape[:2]
    tall, wide = picture.shape[-3:-1]
    above, left = (rows // 2) * apart, (columns // 2) * apart
    around = [(0, 0)] * (picture.ndim - 3)
    padded = np.pad(picture, [*around, (above, above), (left, left), (0, 0)])
    size = (*picture.shape[:-3], -(-tall // stride), -(-wide // stride), weights.shape[3])
    total = np.broadcast_to(offset, size).astype(np.float32)
    for r in range(rows):  # tap by tap: gathering all taps first takes twice the time
        for c in range(columns):
            down, right = slice(r * apart, r * apart + tall, stride), slice(c * apart, c * apart + wide, stride)
            total += padded[..., down, right, :] @ weights[r, c]
    return total


def rectified(picture: Float32) -> Float32:
    """What is below nought is nought."""
    return np.asarray(np.maximum(picture, np.float32(0.0)), dtype=np.float32)


def pooled(picture: Float32) -> Float32:
    """The highest of every two by two pixels (..., H, W, C); an odd last row or column is left off."""
    tall, wide = picture.shape[-3] // 2, picture.shape[-2] // 2
    even = picture[..., : 2 * tall, : 2 * wide, :]
    return np.asarray(
        np.maximum(
            np.maximum(even[..., ::2, ::2, :], even[..., 1::2, ::2, :]),
            np.maximum(even[..., ::2, 1::2, :], even[..., 1::2, 1::2, :]),
        ),
        dtype=np.float32,
    )
