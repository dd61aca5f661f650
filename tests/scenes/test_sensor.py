"""Sensor and files: against closed forms, against Pillow's reading, and against a PDF drawn by another library."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import ExifTags, Image
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from .jpeg import encode_jpeg
from .printed import chequer_sheet, cut_at_foot_line, sheet_texture
from .sensor import Look, delivered_px, develop, motion_kernel


def _step(width: int, height: int, level: float) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    return np.full((height, width, 1), level, dtype=np.float32)


def test_a_neutral_look_only_scales_to_eight_bits() -> None:
    light = np.linspace(0.0, 1.2, 90, dtype=np.float32).reshape(9, 10, 1)
    got = develop(light, Look(), np.random.default_rng(0))
    np.testing.assert_array_equal(got, np.rint(np.minimum(light[..., 0], 1.0) * 255.0).astype(np.uint8))


def test_shrinking_moves_a_spots_centre_as_delivered_px_says() -> None:
    y, x = np.indices((300, 400))
    centre = np.array([[171.3, 120.8]])
    spot = np.exp(-((x - centre[0, 0]) ** 2 + (y - centre[0, 1]) ** 2) / 200.0).astype(np.float32)
    look = Look(long_side_px=160)
    small = develop(spot[..., None], look, np.random.default_rng(0)).astype(float)
    v, u = np.indices(small.shape)
    got = np.array([(u * small).sum(), (v * small).sum()]) / small.sum()
    np.testing.assert_allclose(got, delivered_px(centre, (400, 300), look)[0], atol=0.02)


def test_noise_has_the_variance_that_the_look_states() -> None:
    look = Look(shot=4e-4, read=0.01)
    for level in (0.2, 0.6):
        got = develop(_step(400, 400, level), look, np.random.default_rng(1)).astype(float) / 255.0
        wanted = 4e-4 * level + 0.01**2 + (1.0 / 255.0) ** 2 / 12.0  # and the rounding to eight bits
        assert got.var() == pytest.approx(wanted, rel=0.03)


@pytest.mark.parametrize(("length_px", "angle_rad"), [(1.0, 0.3), (6.0, 1.2), (9.5, -2.0)])
def test_movement_is_a_uniform_stroke_about_its_middle(length_px: float, angle_rad: float) -> None:
    kernel = motion_kernel(length_px, angle_rad).astype(float)
    middle = kernel.shape[0] // 2
    v, u = np.indices(kernel.shape) - middle
    assert kernel.sum() == pytest.approx(1.0, abs=1e-6)
    assert abs((u * kernel).sum()) < 1e-6 and abs((v * kernel).sum()) < 1e-6
    along = u * np.cos(angle_rad) + v * np.sin(angle_rad)
    # A uniform stroke has variance L^2 / 12; sharing between pixels adds at most a quarter of a pixel squared.
    assert -0.01 <= (along**2 * kernel).sum() - length_px**2 / 12.0 < 0.251


def test_overexposed_white_eats_into_black() -> None:
    light = _step(81, 81, 0.85)
    light[:, 37:44] = 0.04  # a black line of seven pixels
    widths = []
    for exposure in (1.0, 3.0):
        look = Look(exposure=exposure, blur_px=1.2, halo=0.15, halo_px=8.0)
        row = develop(light, look, np.random.default_rng(0))[40].astype(float)
        half = 0.5 * (row.max() + row.min())
        widths.append((row < half).sum())
    assert widths[0] == 7
    assert widths[1] < 7


def test_a_saved_photograph_tells_its_lens_as_another_program_reads_it() -> None:
    exif: dict[str, str | float | int] = {
        "Make": "Ferncombe",
        "Model": "Yard phone 1",
        "FocalLength": 5.61,
        "FocalLengthIn35mmFilm": 26,
    }
    with Image.open(io.BytesIO(encode_jpeg(np.zeros((40, 60, 3), np.uint8), 90, exif))) as picture:
        assert picture.size == (60, 40)
        tags = picture.getexif()
        inner = tags.get_ifd(ExifTags.IFD.Exif)
    assert tags[ExifTags.Base.Make] == "Ferncombe"
    assert float(inner[ExifTags.Base.FocalLength]) == pytest.approx(5.61)
    assert inner[ExifTags.Base.FocalLengthIn35mmFilm] == 26
    with Image.open(io.BytesIO(encode_jpeg(np.zeros((40, 60), np.uint8), 70))) as bare:
        assert bare.mode == "L" and len(bare.getexif()) == 0


def test_blue_and_red_are_not_swapped_in_the_file() -> None:
    blue = np.zeros((16, 16, 3), np.uint8)
    blue[..., 0] = 255
    with Image.open(io.BytesIO(encode_jpeg(blue, 95))) as picture:
        red_, _, blue_ = np.asarray(picture)[8, 8]
    assert blue_ > 240 and red_ < 15


def test_a_raster_has_a_pdfs_rectangle_at_its_millimetres() -> None:
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(210.0 * mm, 297.0 * mm))
    canvas.rect(33.33 * mm, 51.7 * mm, 61.0 * mm, 40.25 * mm, stroke=0, fill=1)
    canvas.save()
    whole = sheet_texture(buffer.getvalue(), 1, 8.0)
    np.testing.assert_allclose(whole.size_mm, [210.0, 297.0], atol=1e-3)
    cut = cut_at_foot_line(whole, 14.03)
    assert cut.corner_mm[1] <= 14.03 < cut.corner_mm[1] + cut.mm_per_texel[1]
    assert cut.anchor_mm == pytest.approx((105.0, 14.03), abs=1e-3)
    for sheet in (whole, cut):
        dark = 1.0 - sheet.texture.astype(float) / 255.0
        row, column = np.indices(dark.shape)
        mx, my = sheet.mm_per_texel
        x = sheet.corner_mm[0] + ((column + 0.5) * dark).sum() / dark.sum() * mx
        y = sheet.corner_mm[1] + ((dark.shape[0] - row - 0.5) * dark).sum() / dark.sum() * my
        assert (x, y) == pytest.approx((33.33 + 30.5, 51.7 + 20.125), abs=0.017)
        assert dark.sum() * mx * my == pytest.approx(61.0 * 40.25, rel=2e-3)


def test_a_placed_sheet_has_its_anchor_its_scale_and_its_directions() -> None:
    sheet = chequer_sheet()
    plane, placed = sheet.placed(
        "upright",
        np.array([3.0, 4.0, 5.0]),
        np.array([0.0, 1.0, 0.0]),
        np.array([0.0, 0.0, 1.0]),
        print_scale=(0.97, 1.01),
    )
    ax, ay = sheet.anchor_mm
    np.testing.assert_allclose(
        placed.world_mm([[ax, ay], [ax + 100.0, ay], [ax, ay + 100.0]]),
        [[3.0, 4.0, 5.0], [3.0, 101.0, 5.0], [3.0, 4.0, 106.0]],
        atol=1e-9,
    )
    width, height = sheet.size_mm
    np.testing.assert_allclose(
        plane.corners_mm(),
        placed.world_mm([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]]),
        atol=1e-9,
    )
