"""A picture band by band from its top, so that no more of it than a band is held in colour, where its format allows that.

HEIC is decoded tile by tile, TIFF strip by strip, PNG some rows at a time. What can only be decoded as a whole (AVIF, TIFF in
tiles or in one compressed strip, HEIC in one tile) is, and cut into bands then.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from PIL import Image, PngImagePlugin, TiffImagePlugin

THREADS = 4  # of a decoder, each with a stack and pictures of its own
_ROWS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """bands: each of the whole width (width, some rows), together `size`. turns: how they are still to be turned, one after the other, as
    EXIF's orientations; None: as EXIF says.

    whole: the decoder holds all of the picture at once, in colour. held_rows: rows that it holds at once otherwise.
    """

    size: tuple[int, int]
    bands: Iterable[Image.Image]
    turns: tuple[int, ...] | None
    whole: bool
    held_rows: int = _ROWS

    @property
    def held_pixels(self) -> int:
        """Pixels that are held at once, in colour."""
        return self.size[0] * (self.size[1] if self.whole else min(self.size[1], self.held_rows))


def pieces_of(image: Image.Image, data: bytes | None) -> Pieces:
    """An opened picture's; data: of HEIC and AVIF, the file. Nothing is decoded before the first band is asked for."""
    if image.format == "HEIF":
        from photomeasure.seen.decoder.heif_tiles import heif_pieces

        assert data is not None
        return heif_pieces(data)
    if image.format == "AVIF" and data is not None:
        from photomeasure.seen.decoder.avif_bands import FORMATS, avif_bands, library

        found = library()
        if found is not None and image.mode in FORMATS:
            image._decoder = None  # type: ignore[attr-defined]  # Pillow's own, which has the file too
            bands = avif_bands(found, data, image.mode, image.size, THREADS)
            return Pieces(size=image.size, bands=bands, turns=None, whole=True)
    if isinstance(image, TiffImagePlugin.TiffImageFile):
        from photomeasure.seen.decoder.tiff_strips import strips_of

        strips = strips_of(image)
        if strips is not None:
            return Pieces(size=strips.size, bands=strips.bands(), turns=None, whole=False, held_rows=strips.held_rows)
        return Pieces(size=image.size, bands=_cut(image), turns=(), whole=True)
    if isinstance(image, PngImagePlugin.PngImageFile):
        from photomeasure.seen.decoder.png_rows import in_rows, rows_of

        if in_rows(image):
            return Pieces(size=image.size, bands=rows_of(image), turns=None, whole=False)
    return Pieces(size=image.size, bands=_cut(image), turns=None, whole=True)


def _cut(image: Image.Image) -> Iterator[Image.Image]:
    image.load()
    width, height = image.size  # TIFF is turned by its reader
    for top in range(0, height, _ROWS):
        yield image.crop((0, top, width, min(height, top + _ROWS)))


def bands_of_buffer(pixels: memoryview, mode: str, size: tuple[int, int], stride: int) -> Iterator[Image.Image]:
    """Bands of a picture that is held already, rows `stride` bytes apart."""
    width, height = size
    for top in range(0, height, _ROWS):
        count = min(_ROWS, height - top)
        band = pixels[top * stride : (top + count) * stride]
        yield Image.frombuffer(mode, (width, count), band, "raw", mode, stride, 1)  # type: ignore[arg-type]


def grey(band: Image.Image) -> Image.Image:
    """One byte a pixel."""
    return _eight_bits(band).convert("L")


def colours(band: Image.Image) -> Image.Image:
    """Red, green, blue."""
    band = _eight_bits(band)
    return band if band.mode == "RGB" else band.convert("RGB")  # which would copy


def _eight_bits(band: Image.Image) -> Image.Image:
    if not band.mode.startswith("I"):
        return band
    import numpy as np  # deeper than 8 bits: Pillow itself would clip, not scale

    return Image.fromarray((np.asarray(band).astype(np.int64) >> 8).clip(0, 255).astype(np.uint8))


class Smaller:
    """A picture smaller by a whole number as `Image.reduce` makes of it in one, while its bands in colour go by."""

    def __init__(self, factor: int) -> None:
        self._factor = factor
        self._left: Image.Image | None = None  # rows that do not fill a block yet

    def of(self, band: Image.Image) -> Image.Image | None:
        """The rows that can be told with this band; None where there are none yet."""
        band = band if self._left is None else _below(self._left, band)
        full = band.height // self._factor * self._factor
        self._left = band.crop((0, full, band.width, band.height)) if full < band.height else None
        return band.crop((0, 0, band.width, full)).reduce(self._factor) if full else None

    def last(self) -> Image.Image | None:
        """The row of what is left at the end."""
        return None if self._left is None else self._left.reduce(self._factor)


def _below(upper: Image.Image, lower: Image.Image) -> Image.Image:
    both = Image.new(upper.mode, (upper.width, upper.height + lower.height))
    both.paste(upper, (0, 0))
    both.paste(lower, (0, upper.height))
    return both
