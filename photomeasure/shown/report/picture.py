"""Annotated pictures on the page: the JPEG goes into the file as it is, and a frame shows its drawing alone.

The strips above and below the drawing say what the page says already; they are outside the frame.
"""

from __future__ import annotations

import io

from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable

from calib.drawing.pen import Pen
from photomeasure.shown.picture.labelled import label_of
from photomeasure.shown.report.blocks import Drawn

Picture = tuple[str, bytes]


class _Jpeg(ImageReader):  # type: ignore[misc]  # reportlab has no types
    """A JPEG that is never decoded: reportlab asks for the pixels only to tell one picture from another."""

    def __init__(self, data: bytes) -> None:
        super().__init__(io.BytesIO(data))
        self._bytes = data
        self._dataA = None  # no transparency

    def getRGBData(self) -> bytes:  # noqa: N802  # reportlab's name
        return self._bytes


def _box(data: bytes) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of what is shown, pixels: the drawing where the picture says where it is, else all of it."""
    width, height = _Jpeg(data).getSize()
    label = label_of(data)
    if label is not None:
        left, top, right, bottom = label.box
        if 0 <= left < right <= width and 0 <= top < bottom <= height:
            return label.box
    return 0, 0, width, height


def picture_size_mm(data: bytes, width_mm: float, height_mm: float) -> tuple[float, float]:
    """Width and height of what is shown, as large as fits the room, its shape kept."""
    left, top, right, bottom = _box(data)
    scale = min(width_mm / (right - left), height_mm / (bottom - top))
    return (right - left) * scale, (bottom - top) * scale


def picture(data: bytes, width_mm: float, height_mm: float) -> Flowable:
    """The picture's drawing, as large as fits the room."""
    reader = _Jpeg(data)
    whole_wide, whole_high = reader.getSize()
    left, _, right, bottom = _box(data)
    wide_mm, high_mm = picture_size_mm(data, width_mm, height_mm)
    scale = wide_mm / (right - left) * mm

    def draw(pen: Pen) -> None:
        with pen.inside(0.0, 0.0, wide_mm, high_mm):
            corner = (-left * scale, -(whole_high - bottom) * scale)
            pen.canvas.drawImage(reader, *corner, width=whole_wide * scale, height=whole_high * scale)

    return Drawn(wide_mm, high_mm, draw)
