"""HEIC tile by tile: phones store it in tiles of 512 pixels, and a row of them is held at a time instead of the whole picture, which
takes 900 MB of 200 million pixels.

Pixel by pixel it is what the whole is. Where tiles cannot be decoded by themselves, or the picture is one, it is decoded as a whole.
"""

from __future__ import annotations

import ctypes
import io
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import repeat
from typing import Any

from PIL import Image

from photomeasure.seen.decoder.libheif import MODES, Opened, Tiling, library
from photomeasure.seen.decoder.pieces import THREADS, Pieces, bands_of_buffer


def heif_pieces(data: bytes) -> Pieces:
    """The primary picture of a HEIC file: in tiles as it is stored, or as a whole and upright."""
    import pi_heif

    file = pi_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=True, hdr_to_16bit=True, remove_stride=False)
    image, found = file[file.primary_index], library()
    if found is not None and image.mode in MODES:
        opened = Opened(found, data)
        tiling, turns = opened.tiling(), opened.turns()
        size = (tiling.width, tiling.height)
        if tiling.columns * tiling.rows > 1 and turns is not None and sorted(size) == sorted(image.size):
            bands = _rows_of_tiles(found, data, image.mode, tiling)
            return Pieces(size=size, bands=bands, turns=turns, whole=False, held_rows=tiling.tile_height)
    return Pieces(size=image.size, bands=_whole(image), turns=(), whole=True)


def _whole(image: Any) -> Iterator[Image.Image]:
    size = image.size
    decoded = memoryview(image.data)
    if image.size != size:  # which only decoding shows
        raise ValueError("its head says another size")
    yield from bands_of_buffer(decoded, image.mode, size, image.stride)


def _rows_of_tiles(found: ctypes.CDLL, data: bytes, mode: str, tiling: Tiling) -> Iterator[Image.Image]:
    """A band for each row of tiles, those of one row side by side in threads."""
    own = threading.local()

    def tile(column: int, row: int) -> Image.Image:
        if not hasattr(own, "opened"):
            own.opened = Opened(found, data)
        opened: Opened = own.opened
        return opened.tile(mode, column, row)

    with ThreadPoolExecutor(min(THREADS, tiling.columns)) as threads:
        for row in range(tiling.rows):
            top = row * tiling.tile_height
            band = Image.new(mode, (tiling.width, min(tiling.tile_height, tiling.height - top)))
            for column, one in enumerate(threads.map(tile, range(tiling.columns), repeat(row))):
                left = column * tiling.tile_width
                if one.width < min(tiling.tile_width, tiling.width - left) or one.height < band.height:
                    raise ValueError("a tile is too small")
                band.paste(one, (left, 0))
            yield band
