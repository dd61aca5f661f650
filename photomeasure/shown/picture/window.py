"""Which part of a photograph is shown, how large, and where its pixels land in the drawing."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.image import Photo

Array = NDArray[np.float64]

LONG_SIDE_PX = 1800  # of the drawing
ENOUGH = 0.6  # where the interest fills this much of the frame, the whole photograph is shown
FILL = 0.62  # share of a crop that the interest takes
SMALLEST_CROP_PX = 700  # long side, pixels of the photograph; more enlargement shows nothing new


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A part of a photograph, and its size in the drawing.

    left_px, top_px: the part's upper left corner as an edge, so -0.5 is the photograph's own.
    scale: drawing pixels per photograph pixel. size: (width, height) of the drawing.
    """

    left_px: float
    top_px: float
    scale: float
    size: tuple[int, int]

    def at(self, px: Array) -> Array:
        """Pixels (..., 2) of the photograph to the drawing, whose (0, 0) is its upper left corner as an edge."""
        return np.asarray((px - [self.left_px, self.top_px]) * self.scale)


def choose(size_px: tuple[int, int], interest_px: Array, long_side_px: int = LONG_SIDE_PX) -> Window:
    """The whole photograph, or the part of the same proportions in which the interest (N, 2) is large."""
    frame = np.array(size_px, dtype=np.float64)
    seen = interest_px[np.isfinite(interest_px).all(axis=1)].reshape(-1, 2)
    part = frame
    low = np.array([-0.5, -0.5])
    if len(seen):
        first = np.clip(seen.min(axis=0), -0.5, frame - 0.5)
        last = np.clip(seen.max(axis=0), -0.5, frame - 0.5)
        share = float(((last - first) / frame).max())
        if share < ENOUGH:
            zoom = min(max(share / FILL, SMALLEST_CROP_PX / frame.max()), 1.0)
            part = np.round(frame * zoom)  # whole pixels, so that they are enlarged as they are
            low = np.round(np.clip((first + last - part) / 2, -0.5, frame - part - 0.5) + 0.5) - 0.5
    scale = long_side_px / float(part.max())
    width, height = (max(1, round(side)) for side in part * scale)
    return Window(left_px=float(low[0]), top_px=float(low[1]), scale=scale, size=(width, height))


def cut(photo: Photo, window: Window) -> NDArray[np.uint8]:
    """(h, w, 3) RGB of the window: no more of the file is decoded than the drawing can show, and of 48 million pixels a half each way."""
    full = max(photo.size_px)
    wanted = min(photo.colour_side_px, max(1, round(full * window.scale)))
    small = photo.colour_at_least(wanted)
    if max(small.shape[:2]) >= 2 * wanted:
        small = photo.colour(wanted)
    enlarged = _whole_pixels(small, window) if small.shape[:2] == photo.size_px[::-1] else None
    if enlarged is not None:
        return np.asarray(cv2.cvtColor(enlarged, cv2.COLOR_BGR2RGB), dtype=np.uint8)
    ratio = np.array([small.shape[1], small.shape[0]]) / np.array(photo.size_px)
    step = ratio / window.scale
    shift = (np.array([window.left_px, window.top_px]) + 0.5) * ratio + 0.5 * step - 0.5
    map_from_drawing = np.array([[step[0], 0.0, shift[0]], [0.0, step[1], shift[1]]])
    how = cv2.INTER_LINEAR if step[0] >= 0.9 else cv2.INTER_CUBIC
    picture = cv2.warpAffine(
        small, map_from_drawing, window.size, flags=how | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2RGB), dtype=np.uint8)


def _whole_pixels(colours: NDArray[np.uint8], window: Window) -> NDArray[np.uint8] | None:
    """The window enlarged, ten times as quickly as by a map; None where it is smaller, or not of whole pixels."""
    left, top = window.left_px + 0.5, window.top_px + 0.5
    width, height = (round(side / window.scale) for side in window.size)
    part = colours[int(top) : int(top) + height, int(left) : int(left) + width]
    if window.scale < 1.0 or left % 1.0 or top % 1.0 or part.shape[:2] != (height, width):
        return None
    return np.asarray(cv2.resize(part, window.size, interpolation=cv2.INTER_CUBIC), dtype=np.uint8)
