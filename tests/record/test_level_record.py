"""What the record of a level says of its photographs."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest

from calib.outcome.refusal import Refusal
from photomeasure.record.level import _photos
from photomeasure.seen.camera_by_exif import ExifFacts
from photomeasure.seen.look import Refused


@pytest.mark.parametrize(
    ("make", "model", "expected"),
    [("Acme", "P1", "Acme P1"), (None, "P1", "P1"), ("Acme", None, "Acme"), (None, None, None)],
)
def test_the_record_of_a_level_names_the_camera_as_its_file_does(
    make: str | None, model: str | None, expected: str | None
) -> None:
    path = Path("side.jpg")
    photo = SimpleNamespace(path=path, sha256="0" * 64, size_px=(40, 30), facts=ExifFacts(make=make, model=model))
    asked = SimpleNamespace(request=SimpleNamespace(photos=(path,)), ground_px=(), rail_px=())
    refused = Refused(request=None, refusal=Refusal(code="x", reason="x", remedy="x"), photos=())  # type: ignore[arg-type]
    (part,) = _photos(asked, (photo,), refused)  # type: ignore[arg-type]
    assert (part.camera, part.width_px, part.lens_height_mm) == (expected, 40, None)
