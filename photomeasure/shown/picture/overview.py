"""The whole photograph, small: number plate, rig and yard, which the drawing of the coupling cuts off.

Only pixels go into it: no EXIF, no place, no name.
"""

from __future__ import annotations

import io

import numpy as np
from PIL import Image, ImageDraw

from photomeasure.record.schema import Record
from photomeasure.seen.image import Photo

LONG_SIDE_PX = 1000
QUALITY = 82
_RING = 0.02  # of the long side


def overview(photo: Photo, centre_px: tuple[float, float] | None = None) -> bytes:
    """JPEG of the whole photograph as a person sees it, a ring where the centre was seen."""
    image = Image.fromarray(np.ascontiguousarray(photo.colour(LONG_SIDE_PX)[:, :, ::-1]))
    image.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX), Image.Resampling.LANCZOS)
    if centre_px is not None:
        _ring(image, centre_px, max(image.size) / max(photo.size_px))
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=QUALITY)
    return stream.getvalue()


def overviews(record: Record, photos: list[Photo | None]) -> list[bytes]:
    """One a photograph that is there, in the record's order; None for one that is not."""
    centres = [] if record.centre is None else record.centre.px
    seen = [centres[number] if number < len(centres) else None for number in range(len(photos))]
    return [
        overview(photo, None if px is None else (px[0], px[1]))
        for photo, px in zip(photos, seen, strict=True)
        if photo is not None
    ]


def _ring(image: Image.Image, centre_px: tuple[float, float], scale: float) -> None:
    x, y = ((value + 0.5) * scale - 0.5 for value in centre_px)
    radius = _RING * max(image.size)
    pen = ImageDraw.Draw(image)
    for width, colour in ((5, (0, 0, 0)), (2, (255, 255, 255))):
        pen.ellipse((x - radius, y - radius, x + radius, y + radius), outline=colour, width=width)
