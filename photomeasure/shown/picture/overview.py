"""The whole photograph, small: number plate, rig and yard, which the drawing of the coupling cuts off.

Only pixels go into it: no EXIF, no place, no name.
"""

from __future__ import annotations

import io

import cv2
from PIL import Image, ImageDraw

from calib.finding.shrink import shrunk
from photomeasure.record.schema import Record
from photomeasure.seen.image import Photo
from photomeasure.shown.picture.window import OVERVIEW_PX, Colours

QUALITY = 82
_RING = 0.02  # of the long side


def overview(photo: Photo, centre_px: tuple[float, float] | None = None, colours: Colours | None = None) -> bytes:
    """JPEG of the whole photograph as a person sees it, a ring where the centre was seen.

    colours: (h, w, 3) BGR, the photograph whole and no smaller than OVERVIEW_PX, where they are at hand.
    """
    whole = photo.colour_at_least(OVERVIEW_PX) if colours is None else colours
    scale = min(1.0, OVERVIEW_PX / max(whole.shape[:2]))
    small = shrunk(whole, (max(1, round(whole.shape[1] * scale)), max(1, round(whole.shape[0] * scale))))
    image = Image.fromarray(cv2.cvtColor(small, cv2.COLOR_BGR2RGB))
    if centre_px is not None:
        _ring(image, centre_px, max(image.size) / max(photo.size_px))
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=QUALITY)
    return stream.getvalue()


def overviews(record: Record, photos: list[Photo | None]) -> list[bytes]:
    """One a photograph that is there, in the record's order; None for one that is not."""
    return [overview(photo, seen_at(record, number)) for number, photo in enumerate(photos) if photo is not None]


def seen_at(record: Record, number: int) -> tuple[float, float] | None:
    """Where the centre was seen in a photograph, pixels."""
    centres = [] if record.centre is None else record.centre.px
    px = centres[number] if number < len(centres) else None
    return None if px is None else (px[0], px[1])


def _ring(image: Image.Image, centre_px: tuple[float, float], scale: float) -> None:
    x, y = ((value + 0.5) * scale - 0.5 for value in centre_px)
    radius = _RING * max(image.size)
    pen = ImageDraw.Draw(image)
    for width, colour in ((5, (0, 0, 0)), (2, (255, 255, 255))):
        pen.ellipse((x - radius, y - radius, x + radius, y + radius), outline=colour, width=width)
