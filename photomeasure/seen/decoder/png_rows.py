"""PNG some rows at a time: a row is told by itself and the one above it, so some rows below a known one are a PNG of their own.

Pillow decodes whole pictures, four bytes a pixel. Here the data is unpacked as it comes (PNG 10: one zlib stream over all IDAT chunks), and
Pillow decodes bands of it, each with the last row of the band above as its first, unfiltered (PNG 9.2, filter type 0).
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from typing import IO

from PIL import Image

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_BYTES = {0: 1, 2: 3, 6: 4}  # a pixel's, by colour type: grey; red, green, blue; with opacity. Of 8 bits a sample
_MODES = {0: "L", 2: "RGB", 6: "RGBA"}
_ROWS = 64


def in_rows(image: Image.Image) -> bool:
    """Whether an opened PNG is stored row by row (not interlaced), 8 bits a sample, without a palette."""
    head = _head(image.fp)  # type: ignore[attr-defined]
    return head is not None and head[2] in _BYTES


def _head(file: IO[bytes]) -> tuple[int, int, int] | None:
    """Width, height and colour type, where it is one of 8 bits and not interlaced."""
    file.seek(len(_SIGNATURE) + 8)
    width, height, depth, kind, _, _, interlaced = struct.unpack(">IIBBBBB", file.read(13))
    return (width, height, kind) if depth == 8 and not interlaced else None


def rows_of(image: Image.Image) -> Iterator[Image.Image]:
    """Bands, from the top."""
    file: IO[bytes] = image.fp  # type: ignore[attr-defined]
    head = _head(file)
    assert head is not None
    width, height, kind = head
    each = 1 + width * _BYTES[kind]  # a filter's type, then the row
    unpacked, above, told = bytearray(), b"", 0
    for part in _unpacked(file, each * _ROWS):
        unpacked += part
        count = min(len(unpacked) // each, height - told)
        if count >= _ROWS or (count and count == height - told):
            band = _band(width, count, kind, above, unpacked[: count * each])
            del unpacked[: count * each]
            told += count
            above = band.crop((0, count - 1, width, count)).tobytes()
            yield band
        if told == height:  # whatever stands behind it
            return
    if told < height:
        raise OSError("its end is missing")


def _unpacked(file: IO[bytes], most: int) -> Iterator[bytes]:
    """The rows with their filters' types, at most so many bytes at once."""
    unpack = zlib.decompressobj()
    for packed in _data(file):
        while packed:
            yield unpack.decompress(packed, most)
            packed = unpack.unconsumed_tail
        if unpack.eof:
            return
    yield unpack.flush()


def _data(file: IO[bytes]) -> Iterator[bytes]:
    """What the IDAT chunks hold."""
    file.seek(len(_SIGNATURE))
    while len(start := file.read(8)) == 8:
        length, name = struct.unpack(">I4s", start)
        if name == b"IEND":
            return
        if name == b"IDAT":
            while length:
                part = file.read(min(length, 65536))
                if not part:
                    return
                length -= len(part)
                yield part
            file.seek(4, io.SEEK_CUR)  # its check sum; who decodes the picture to grey looks at it
        else:
            file.seek(length + 4, io.SEEK_CUR)


def _band(width: int, count: int, kind: int, above: bytes, rows: bytes | bytearray) -> Image.Image:
    first = 1 if above else 0
    head = struct.pack(">IIBBBBB", width, first + count, 8, kind, 0, 0, 0)
    packed = zlib.compress((b"\x00" + above if above else b"") + rows, 0)
    chunks = ((b"IHDR", head), (b"IDAT", packed), (b"IEND", b""))
    written = b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data)) for name, data in chunks
    )
    with Image.open(io.BytesIO(_SIGNATURE + written), formats=("PNG",)) as band:
        band.load()
        return band.crop((0, first, width, first + count))
