"""Which part of a photograph is shown, how large, and where its pixels land in the drawing."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.shrink import shrunk
from photomeasure.seen.image import Photo

Array = NDArray[np.float64]
Colours = NDArray[np.uint8]

LONG_SIDE_PX = 1800  # of the drawing
OVERVIEW_PX = 1000  # of the whole photograph beside it
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
            part = 2.0 * np.floor(frame * zoom / 2)  # whole pixels, so that they are enlarged as they are, and whole
            wanted = np.round((first + last - part) / 4 + 0.25)  # pixels of a picture of half the size
            low = 2.0 * np.clip(wanted, 0.0, np.floor((frame - part) / 2)) - 0.5
    scale = long_side_px / float(part.max())
    width, height = (max(1, round(side)) for side in part * scale)
    return Window(left_px=float(low[0]), top_px=float(low[1]), scale=scale, size=(width, height))


def colours_for(photo: Photo, window: Window) -> Colours:
    """(h, w, 3) BGR, the photograph whole, no larger than the drawing or an overview can show, and of a large one no more than a half.

    Files keep their colours at half the size, as JPEG does nearly always; the brightness is there in full as the grey picture.
    """
    full = max(photo.size_px)
    drawn = min(round(full * window.scale), full // 2, photo.colour_side_px)
    return photo.colour_at_least(max(drawn, min(OVERVIEW_PX, full)))


def cut(photo: Photo, window: Window, colours: Colours | None = None) -> Colours:
    """(h, w, 3) RGB of the window. colours: those of `colours_for`, where they are at hand."""
    small = colours_for(photo, window) if colours is None else colours
    size, full = max(small.shape[:2]), max(photo.size_px)
    wanted = min(round(full * window.scale), full)
    if size < wanted:
        split = _part(small, photo, window, split=True)
        cv2.insertChannel(_part(photo.grey, photo, window), split, 0)
        return np.asarray(cv2.cvtColor(split, cv2.COLOR_YCrCb2RGB), dtype=np.uint8)
    if size >= 2 * wanted:
        small = shrunk(small, (round(small.shape[1] * wanted / size), round(small.shape[0] * wanted / size)))
    return np.asarray(cv2.cvtColor(_part(small, photo, window), cv2.COLOR_BGR2RGB), dtype=np.uint8)


def _part(picture: NDArray[np.uint8], photo: Photo, window: Window, *, split: bool = False) -> NDArray[np.uint8]:
    """The window out of a picture (h, w) or (h, w, 3) of all the photograph, at the drawing's size.

    split: as luma, Cr, Cb, of which the latter two count, and eyes do not look closely at these.
    """
    ratio = np.array(picture.shape[1::-1]) / np.array(photo.size_px)
    step = ratio / window.scale  # picture's pixels per drawing pixel
    way = cv2.INTER_LINEAR if split or step[0] >= 0.9 else cv2.INTER_CUBIC
    whole = _whole_pixels(picture, window, ratio) if step.max() <= 1.0 else None
    source = picture if whole is None else whole
    if split:
        source = np.asarray(cv2.cvtColor(source, cv2.COLOR_BGR2YCrCb), dtype=np.uint8)
    if whole is not None:
        return np.asarray(cv2.resize(source, window.size, interpolation=way), dtype=np.uint8)
    shift = (np.array([window.left_px, window.top_px]) + 0.5) * ratio + 0.5 * step - 0.5
    map_from_drawing = np.array([[step[0], 0.0, shift[0]], [0.0, step[1], shift[1]]])
    drawn = cv2.warpAffine(
        source, map_from_drawing, window.size, flags=way | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(drawn, dtype=np.uint8)


def _whole_pixels(picture: NDArray[np.uint8], window: Window, ratio: Array) -> NDArray[np.uint8] | None:
    """The window's pixels of a picture, which are enlarged ten times as quickly as by a map; None where it begins within one."""
    first = (np.array([window.left_px, window.top_px]) + 0.5) * ratio
    left, top = np.round(first).astype(int)
    wide, high = np.round(np.array(window.size) / window.scale * ratio).astype(int)
    part = picture[top : top + high, left : left + wide]
    return part if np.abs(first - (left, top)).max() < 1e-6 and part.shape[:2] == (high, wide) else None
