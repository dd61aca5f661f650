"""`photomeasure calibrate` from the formats that phones write, held either way up.

The pictures are those of `tests/commands/test_command_calibrate.py`: the shipped sheet, seen through a known camera. HEIC is
encoded by pillow-heif, which only the tests use; AVIF by Pillow.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from calib.kit.kit import kit
from calib.profile.load import load_profile
from photomeasure.commands.calibrate import CalibrateOptions, run
from photomeasure.scene.scene import CameraPrior
from photomeasure.seen.camera_for import camera_for
from photomeasure.seen.image import Photo, decode, load
from tests.commands.test_command_calibrate import CAMERA, TURNS, exif_of, kit_photographs

Grey = NDArray[np.uint8]
BARS_MM = kit("a4").upright.bars_mm
HELD = (1, 6, 1, 8, 3, 1, 6, 1)  # EXIF orientations: the phone on its side, upright, the other way round
CLOCKWISE = {1: 0, 3: 2, 6: 1, 8: 3}  # quarter turns from the stored picture to the one seen


@pytest.fixture(scope="module")
def pictures() -> tuple[Grey, ...]:
    return kit_photographs()


def written(picture: Grey, kind: str, orientation: int) -> bytes:
    """The file as a phone writes it: the sensor's rows as they are, and a note of how it was held."""
    exif = exif_of("Yard 1", 26)
    exif[274] = orientation
    stream = io.BytesIO()
    image = Image.fromarray(picture).convert("RGB")
    if kind == "HEIC":
        heif = pytest.importorskip("pillow_heif", reason="pillow-heif, the HEIC encoder of the tests, is not installed")
        heif.from_pillow(image).save(stream, quality=92, exif=exif.tobytes(), enc_params={"preset": "ultrafast"})
    elif kind in ("JPEG", "AVIF"):
        image.save(stream, kind, quality=92, exif=exif, **({"speed": 10} if kind == "AVIF" else {}))
    else:
        image.save(stream, kind, exif=exif)
    return stream.getvalue()


@pytest.mark.parametrize(
    # slow: each of these formats is read, and turned as it says, by the next test
    "kind",
    [pytest.param(kind, marks=pytest.mark.slow) for kind in ("JPEG", "HEIC", "TIFF", "AVIF")],
)
@pytest.mark.usefixtures("few_lens_models")
def test_photographs_held_either_way_give_one_camera(kind: str, pictures: tuple[Grey, ...], tmp_path: Path) -> None:
    paths = []
    for number, (picture, orientation) in enumerate(zip(pictures, HELD, strict=True)):
        paths.append(tmp_path / f"sheet{number}.{kind.lower()}")
        paths[-1].write_bytes(written(picture, kind, orientation))
    out = tmp_path / "camera.json"
    assert run(CalibrateOptions(photos=tuple(paths), out=out, bar_x_mm=BARS_MM[0], bar_y_mm=BARS_MM[1])) == 0
    known = load_profile(out)
    assert len(known.photographs) == len(TURNS) and known.left_out == []
    sigma = np.sqrt(np.diag(np.array(known.covariance)))
    assert np.all(np.abs(np.array(known.intrinsics) - CAMERA)[:4] < 3 * sigma[:4])
    assert sigma[2] < 4.0  # a picture turned the wrong way would show in the principal point, 6 px off the middle
    upright = load(paths[1])
    assert isinstance(upright, Photo) and upright.size_px == (1200, 1600)
    camera = camera_for(upright, known, None)
    assert isinstance(camera, CameraPrior)
    # EXIF 6: the sensor's left is the upright picture's top, its bottom is the picture's left
    assert camera.mean[2] == pytest.approx(1200 - 1 - CAMERA[3], abs=3 * sigma[3])
    assert camera.mean[3] == pytest.approx(CAMERA[2], abs=3 * sigma[2])


@pytest.mark.parametrize("kind", ["HEIC", "AVIF", "TIFF", "JPEG"])
@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_the_way_the_camera_was_held_is_known(kind: str, orientation: int, pictures: tuple[Grey, ...]) -> None:
    stored = np.ascontiguousarray(pictures[1][300:700, 500:1100])
    photo = decode(Path("yard truck 2"), written(stored, kind, orientation))
    assert isinstance(photo, Photo) and photo.camera_orientation == orientation
    seen = np.rot90(stored, -CLOCKWISE[orientation])
    assert photo.grey.shape == seen.shape
    assert float(np.abs(photo.grey.astype(float) - seen).mean()) < 6.0
    colour = photo.colour(max(seen.shape))
    assert float(np.abs(colour.mean(axis=2) - seen).mean()) < 6.0


@pytest.mark.usefixtures("few_lens_models")
def test_an_upright_picture_that_does_not_say_how_it_was_held_is_left_out(
    pictures: tuple[Grey, ...], tmp_path: Path
) -> None:
    paths = []
    for number, picture in enumerate(pictures):
        paths.append(tmp_path / f"sheet{number}.jpg")
        stored = np.rot90(picture) if number == 3 else picture
        paths[-1].write_bytes(written(np.ascontiguousarray(stored), "JPEG", 1))
    out = tmp_path / "camera.json"
    assert run(CalibrateOptions(photos=tuple(paths), out=out)) == 0
    known = load_profile(out)
    assert [gone.file for gone in known.left_out] == ["sheet3.jpg"]
    assert "stands upright, unlike sheet0.jpg" in known.left_out[0].reason
