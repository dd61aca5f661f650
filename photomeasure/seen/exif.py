"""What EXIF says of the lens and of how the camera was held; what is missing or absurd is taken as silence."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from typing import Any

from PIL import ExifTags

from calib.camera.turning import ORIENTATIONS
from photomeasure.seen.camera_by_exif import ExifFacts

PANORAMA_RENDERED = (
    6  # CustomRendered as iPhones write it (learn.microsoft.com, FigExifCustomRenderedValue: PanoramaImage)
)
PANORAMA_XMP = b"GPano:ProjectionType"  # the panorama metadata of other phones, an open format of XMP (from memory)


def exif_facts(base: Mapping[int, Any], inner: Mapping[int, Any]) -> tuple[ExifFacts, int]:
    """Lens facts, and the orientation (1 where none is told), from EXIF's main and its inner directory by tag number."""
    tags = ExifTags.Base
    orientation = base.get(tags.Orientation, 1)
    facts = ExifFacts(
        make=_words(base.get(tags.Make)),
        model=_words(base.get(tags.Model)),
        lens=_words(inner.get(tags.LensModel)),
        focal_mm=_between(_number(inner.get(tags.FocalLength)), 0.5, 2000.0),
        focal_35mm=_between(_number(inner.get(tags.FocalLengthIn35mmFilm)), 8.0, 600.0),
        digital_zoom=_between(_number(inner.get(tags.DigitalZoomRatio)), 1.0, 100.0) or 1.0,
        taken=_time(inner.get(tags.DateTimeOriginal)),
        panorama=_number(inner.get(tags.CustomRendered)) == PANORAMA_RENDERED,
    )
    return facts, orientation if orientation in ORIENTATIONS else 1


def _number(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
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
