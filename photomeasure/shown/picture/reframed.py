"""Annotated pictures whose strips are written anew where a record says something else than when they were drawn."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import replace

from PIL import Image

from photomeasure.record.schema import Record
from photomeasure.shown.picture.framed import framed, jpeg
from photomeasure.shown.picture.labelled import label_of

_QUALITY = 92  # the drawing is compressed a second time: no further loss that anybody could see
Picture = tuple[str, bytes]


def reframed(record: Record, pictures: Sequence[Picture]) -> list[Picture]:
    """The same drawings between the strips of `record`; a picture that does not tell where its drawing lies stays as it is."""
    names = [re.split(r"[\\/]", photo.file)[-1] for photo in record.photos if photo.width_px is not None]
    count = len(record.photos)
    return [
        (name, _between(record, data, file, number, count))
        for number, ((name, data), file) in enumerate(zip(pictures, names, strict=False), start=1)
    ]


def _between(record: Record, data: bytes, file: str, number: int, count: int) -> bytes:
    label = label_of(data)
    if label is None:
        return data
    drawing = Image.open(io.BytesIO(data)).convert("RGB").crop(label.box)
    whole, box = framed(record, drawing, None, file, number, count)
    return jpeg(whole, replace(label, box=box), _QUALITY, smaller=True)
