"""A JPEG to grey, with an ear for what the decoder says: it fills in what is missing or broken, and only mentions it.

The pixels are bit for bit those of `cv2.imdecode`; that prints libjpeg's warnings to the terminal, where no program hears
them, and `simplejpeg` hands them on.
"""

from __future__ import annotations

import re
from typing import Literal

import numpy as np
import simplejpeg
from numpy.typing import NDArray

Damage = Literal["truncated", "damaged"]

_EXTRANEOUS = re.compile(r"(\d+) extraneous bytes before marker 0xd9")
_SEQUENTIAL, _PROGRESSIVE, _SCAN = (0xC0, 0xC1, 0xC9), (0xC2, 0xCA), 0xDA  # markers
_PADDING = re.compile(rb"[\x00\xff]*")


def jpeg_ends(data: bytes) -> bool:
    """Whether a JPEG has its end-of-image marker (phones may append other data behind it)."""
    return data.rfind(b"\xff\xd9", max(0, len(data) - 65536)) >= 0 or data.rfind(b"\xff\xd9") > len(data) // 2


def jpeg_in_scans(data: bytes) -> bool:
    """Whether a JPEG tells its picture in several scans (progressive, or one colour after the other): its decoder then holds all of it
    as coefficients, two bytes each, until the last has come.

    Read from the markers before the first scan (ITU-T T.81 B.1.1.4, B.2.2, B.2.3).
    """
    at, components = 2, 0
    while at + 9 < len(data):
        marker = data[at + 1]
        if data[at] != 0xFF:
            return True  # it cannot be told: taken for the dearer kind
        if marker == 0xFF:  # fill
            at += 1
        elif marker in _PROGRESSIVE:
            return True
        elif marker in _SEQUENTIAL:
            components, at = data[at + 9], at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        elif marker == _SCAN:
            return data[at + 4] < components
        elif marker == 0x01 or 0xD0 <= marker <= 0xD8:  # which have no length
            at += 2
        else:
            at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return False  # its end is missing, which is told elsewhere


def jpeg_grey(data: bytes) -> tuple[NDArray[np.uint8] | None, Damage | None, str]:
    """The picture (h, w) as it is stored, what is wrong with it, and the decoder's own words.

    Without a picture and without damage it is none that can be decoded.
    """
    try:
        return np.asarray(simplejpeg.decode_jpeg(data, "GRAY"))[:, :, 0], None, ""
    except ValueError as error:
        words = " ".join(str(error).split())[:200]
    if _only_padded(data, words):
        return np.asarray(simplejpeg.decode_jpeg(data, "GRAY", strict=False))[:, :, 0], None, ""
    if "remature end" in words:
        return None, "truncated", words
    return None, "damaged" if words.startswith("Corrupt") else None, words


def jpeg_colour(data: bytes, part: int) -> NDArray[np.uint8] | None:
    """(h, w, 3) BGR as it is stored, its sides a `part`th (1, 2, 4, 8); None where this decoder has no colours for it.

    What may be wrong with the file was heard when it was decoded to grey.
    """
    try:
        height, width = simplejpeg.decode_jpeg_header(data, strict=False)[:2]
        at_least = {"min_height": -(-height // part), "min_width": -(-width // part), "min_factor": 1}
        return np.asarray(simplejpeg.decode_jpeg(data, "BGR", **at_least, strict=False))
    except ValueError:
        return None


def _only_padded(data: bytes, words: str) -> bool:
    """Whether what the decoder did not use is padding before the end: bytes that all are 0, or all 255."""
    found = _EXTRANEOUS.search(words)
    end = data.rfind(b"\xff\xd9")
    if found is None or end < 0:
        return False
    return _PADDING.fullmatch(data, max(0, end - int(found.group(1))), end) is not None
