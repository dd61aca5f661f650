"""AVIF: decoded as a whole to brightness and colour differences (1.5 bytes a pixel), which become red, green and blue band by band.

Pillow makes all of it red, green and blue at once, and a copy of that: of 48 million pixels 400 MB. The library in its wheel (libavif) is called
by its C interface (`avif.h` of version 1). A band is made with the rows beside it, for colours are interpolated between rows: pixel by
pixel it is what Pillow gives. Where that cannot be reached, Pillow decodes.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from ctypes import POINTER, byref, c_char_p, c_int, c_size_t, c_uint32, c_void_p
from functools import cache

from PIL import Image

from photomeasure.seen.decoder.clibrary import Takes, functions_of

_ROWS, _BESIDE = 256, 4
FORMATS = {"RGB": 0, "RGBA": 1}  # enum avifRGBFormat, by Pillow's modes
_STRICT, _PIXEL_DEPTHS_AND_CROPS = 7, 3  # avifStrictFlags


class _Decoder(ctypes.Structure):
    """The beginning of `avifDecoder`, which the library makes and frees."""

    _fields_ = (("codec", c_int), ("threads", c_int), ("between", c_uint32 * 8), ("strict", c_uint32))


class _Pixels(ctypes.Structure):
    """`avifRGBImage`."""

    _fields_ = (
        *((name, c_uint32) for name in ("width", "height", "depth")),
        *((name, c_int) for name in ("format", "upsampling", "downsampling", "without_libyuv", "ignore_alpha")),
        *((name, c_int) for name in ("premultiplied", "is_float", "threads")),
        ("pixels", c_void_p),
        ("row_bytes", c_uint32),
    )


_TAKES: Takes = {
    "avifVersion": (c_char_p, ()),
    "avifDecoderCreate": (POINTER(_Decoder), ()),
    "avifDecoderDestroy": (None, (c_void_p,)),
    "avifDecoderReadMemory": (c_int, (c_void_p, c_void_p, c_char_p, c_size_t)),
    "avifImageCreateEmpty": (c_void_p, ()),
    "avifImageDestroy": (None, (c_void_p,)),
    "avifImageSetViewRect": (c_int, (c_void_p, c_void_p, POINTER(c_uint32 * 4))),
    "avifRGBImageSetDefaults": (None, (POINTER(_Pixels), c_void_p)),
    "avifImageYUVToRGB": (c_int, (c_void_p, POINTER(_Pixels))),
}


@cache
def library() -> ctypes.CDLL | None:
    """libavif as Pillow has loaded it; None where its functions cannot be reached, or it is of another version."""
    try:
        from PIL import _avif
    except ImportError:
        return None
    found = functions_of(_avif.__file__, _TAKES)
    return found if found is not None and found.avifVersion().startswith(b"1.") else None


def avif_bands(
    found: ctypes.CDLL, data: bytes, mode: str, size: tuple[int, int], threads: int
) -> Iterator[Image.Image]:
    """Bands of a file's first picture, in Pillow's mode for it. ValueError for what cannot be decoded."""
    whole = found.avifImageCreateEmpty()
    try:
        decoder = found.avifDecoderCreate()
        decoder.contents.threads = threads
        if decoder.contents.strict == _STRICT:  # as Pillow: of files by older programs too
            decoder.contents.strict &= ~_PIXEL_DEPTHS_AND_CROPS
        wrong = found.avifDecoderReadMemory(decoder, whole, data, len(data))
        found.avifDecoderDestroy(decoder)  # what it decoded is the image's now
        if wrong:
            raise ValueError(f"AVIF: result {wrong}")
        for top in range(0, size[1], _ROWS):
            yield _band(found, whole, mode, size, top)
    finally:
        found.avifImageDestroy(whole)


def _band(found: ctypes.CDLL, whole: int, mode: str, size: tuple[int, int], top: int) -> Image.Image:
    width, height = size
    first, last = max(0, top - _BESIDE), min(height, top + _ROWS + _BESIDE)
    view, pixels = found.avifImageCreateEmpty(), _Pixels()
    try:
        if found.avifImageSetViewRect(view, whole, byref((c_uint32 * 4)(0, first, width, last - first))):
            raise ValueError("AVIF: its head says another size")
        found.avifRGBImageSetDefaults(byref(pixels), view)
        held = ctypes.create_string_buffer(width * (last - first) * len(mode))
        pixels.depth, pixels.format, pixels.pixels = 8, FORMATS[mode], ctypes.addressof(held)
        pixels.row_bytes = width * len(mode)
        wrong = found.avifImageYUVToRGB(view, byref(pixels))
        if wrong:
            raise ValueError(f"AVIF: result {wrong}")
    finally:
        found.avifImageDestroy(view)
    band = Image.frombuffer(mode, (width, last - first), held, "raw", mode, 0, 1)  # type: ignore[arg-type]
    return band.crop((0, top - first, width, min(height, top + _ROWS) - first))
