"""What is shown for marking lies exactly where the photograph has it, also with odd sides and turned by EXIF."""

from __future__ import annotations

import io
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from starlette.testclient import TestClient

from calib.outcome.refusal import Refusal
from photomeasure.web.previews import PREVIEW_LONG_SIDE_PX, TILE_PX, make_preview
from tests.web.sending import here, send

SIZE = (3001, 2251)  # odd: decoding at half or a quarter of the size would stretch it
SPOTS = ((40.0, 30.0), (1500.0, 1023.5), (2963.0, 2213.5))


def spotted(path: Path, orientation: int = 1) -> None:
    """A grey picture with dark discs, stored so that it is upright once `orientation` is applied."""
    width, height = SIZE
    picture = np.full((height, width), 230, np.uint8)
    for cx, cy in SPOTS:
        left, top = int(cx) - 20, int(cy) - 20
        x, y = np.meshgrid(np.arange(left, left + 40), np.arange(top, top + 40))
        dark = 200.0 * np.clip(12.5 - np.hypot(x - cx, y - cy), 0.0, 1.0)
        picture[top : top + 40, left : left + 40] = (230.0 - dark).round()
    upright = Image.fromarray(picture).convert("RGB")
    stored = upright.transpose(Image.Transpose.ROTATE_90) if orientation == 6 else upright
    exif = Image.Exif()
    exif[0x0112] = orientation
    stored.save(path, "JPEG", quality=95, exif=exif)


def centre_of_dark(picture: NDArray[np.uint8], near: tuple[float, float], reach: float) -> tuple[float, float]:
    """Centroid of darkness around a place, pixels of this picture."""
    left, top = (max(0, int(value - reach)) for value in near)
    part = picture[top : int(near[1] + reach) + 1, left : int(near[0] + reach) + 1].astype(float)
    x, y = np.meshgrid(left + np.arange(part.shape[1]), top + np.arange(part.shape[0]))
    weight = np.clip(225.0 - part, 0.0, None)
    return float((weight * x).sum() / weight.sum()), float((weight * y).sum() / weight.sum())


@pytest.mark.parametrize("orientation", [1, 6])
def test_a_share_of_the_preview_is_the_same_share_of_the_photograph(tmp_path: Path, orientation: int) -> None:
    spotted(tmp_path / "odd", orientation)
    preview = make_preview(tmp_path / "odd", tmp_path / "out")
    assert not isinstance(preview, Refusal) and preview.size_px == SIZE
    whole = cv2.imread(str(preview.whole), cv2.IMREAD_GRAYSCALE)
    assert whole is not None and max(whole.shape) == PREVIEW_LONG_SIDE_PX
    ratio = np.array([whole.shape[1], whole.shape[0]]) / np.array(SIZE)
    for spot in SPOTS:
        shown = (np.array(spot) + 0.5) * ratio - 0.5
        found = centre_of_dark(np.asarray(whole, np.uint8), (shown[0], shown[1]), 14.0)
        back = (np.array(found) + 0.5) / ratio - 0.5
        assert np.abs(back - spot).max() < 0.1  # pixels of the photograph


def test_tiles_begin_where_they_say(tmp_path: Path) -> None:
    spotted(tmp_path / "odd")
    preview = make_preview(tmp_path / "odd", tmp_path / "out")
    assert not isinstance(preview, Refusal)
    rows = []
    for row in range(3):
        paths = [preview.tile(row, column) for column in range(3)]
        rows.append(np.hstack([np.asarray(cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)) for path in paths]))
    whole = np.asarray(np.vstack(rows), np.uint8)
    assert whole.shape == SIZE[::-1]
    for spot in SPOTS:
        assert np.abs(np.array(centre_of_dark(whole, spot, 24.0)) - spot).max() < 0.1
    assert preview.tile(3, 0) is None and preview.tile(0, -1) is None and SIZE[0] < 3 * TILE_PX


def test_what_is_no_picture_is_refused(tmp_path: Path) -> None:
    (tmp_path / "text").write_text("no picture")
    assert isinstance(make_preview(tmp_path / "text", tmp_path / "out"), Refusal)


def test_a_photograph_that_browsers_cannot_show(client: TestClient, tmp_path: Path) -> None:
    """HEIC, turned by EXIF as phones write it: previewed by the server, as a person sees it."""
    import pillow_heif

    pillow_heif.register_heif_opener()
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.new("RGB", (640, 480), "#777").save(tmp_path / "rig.heic", exif=exif.tobytes())
    sent = ("photos", ("rig.heic", (tmp_path / "rig.heic").read_bytes(), "image/heic"))
    shown = send(client, sent, mark="first")
    assert 'data-width="480" data-height="640"' in shown.text
    preview = client.get(here(shown) + "preview-1.jpg")
    assert preview.headers["content-type"] == "image/jpeg" and Image.open(io.BytesIO(preview.content)).size == (
        480,
        640,
    )
    assert client.get(here(shown) + "tile-1-0-0.jpg").status_code == 200
    assert all(client.get(here(shown) + name).status_code == 404 for name in ("tile-1-9-0.jpg", "preview-2.jpg"))
