"""One picture given twice counts as two looks and must not: it is told; pictures of their own are left in peace."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from PIL import Image

from photomeasure.pipeline import Result, measure
from photomeasure.seen.image import Photo, load
from photomeasure.seen.same_picture import saved_twice
from tests.sample_requests import SAMPLES, sample_request


def loaded(path: Path) -> Photo:
    photo = load(path)
    assert isinstance(photo, Photo)
    return photo


@pytest.mark.parametrize(("long_side_px", "quality"), [(4000, 70), (1600, 40), (800, 50)])
def test_a_copy_of_a_picture(long_side_px: int, quality: int, tmp_path: Path) -> None:
    """As chat programs make them: shrunk, coded again, without EXIF."""
    copy = tmp_path / "copy.jpg"
    with Image.open(SAMPLES / "within.jpg") as image:
        image.resize((long_side_px, long_side_px * image.height // image.width)).save(copy, quality=quality)
    (said,) = saved_twice([loaded(SAMPLES / "within.jpg"), loaded(copy)])
    assert "within.jpg and copy.jpg are one and the same picture" in said


def test_a_hand_that_moved_is_another_picture(tmp_path: Path) -> None:
    """By 4 pixels of 4000: less than a hand does between two presses of the button."""
    moved = tmp_path / "moved.jpg"
    with Image.open(SAMPLES / "within.jpg") as image:
        image.transform(image.size, Image.Transform.AFFINE, (1, 0, 4, 0, 1, 4)).save(moved, quality=95)
        image.rotate(0.1, translate=(4, 3)).save(tmp_path / "turned.jpg", quality=95)
    assert saved_twice([loaded(SAMPLES / "within.jpg"), loaded(moved), loaded(tmp_path / "turned.jpg")]) == ()


def test_photographs_of_other_rigs_and_other_places() -> None:
    names = [
        file for name in ("set", "above") for file in tomllib.loads((SAMPLES / f"{name}.toml").read_text())["files"]
    ]
    assert saved_twice([loaded(SAMPLES / name) for name in names]) == ()


def test_it_is_a_note_beside_the_figure(tmp_path: Path) -> None:
    copy = tmp_path / "sent on.jpg"
    with Image.open(SAMPLES / "within.jpg") as image:
        image.save(copy, quality=80, exif=image.getexif())
    request = sample_request()
    outcome = measure(sample_request(photos=(*request.photos, copy), centres_px=request.centres_px * 2))
    assert isinstance(outcome, Result)
    assert any("one and the same picture" in note for note in outcome.warnings)
