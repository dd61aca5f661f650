"""Smaller pictures of a photograph for marking its centre: a preview of the whole, and tiles at full resolution.

Both are of the picture as a person sees it, and exact: the preview's outer edges are the photograph's outer edges, so a
share s of its width is pixel s * width - 0.5; tile (row, column) begins at pixel (column, row) * TILE_PX. That is why
nothing here is decoded at reduced size, which rounds a picture's sides up.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.seen.full_colours import FullColours
from photomeasure.seen.image import load

PREVIEW_LONG_SIDE_PX = 1600
TILE_PX = 1024
_QUALITY = 90


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """size_px: (width, height) of the photograph. Files `preview.jpg` and `tile-ROW-COLUMN.jpg` in `folder`."""

    folder: Path
    size_px: tuple[int, int]

    @property
    def whole(self) -> Path:
        return self.folder / "preview.jpg"

    def tile(self, row: int, column: int) -> Path | None:
        """The tile's file, None outside of the photograph."""
        width, height = self.size_px
        inside = 0 <= row * TILE_PX < height and 0 <= column * TILE_PX < width
        return self.folder / f"tile-{row}-{column}.jpg" if inside else None


def make_preview(photo: Path, folder: Path) -> Preview | Refusal:
    """Write preview and tiles of a photograph into a folder of their own."""
    loaded = load(photo)
    if isinstance(loaded, Refusal):
        return loaded
    width, height = loaded.size_px
    colours = FullColours(loaded)
    folder.mkdir()
    preview = Preview(folder=folder, size_px=(width, height))
    ratio = min(1.0, PREVIEW_LONG_SIDE_PX / max(width, height))
    _write(preview.whole, colours.whole((max(1, round(width * ratio)), max(1, round(height * ratio)))))
    for row in range(-(-height // TILE_PX)):
        for column in range(-(-width // TILE_PX)):
            part = colours.part(column * TILE_PX, row * TILE_PX, TILE_PX, TILE_PX)
            _write(folder / f"tile-{row}-{column}.jpg", part)
    return preview


def _write(path: Path, picture: NDArray[np.uint8]) -> None:
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    if not done:
        raise InputError(
            said("A preview of the photograph could not be made."),
            expected=said("a picture that can be written as JPEG"),
            remedy=said("send the photograph as JPEG"),
        )
    path.write_bytes(data.tobytes())
