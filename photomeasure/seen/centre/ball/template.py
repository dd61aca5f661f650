"""What a ball on its neck looks like from afar: edge directions in a grid of cells, weighed by a small network.

The solved scene says how large a ball would be and which way is down, so that the coarse picture can be turned and scaled
until every ball in it is upright and RADIUS_PX large: one size is enough. A cell holds how much of its edges runs in
each of eight directions, whatever their sign, against how busy its surroundings are (histograms of oriented gradients,
Dalal and Triggs 2005, from memory). One set of weights sieves all places; those that are left are judged by a network of
one hidden layer. Both are fitted to drawn and path-traced yards and to photographs without a ball
(tests/experiments/ball_training.py). They say where to look and add to the evidence; no centre is measured here.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

Float32 = NDArray[np.float32]

RADIUS_PX = 8.0  # of a ball in the coarse picture
STRIDE = 2  # pixels of the coarse picture from one place of a map to the next
CELL = 4  # pixels
COLUMNS, ABOVE, BELOW = 8, 4, 7  # cells about the centre
DIRECTIONS = 8
_EDGE_FLOOR = 1.0  # grey levels per coarse pixel below which an edge counts for little


def edge_maps(coarse: Float32, ignored: NDArray[np.bool_] | None = None) -> Float32:
    """How much of the edges runs in each direction, (DIRECTIONS, h, w), at every second pixel of a coarse picture
    (H, W), averaged over a cell; nothing where `ignored` (H, W)."""
    smooth = cv2.GaussianBlur(coarse, (0, 0), 0.7)
    gx = cv2.Scharr(smooth, cv2.CV_32F, 1, 0, scale=1 / 32)
    gy = cv2.Scharr(smooth, cv2.CV_32F, 0, 1, scale=1 / 32)
    if ignored is not None:
        gx[ignored], gy[ignored] = 0.0, 0.0
    square = gx * gx + gy * gy
    size = np.sqrt(square)
    reach = 2 * round(2.0 * RADIUS_PX) + 1
    strength = size / (size + cv2.blur(size, (reach, reach)) + np.float32(_EDGE_FLOOR))
    square += np.float32(1e-6)
    even, odd = (gx * gx - gy * gy) / square, 2.0 * gx * gy / square  # of twice the angle: an edge's sign drops out
    maps = []
    for direction in range(DIRECTIONS):
        angle = 2.0 * np.pi * direction / DIRECTIONS
        along = np.maximum(np.float32(np.cos(angle)) * even + np.float32(np.sin(angle)) * odd, np.float32(0.0))
        pooled = cv2.boxFilter(along * along * strength, -1, (CELL, CELL), borderType=cv2.BORDER_CONSTANT)
        maps.append(pooled[::STRIDE, ::STRIDE])
    return np.asarray(np.stack(maps), dtype=np.float32)


def cells(maps: Float32, row: ArrayLike, column: ArrayLike) -> Float32:
    """The numbers (..., DIRECTIONS, ABOVE + BELOW, COLUMNS) about places (...) of the maps; 0 beyond their border."""
    step = CELL // STRIDE
    rows = np.asarray(row)[..., None] + step * np.arange(-ABOVE, BELOW) + step // 2
    columns = np.asarray(column)[..., None] + step * np.arange(-(COLUMNS // 2), COLUMNS // 2) + step // 2
    rows_inside = (rows >= 0) & (rows < maps.shape[1])
    inside = rows_inside[..., :, None] & ((columns >= 0) & (columns < maps.shape[2]))[..., None, :]
    rows, columns = np.clip(rows, 0, maps.shape[1] - 1), np.clip(columns, 0, maps.shape[2] - 1)
    taken = np.moveaxis(maps[:, rows[..., :, None], columns[..., None, :]], 0, -3)
    return np.asarray(taken * inside[..., None, :, :], dtype=np.float32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """sieve (D, R, C) and its offset; hidden (D R C, H), hidden_offset (H,), out (H,), out_offset of the network, where
    D, R, C are directions, rows and columns of cells."""

    sieve: Float32
    sieve_offset: float
    hidden: Float32
    hidden_offset: Float32
    out: Float32
    out_offset: float


@cache
def template() -> Template:
    """What `ball_training` has written."""
    with (resources.files("photomeasure.seen.centre.ball") / "template.npz").open("rb") as file:
        stored = {
            name: np.asarray(value, dtype=np.float32) for name, value in np.load(file, allow_pickle=False).items()
        }
    return Template(
        sieve=stored["sieve"].reshape(DIRECTIONS, ABOVE + BELOW, COLUMNS),
        sieve_offset=float(stored["sieve_offset"]),
        hidden=stored["hidden"],
        hidden_offset=stored["hidden_offset"],
        out=stored["out"],
        out_offset=float(stored["out_offset"]),
    )


def sieved(maps: Float32, weights: Float32, offset: float) -> Float32:
    """Logarithm of the odds, (h, w), that a ball's centre is there, by one set of weights."""
    step = CELL // STRIDE
    total = np.full(maps.shape[1:], np.float32(offset))
    kernel_size = step * (ABOVE + BELOW), step * COLUMNS
    for one, weight in zip(maps, weights, strict=True):
        kernel = np.zeros(kernel_size, dtype=np.float32)
        kernel[step // 2 :: step, step // 2 :: step] = weight
        anchor = (step * (COLUMNS // 2), step * ABOVE)
        total += cv2.filter2D(one, cv2.CV_32F, kernel, anchor=anchor, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(total, dtype=np.float32)


def likeness(rows: Float32, by: Template) -> Float32:
    """Logarithm of the odds (N,) of `cells` (N, DIRECTIONS, ABOVE + BELOW, COLUMNS), as they are and mirrored."""
    both = [_network(some.reshape(len(rows), -1), by) for some in (rows, mirrored(rows))]
    return np.asarray(0.5 * (both[0] + both[1]), dtype=np.float32)


def mirrored(rows: Float32) -> Float32:
    """Left and right exchanged: directions t and pi - t, columns from the other end."""
    return np.asarray(rows[..., ::-1][:, (-np.arange(DIRECTIONS)) % DIRECTIONS], dtype=np.float32)


def _network(flat: Float32, by: Template) -> Float32:
    return np.asarray(np.tanh(flat @ by.hidden + by.hidden_offset) @ by.out + by.out_offset, dtype=np.float32)


def peaks(odds: Float32, count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the highest places (h, w), half a radius apart, best first; -inf is never one."""
    apart = 2 * round(0.4 * RADIUS_PX / STRIDE) + 1
    highest = cv2.dilate(odds, np.ones((apart, apart), np.uint8))
    row, column = np.nonzero((odds >= highest) & np.isfinite(odds))
    order = np.argsort(-odds[row, column], kind="stable")[:count]
    return row[order], column[order]
