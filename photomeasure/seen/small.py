"""Large pictures that are no JPEG: their colours are made small when they are decoded, for they are only drawn on, and kept as JPEG.

Decoded anew for each drawing, 48 million pixels of HEIC took three times as long, and PNG or WebP 340 to 800 MB a time.
"""

from __future__ import annotations

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray

from photomeasure.seen.decoder.alike import part_of
from photomeasure.seen.decoding_aside import Limits, OnDisk, decode_aside

_QUALITY = 95


def small_of(colours: NDArray[np.uint8], most_pixels: int) -> bytes:
    """JPEG of a picture (h, w, 3) BGR with no more than so many pixels."""
    height, width = colours.shape[:2]
    part = part_of(height * width, most_pixels)
    shown = cv2.resize(colours, (-(-width // part), -(-height // part)), interpolation=cv2.INTER_AREA)
    made: bytes = simplejpeg.encode_jpeg(shown, _QUALITY, "BGR", "444")
    return made


def small_aside(file: bytes | OnDisk, limits: Limits) -> bytes:
    """The same of a file, decoded by the process beside this one; nothing where that cannot be done."""
    return decode_aside(file, limits=limits, what="small", small="always").small
