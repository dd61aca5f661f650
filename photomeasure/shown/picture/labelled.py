"""What an annotated picture says of itself, so that a report made later takes the right one and only its drawing.

The JPEG's comment holds the photograph's digest, the figure that is drawn, and where the drawing lies between its strips.
"""

from __future__ import annotations

import io
import json
from dataclasses import asdict, dataclass

from PIL import Image

from calib.outcome.files import mark
from photomeasure.record.schema import PhotoPart, Record

_SAME_MM = 0.0005
_LONGEST = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """photo: SHA-256 of the photograph; height_mm: None on a refusal; box: left, top, right, bottom of the drawing, px."""

    photo: str
    height_mm: float | None
    box: tuple[int, int, int, int]

    def text(self) -> str:
        return f"{mark('picture')} {json.dumps(asdict(self))}"


def label_of(picture: bytes) -> Label | None:
    """The label of a JPEG; None where it has none of this program's."""
    try:
        comment = Image.open(io.BytesIO(picture)).info.get("comment", b"")
        said = comment.decode("utf-8") if isinstance(comment, bytes) else str(comment)
        start, _, written = said.partition(" ")
        if start != mark("picture") or not written or len(written) > _LONGEST:
            return None
        found = json.loads(written)
        left, top, right, bottom = (int(edge) for edge in found["box"])
        height = found["height_mm"]
        return Label(
            photo=str(found["photo"]),
            height_mm=None if height is None else float(height),
            box=(left, top, right, bottom),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None


def belongs(label: Label, record: Record, photo: PhotoPart) -> bool:
    """Whether a picture with this label shows this record's figure in this photograph."""
    if label.photo != photo.sha256 or (label.height_mm is None) != (record.height_mm is None):
        return False
    return label.height_mm is None or abs(label.height_mm - (record.height_mm or 0.0)) <= _SAME_MM


def drawing_alone(picture: bytes) -> bytes:
    """The picture without the strips above and below its drawing; as it is where nobody says where they are."""
    label = label_of(picture)
    if label is None:
        return picture
    image = Image.open(io.BytesIO(picture))
    left, top, right, bottom = label.box
    if not (0 <= left < right <= image.width and 0 <= top < bottom <= image.height):
        return picture
    stream = io.BytesIO()
    image.crop((left, top, right, bottom)).save(stream, "JPEG", quality=90, optimize=True)
    return stream.getvalue()
