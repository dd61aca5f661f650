"""A drawing between its two strips, as a JPEG that says of itself what it shows."""

from __future__ import annotations

import io

from PIL import Image

from photomeasure.record.schema import Record
from photomeasure.shown.picture.caption import BACKGROUND, foot, head
from photomeasure.shown.picture.ink import Ink
from photomeasure.shown.picture.labelled import Label

Box = tuple[int, int, int, int]


def framed(
    record: Record, picture: Image.Image, ink: Ink | None, file: str, number: int, count: int
) -> tuple[Image.Image, Box]:
    """The whole picture, and the box of the drawing in it.

    picture, ink: a photograph's part (RGB), and what is drawn over it; file: the photograph's name, the `number`th of `count`.
    All is drawn in its place on one picture: a large one takes a machine longer to hand out than to draw on.
    """
    width, high = picture.size
    above, below = head(record, width), foot(record, file, number, count, width)
    top = above.size[1]
    whole = Image.new("RGB", (width, top + high + below.size[1]), BACKGROUND)
    whole.paste(picture, (0, top))
    above.onto(whole)
    if ink is not None:
        ink.onto(whole, top)
    below.onto(whole, top + high)
    return whole, (0, top, width, top + high)


def jpeg(picture: Image.Image, label: Label, quality: int, *, smaller: bool = False) -> bytes:
    """The picture's file; smaller: by some hundredths, which takes half as long again."""
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=quality, optimize=smaller, comment=label.text())
    return stream.getvalue()
