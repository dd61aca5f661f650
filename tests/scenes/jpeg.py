"""Saving pictures as a phone does."""

from __future__ import annotations

import io
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from calib.outcome.files import write_atomic

_BASE = {"Make": ExifTags.Base.Make, "Model": ExifTags.Base.Model, "Orientation": ExifTags.Base.Orientation}
_EXIF = {
    "FocalLength": ExifTags.Base.FocalLength,
    "FocalLengthIn35mmFilm": ExifTags.Base.FocalLengthIn35mmFilm,
    "DigitalZoomRatio": ExifTags.Base.DigitalZoomRatio,
    "LensModel": ExifTags.Base.LensModel,
}


def encode_jpeg(image: NDArray[np.uint8], quality: int, exif: Mapping[str, str | float | int] | None = None) -> bytes:
    """JPEG bytes of a grey (h, w) or BGR (h, w, 3) picture; KeyError for an unknown EXIF name."""
    picture = Image.fromarray(image if image.ndim == 2 else np.ascontiguousarray(image[..., ::-1]))
    tags = Image.Exif()
    inner = tags.get_ifd(ExifTags.IFD.Exif)
    for name, value in (exif or {}).items():
        stored = IFDRational(Fraction(value).limit_denominator(1000)) if isinstance(value, float) else value
        if name in _BASE:
            tags[_BASE[name]] = stored
        else:
            inner[_EXIF[name]] = stored
    buffer = io.BytesIO()
    extra = {"exif": tags} if exif else {}
    picture.save(buffer, "JPEG", quality=quality, subsampling=2, **extra)  # 4:2:0 as phones do
    return buffer.getvalue()


def save_jpeg(
    image: NDArray[np.uint8],
    path: Path,
    quality: int,
    exif: Mapping[str, str | float | int] | None = None,
) -> None:
    """Write encode_jpeg's bytes."""
    write_atomic(path, encode_jpeg(image, quality, exif))
