"""Damaged photographs of every format: a picture or a refusal with a reason, whatever was done to the file.

Whole measurements of damaged photographs: `tests.experiments.damaged_files`.
"""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image

from calib.outcome.refusal import Refusal
from photomeasure.seen.image import Photo, decode
from tests.fuzz.mutations import NASTY, Change, changed

KINDS = ("JPEG", "PROGRESSIVE", "PNG", "WEBP", "TIFF", "AVIF", "HEIF")
CHANGES = st.lists(
    st.tuples(
        st.integers(0, 3), st.floats(0.0, 1.0, exclude_max=True), st.integers(1, 400), st.integers(0, len(NASTY) - 1)
    ),
    min_size=1,
    max_size=4,
)


@cache
def good(kind: str) -> bytes:
    """A small photograph with EXIF."""
    y, x = np.mgrid[0:330, 0:340]
    image = Image.fromarray(np.stack([(x * y) % 256, (x + 2 * y) % 256, (3 * x) % 256], axis=2).astype(np.uint8))
    exif = Image.Exif()
    exif[ExifTags.Base.Make], exif[ExifTags.Base.Orientation] = "maker", 6
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] = 26
    stream = io.BytesIO()
    if kind == "HEIF":
        heif = pytest.importorskip("pillow_heif", reason="the HEIC encoder of the tests is not installed")
        heif.from_pillow(image).save(stream, quality=30, exif=exif.tobytes())
    elif kind == "PROGRESSIVE":
        image.save(stream, "JPEG", quality=70, progressive=True, exif=exif)
    else:
        image.save(stream, kind, quality=70, exif=exif)
    return stream.getvalue()


@pytest.mark.parametrize("kind", KINDS)
def test_good_photographs_are_decoded(kind: str) -> None:
    assert isinstance(decode(Path("p.jpg"), good(kind)), Photo)


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(changes=CHANGES, in_head=st.booleans())
def test_damaged_photographs_are_decoded_or_refused(kind: str, changes: list[Change], in_head: bool) -> None:
    """in_head: all changes in the first tenth, where the parsers are."""
    data = good(kind)
    cut = len(data) // 10 if in_head else len(data)
    found = decode(Path("p.jpg"), changed(data[:cut], changes) + data[cut:])
    if isinstance(found, Refusal):
        assert found.reason and found.remedy and len(found.reason) < 1000
    else:
        assert found.grey.dtype == np.uint8 and found.grey.ndim == 2
