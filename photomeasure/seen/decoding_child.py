"""A process that decodes HEIC, AVIF and TIFF for the one that started it, so that a decoder that crashes costs one picture; and large
PNG and WebP in colour, so that their whole size is held elsewhere and not for long.

It is run by its path and imports nothing of this program. Over standard input it gets, again and again, a request (b"G" for
grey or b"C" for colour, largest number of pixels, wanted long side, number of bytes; then the bytes of the file), and answers
over standard output with a length, that many bytes of JSON, and the pixels that the JSON announces. It ends when its input does.
"""

from __future__ import annotations

import io
import json
import signal
import struct
import sys
import warnings
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from PIL import Image

REQUEST = struct.Struct("<cQIQ")
LENGTH = struct.Struct("<I")
_MEMORY_BYTES = 6_000_000_000  # address space; 200 million pixels of HEIC need about a third of it
_DNG_VERSION = 50706
_BAND_ROWS = 256


def _bounded() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to handle
    try:
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (_MEMORY_BYTES, _MEMORY_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    except (ImportError, ValueError, OSError):  # not on every system
        pass


def _plain(value: object) -> object:
    """A tag's value as JSON holds it; None for what no reader of lens facts wants."""
    if isinstance(value, str):
        return value[:1000]
    if isinstance(value, int):
        return value
    try:
        return float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return None


def _tags(tags: object) -> dict[str, object]:
    found = {str(tag): _plain(value) for tag, value in dict(tags).items()}  # type: ignore[call-overload]
    return {tag: value for tag, value in found.items() if value is not None}


def _pixels(image: object, kind: bytes, long_side: int) -> tuple[int, int, bytes | bytearray]:
    """Rows, columns and bytes: one a pixel, or three (red, green, blue) reduced by a whole number."""
    from PIL import Image

    assert isinstance(image, Image.Image)
    image.load()
    if image.mode.startswith("I"):  # deeper than 8 bits: Pillow itself would clip, not scale
        import numpy as np

        image = Image.fromarray((np.asarray(image).astype(np.int64) >> 8).clip(0, 255).astype(np.uint8))
    image = _part(image, kind, max(image.size) // long_side)
    return image.height, image.width, image.tobytes()


def _part(image: Image.Image, kind: bytes, factor: int) -> Image.Image:
    if kind == b"G":
        return image.convert("L")
    image = image if image.mode == "RGB" else image.convert("RGB")  # which would copy
    return image.reduce(factor) if factor >= 2 else image


def _heif_pixels(data: bytes, kind: bytes, long_side: int) -> tuple[int, int, bytes | bytearray]:
    """The same of HEIC, band by band from what its decoder holds: Pillow would hold 48 million pixels twice more."""
    import pi_heif
    from PIL import Image

    opened = pi_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=True, hdr_to_16bit=True, remove_stride=False)
    image = opened[opened.primary_index]
    decoded = memoryview(image.data)
    width, height = image.size  # as decoded: only now known for sure
    factor = max(1, max(width, height) // long_side) if kind == b"C" else 1
    band, rows, columns, found = factor * max(1, _BAND_ROWS // factor), 0, 0, bytearray()
    for top in range(0, height, band):
        count = min(band, height - top)
        seen: Any = decoded[top * image.stride : (top + count) * image.stride]
        shown = Image.frombuffer(image.mode, (width, count), seen, "raw", image.mode, image.stride, 1)
        part = _part(shown, kind, factor)
        rows, columns = rows + part.height, part.width
        found += part.tobytes()
    return rows, columns, found


def _answer(kind: bytes, data: bytes, most_pixels: int, long_side: int) -> tuple[dict[str, object], bytes | bytearray]:
    from PIL import Image, TiffImagePlugin

    Image.MAX_IMAGE_PIXELS = most_pixels
    formats = ["TIFF", "AVIF", *(["PNG", "WEBP"] if kind == b"C" else [])]
    if data[4:8] == b"ftyp":
        import pi_heif

        pi_heif.register_heif_opener()
        formats.append("HEIF")
    image = Image.open(io.BytesIO(data), formats=formats)
    if isinstance(image, TiffImagePlugin.TiffImageFile) and _DNG_VERSION in image.tag_v2:
        return {"error": "raw"}, b""
    exif = image.getexif()
    said: dict[str, object] = {
        "format": image.format,
        "width": image.width,
        "height": image.height,
        "original_orientation": image.info.get("original_orientation"),
        "base": _tags(exif),
        "inner": _tags(exif.get_ifd(0x8769)),
    }
    if image.width * image.height > most_pixels:
        return {**said, "error": "too-large"}, b""
    if image.format == "HEIF":
        rows, columns, pixels = _heif_pixels(data, kind, long_side)
        return {**said, "rows": rows, "columns": columns, "bytes": len(pixels)}, pixels
    rows, columns, pixels = _pixels(image, kind, long_side)
    return {**said, "rows": rows, "columns": columns, "bytes": len(pixels)}, pixels


def _serve() -> None:
    source, sink = sys.stdin.buffer, sys.stdout.buffer
    while len(head := source.read(REQUEST.size)) == REQUEST.size:
        kind, most_pixels, long_side, length = REQUEST.unpack(head)
        data = source.read(length)
        if len(data) < length:
            return
        try:
            said, pixels = _answer(kind, data, most_pixels, long_side)
        except Exception as error:  # whatever a decoder raises is this file's fault, and the parent's to say
            said, pixels = {"error": f"{type(error).__name__}: {error}"[:300]}, b""
        written = json.dumps(said).encode("ascii")
        sink.write(LENGTH.pack(len(written)) + written)
        sink.write(pixels)
        sink.flush()
        del data, pixels


if __name__ == "__main__":
    _bounded()
    warnings.simplefilter("ignore")
    _serve()
