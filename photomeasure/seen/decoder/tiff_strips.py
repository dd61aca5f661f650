"""TIFF strip by strip: each strip is compressed by itself, so some of them are a TIFF of their own, with the same tags.

Pillow decodes whole pictures, four bytes a pixel.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass

from PIL import Image, TiffImagePlugin
from PIL.TiffImagePlugin import (
    BITSPERSAMPLE,
    COMPRESSION,
    IMAGELENGTH,
    IMAGEWIDTH,
    ROWSPERSTRIP,
    STRIPBYTECOUNTS,
    STRIPOFFSETS,
)

_ROWS = 64  # of one band, about
_PLANAR_CONFIGURATION = 284
_SAMPLES_PER_PIXEL = 277
# what pixels are decoded by (TIFF 6.0 and its JPEG technote); of the others some hold whole pictures, such as an editor's layers
_OF_PIXELS = frozenset({256, 258, 259, 262, 266, 277, 284, 292, 293, 317, 320, 332, 338, 339, 347, 529, 530, 531, 532})


@dataclass(frozen=True, slots=True, kw_only=True)
class Strips:
    """A picture's strips as they are stored. each: rows of one; places: (offset, bytes) of each."""

    image: TiffImagePlugin.TiffImageFile
    size: tuple[int, int]
    each: int
    places: tuple[tuple[int, int], ...]

    @property
    def held_rows(self) -> int:
        """Rows that are decoded at once."""
        return self.each * max(1, _ROWS // self.each)

    def bands(self) -> Iterator[Image.Image]:
        """As they are stored: not turned."""
        some = self.held_rows // self.each
        for first in range(0, len(self.places), some):
            yield self._band(first, self.places[first : first + some])

    def _band(self, first: int, places: tuple[tuple[int, int], ...]) -> Image.Image:
        tags, file = self.image.tag_v2, self.image.fp
        assert file is not None
        parts, starts = [], [0]
        for offset, count in places:
            file.seek(offset)
            parts.append(file.read(count))
            if len(parts[-1]) < count:
                raise OSError("a strip is cut short")
            starts.append(starts[-1] + count)
        written = TiffImagePlugin.ImageFileDirectory_v2(
            b"MM\x00*\x00\x00\x00\x00" if tags.prefix == b"MM" else b"II*\x00\x00\x00\x00\x00"
        )
        for tag in tags:
            if tag in _OF_PIXELS:
                written.tagtype[tag] = tags.tagtype[tag]
                written[tag] = tags[tag]
        rows = min(self.each * len(places), self.size[1] - first * self.each)
        for tag, values in (
            (IMAGELENGTH, rows),
            (ROWSPERSTRIP, self.each),
            (STRIPOFFSETS, tuple(starts[:-1])),  # counted from where the tags end
            (STRIPBYTECOUNTS, tuple(count for _, count in places)),
        ):
            written.tagtype[tag] = 4  # LONG
            written[tag] = values
        stream = io.BytesIO()
        written.save(stream)
        for part in parts:
            stream.write(part)
        with Image.open(stream, formats=("TIFF",)) as band:
            band.load()
            return band


def strips_of(image: TiffImagePlugin.TiffImageFile) -> Strips | None:
    """Of an opened picture; None where it is not stored in several strips of whole pixels, or in one that is not compressed."""
    tags = image.tag_v2
    width, height = tags.get(IMAGEWIDTH), tags.get(IMAGELENGTH)
    each, offsets, counts = tags.get(ROWSPERSTRIP, height), tags.get(STRIPOFFSETS), tags.get(STRIPBYTECOUNTS)
    if not (
        isinstance(width, int) and isinstance(height, int) and isinstance(each, int) and min(width, height, each) > 0
    ):
        return None
    if not (isinstance(offsets, tuple) and isinstance(counts, tuple)) or tags.get(_PLANAR_CONFIGURATION, 1) != 1:
        return None
    size = (width, height)
    if len(offsets) == 1 and tags.get(COMPRESSION, 1) == 1:
        each, offsets, counts = _parted(tags, size, offsets[0])
    if len(offsets) < 2 or len(offsets) != len(counts) or len(offsets) != -(-size[1] // each):
        return None
    return Strips(image=image, size=size, each=each, places=tuple(zip(offsets, counts, strict=True)))


def _parted(
    tags: TiffImagePlugin.ImageFileDirectory_v2, size: tuple[int, int], start: int
) -> tuple[int, tuple[int, ...], tuple[int, ...]]:
    """One strip that is not compressed, as if it were several: rows of each, their offsets, their bytes (TIFF 6.0 section 3)."""
    each = tags.get(BITSPERSAMPLE, (1,))
    bits = (
        each[0] * tags.get(_SAMPLES_PER_PIXEL, 1) if len(each) == 1 else sum(each)
    )  # some writers say it once for all
    row = -(-size[0] * bits // 8)
    tops = range(0, size[1], _ROWS)
    return _ROWS, tuple(start + top * row for top in tops), tuple(min(_ROWS, size[1] - top) * row for top in tops)
