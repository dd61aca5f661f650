"""Which camera is taken for a photograph, and what is said of one that is passed over."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from photomeasure.scene.scene import CameraPrior
from photomeasure.seen.camera_for import camera_for
from photomeasure.seen.image import Photo, decode
from tests.calib.finding.board_views import SIZE_PX
from tests.calib.profile.test_profile import profile
from tests.commands.test_command_calibrate import exif_of


def taken(size_px: tuple[int, int], focal_35mm: int = 26) -> Photo:
    """A photograph of nothing by the phone of the profile."""
    stream = io.BytesIO()
    Image.fromarray(np.full((size_px[1], size_px[0]), 90, np.uint8)).save(
        stream, "JPEG", exif=exif_of("Yard 1", focal_35mm)
    )
    photo = decode(Path("yard truck 2.jpg"), stream.getvalue())
    assert isinstance(photo, Photo)
    return photo


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    profile().save(tmp_path / "yard-1.json")
    return tmp_path


def test_the_remembered_profile_is_used_and_named(folder: Path) -> None:
    camera = camera_for(taken(SIZE_PX), None, folder)
    assert isinstance(camera, CameraPrior)
    assert camera.kind == "profile" and "yard-1.json" in camera.source


@pytest.mark.parametrize(
    ("size_px", "focal_35mm", "why"),
    [((SIZE_PX[0], SIZE_PX[1] - 600), 26, f"{SIZE_PX[0]} x {SIZE_PX[1] - 600}"), (SIZE_PX, 52, "35 mm-equivalent")],
    ids=["crop", "zoom"],
)
def test_a_crop_or_another_zoom_says_that_the_profile_was_passed_over(
    folder: Path, size_px: tuple[int, int], focal_35mm: int, why: str
) -> None:
    """EXIF is then all that is known, as if nothing had been remembered."""
    photo = taken(size_px, focal_35mm)
    camera, without = camera_for(photo, None, folder), camera_for(photo, None, None)
    assert isinstance(camera, CameraPrior) and isinstance(without, CameraPrior)
    assert camera.kind == without.kind == "exif"
    np.testing.assert_array_equal(camera.mean, without.mean)
    assert camera.source.startswith(without.source)
    assert "yard-1.json of this phone was not used" in camera.source and why in camera.source
