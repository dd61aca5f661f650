"""Does the part of a sheet whose saddles were not found lie somewhere else, as in a picture that was put together from two?

Codes are found all over the picture, whatever lies between: each must lie where the measured saddles have it. Where a seam
runs through the codes themselves, there are the saddles: what hides a part of a sheet has no chequer, and a part that was moved
has its own, a little further on. So those that were predicted and not found are looked for together: moved all by one way, up
to FARTHEST_CELLS, how much is each of them a chequer's meeting point of its own polarity? Places on saddles that were found do
not count, or the chequer would be found one cell further. Only where several are missing is anything looked at.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import FoundSheet, apply_homography, cell_axes_px

Array = NDArray[np.float64]

# Of a cell, and px where cells are small: in 200 whole pictures no code was further off than 0.09, moved by 10 and 20 px they were by 0.13
# and more (`tests/experiments/hard_study.md`)
CODES_CELLS, CODES_PX = 0.15, 1.2
LEAST_MISSING = 8
FARTHEST_CELLS, STEP_CELLS = 1.12, 0.08
# Of what the found ones are of a meeting point: moved parts come to 0.89 to 1.0, what hides a part to 0.82 (`tests/experiments/hard_study.md`)
ALIKE = 0.9
UNMOVED = 0.6  # of the best: as much as this where they were predicted, and they are there, in a shadow for instance
LEVEL = 0.97  # of the best: as good as it
_FROM_MIDDLE_CELLS = 0.3  # where its four cells are looked at
_OWN_CELLS = 0.6  # nearer to one that was found it is that one
_EDGE_PX = 3.0


def moved_part_cells(grey: NDArray[np.uint8], found: FoundSheet) -> float:
    """By how many cells a part of a measured sheet was moved against the rest, by its codes or else by its saddles; 0 where none was,
    or nothing tells."""
    codes = float(found.codes_off_cells.max(initial=0.0))
    return codes if codes > max(CODES_CELLS, CODES_PX / found.cell_px) else _by_saddles(grey, found)


def _by_saddles(grey: NDArray[np.uint8], found: FoundSheet) -> float:
    missing = np.setdiff1d(np.arange(len(found.sheet.points_mm)), found.index)
    if len(missing) < LEAST_MISSING:
        return 0.0
    steps = np.arange(-FARTHEST_CELLS, FARTHEST_CELLS + STEP_CELLS / 2, STEP_CELLS)
    ways = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)  # (W, 2) cells along both axes of the sheet
    middles, axes = _places(found, missing)
    at = middles[None] + np.einsum("nij,wj->wni", axes, ways)  # (W, N, 2)
    nearest = np.linalg.norm(at[:, :, None] - found.points_px[None, None], axis=3).min(axis=2)
    inside = ((at > _EDGE_PX) & (at < np.array(grey.shape[::-1]) - 1 - _EDGE_PX)).all(axis=2)
    counts = inside & (nearest > _OWN_CELLS * found.cell_px)
    alike = _alike(grey, at, axes, found.sheet.polarity[missing])
    own_middles, own_axes = _places(found, found.index)
    usual = float(np.median(_alike(grey, own_middles[None], own_axes, found.sheet.polarity[found.index])))
    enough = counts.sum(axis=1) >= LEAST_MISSING
    score = np.where(enough, (alike * counts).sum(axis=1) / np.maximum(counts.sum(axis=1), 1), 0.0)
    if usual <= 0.0 or score.max() < ALIKE * usual or score[len(ways) // 2] > UNMOVED * score.max():
        return 0.0
    return float(np.linalg.norm(ways[score > LEVEL * score.max()].mean(axis=0)))


def _places(found: FoundSheet, index: NDArray[np.int64]) -> tuple[Array, Array]:
    """(N, 2) pixels where saddles are predicted, and (N, 2, 2) their cells' axes."""
    page = found.sheet.points_mm[index]
    return apply_homography(found.px_from_page, page), cell_axes_px(found.px_from_page, page, found.sheet.cell_mm)


def _alike(grey: NDArray[np.uint8], at: Array, axes: Array, polarity: NDArray[np.int8]) -> Array:
    """(W, N) from -1 to 1: how much the four cells around places (W, N, 2) are those of a meeting point of that polarity."""
    corners = _FROM_MIDDLE_CELLS * np.array([[1, 1], [-1, -1], [1, -1], [-1, 1]])
    px = (at[:, :, None] + np.einsum("nij,cj->nci", axes, corners)[None]).astype(np.float32)  # (W, N, 4, 2)
    flat = px.reshape(len(px), -1, 2)
    seen = cv2.remap(grey, flat[:, :, 0], flat[:, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    levels = np.asarray(seen, dtype=np.float64).reshape(px.shape[:3])
    off = levels - levels.mean(axis=2, keepdims=True)
    across = (
        off[:, :, 2:].sum(axis=2) - off[:, :, :2].sum(axis=2)
    ) * polarity  # +1: the cells right below and left above are dark
    return np.asarray(
        across / np.maximum(np.abs(off).sum(axis=2), 40.0)
    )  # of less than 10 grey levels each nothing is told
