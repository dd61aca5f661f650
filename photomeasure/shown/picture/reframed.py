"""Annotated pictures whose strips are written anew where a record says something else than when they were drawn."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence

from PIL import Image

from calib.outcome.files import mark
from photomeasure.record.schema import Record
from photomeasure.shown.picture.caption import foot, head

_QUALITY = 92  # the drawing is compressed a second time: no further loss that anybody could see
Picture = tuple[str, bytes]


def reframed(before: Record, after: Record, pictures: Sequence[Picture]) -> list[Picture]:
    """The same drawings between the strips of `after`. before: the record with which they were drawn."""
    names = [re.split(r"[\\/]", photo.file)[-1] for photo in before.photos if photo.width_px is not None]
    count = len(before.photos)
    return [
        (name, _between(before, after, data, file, number, count))
        for number, ((name, data), file) in enumerate(zip(pictures, names, strict=False), start=1)
    ]


def drawing_of(record: Record, data: bytes, file: str, number: int, count: int) -> Image.Image:
    """The picture without its strips."""
    picture = Image.open(io.BytesIO(data)).convert("RGB")
    top = head(record, picture.width).height
    bottom = foot(record, file, number, count, picture.width).height
    return picture.crop((0, top, picture.width, picture.height - bottom))


def _between(before: Record, after: Record, data: bytes, file: str, number: int, count: int) -> bytes:
    drawing = drawing_of(before, data, file, number, count)
    parts = (head(after, drawing.width), drawing, foot(after, file, number, count, drawing.width))
    whole = Image.new("RGB", (drawing.width, sum(part.height for part in parts)))
    top = 0
    for part in parts:
        whole.paste(part, (0, top))
        top += part.height
    stream = io.BytesIO()
    whole.save(stream, "JPEG", quality=_QUALITY, optimize=True, comment=mark("picture"))
    return stream.getvalue()
