"""Annotated pictures on the page: the JPEG goes into the file as it is."""

from __future__ import annotations

import io

from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable

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


def picture_size_mm(data: bytes, width_mm: float, height_mm: float) -> tuple[float, float]:
    """Width and height of the picture, as large as fits the room, its shape kept."""
    wide, high = _Jpeg(data).getSize()
    scale = min(width_mm / wide, height_mm / high)
    return wide * scale, high * scale


def picture(data: bytes, width_mm: float, height_mm: float) -> Flowable:
    """The picture, as large as fits the room."""
    reader = _Jpeg(data)
    wide_mm, high_mm = picture_size_mm(data, width_mm, height_mm)
    return Drawn(
        wide_mm, high_mm, lambda pen: pen.canvas.drawImage(reader, 0, 0, width=wide_mm * mm, height=high_mm * mm)
    )
