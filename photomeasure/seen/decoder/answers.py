"""What is answered for one photograph: JSON of its head; then, if it can be decoded, its rows in blocks as they are decoded, an empty
block, and JSON again: what went wrong meanwhile, or how long the small picture (JPEG) is that follows.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import IO, Any

from PIL import AvifImagePlugin, Image, TiffImagePlugin

from photomeasure.seen.decoder.alike import part_of, signature
from photomeasure.seen.decoder.framing import write_block, write_json
from photomeasure.seen.decoder.pieces import THREADS, Pieces, Smaller, colours, grey, pieces_of

_DNG_VERSION = 50706
_QUALITY = 95  # of the small picture, which is drawn on and written as JPEG of 88


def answer(request: dict[str, Any], file: IO[bytes], sink: IO[bytes]) -> None:
    """Answer one request; whatever a decoder raises is this file's fault, and the parent's to say."""
    rows: Iterator[bytes] = iter(())
    try:
        said, pieces = _head(request, file)
        if pieces is None:
            write_json(sink, said)
            return
        small = _Small(request, pieces)
        rows = _rows(request, pieces, small)
        first = next(rows, b"")
    except Exception as error:
        write_json(sink, {"error": _words(error)})
        return
    write_json(sink, {**said, **_shape(request, pieces), "turns": pieces.turns})
    try:
        if first:
            write_block(sink, first)
        del first
        for row in rows:
            write_block(sink, row)
        if request["path"] is not None and signature(file) != request["signature"]:
            raise ValueError("changed")
        encoded = small.encoded()
    except Exception as error:
        write_block(sink, b"")
        write_json(sink, {"error": _words(error)})
        return
    write_block(sink, b"")
    write_json(sink, {"small": len(encoded)})
    sink.write(encoded)
    sink.flush()


def _head(request: dict[str, Any], file: IO[bytes]) -> tuple[dict[str, object], Pieces | None]:
    """What the head says, and how the picture is decoded; None where it is not, with the error among the former."""
    image, data = _opened(request, file)
    if isinstance(image, TiffImagePlugin.TiffImageFile) and _DNG_VERSION in image.tag_v2:
        return {"error": "raw"}, None
    exif = Image.Exif() if image.format == "PNG" else image.getexif()  # of PNG the whole is decoded to look for it
    said: dict[str, object] = {
        "format": image.format,
        "width": image.width,
        "height": image.height,
        "original_orientation": image.info.get("original_orientation"),
        "base": _tags(exif),
        "inner": _tags(exif.get_ifd(0x8769)),
    }
    pixels = image.width * image.height
    if pixels > request["most_pixels"]:
        return {**said, "error": "too-large"}, None
    if request["path"] is not None and signature(file) != request["signature"]:
        return {**said, "error": "changed"}, None
    pieces = pieces_of(image, data)
    if pieces.held_pixels > request["most_whole_pixels"]:
        return {**said, "error": "too-large-whole"}, None
    return said, pieces


def _opened(request: dict[str, Any], file: IO[bytes]) -> tuple[Image.Image, bytes | None]:
    """The picture, not decoded yet; of HEIC and AVIF the file's bytes too."""
    Image.MAX_IMAGE_PIXELS = request["most_pixels"]
    start = file.read(12)
    file.seek(0)
    if start[4:8] != b"ftyp":
        return Image.open(file, formats=["TIFF", "PNG"]), None
    import pi_heif

    pi_heif.register_heif_opener()
    AvifImagePlugin.DEFAULT_MAX_THREADS = THREADS
    data = file.read()
    return Image.open(io.BytesIO(data), formats=["AVIF", "HEIF"]), data


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


def _factor(request: dict[str, Any], pieces: Pieces) -> int:
    return max(1, max(pieces.size) // int(request["long_side"])) if request["what"] == "colour" else 1


def _shape(request: dict[str, Any], pieces: Pieces) -> dict[str, int]:
    if request["what"] == "small":
        return {"rows": 0, "columns": 0}
    factor = _factor(request, pieces)
    return {"rows": -(-pieces.size[1] // factor), "columns": -(-pieces.size[0] // factor)}


def _rows(request: dict[str, Any], pieces: Pieces, small: _Small) -> Iterator[bytes]:
    """The rows that are sent: one byte a pixel, or red, green and blue, or none."""
    smaller = Smaller(_factor(request, pieces))
    for band in pieces.bands:
        small.take(band)
        if request["what"] == "grey":
            yield grey(band).tobytes()
        elif request["what"] == "colour":
            made = smaller.of(colours(band))
            if made is not None:
                yield made.tobytes()
    last = smaller.last()
    if last is not None:
        yield last.tobytes()


class _Small:
    """The picture in colour with no more than `small_pixels`, as it grows while its bands go by; nothing where it is not wanted."""

    def __init__(self, request: dict[str, Any], pieces: Pieces) -> None:
        width, height = pieces.size
        part = part_of(width * height, request["small_pixels"])
        self._wanted = request["small"] == "always" or (request["small"] == "large" and part > 1)
        self._size = (-(-width // part), -(-height // part))
        self._smaller, self._top = Smaller(part), 0
        self._picture: Image.Image | None = None

    def take(self, band: Image.Image) -> None:
        """Its next rows."""
        if self._wanted:
            self._put(self._smaller.of(colours(band)))

    def encoded(self) -> bytes:
        """JPEG of it, once all bands have gone by."""
        self._put(self._smaller.last())
        if self._picture is None:
            return b""
        stream = io.BytesIO()
        self._picture.save(stream, "JPEG", quality=_QUALITY, subsampling=0)
        self._picture = None
        return stream.getvalue()

    def _put(self, made: Image.Image | None) -> None:
        if made is None:
            return
        if self._picture is None:  # not before something is decoded: what is decoded as a whole needs most at its start
            self._picture = Image.new("RGB", self._size)
        self._picture.paste(made, (0, self._top))
        self._top += made.height


def _words(error: Exception) -> str:
    return str(error) if str(error) == "changed" else f"{type(error).__name__}: {error}"[:300]
