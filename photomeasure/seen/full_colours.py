"""Parts of a photograph in colour at its full size, without all of it in colour: of a large one brightness is that of the grey picture,
which is held anyway, and only red and blue against it come from the small one, as in a JPEG whose colours are stored at half the size.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.image import Photo

Colours = NDArray[np.uint8]


class FullColours:
    """(h, w, 3) BGR of a photograph as a person sees it, whole pixels of it exactly where they are."""

    def __init__(self, photo: Photo) -> None:
        self._grey, self._whole, self._tints = photo.grey, None, None
        if photo.colour_side_px == max(photo.size_px):
            self._whole = photo.colour(max(photo.size_px))
        else:
            self._tints = _tints(photo.colour_at_least(photo.colour_side_px))

    def part(self, left: int, top: int, width: int, height: int) -> Colours:
        """The part of it that begins at a pixel; less where it ends before."""
        if self._whole is not None:
            return self._whole[top : top + height, left : left + width]
        return self._tinted(self._grey[top : top + height, left : left + width], left, top, 1.0, 1.0)

    def whole(self, size: tuple[int, int]) -> Colours:
        """All of it, smaller: (width, height)."""
        if self._whole is not None:
            return np.asarray(cv2.resize(self._whole, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        high, wide = self._grey.shape
        small = np.asarray(cv2.resize(self._grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        return self._tinted(small, 0, 0, wide / size[0], high / size[1])

    def _tinted(self, grey: Colours, left: int, top: int, across: float, down: float) -> Colours:
        """A grey part in colour; across, down: pixels of the photograph a pixel of it."""
        assert self._tints is not None
        per_x, per_y = self._tints.shape[1] / self._grey.shape[1], self._tints.shape[0] / self._grey.shape[0]
        shift = ((left + 0.5 * across) * per_x - 0.5, (top + 0.5 * down) * per_y - 0.5)
        where = np.array([[across * per_x, 0.0, shift[0]], [0.0, down * per_y, shift[1]]])
        how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        tints = cv2.warpAffine(self._tints, where, grey.shape[::-1], flags=how, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(cv2.cvtColor(cv2.merge([grey, tints]), cv2.COLOR_YCrCb2BGR), dtype=np.uint8)


def _tints(colours: Colours) -> Colours:
    """(h, w, 2) red and blue against grey."""
    return np.ascontiguousarray(cv2.cvtColor(colours, cv2.COLOR_BGR2YCrCb)[:, :, 1:], dtype=np.uint8)
