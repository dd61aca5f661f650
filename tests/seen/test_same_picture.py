"""One picture given twice counts as two looks and must not: it is told; pictures of their own are left in peace."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from photomeasure.pipeline import Result, measure
from photomeasure.seen import same_picture
from photomeasure.seen.image import Photo, load
from photomeasure.seen.same_picture import same_shape, saved_twice
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
    assert saved_twice([loaded(SAMPLES / "within.jpg"), loaded(copy)]) == ((0, 1),)


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


def test_a_sheet_at_another_place_is_another_picture_without_a_look_at_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """Most photographs of a rig are so, and making small ones of twelve million pixels each takes as long as a third of decoding."""
    monkeypatch.setattr(same_picture, "_small", lambda grey: pytest.fail("looked at"))
    photo = loaded(SAMPLES / "within.jpg")
    sheet_px = np.array([[1000.0, 1000.0], [1400.0, 1000.0], [1400.0, 1600.0], [1000.0, 1600.0]])
    aslant = sheet_px.copy()
    aslant[1, 1] += 90.0
    assert saved_twice([photo, photo], [sheet_px, aslant]) == ()


@pytest.fixture(scope="module")
def alone() -> Result:
    outcome = measure(sample_request(centres_px=()))
    assert isinstance(outcome, Result)
    return outcome


@pytest.mark.parametrize("how", ["again", "sent", "cut"])
def test_a_copy_counts_once_and_is_said(how: str, alone: Result, tmp_path: Path) -> None:
    """Saved anew; shrunk and without EXIF; cut: the height and its interval are those of the one picture."""
    copy = tmp_path / "copy.jpg"
    with Image.open(SAMPLES / "within.jpg") as image:
        if how == "again":
            image.save(copy, quality=80, exif=image.getexif())
        elif how == "sent":
            image.resize((1600, 1200)).save(copy, quality=70)
        else:
            image.crop((400, 200, 3600, 2900)).save(copy, quality=85, exif=image.getexif())
    both = measure(sample_request(photos=(SAMPLES / "within.jpg", copy), centres_px=()))
    assert isinstance(both, Result)
    assert [note for note in both.warnings if "one and the same picture" in note] == list(both.warnings)
    assert both.expanded.interval_mm == pytest.approx(alone.expanded.interval_mm, abs=0.01)


def test_a_hand_that_moved_and_aimed_again_sees_another_shape() -> None:
    """Corners of a sheet from 2 m, and with the lens 20 mm aside; what was cut and shrunk has the shape of the whole."""
    from_there, aside = (_corners_px(np.array([x, -2000.0, 450.0])) for x in (0.0, 20.0))
    assert same_shape(from_there, from_there * 0.4 + [300.0, -20.0])
    assert not same_shape(from_there, aside)


def test_the_same_shape_amid_other_surroundings_is_another_picture() -> None:
    """As where a lens was moved sideways and not turned: the sheet stays as it is, all that is nearer or farther does not."""
    whole, other = loaded(SAMPLES / "within.jpg"), loaded(SAMPLES / "above.jpg")
    sheet_px = np.array([[1740.0, 2380.0], [2160.0, 2380.0], [2160.0, 1650.0], [1740.0, 1650.0]])
    moved = other.grey.copy()
    moved[1600:2400, 1700:2200] = whole.grey[1600:2400, 1700:2200]
    assert saved_twice([whole, replace(whole, grey=moved)], [sheet_px, sheet_px]) == ()
    assert saved_twice([whole, replace(whole, grey=whole.grey[100:])], [sheet_px, sheet_px - [0, 100]]) == ((0, 1),)


def _corners_px(lens_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """(4, 2) corners of a field of squares 190 x 240 mm, upright at the foot line, by a phone 3000 px long that aims at it."""
    corners = np.array([[-95.0, 0.0, 30.0], [95.0, 0.0, 30.0], [95.0, 0.0, 270.0], [-95.0, 0.0, 270.0]]) - lens_mm
    ahead = np.array([0.0, 0.0, 150.0]) - lens_mm
    ahead /= np.linalg.norm(ahead)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(ahead, right)
    return np.asarray(3000.0 * np.stack([corners @ right, corners @ down], axis=1) / (corners @ ahead)[:, None])
