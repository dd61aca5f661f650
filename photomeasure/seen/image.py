"""Photographs as numbers: a file to an upright grey picture, what EXIF says, and a digest; or a refusal with a reason.

A file is looked at (its size and first bytes) before it is read, and only formats that phones write are opened (`formats`).
JPEG is decoded by a decoder whose warnings are heard (`jpeg`), PNG and WebP by OpenCV, the others in a process of their own
(`decoding_aside`). Of large pictures the colours are kept small, and the file is not (`small`). Orientation is applied once,
here: from then on pixel (0, 0) is the centre of the top-left pixel of the picture as a person sees it.
"""

from __future__ import annotations

import hashlib
import io
import os
import stat
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from io import BufferedReader
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from calib.camera.turning import ORIENTATIONS, one_turn, turned_picture
from calib.finding.shrink import shrunk
from calib.outcome.errors import InputError
from calib.outcome.plain_text import steers
from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.seen.beside import beside
from photomeasure.seen.camera_by_exif import ExifFacts
from photomeasure.seen.decoder.alike import part_of, signature
from photomeasure.seen.decoding_aside import Decoded, Limits, OnDisk, decode_aside
from photomeasure.seen.exif import PANORAMA_XMP, exif_facts
from photomeasure.seen.formats import HEAD_BYTES, Format, format_of, why_not
from photomeasure.seen.given import given_bytes, is_given
from photomeasure.seen.jpeg import jpeg_colour, jpeg_ends, jpeg_grey, jpeg_in_scans
from photomeasure.seen.not_read import damaged, too_heavy, too_large, too_large_whole, too_small, truncated, unreadable
from photomeasure.seen.png_exif import png_exif
from photomeasure.seen.seams import Seam, seam
from photomeasure.seen.small import small_aside, small_of

MAX_PIXELS = 210_000_000  # the largest phone sensors; anything larger is refused before it is decoded
MAX_FILE_BYTES = 400_000_000  # of 210 million pixels, JPEG and HEIC take about a fourth of that
MAX_WHOLE_PIXELS = (
    64_000_000  # of what can only be decoded as a whole, and in colour: about six bytes a pixel, for a moment
)
MIN_SIDE_PX = 320
MOST_SENT_BYTES = 32_000_000  # of a file that is handed to the decoder and kept; a larger one it reads by itself where it lies on disk
MOST_COLOUR_PIXELS = 24_000_000  # of a picture in colour, which is only drawn on: 48 million take 144 MB, twice over
XMP_BYTES = 262_144  # a file's head, where its XMP is
_PARTS = {
    1: cv2.IMREAD_COLOR,
    2: cv2.IMREAD_REDUCED_COLOR_2,
    4: cv2.IMREAD_REDUCED_COLOR_4,
    8: cv2.IMREAD_REDUCED_COLOR_8,
}  # of the size, as decoders make it
_HEIF = frozenset({"HEIF", "HEIC", "AVIF"})
_ASIDE = _HEIF | {"TIFF"}  # decoded in another process
_LIMITS = Limits(most_pixels=MAX_PIXELS, most_whole_pixels=MAX_WHOLE_PIXELS, small_pixels=MOST_COLOUR_PIXELS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """One decoded photograph. grey: (h, w) uint8, upright; data: the file's bytes; small: in their place, where the picture is
    large and its file no JPEG, a JPEG of it in colour, as it is stored, with no more than MOST_COLOUR_PIXELS (none where its
    colours cannot be had piece by piece, as of a palette: it is then drawn in grey).

    orientation:        EXIF orientation that still has to be applied to what the file's decoder gives.
    camera_orientation: EXIF orientation as the camera wrote it, whoever applies it: how the sensor was held.
    breaks_at:          a line, in the picture as it is stored, along which it is broken or put together; None: nowhere.
    """

    path: Path
    data: bytes = field(repr=False)
    sha256: str
    grey: NDArray[np.uint8] = field(repr=False)
    orientation: int
    camera_orientation: int
    format: str
    facts: ExifFacts
    breaks_at: Seam | None = None
    small: bytes = field(default=b"", repr=False)

    @property
    def size_px(self) -> tuple[int, int]:
        return self.grey.shape[1], self.grey.shape[0]

    @property
    def colour_side_px(self) -> int:
        """The long side in colour that has no more than MOST_COLOUR_PIXELS: its own, or a half, a quarter, an eighth of it."""
        return max(self.size_px) // part_of(self.grey.size, MOST_COLOUR_PIXELS)

    def without_picture(self) -> Photo:
        """The same without pixels and file; its size stays known."""
        return replace(self, data=b"", small=b"", grey=np.broadcast_to(np.uint8(0), self.grey.shape))

    def colour(self, long_side_px: int) -> NDArray[np.uint8]:
        """(h, w, 3) BGR, upright, the long side at most about `long_side_px`: for drawing on."""
        return _shrunk(self.colour_at_least(long_side_px), long_side_px)

    def colour_at_least(self, long_side_px: int) -> NDArray[np.uint8]:
        """(h, w, 3) BGR, upright, no smaller than wanted and as small as its file's decoder makes it: for who shrinks it."""
        colours = self._stored_colours(long_side_px)
        if colours is None:  # its grey picture serves as well
            return np.asarray(cv2.cvtColor(_shrunk(self.grey, long_side_px), cv2.COLOR_GRAY2BGR), dtype=np.uint8)
        return turned_picture(colours, self.orientation)

    def _stored_colours(self, long_side_px: int) -> NDArray[np.uint8] | None:
        """(h, w, 3) BGR as it is stored, no smaller than wanted; of a large picture no larger than its small one."""
        if self.small or self.format == "JPEG":
            whole = self.colour_side_px if self.small else max(self.grey.shape)
            colours = jpeg_colour(self.small or self.data, _part(whole, long_side_px))
            if colours is not None or self.small:
                return colours
        if self.format in _ASIDE:
            pixels = decode_aside(self.data, limits=_LIMITS, what="colour", long_side_px=long_side_px).pixels
            return None if pixels is None else pixels[:, :, ::-1]
        if self.grey.size > MOST_COLOUR_PIXELS:  # its colours could not be had
            return None
        how = _PARTS[_part(max(self.grey.shape), long_side_px)]
        decoded = cv2.imdecode(np.frombuffer(self.data, np.uint8), how | cv2.IMREAD_IGNORE_ORIENTATION)
        return None if decoded is None else np.asarray(decoded, dtype=np.uint8)


def _part(side_px: int, wanted_px: int) -> int:
    """By how much a decoder may divide a side, so that it is no shorter than wanted."""
    return max((part for part in _PARTS if side_px >= part * wanted_px), default=1)


def _shrunk(picture: NDArray[np.uint8], long_side_px: int) -> NDArray[np.uint8]:
    ratio = long_side_px / max(picture.shape[:2])
    if ratio >= 1.0:
        return np.ascontiguousarray(picture)
    return shrunk(picture, (max(1, round(picture.shape[1] * ratio)), max(1, round(picture.shape[0] * ratio))))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stored:
    """A picture as its file's decoder gives it. grey: (h, w); written: orientation as the camera wrote it."""

    grey: NDArray[np.uint8]
    format: str
    facts: ExifFacts
    orientation: int
    written: int
    small: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unchecked:
    """A photograph in which nobody has looked for breaks; stored: its grey picture (h, w) as it is stored."""

    photo: Photo
    stored: NDArray[np.uint8] = field(repr=False)

    def checked(self) -> Photo:
        """The photograph with where it breaks."""
        return replace(self.photo, breaks_at=seam(self.stored))


def decode(path: Path, data: bytes) -> Photo | Refusal:
    """Decode one photograph from its bytes, or refuse it; see the module's docstring."""
    read = _decoded(path, data)
    return read if isinstance(read, Refusal) else read.checked()


def _decoded(path: Path, data: bytes, on_disk: OnDisk | None = None) -> Unchecked | Refusal:
    """on_disk: the same file, where it is large and lies there."""
    kind = format_of(data[:HEAD_BYTES])
    if kind is None:
        return unreadable(path, why_not(data[:HEAD_BYTES]) if data else said("the file is empty"))
    with beside(lambda: hashlib.sha256(data).hexdigest()) as digest:
        stored = _stored_aside(path, data) if kind in _ASIDE else _stored(path, data, kind, on_disk)
        return stored if isinstance(stored, Refusal) else _photo(path, stored, data, digest())


def _decoded_on_disk(file: OnDisk, stream: BufferedReader) -> Unchecked | Refusal:
    """A large file of a format that is decoded aside: this process never holds it."""
    stream.seek(0)
    digest = hashlib.file_digest(stream, "sha256").hexdigest()
    stored = _stored_aside(file.path, file)
    if isinstance(stored, Refusal):
        return stored
    stream.seek(0)
    return _photo(file.path, stored, stream.read(XMP_BYTES), digest)


def _photo(path: Path, stored: _Stored, data: bytes, sha256: str) -> Unchecked:
    """data: the file, or its beginning where it is left on disk."""
    photo = Photo(
        path=path,
        data=b"" if stored.small else data,
        small=stored.small,
        sha256=sha256,
        grey=turned_picture(stored.grey, stored.orientation),
        orientation=stored.orientation,
        camera_orientation=stored.written if stored.written in ORIENTATIONS else 1,
        format=stored.format,
        facts=replace(stored.facts, panorama=True) if data.find(PANORAMA_XMP, 0, XMP_BYTES) >= 0 else stored.facts,
    )
    return Unchecked(photo=photo, stored=stored.grey)


def _stored(path: Path, data: bytes, kind: Format, on_disk: OnDisk | None) -> _Stored | Refusal:
    """JPEG, PNG or WebP: the head by Pillow, the pixels by decoders that are quick."""
    Image.MAX_IMAGE_PIXELS = MAX_PIXELS  # Pillow's own is lower than a phone's sensor; what follows looks itself
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            header = Image.open(io.BytesIO(data), formats=(kind,))
            wrong = _wrong_size(path, header.size, whole=kind == "WEBP" or (kind == "JPEG" and jpeg_in_scans(data)))
            if wrong is not None:
                return wrong
            exif = png_exif(header, data) if kind == "PNG" else header.getexif()
            facts, orientation = exif_facts(exif, exif.get_ifd(ExifTags.IFD.Exif))
    except Image.DecompressionBombError:
        return too_large(path, MAX_PIXELS)
    except Exception as error:  # a library's reader of damaged heads raises whatever it stumbles over
        return unreadable(path, said("its head is damaged ({name})", name=type(error).__name__))
    small, large = b"", header.width * header.height > MOST_COLOUR_PIXELS
    if kind == "WEBP" and large:
        colours = _by_opencv(path, data, cv2.IMREAD_COLOR)
        if isinstance(colours, Refusal):
            return colours
        small = small_of(colours, MOST_COLOUR_PIXELS)
        grey: NDArray[np.uint8] | Refusal = np.asarray(cv2.cvtColor(colours, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
        del colours
    else:
        grey = _jpeg(path, data) if kind == "JPEG" else _by_opencv(path, data, cv2.IMREAD_GRAYSCALE)
    if isinstance(grey, Refusal):
        return grey
    if kind == "PNG" and large:
        small = small_aside(on_disk or data, _LIMITS)
    return _Stored(
        grey=grey,
        format=header.format or kind,
        facts=facts,
        orientation=orientation,
        written=orientation,
        small=small,
    )


def _jpeg(path: Path, data: bytes) -> NDArray[np.uint8] | Refusal:
    if not jpeg_ends(data):
        return truncated(path)
    grey, damage, words = jpeg_grey(data)
    if grey is not None:
        return grey
    if damage == "truncated":
        return truncated(path)
    if damage == "damaged":
        return damaged(path, words)
    return unreadable(path, said("the decoder says: {words}", words=words))


def _by_opencv(path: Path, data: bytes, how: int) -> NDArray[np.uint8] | Refusal:
    try:
        decoded = cv2.imdecode(np.frombuffer(data, np.uint8), how | cv2.IMREAD_IGNORE_ORIENTATION)
    except cv2.error:
        decoded = None
    return truncated(path) if decoded is None else np.asarray(decoded, dtype=np.uint8)


def _stored_aside(path: Path, file: bytes | OnDisk) -> _Stored | Refusal:
    """HEIC, AVIF or TIFF, in another process."""
    found = decode_aside(file, limits=_LIMITS, small="always" if isinstance(file, OnDisk) else "large")
    if found.pixels is None:
        return _not_decoded(path, found)
    wrong = _wrong_size(path, found.size_px)
    if wrong is not None:
        return wrong
    facts, orientation = exif_facts(found.base, found.inner)
    return _Stored(
        grey=found.pixels,
        format=found.format,
        facts=facts,
        # HEIC says beside EXIF how it is turned; its reader sets EXIF's orientation to 1 and keeps the camera's own aside
        orientation=orientation if found.turns is None else one_turn(found.turns),
        written=found.original_orientation or orientation,
        small=found.small,
    )


def _not_decoded(path: Path, found: Decoded) -> Refusal:
    if found.error == "too-large" or (found.error or "").startswith("DecompressionBomb"):
        return too_large(path, MAX_PIXELS)
    if found.error == "too-large-whole":
        return too_large_whole(path, found.size_px, MAX_WHOLE_PIXELS)
    if found.error == "changed":
        return unreadable(path, said("it was changed while it was read"))
    if found.error == "raw":
        return unreadable(path, said("it is a raw picture (DNG), as the sensor gave it; export it as JPEG"))
    if found.error == "crashed":
        return unreadable(path, said("its decoder stopped on it, so it is damaged, or larger than there is memory for"))
    return unreadable(path, said("it could not be decoded ({error}); export it as JPEG", error=found.error))


def _wrong_size(path: Path, size: tuple[int, int], *, whole: bool = False) -> Refusal | None:
    """whole: it can only be decoded as a whole, and in colour (progressive JPEG: as its coefficients)."""
    width, height = size
    if width * height > MAX_PIXELS:
        return too_large(path, MAX_PIXELS)
    if whole and width * height > MAX_WHOLE_PIXELS:
        return too_large_whole(path, size, MAX_WHOLE_PIXELS)
    if min(width, height) < MIN_SIDE_PX:
        return too_small(path, size)
    return None


def load(path: Path) -> Photo | Refusal:
    """Read and decode a photograph, or refuse what is damaged or too large. A path that is no readable file is wrong usage: InputError."""
    read = load_unchecked(path)
    return read if isinstance(read, Refusal) else read.checked()


def load_unchecked(path: Path) -> Unchecked | Refusal:
    """The same without a look for breaks, for who has that done beside other work."""
    if is_given(path):
        sent = given_bytes(path)
        return too_heavy(path, MAX_FILE_BYTES) if sent is None or len(sent) > MAX_FILE_BYTES else _decoded(path, sent)
    with _opened(path, path) as stream:
        head = stream.read(HEAD_BYTES)
        if head and format_of(head) is None:
            return unreadable(path, why_not(head))
        size = os.fstat(stream.fileno()).st_size
        if size > MAX_FILE_BYTES:
            return too_heavy(path, MAX_FILE_BYTES)
        on_disk = OnDisk(path=path, signature=tuple(signature(stream))) if size > MOST_SENT_BYTES else None
        if on_disk is not None and format_of(head) in _ASIDE:
            return _decoded_on_disk(on_disk, stream)
        stream.seek(0)
        data = stream.read(size + 1)  # room for the most that is allowed would be made, and given back, for every file
        if len(data) > size:  # it has grown since, or its file system does not tell sizes
            data += stream.read(MAX_FILE_BYTES + 1 - len(data))
    return _decoded(path, data, on_disk)


def read_file(path: Path, shown: Path) -> bytes | None:
    """All bytes of a photograph's file, None where they are too many. shown: what messages call it; InputError as of `load`."""
    with _opened(path, shown) as stream:
        too_heavy = os.fstat(stream.fileno()).st_size > MAX_FILE_BYTES
        return None if too_heavy else stream.read(MAX_FILE_BYTES + 1)


@contextmanager
def _opened(path: Path, shown: Path) -> Iterator[BufferedReader]:
    """The open file of a photograph; InputError where it is none, or reading it fails."""
    if steers(shown.name):
        raise InputError(
            said("The name of {path} holds signs that cannot be shown.", path=shown),
            expected=said("a file name of letters, digits and the like (UTF-8)"),
            remedy=said("rename the photograph"),
        )
    try:
        mode = path.stat().st_mode
        if not stat.S_ISREG(mode):  # a pipe would be waited for, a device has no end
            raise OSError(said("it is a folder") if stat.S_ISDIR(mode) else said("it is no regular file"))
        with path.open("rb") as stream:
            yield stream
    except (OSError, ValueError) as error:  # ValueError: a null sign in the path
        raise InputError(
            said("Cannot open {path}: {value}.", path=shown, value=getattr(error, "strerror", None) or error),
            expected=said("the path of a photograph"),
            remedy=said("change its permissions, or name another")
            if isinstance(error, PermissionError)
            else said("check the path and its spelling"),
        ) from error
