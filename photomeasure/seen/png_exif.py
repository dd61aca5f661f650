"""EXIF of a PNG, which may stand behind the picture: Pillow decodes all of the picture to look for it there."""

from __future__ import annotations

import struct

from PIL import Image

_SIGNATURE_BYTES = 8


def png_exif(image: Image.Image, data: bytes) -> Image.Exif:
    """Of an opened PNG; data: the file. As Pillow reads it (XMP and text before the picture too), but nothing is decoded."""
    if "exif" not in image.info:
        found = _chunk(data, b"eXIf")
        if found is not None:
            image.info["exif"] = b"Exif\x00\x00" + found
    return Image.Image.getexif(image)


def _chunk(data: bytes, wanted: bytes) -> bytes | None:
    """The first chunk of a name (PNG 5.3: length, name, data, check sum)."""
    at = _SIGNATURE_BYTES
    while at + 8 <= len(data):
        length, name = struct.unpack_from(">I4s", data, at)
        if name == wanted:
            return data[at + 8 : at + 8 + length]
        at += length + 12
    return None
