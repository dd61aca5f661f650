"""Photographs as numbers: bytes to an upright grey picture, what EXIF says, and a digest; or a refusal with a reason.

A file is decoded once, by `cv2.imdecode`, which (unlike `cv2.imread`) gives nothing rather than a grey-filled lower half
for a truncated JPEG; HEIC goes through Pillow. Orientation is applied once, here: from then on pixel (0, 0) is the centre
of the top-left pixel of the picture as a person sees it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import math
import re
import warnings
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, UnidentifiedImageError

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from photomeasure.seen.camera_by_exif import ExifFacts

MAX_PIXELS = 210_000_000  # the largest phone sensors; anything larger is refused before it is decoded
MIN_SIDE_PX = 320
_HEIF = frozenset({"HEIF", "HEIC", "AVIF"})
_BY_PILLOW = _HEIF | {"TIFF"}  # no business of OpenCV, or turned by it whatever it is told
_TURNED_BY_PILLOW = frozenset({"HEIF", "HEIC", "TIFF"})

# EXIF orientation -> (quarter turns anticlockwise after an optional left-right flip)
_TURNS: Mapping[int, tuple[bool, int]] = {
    1: (False, 0), 2: (True, 0), 3: (False, 2), 4: (True, 2), 5: (True, 1), 6: (False, 3), 7: (True, 3), 8: (False, 1),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """One decoded photograph. grey: (h, w) uint8, upright; data: the file's bytes.

    orientation:        EXIF orientation that still has to be applied to what the file's decoder gives.
    camera_orientation: EXIF orientation as the camera wrote it, whoever applies it: how the sensor was held.
    """

    path: Path
    data: bytes = field(repr=False)
    sha256: str
    grey: NDArray[np.uint8] = field(repr=False)
    orientation: int
    camera_orientation: int
    format: str
    facts: ExifFacts

    @property
    def size_px(self) -> tuple[int, int]:
        return self.grey.shape[1], self.grey.shape[0]

    def colour(self, long_side_px: int) -> NDArray[np.uint8]:
        """(h, w, 3) BGR, upright, the long side at most about `long_side_px`: for drawing on."""
        reduce = max(self.grey.shape) / long_side_px
        flag = (
            cv2.IMREAD_REDUCED_COLOR_2
            if 2 <= reduce < 4
            else cv2.IMREAD_REDUCED_COLOR_4
            if reduce >= 4
            else cv2.IMREAD_COLOR
        )
        decoded = None
        if self.format not in _BY_PILLOW:
            decoded = cv2.imdecode(np.frombuffer(self.data, np.uint8), flag | cv2.IMREAD_IGNORE_ORIENTATION)
        if decoded is None:
            decoded = np.asarray(_eight_bits(_pillow(self.data)).convert("RGB"))[:, :, ::-1]
        upright = turned(np.asarray(decoded, dtype=np.uint8), self.orientation)
        ratio = long_side_px / max(upright.shape[:2])
        if ratio >= 1.0:
            return np.ascontiguousarray(upright)
        size = (round(upright.shape[1] * ratio), round(upright.shape[0] * ratio))
        return np.asarray(cv2.resize(upright, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def turned(picture: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """A stored picture (h, w) or (h, w, 3) turned as its EXIF orientation (1-8) asks; other values are taken as 1."""
    flip, quarter_turns = _TURNS.get(orientation, (False, 0))
    upright = picture[:, ::-1] if flip else picture
    return np.ascontiguousarray(np.rot90(upright, quarter_turns))


def _pillow(data: bytes) -> Image.Image:
    import pi_heif

    pi_heif.register_heif_opener()
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


def _eight_bits(image: Image.Image) -> Image.Image:
    """The same picture with 8 bits a channel: Pillow itself clips deeper grey instead of scaling it."""
    if not image.mode.startswith("I"):
        return image
    return Image.fromarray((np.asarray(image).astype(np.int64) >> 8).clip(0, 255).astype(np.uint8))


def _number(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) else None


def _words(value: Any) -> str | None:
    if not isinstance(value, str):
        return None
    clean = re.sub(r"[^\x20-\x7e]", "", value).strip()
    return clean[:80] or None


def _time(value: Any) -> dt.datetime | None:
    """EXIF's "YYYY:MM:DD HH:MM:SS", local time; blanks, zeros and impossible dates become None."""
    try:
        return dt.datetime.strptime(value, "%Y:%m:%d %H:%M:%S")
    except (TypeError, ValueError):
        return None


def _between(number: float | None, low: float, high: float) -> float | None:
    return number if number is not None and low <= number <= high else None


def exif_facts(exif: Image.Exif) -> tuple[ExifFacts, int]:
    """What EXIF says of the lens, and the orientation; missing or absurd values become None (orientation 1)."""
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    base = ExifTags.Base
    orientation = exif.get(base.Orientation, 1)
    facts = ExifFacts(
        make=_words(exif.get(base.Make)),
        model=_words(exif.get(base.Model)),
        lens=_words(inner.get(base.LensModel)),
        focal_mm=_between(_number(inner.get(base.FocalLength)), 0.5, 2000.0),
        focal_35mm=_between(_number(inner.get(base.FocalLengthIn35mmFilm)), 8.0, 600.0),
        digital_zoom=_between(_number(inner.get(base.DigitalZoomRatio)), 1.0, 100.0) or 1.0,
        taken=_time(inner.get(base.DateTimeOriginal)),
    )
    return facts, orientation if orientation in _TURNS else 1


def _unreadable(path: Path, why: str) -> Refusal:
    return Refusal(
        code="unreadable",
        reason=f"{path.name} cannot be read as a photograph: {why}.",
        remedy="Send the file again as it came from the phone (JPEG, HEIC, PNG, TIFF or WebP), as a file rather than a forwarded picture.",
    )


def _truncated(path: Path) -> Refusal:
    return Refusal(
        code="truncated",
        reason=f"{path.name} is cut short or damaged: its end is missing.",
        remedy="Copy or send the file again, and check that its size is the same as on the phone.",
    )


def _jpeg_ends(data: bytes) -> bool:
    """Whether a JPEG has its end-of-image marker (phones may append other data behind it)."""
    return data.rfind(b"\xff\xd9", max(0, len(data) - 65536)) >= 0 or data.rfind(b"\xff\xd9") > len(data) // 2


def _grey_filled(grey: NDArray[np.uint8]) -> bool:
    """Whether the last rows are the flat mid-grey that a JPEG decoder puts where data is missing."""
    return bool((grey[-8:] == 128).all())


def _grey(path: Path, data: bytes, picture_format: str) -> NDArray[np.uint8] | Refusal:
    """The picture as it is stored, (h, w), not yet turned by its orientation."""
    decoded = None
    if picture_format not in _BY_PILLOW:
        decoded = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)
    if decoded is None:
        try:
            decoded = np.asarray(_eight_bits(_pillow(data)).convert("L"))
        except (OSError, ValueError, EOFError, SyntaxError):
            if picture_format in _HEIF:
                return _unreadable(path, "its HEIC data could not be decoded; export it as JPEG")
            return _truncated(path)
    grey = np.asarray(decoded, dtype=np.uint8)
    if picture_format == "JPEG" and _grey_filled(grey):
        return _truncated(path)
    return grey


def decode(path: Path, data: bytes) -> Photo | Refusal:
    """Decode one photograph from its bytes; see the module's docstring."""
    if not data:
        return _unreadable(path, "the file is empty")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if data[4:8] == b"ftyp":
                import pi_heif

                pi_heif.register_heif_opener()
            header = Image.open(io.BytesIO(data))
            exif = header.getexif()
            facts, orientation = exif_facts(exif)
            picture_format, (width, height) = header.format or "?", header.size
    except Image.DecompressionBombError:
        return _too_large(path)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as error:
        return _unreadable(
            path, "it is no picture in a known format" if isinstance(error, UnidentifiedImageError) else str(error)
        )
    if width * height > MAX_PIXELS:
        return _too_large(path)
    if min(width, height) < MIN_SIDE_PX:
        return Refusal(
            code="too-small",
            reason=f"{path.name} is only {width} x {height} pixels.",
            remedy="Send the photograph itself, not a preview; 1600 pixels on the long side is the least that is useful.",
        )
    if picture_format == "JPEG" and not _jpeg_ends(data):
        return _truncated(path)
    grey = _grey(path, data, picture_format)
    if isinstance(grey, Refusal):
        return grey
    # HEIC's reader turns the picture, sets EXIF's orientation to 1 and keeps the camera's own aside
    written = header.info.get("original_orientation") or orientation
    if picture_format in _TURNED_BY_PILLOW:
        orientation = 1
    return Photo(
        path=path,
        data=data,
        sha256=hashlib.sha256(data).hexdigest(),
        grey=turned(grey, orientation),
        orientation=orientation,
        camera_orientation=written if written in _TURNS else 1,
        format=picture_format,
        facts=facts,
    )


def _too_large(path: Path) -> Refusal:
    return Refusal(
        code="too-large",
        reason=f"{path.name} has more than {MAX_PIXELS // 1_000_000} million pixels.",
        remedy="Use the phone's ordinary photo mode (12 to 50 million pixels).",
    )


def load(path: Path) -> Photo | Refusal:
    """Read and decode a photograph. A path that is no readable file is wrong usage: InputError."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(
            f"Cannot open {path}: {error.strerror or error}.",
            expected="the path of a photograph",
            remedy="check the path and its spelling",
        ) from error
    return decode(path, data)
