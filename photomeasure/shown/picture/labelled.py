"""What an annotated picture says of itself, so that a report made later takes the right one and only its drawing.

The JPEG's comment holds the photograph's digest, the figure that is drawn, and where the drawing lies between its strips.
"""

from __future__ import annotations

import io
import json
import struct
from dataclasses import asdict, dataclass

from PIL import Image

from calib.outcome.files import mark
from calib.outcome.reading import json_of
from photomeasure.record.schema import PhotoPart, Record

_SAME_MM = 0.0005
_LONGEST = 2000
_MOST_PIXELS = 50_000_000  # ours have 2 million
# what Pillow and a mangled label raise
_DAMAGED = (
    OSError, SyntaxError, ValueError, KeyError, TypeError, OverflowError, struct.error, Image.DecompressionBombError,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """photo: SHA-256 of the photograph; height_mm: None on a refusal; box: left, top, right, bottom of the drawing, px."""

    photo: str
    height_mm: float | None
    box: tuple[int, int, int, int]

    def text(self) -> str:
        return f"{mark('picture')} {json.dumps(asdict(self))}"


def label_of(picture: bytes) -> Label | None:
    """The label of a JPEG; None where it has none of this program's, or its box lies outside the picture."""
    try:
        return _label_in(Image.open(io.BytesIO(picture), formats=("JPEG",)))
    except _DAMAGED:
        return None


def kept_label(picture: bytes) -> Label | None:
    """The same of a file that was kept: None where it is damaged as well, for nothing of it is to be shown then."""
    try:
        image = Image.open(io.BytesIO(picture), formats=("JPEG",))
        label = None if image.width * image.height > _MOST_PIXELS else _label_in(image)
        if label is not None:
            image.load()
        return label
    except _DAMAGED:
        return None


def _label_in(image: Image.Image) -> Label | None:
    comment = image.info.get("comment", b"")
    said = comment.decode("utf-8") if isinstance(comment, bytes) else str(comment)
    start, _, written = said.partition(" ")
    if start != mark("picture") or not written or len(written) > _LONGEST:
        return None
    found = json_of(written)
    left, top, right, bottom = (int(edge) for edge in found["box"])
    height = found["height_mm"]
    if not (0 <= left < right <= image.width and 0 <= top < bottom <= image.height):
        return None
    return Label(
        photo=str(found["photo"]),
        height_mm=None if height is None else float(height),
        box=(left, top, right, bottom),
    )


def belongs(label: Label, record: Record, photo: PhotoPart) -> bool:
    """Whether a picture with this label shows this record's figure in this photograph."""
    if label.photo != photo.sha256 or (label.height_mm is None) != (record.height_mm is None):
        return False
    return label.height_mm is None or abs(label.height_mm - (record.height_mm or 0.0)) <= _SAME_MM
